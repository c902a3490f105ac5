"""How parts fail and drift: what becomes of their values, how likely, and how far.

Odds are relative to each other.  They and the typical sizes are assumptions of people who repair
such lines, common practice without a source; whoever knows better changes them (`odds`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from components.quantities import Quantity, Table, power_ratio

if TYPE_CHECKING:
    from components.settings import Settings

STANDARD_PADS_DB = (1.0, 2.0, 3.0, 6.0, 10.0, 20.0, 30.0)
"""Pads that lie in drawers (common practice, no source)."""


@dataclass(frozen=True)
class Size:
    """How far something is off: normal in the logarithm of a positive number."""

    median: float
    factor: float
    """One standard deviation either way is this factor."""
    unit: str
    """What one of it is: `dB`, `quanta`, or `` for a part of the value."""


LOST = Size(2.5, 2.2, "dB")
LESS_GAIN = Size(3.0, 2.0, "dB")
MORE_GAIN = Size(1.5, 2.0, "dB")
NOISIER = Size(0.6, 2.2, "")
EXCESS = Size(0.5, 2.5, "quanta")
WARMER = Size(0.6, 2.2, "")


@dataclass(frozen=True)
class Fault:
    """One way in which a part fails or drifts.

    `values` maps settings and a size to the values that change; a fault without a size has None.
    """

    what: str
    """In words, as in `more loss`."""
    odds: float
    """How likely, relative to other faults."""
    parameter: str
    """The parameter that tells of it: `state`, `extra_loss`."""
    values: Callable[[Settings, float], Mapping[str, Any]] = field(repr=False)
    size: Size | None = None


def in_state(state: str, odds: float, what: str = "") -> Fault:
    """Return the fault of being in a state."""
    return Fault(what or state, odds, "state", lambda settings, size: {"state": state})


def turned(odds: float) -> Fault:
    """Return the fault of standing the wrong way round; what the ports are called stays."""
    return Fault("reversed", odds, "reversed", lambda settings, size: {})


def extra_loss(odds: float, what: str = "more loss") -> Fault:
    """Return the fault of a loss beyond the values given, on every path through."""
    return Fault(what, odds, "extra_loss",
                 lambda settings, size: {"extra_loss": moved(settings["extra_loss"], size)}, LOST)


def shifted(name: str, sign: int, odds: float, what: str, size: Size) -> Fault:
    """Return the fault of a value that is off by a size in its base unit."""
    return Fault(what, odds, name,
                 lambda settings, by: {name: moved(settings[name], sign * by)}, size)


def noisier(name: str, odds: float) -> Fault:
    """Return the fault of a noise temperature or noise figure whose added noise has grown."""
    def values(settings, part):
        value = settings[name]
        if value.dimension == "temperature":
            return {name: scaled(value, 1.0 + part)}
        return {name: mapped(value, lambda db: 10.0 * np.log10(
            1.0 + (1.0 + part) * (power_ratio(db) - 1.0)))}
    return Fault("more noise", odds, name, values, NOISIER)


def other_pads(settings: Settings, name: str, odds: float) -> tuple[Fault, ...]:
    """Return the faults of another pad of the standard values, the odds shared among them."""
    value = settings[name]
    if not isinstance(value, Quantity):
        return ()
    others = [db for db in STANDARD_PADS_DB if abs(db - value.value) > 0.5]

    def pad(db):
        return lambda settings, size: {name: Quantity(db, "ratio", f"{db:g} dB")}

    return tuple(
        Fault(f"a pad of {db:g} dB", odds / len(others), name, pad(db)) for db in others
    )


def moved(value: Any, by: float) -> Any:
    """Return a value (None for zero) with something added, in its base unit."""
    if value is None:
        return Quantity(by, "ratio", f"{by:.3g} dB")
    return mapped(value, lambda number: number + by)


def scaled(value: Any, factor: float) -> Any:
    """Return a value times a factor."""
    return mapped(value, lambda number: number * factor)


def mapped(value: Any, function: Callable[[Any], Any]) -> Any:
    """Return a quantity or table with a function of its numbers in their place."""
    if isinstance(value, Quantity):
        return replace(value, value=float(function(value.value)))
    if isinstance(value, Table):
        numbers = function(np.array(value.values))
        return replace(value, values=tuple(float(number) for number in numbers))
    levels = tuple(float(function(number)) for number in value.values)
    return replace(value, values=levels)
