"""What a key of an element reads, what it means, and what is wrong with a value."""

from collections.abc import Mapping
from dataclasses import dataclass

from components.quantities import Quantity, Table
from components.touchstone import NamedFile


@dataclass(frozen=True)
class Measure:
    """A quantity with a unit; `over_frequency` lets it be a table too.

    With `over_level` that table can be over the level of the element's pump instead.
    """

    dimension: str
    least: float | None = None
    most: float | None = None
    over_frequency: bool = False
    over_level: bool = False
    above: bool = False
    """True where `least` itself is refused: the value has to lie above it."""


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
    reads: object
    meaning: str
    default: str | None = None
    """The default as a person would write it; None where there is none."""
    required: bool = False
    source: str = ""


class ParameterError(ValueError):
    """A parameter's value cannot hold: `parameter`, `what` is wrong, `instead` would be right."""

    def __init__(self, parameter, what, instead):
        super().__init__(f"{what}; {instead}")
        self.parameter, self.what, self.instead = parameter, what, instead


Value = Quantity | Table | NamedFile | str | bool | int | tuple | Mapping
"""What a parameter's value can be once read."""
