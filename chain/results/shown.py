"""What every result does in Python and in notebooks, whatever it is about."""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, Self

import numpy as np

from chain.errors import LayoutError, Place
from chain.pages.sheets import as_csv
from chain.suggestions import choose, shown
from chain.writing.files import write_whole
from chain.writing.foreign_text import visible
from chain.writing.json_text import FORMAT, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from chain.writing.text import TextTable

MAX_ROWS = 24
"""Rows of a short table; what is more is counted below it."""


@dataclass(frozen=True)
class Brief:
    """A result in short: what it is of, one table, and what has to be said besides."""

    title: str
    table: TextTable
    remarks: tuple[str, ...] = ()

    def text(self) -> str:
        """Return it as plain text."""
        return visible("\n".join([self.title, "", self.table.text(most=MAX_ROWS), *self._below()]))

    def html(self) -> str:
        """Return it as an HTML fragment, everything escaped."""
        below = "".join(f"<p>{html.escape(text)}</p>" for text in self.remarks)
        return visible(
            f"<p><b>{html.escape(self.title)}</b></p>{self.table.html(most=MAX_ROWS)}{below}"
        )

    def _below(self):
        return ["", *self.remarks] if self.remarks else []


class Shown:
    """A result that shows itself; a class of this room is its own dataclass and this.

    `str` is the whole text that the command line prints, `repr` a short table of it; `rows` are
    what `pandas.DataFrame` takes.
    """

    @classmethod
    def from_result(cls, result: Any) -> Self:
        """Return a result of the class's own dataclass as one that shows itself."""
        return cls(**{each.name: getattr(result, each.name) for each in fields(result)})

    def brief(self) -> Brief:
        """Return the result in short."""
        raise NotImplementedError

    def figure(self) -> Figure:
        """Return the result as a matplotlib Figure."""
        from chain.figures.table import table_figure

        brief = self.brief()
        return table_figure(brief.table, brief.title)

    def csv(self) -> str:
        """Return the rows as CSV text; what is not known is empty."""
        return rows_csv(self.rows)  # type: ignore[attr-defined] # of each class

    def to_csv(self, path: str) -> None:
        """Write the result as a CSV file, whole or not at all; raises CannotWrite."""
        layout = getattr(self, "layout", None)
        write_whole(str(path), self.csv(), read=() if layout is None else layout.files)

    def as_dict(self, *arguments: Any) -> dict[str, Any]:
        """Return what `--json` prints: plain numbers, lists and text, None for what is not known.

        The arrays themselves are the fields of the result.
        """
        return plain({"format": FORMAT, **self._fields_for_programs(*arguments)})

    def _fields_for_programs(self, *arguments: Any) -> dict[str, Any]:
        return super().as_dict(*arguments)  # type: ignore[misc] # of the dataclass beside it

    def __repr__(self):
        return self.brief().text()

    def _repr_html_(self):
        return self.brief().html()

    def _said(self) -> tuple[str, ...]:
        """Return how many warnings there are, and the first."""
        said = list(getattr(self, "warnings", ()))
        if not said:
            return ()
        more = f" (and {len(said) - 1} more in .warnings)" if len(said) > 1 else ""
        return (f"warning: {said[0]}{more}",)


def check_view(view: str, known: Sequence[str]) -> None:
    """Raise LayoutError where a figure has no such view."""
    if view not in known:
        raise LayoutError.at(
            Place("view"), f"there is no view {shown(str(view))}", choose(str(view), known, "views")
        )


def over_frequency(result: Any, names: Iterable[str]) -> tuple[dict[str, Any], ...]:
    """Return a row a frequency: `frequency_hz` and the arrays of those names that are known."""
    columns = {"frequency_hz": result.frequency_hz}
    for name in names:
        values = getattr(result, name)
        if values is not None:
            columns[name] = values
    return rows_of(columns)


def rows_of(columns: Mapping[str, Any]) -> tuple[dict[str, Any], ...]:
    """Return columns of equal length as rows."""
    arrays = [np.asarray(values).tolist() for values in columns.values()]
    return tuple(dict(zip(columns, values, strict=True)) for values in zip(*arrays, strict=True))


def rows_csv(rows: Sequence[Mapping[str, Any]]) -> str:
    """Return rows as CSV text under the names of all of them."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    return as_csv(names, ([_cell(row.get(name)) for name in names] for row in rows))


def _cell(value):
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, list | tuple):
        return " ".join(str(item) for item in value)
    return str(value) if isinstance(value, bool | str) else repr(value)

