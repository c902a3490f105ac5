"""Values of a layout as a person wrote them, or would."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Protocol

from chain.writing.foreign_text import one_line
from chain.writing.numbers import si
from components.parameters import Clamped, Distances, FrequencyRange, PerPort, Phases, PortList
from components.quantities import UNITS, LevelTable, Quantity, Table, written
from components.touchstone import NamedFile

if TYPE_CHECKING:
    from components.declaration import Kind
    from components.settings import Settings


class Described(Protocol):
    """What has a kind and values: an element of a layout."""

    @property
    def kind(self) -> Kind:
        """Its kind."""

    @property
    def settings(self) -> Settings:
        """Its values."""


def value_text(value: Any) -> str:
    """Return a parameter's value on one line, with its unit."""
    if isinstance(value, Quantity):
        return one_line(value.text)
    if isinstance(value, Table):
        return _table(value)
    if isinstance(value, LevelTable):
        return _level_table(value)
    if isinstance(value, NamedFile):
        return one_line(os.path.basename(value.path))
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return ", ".join(f"{one_line(key)} {value_text(item)}" for key, item in value.items())
    if isinstance(value, tuple | list):
        return " ".join(value_text(item) for item in value)
    if isinstance(value, float):
        return f"{value:g}"
    return one_line(getattr(value, "name", value))


def _table(table):
    unit = base_unit(table.dimension)
    ends = [f"{hertz / 1e9:g}" for hertz in (table.frequency_hz[0], table.frequency_hz[-1])]
    low, high = min(table.values), max(table.values)
    values = f"{low:g} {unit}" if low == high else f"{low:g} to {high:g} {unit}"
    return f"{values.strip()} at {ends[0]} to {ends[1]} GHz"


def _level_table(table):
    unit = base_unit(table.dimension)
    return ", ".join(
        f"{value:g} {unit} at {level:g} dBm"
        for level, value in zip(table.power_dbm, table.values, strict=True)
    )


def base_unit(dimension: str) -> str:
    """Return the unit that the values of a dimension are held in."""
    units = UNITS[dimension]
    return next((unit for unit, factor in units.items() if factor == 1.0), next(iter(units)))


def as_set(value: Any) -> str:
    """Return a typed value as `--set` would take it: for programs, as it is.

    `value_text` is for reading, and leaves brackets and paths out.  Whoever prints this text makes
    it safe.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Quantity):
        return value.text
    if isinstance(value, Table | LevelTable):
        return "a table"
    if isinstance(value, NamedFile):
        return value.path
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key}: {as_set(item)}" for key, item in value.items()) + "}"
    if isinstance(value, tuple | list):
        return "[" + ", ".join(as_set(item) for item in value) + "]"
    return str(getattr(value, "name", value))


def as_rounded(value: Quantity | Table | LevelTable) -> str:
    """Return a number or table as `--set` takes it, to four digits: what was fitted."""
    if isinstance(value, Quantity):
        return written(_to_digits(value.value), value.dimension)
    if isinstance(value, Table):
        at = [si(hertz, "Hz", 9) for hertz in value.frequency_hz]
    else:
        at = [f"{level:g} dBm" for level in value.power_dbm]
    numbers = [written(_to_digits(number), value.dimension) for number in value.values]
    pairs = [f"{one}: {number}" for one, number in zip(at, numbers, strict=True)]
    return "{" + ", ".join([*pairs, *(["outside: hold"] if value.hold else [])]) + "}"


def _to_digits(value):
    return float(f"{value:.4g}")


def given(element: Described) -> list[tuple[str, str]]:
    """Return [(parameter, value text)] of everything the layout gives for an element."""
    placed = {"stage", "from", "to"}
    return [
        (name, setting_text(parameter.reads, element.settings.values[name]))
        for name, parameter in element.kind.declared().items()
        if name in element.settings.values and name not in placed
    ]


def setting_text(reads: Any, value: Any) -> str:
    """Return a value as `value_text` does, where the declared type says more than the value."""
    if isinstance(reads, FrequencyRange):
        return f"{si(value[0], 'Hz')} to {si(value[1], 'Hz')}"
    if isinstance(reads, Distances):
        pairs = value.items() if isinstance(value, Mapping) else value
        return ", ".join(f"{one_line(stage)} at {_length(at)}" for stage, at in pairs)
    if isinstance(reads, PortList):
        return ", ".join(value)
    if isinstance(reads, PerPort | Phases | Clamped) and isinstance(value, Mapping):
        return ", ".join(f"{one_line(key)}: {value_text(item)}" for key, item in value.items())
    return value_text(value)


def _length(at):
    return value_text(at) if isinstance(at, Quantity) else si(at, "m")
