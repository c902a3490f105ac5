"""CSV files with a header row, every cell with its line and column for messages."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from chain.errors import LayoutError, Place, Problem
from chain.suggestions import choose

MAX_BYTES = 50_000_000
"""Largest file that is read."""


@dataclass(frozen=True)
class Column:
    """One column: its name as written, and where the header writes it."""

    name: str
    index: int
    place: Place


@dataclass(frozen=True)
class Row:
    """One row: its cells, and where each of them begins."""

    cells: tuple[str, ...]
    places: tuple[Place, ...]


class CsvTable:
    """The header and rows of one file; numbers are asked for by column.

    Empty lines and lines that begin with # are left out.  Raises LayoutError for what is no such
    file; mistakes in cells are collected in `problems` and raised together by `refuse_if_any`.
    """

    def __init__(self, path, option):
        self.path = str(path)
        self.problems = []
        lines = _lines(self.path, option)
        rows = [_row(self.path, number, text) for number, text in lines]
        if not rows:
            raise LayoutError.at(
                Place(self.path), "the file is empty",
                "let it begin with a header, like frequency_hz,load_k,power_dbm_hz",
            )
        head, self.rows = rows[0], rows[1:]
        if all(_is_number(cell) for cell in head.cells):
            raise LayoutError.at(
                head.places[0], "there is no header",
                "let the first line name the columns, like frequency_hz,load_k,power_dbm_hz",
            )
        self.columns = tuple(
            Column(cell.strip().strip('"'), i, place)
            for i, (cell, place) in enumerate(zip(head.cells, head.places, strict=True))
        )
        self._check_shape(head)

    def _check_shape(self, head):
        seen = {}
        for column in self.columns:
            if column.name in seen:
                self.problem(column.place, f"column {column.name!r} stands twice", "keep one")
            seen[column.name] = column
        for row in self.rows:
            if len(row.cells) != len(head.cells):
                self.problem(
                    row.places[0], f"the row has {len(row.cells)} cells and the header "
                    f"{len(head.cells)}", "give every row as many",
                )
        self.refuse_if_any()
        if not self.rows:
            raise LayoutError.at(
                head.places[0], "there is no row under the header", "add the readings"
            )

    def problem(self, place: Place, what: str, instead: str) -> None:
        """Note a mistake."""
        self.problems.append(Problem(place, what, instead))

    def refuse_if_any(self) -> None:
        """Raise LayoutError if a mistake was noted."""
        if self.problems:
            raise LayoutError(self.problems)

    def unknown(self, column: Column, known: Iterable[str]) -> None:
        """Note that a column is none of the known ones."""
        self.problem(
            column.place, f"there is no column {column.name!r}",
            choose(column.name, known, "columns"),
        )

    def named(self, name: str) -> Column | None:
        """Return the column of that name, or None."""
        return next((column for column in self.columns if column.name == name), None)

    def numbers(
        self, column: Any, *, least: Any = None, above: Any = None, most: Any = None
    ) -> Any:
        """Return the column as floats; cells that are none, or out of bounds, are noted."""
        return [self._number(row, column, least, above, most) for row in self.rows]

    def _number(self, row, column, least, above, most):
        text, place = row.cells[column.index].strip().strip('"'), row.places[column.index]
        if not text:
            self.problem(place, f"{column.name} is empty", "write a number, or leave the row out")
            return math.nan
        if not _is_number(text):
            self.problem(place, f"{text!r} is not a number", f"write {column.name} as a number")
            return math.nan
        value = float(text)
        if not math.isfinite(value):
            self.problem(place, f"{column.name} is {text}", "leave out what was not measured")
        elif above is not None and value <= above:
            self.problem(place, f"{column.name} is {text}", f"it has to lie above {above:g}")
        elif least is not None and value < least:
            self.problem(place, f"{column.name} is {text}", f"it has to be at least {least:g}")
        elif most is not None and value > most:
            self.problem(place, f"{column.name} is {text}", f"it can be {most:g} at most")
        return value


def _is_number(text):
    try:
        float(text.strip().strip('"'))
    except ValueError:
        return False
    return "_" not in text


def _lines(path, option):
    try:
        with open(path, "rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise LayoutError.at(
            Place(option), f"{path}: {error.strerror or error}", "name a CSV file that can be read"
        ) from error
    if len(data) > MAX_BYTES:
        raise LayoutError.at(
            Place(path), f"the file has more than {MAX_BYTES // 1_000_000} MB",
            "average over time or frequency first",
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise LayoutError.at(
            Place(path, line), "the file is not text (UTF-8)", "save it as CSV"
        ) from error
    return [
        (number, line) for number, line in enumerate(text.splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]


def _row(path, number, text):
    """Return the Row of a line; a cell in quotes may hold commas."""
    try:
        cells = next(csv.reader([text], strict=True))
    except csv.Error as error:
        raise LayoutError.at(Place(path, number), str(error), "close every quote") from error
    places, column = [], 1
    for cell in cells:
        places.append(Place(path, number, column))
        quoted = text[column - 1 : column] == '"'
        column += len(cell) + (2 + cell.count('"') if quoted else 0) + 1
    return Row(tuple(cells), tuple(places))
