"""Numbers with units and tolerances, as people write them in a layout file."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np

from components.arrays import FloatArray, FloatLike
from components.constants import K

_PREFIX = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3, "M": 1e6, "G": 1e9}


def _scaled(symbol, prefixes):
    return {prefix + symbol: _PREFIX[prefix] for prefix in prefixes}


UNITS = {
    "ratio": {"dB": 1.0},
    "frequency": _scaled("Hz", ["", "k", "M", "G"]),
    "temperature": _scaled("K", ["u", "m", ""]),
    "length": _scaled("m", ["n", "u", "m", ""]) | {"cm": 1e-2},
    "area": {"m^2": 1.0, "mm^2": 1e-6},
    "power": _scaled("W", ["p", "n", "u", "m", "", "k"]) | {"dBm": None},
    # A noise temperature T stands for kT per hertz.
    "noise power density": {"W/Hz": 1.0, "dBm/Hz": None, "K": K, "mK": 1e-3 * K},
    "noise beside a tone": {"dBc/Hz": 1.0},
    "attenuation": {"dB/m": 1.0},
    "time": _scaled("s", ["p", "n", "u", "m", ""]),
    "rate": {"1/s": 1.0},
    "current": _scaled("A", ["u", "m", ""]),
    "voltage": _scaled("V", ["u", "m", ""]),
    "resistance": _scaled("ohm", ["m", "", "k"]),
    "capacitance": _scaled("F", ["p", "n", "u"]),
    "resistivity": {"ohm m": 1.0, "uohm cm": 1e-8, "nohm m": 1e-9},
    "conductivity": {"W/(m K)": 1.0},
    "angle": {"deg": 1.0, "rad": 180.0 / math.pi},
    "torque": {"N m": 1.0},
    "mass": {"kg": 1.0, "g": 1e-3},
    "fraction": {"%": 1e-2},
    "number": {"": 1.0},
}
"""Units a dimension takes, each with its factor to the first one's base (None: logarithmic)."""

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_VALUE = re.compile(rf"\s*({_NUMBER})\s*((?:1/)?[^\d\s+\-±.][^+±]*?)?\s*")
_TOLERANCE = re.compile(rf"\s*({_NUMBER})\s*([^\d\s+\-±.][^+±]*?)?(\s+max)?\s*")
_SIGN = re.compile(r"\+/-|±")


Power = TypeVar("Power", float, FloatArray)


class QuantityError(ValueError):
    """Text that is not the quantity wanted: `what` is wrong, `instead` would be right."""

    def __init__(self, what: str, instead: str) -> None:
        super().__init__(f"{what}; {instead}")
        self.what, self.instead = what, instead


@dataclass(frozen=True)
class Tolerance:
    """How far a value may be off: `size` in the value's base unit, or in dB where `in_db`."""

    size: float
    uniform: bool = False
    """True for a range that ends at `size`, False for one standard deviation."""
    in_db: bool = False
    """True where the value is a power given in dBm: the tolerance is decibels on it."""


@dataclass(frozen=True)
class Quantity:
    """A number in its dimension's base unit (Hz, K, m, W, dB, ...) and the text it came from."""

    value: float
    dimension: str
    text: str
    tolerance: Tolerance | None = None

    def at(self, frequency_hz: FloatArray | None = None) -> float:
        """Return the value; the same at every frequency."""
        return self.value


@dataclass(frozen=True)
class Table:
    """Values over frequency, linear in between, refused outside unless `hold`."""

    frequency_hz: tuple[float, ...]
    values: tuple[float, ...]
    dimension: str
    tolerance: Tolerance | None = None
    hold: bool = False

    def at(self, frequency_hz: FloatArray) -> FloatArray:
        """Return the values at `frequency_hz` (array, Hz); raises OutsideTable beyond the ends."""
        f = np.asarray(frequency_hz, float)
        if not self.hold and f.size and (f.min() < self.low_hz or f.max() > self.high_hz):
            raise OutsideTable(self, float(f.min()), float(f.max()))
        return np.interp(f, self.frequency_hz, self.values)

    @property
    def low_hz(self) -> float:
        """Lowest frequency of the table, Hz, less rounding."""
        return self.frequency_hz[0] * (1 - 1e-12)

    @property
    def high_hz(self) -> float:
        """Highest frequency of the table, Hz, plus rounding."""
        return self.frequency_hz[-1] * (1 + 1e-12)


@dataclass(frozen=True)
class LevelTable:
    """Values over the level of a pump, linear in decibels of it; refused outside unless `hold`."""

    power_dbm: tuple[float, ...]
    values: tuple[float, ...]
    dimension: str
    hold: bool = False
    tolerance: None = None

    def at(self, frequency_hz: FloatArray | None = None) -> Any:
        """Return the largest value: what holds where nobody knows the pump's level."""
        return max(self.values)

    def reaches(self, level_dbm: float) -> bool:
        """Tell whether the table says what holds at a level, dBm."""
        return self.hold or self.power_dbm[0] - 1e-9 <= level_dbm <= self.power_dbm[-1] + 1e-9

    def at_level(self, level_dbm: float) -> Quantity:
        """Return the Quantity at a level (dBm), that of the nearer end outside the table."""
        value = float(np.interp(level_dbm, self.power_dbm, self.values))
        return Quantity(value, self.dimension, f"{value:.4g} dB")


class OutsideTable(ValueError):
    """A table was asked for a frequency that it does not reach."""

    def __init__(self, table: Table, low_hz: float, high_hz: float) -> None:
        self.table, self.low_hz, self.high_hz = table, low_hz, high_hz
        super().__init__(
            f"the table reaches from {table.frequency_hz[0] / 1e9:g} GHz to "
            f"{table.frequency_hz[-1] / 1e9:g} GHz, and {low_hz / 1e9:g} GHz to "
            f"{high_hz / 1e9:g} GHz is needed"
        )


