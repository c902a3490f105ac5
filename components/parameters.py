"""What a key of an element reads, what it means, and what is wrong with a value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from components.bounds import BOUNDS
from components.quantities import Quantity, Table, written
from components.touchstone import NamedFile

if TYPE_CHECKING:
    from components.quantities import Tolerance


@dataclass(frozen=True)
class Measure:
    """A quantity with a unit; `over_frequency` lets it be a table too.

    `least` and `most`, in the base unit, are those of the dimension (components.bounds) where the
    declaration does not say other ones; the ends are inside.  With `over_level` the table can be
    over the level of the element's pump instead.
    """

    dimension: str
    least: float | None = None
    most: float | None = None
    over_frequency: bool = False
    zero: bool = False
    """True where zero may stand too, though `least` is above it."""
    over_level: bool = False

    def __post_init__(self):
        bounds = BOUNDS.get(self.dimension)
        for end in ("least", "most"):
            if getattr(self, end) is None:
                if bounds is None:
                    raise TypeError(f"a {self.dimension} has to declare its {end}")
                object.__setattr__(self, end, getattr(bounds, end))

    @property
    def lowest(self) -> Any:
        """The lowest value that may stand: zero, or `least`."""
        return 0.0 if self.zero else self.least

    def outside(self, value: Any) -> Any:
        """Return what is wrong with a value (base unit) and what would be right; None inside."""
        if self.least <= value <= self.most or (self.zero and value == 0):
            return None
        least, most = (written(end, self.dimension) for end in (self.least, self.most))
        if value > self.most:
            return f"is above {most}", f"give {most} or less"
        below = written(self.lowest, self.dimension) if value < self.lowest else least
        return f"is below {below}", f"give {'0, or ' if self.zero else ''}{least} or more"

    def too_wide(self, tolerance: Tolerance) -> Any:
        """Return what is wrong with a Tolerance and what would be right; None where nothing is."""
        widest = 100.0 if tolerance.in_db else self.most - self.lowest
        if tolerance.size <= widest:
            return None
        limit = written(widest, "ratio" if tolerance.in_db else self.dimension)
        return f"has a tolerance above {limit}", "give a narrower one"


@dataclass(frozen=True)
class Whole:
    """A whole number without a unit."""

    least: int = 0
    most: int = 1000


@dataclass(frozen=True)
class Choice:
    """One of a few words."""

    options: tuple[str, ...]


@dataclass(frozen=True)
class Flag:
    """true or false."""


@dataclass(frozen=True)
class Text:
    """Any text."""


@dataclass(frozen=True)
class Cost:
    """An amount and its currency, as in `1200 EUR`."""


@dataclass(frozen=True)
class Reference:
    """The name of something defined elsewhere in the layout: stage, tone, coax, material."""

    to: str


@dataclass(frozen=True)
class PortName:
    """A port of the element itself."""


@dataclass(frozen=True)
class PortList:
    """A list of ports of the element itself."""


@dataclass(frozen=True)
class PerPort:
    """A mapping from ports of the element to text."""


@dataclass(frozen=True)
class Phases:
    """A mapping from parameters of the element to angles: the phases of what they describe."""


@dataclass(frozen=True)
class Clamped:
    """A mapping with `body` and `screws`, each a material: what is held by what."""


@dataclass(frozen=True)
class Distances:
    """A mapping from stages to distances along the element."""


@dataclass(frozen=True)
class FrequencyRange:
    """A mapping with `start` and `stop`."""


@dataclass(frozen=True)
class DataFile:
    """A Touchstone file, or a mapping with `file` and `outside: hold`."""


@dataclass(frozen=True)
class Overrides:
    """A mapping from other parameters of the element to values that replace them."""


@dataclass(frozen=True)
class Parameter:
    """One key of an element: what it reads, what it means, what holds where it is not given."""

    name: str
    reads: Any
    """One of the classes above, or of what a layout's own sections read."""
    meaning: str
    default: str | None = None
    """The default as a person would write it; None where there is none."""
    required: bool = False
    source: str = ""
    fixed: bool = False
    """True where it is the same cold and warm, so that `warm:` does not take it."""
    example: str = ""
    """How it may be written, where what its dimension is like would be no such value."""


class ParameterError(ValueError):
    """A parameter's value cannot hold: `parameter`, `what` is wrong, `instead` would be right."""

    def __init__(self, parameter: str, what: str, instead: str) -> None:
        super().__init__(f"{what}; {instead}")
        self.parameter, self.what, self.instead = parameter, what, instead


Value = Quantity | Table | NamedFile | str | bool | int | tuple | Mapping
"""What a parameter's value can be once read."""
