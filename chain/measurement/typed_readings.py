"""Single levels that people read off an analyser and typed into a CSV file."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from chain.errors import LayoutError, Place
from chain.measurement.csv_table import CsvTable

if TYPE_CHECKING:
    from chain.measurement.csv_table import Column, Row

NEEDED = ("from", "to", "frequency_hz", "measured_db")
OPTIONAL = ("opened", "initials", "time", "serial", "note")
"""Other columns may stand there too, as in the record of a service: they are left alone."""


@dataclass(frozen=True)
class TypedReading:
    """One level, with everything at room temperature or cold, as whoever reads the file knows."""

    first: str
    """Where the wave goes in: a connector's id, or the port at which a joint is open."""
    second: str
    """Where it comes out; `first` for a reflection."""
    opened: tuple[str, ...]
    """Ports at which joints were open meanwhile."""
    frequency_hz: float
    measured_db: float
    initials: str
    time: str
    note: str
    place: Place
    """Of the level in its file."""


def typed_readings(path: str, option: str) -> tuple[TypedReading, ...]:
    """Return every TypedReading of a CSV file; rows without a level are left out.

    `option` names the file in messages.  Raises LayoutError with every mistake.
    """
    table = CsvTable(path, option)
    columns: dict[str, Column | None] = {
        name: table.named(name) for name in (*NEEDED, *OPTIONAL)
    }
    for name in NEEDED:
        if columns[name] is None:
            raise LayoutError.at(
                Place(table.path, 1, 1), f"there is no column {name!r}",
                f"let the header have {', '.join(NEEDED)}; service --csv writes such a file",
            )
    found = [_reading(table, columns, row) for row in table.rows
             if _cell(columns, row, "measured_db")]
    table.refuse_if_any()
    if not found:
        raise LayoutError.at(
            Place(table.path), "no level was typed in", "fill in the column measured_db"
        )
    return tuple(found)


def _reading(table, columns, row):
    numbers = {
        name: _number(table, columns[name], row, name) for name in ("frequency_hz", "measured_db")
    }
    if numbers["frequency_hz"] <= 0:
        table.problem(row.places[columns["frequency_hz"].index], "no frequency above 0",
                      "write it in hertz, as 5.75e9")
    for name in ("from", "to"):
        if not _cell(columns, row, name):
            table.problem(row.places[columns[name].index], f"{name} is empty",
                          "name a connector, or the port at which a joint was open")
    return TypedReading(
        _cell(columns, row, "from"), _cell(columns, row, "to"),
        tuple(_cell(columns, row, "opened").split()), numbers["frequency_hz"],
        numbers["measured_db"], _cell(columns, row, "initials"), _cell(columns, row, "time"),
        _cell(columns, row, "note"), row.places[columns["measured_db"].index],
    )


def _cell(columns: dict[str, Column | None], row: Row, name: str) -> str:
    column = columns[name]
    return "" if column is None else row.cells[column.index].strip()


def _number(table, column, row, name):
    text = row.cells[column.index].strip()
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if math.isfinite(value) and "_" not in text:
        return value
    table.problem(row.places[column.index], f"{name} is {text!r}, no number",
                  "write a number, as -32.5")
    return math.nan