def units_of(dimension: str) -> str:
    """Return the units that a dimension takes, as words for a message."""
    units = [unit for unit in UNITS[dimension] if unit]
    return ", ".join(units) if units else "no unit"


def _plain(text):
    return text.replace("µ", "u").replace("μ", "u").replace("Ω", "ohm").replace("²", "^2")


def _convert(number, unit, dimension, whole):
    factor = UNITS[dimension].get(unit or "", ...)
    if factor is ...:
        if not unit:
            raise QuantityError(
                f"{whole!r} has no unit",
                f"write it with {_article(dimension)}{units_of(dimension)}",
            )
        raise QuantityError(
            f"{unit!r} is no unit of {dimension}", f"use {_article(dimension)}{units_of(dimension)}"
        )
    value = float(number)
    try:
        value = dbm_to_watt(value) if factor is None else value * factor
    except OverflowError:
        value = math.inf
    return _finite(value, whole)


def _finite(value, whole):
    if not math.isfinite(value):
        raise QuantityError(f"{whole!r} is not a finite number", "write a finite one")
    return value


def _article(dimension):
    return "one of " if len(UNITS[dimension]) > 1 else ""


def parse(text: str, dimension: str) -> Quantity:
    """Return the Quantity that `text` writes in `dimension`; raises QuantityError."""
    plain = _plain(text)
    parts = _SIGN.split(plain)
    match = _VALUE.fullmatch(parts[0])
    if not match or len(parts) > 2:
        like = example_of(dimension)
        raise QuantityError(f"{text!r} is not a {_noun(dimension)}", f"write it like {like!r}")
    number, unit = match.groups()
    value = _convert(number, unit, dimension, text)
    tolerance = None
    if len(parts) == 2:
        tolerance = _tolerance(parts[1], float(number), unit or "", dimension, text)
    return Quantity(value, dimension, text.strip(), tolerance)


def _tolerance(part, number, unit, dimension, whole):
    match = _TOLERANCE.fullmatch(part)
    if not match:
        raise QuantityError(f"{whole!r} has an unreadable tolerance", "write it like '+/- 0.5 dB'")
    size, size_unit, uniform = match.groups()
    size_unit = (size_unit or "").strip()
    if _finite(float(size), whole) < 0:
        raise QuantityError(f"{whole!r} has a negative tolerance", "write its size, 0 or more")
    logarithmic = UNITS[dimension].get(unit) is None
    if size_unit == "%":
        relative = float(size) / 100
        if logarithmic:
            return Tolerance(10 * math.log10(1 + relative), bool(uniform), in_db=True)
        return Tolerance(abs(relative * _convert(number, unit, dimension, whole)), bool(uniform))
    if logarithmic:
        if size_unit != "dB":
            raise QuantityError(
                f"{whole!r} has a tolerance in {size_unit!r}", "write it in dB or %"
            )
        return Tolerance(float(size), bool(uniform), in_db=True)
    return Tolerance(_convert(size, size_unit, dimension, whole), bool(uniform))


_EXAMPLES = {
    "ratio": "20 dB", "frequency": "6 GHz", "temperature": "15 mK", "length": "0.5 m",
    "area": "1.5 mm^2", "power": "-30 dBm", "noise power density": "-150 dBm/Hz",
    "noise beside a tone": "-150 dBc/Hz",
    "attenuation": "3 dB/m", "time": "1 s", "rate": "3 1/s", "current": "1 mA",
    "voltage": "1 V", "resistance": "50 ohm", "capacitance": "1 pF",
    "resistivity": "49 uohm cm", "conductivity": "0.3 W/(m K)", "angle": "90 deg",
    "torque": "0.9 N m", "mass": "2 kg", "fraction": "5 %", "number": "0.5",
}


def example_of(dimension: str) -> str:
    """Return a quantity of the dimension as a person would write it."""
    return _EXAMPLES[dimension]


def written(value: Any, dimension: str) -> str:
    """Return a value in base units as a person would write it, in the unit that suits it."""
    units = UNITS[dimension]
    base = next((unit for unit, factor in units.items() if factor == 1.0), next(iter(units)))
    suited = [
        unit for unit, factor in units.items()
        if base and factor and unit.endswith(base) and abs(value) / factor > 1 - 1e-9
    ]
    unit = max(suited, key=units.get, default=base) if abs(value) >= 1e-12 else base
    return f"{value / units[unit]:g} {unit}".replace("e+0", "e").replace("e+", "e").strip()


def _noun(dimension):
    return "number" if dimension == "number" else f"{dimension} with its unit"


def dbm_to_watt(dbm: Power) -> Power:
    """Return the power in watt of a level in dBm (arrays too)."""
    return 1e-3 * 10.0 ** (dbm / 10.0)


def watt_to_dbm(watt: FloatLike) -> FloatArray:
    """Return the level in dBm of a power in watt (arrays too); zero gives minus infinity."""
    with np.errstate(divide="ignore"):
        return 10.0 * np.log10(np.asarray(watt, float) / 1e-3)


def power_ratio(db: FloatLike) -> FloatArray:
    """Return the power ratio of `db` decibels (arrays too)."""
    return 10.0 ** (np.asarray(db, float) / 10.0)


def decibels(ratio: FloatLike) -> FloatArray:
    """Return the decibels of a power ratio (arrays too); zero gives minus infinity."""
    with np.errstate(divide="ignore"):
        return 10.0 * np.log10(np.asarray(ratio, float))
