"""Plain text and HTML tables, and numbers as a person reads them."""

from __future__ import annotations

import contextlib
import html
from collections.abc import Iterable, Iterator, Mapping
from contextvars import ContextVar
from typing import Any, TypeAlias

from chain.writing.foreign_text import one_line

Result: TypeAlias = Any
"""A result that a text is made from; the text's docstring says which.

A result's `str` asks its text, so the text's module cannot import the result's without a circle.
"""


_columns: ContextVar[int | None] = ContextVar("columns", default=None)

NARROWEST = 40
"""Columns below which no text is made to fit."""


@contextlib.contextmanager
def fitted(columns: int | None) -> Iterator[None]:
    """Let tables and paragraphs made inside fit so many columns; None: as wide as they are."""
    token = _columns.set(None if columns is None else max(columns, NARROWEST))
    try:
        yield
    finally:
        _columns.reset(token)


def _fitting(widths, indent):
    """Return the columns of each block of a table that fits, the first one in every block."""
    room = _columns.get()
    every = list(range(len(widths)))
    if room is None or indent + sum(widths) + 2 * (len(widths) - 1) <= room:
        return [every]
    blocks = [[0]]
    for i in every[1:]:
        taken = indent + sum(widths[j] + 2 for j in blocks[-1])
        if len(blocks[-1]) > 1 and taken + widths[i] > room:
            blocks.append([0])
        blocks[-1].append(i)
    return blocks


class TextTable:
    """Rows of text under headings; columns named in `left` are set left, the rest right."""

    def __init__(self, headings: Iterable[str], left: Iterable[str] = ()) -> None:
        self.headings = list(headings)
        self.left = set(left)
        self.rows = []

    def add(self, *cells: object) -> None:
        """Add a row of cells (text), or a single text that runs across; each stays on its line."""
        self.rows.append([one_line(cell, collapsed=False) for cell in cells])

    def text(self, indent: str = '', *, most: int | None = None) -> str:
        """Return the table as plain text, of `most` rows with a count of those left out."""
        rows = self._shown(most)
        full = [row for row in rows if len(row) == len(self.headings)]
        heads = [heading.split("\n") for heading in self.headings]
        depth = max(len(head) for head in heads)
        heads = [[""] * (depth - len(head)) + head for head in heads]
        widths = [
            max([len(part) for part in head] + [len(row[i]) for row in full])
            for i, head in enumerate(heads)
        ]
        above = [[head[level] for head in heads] for level in range(depth)]
        rule = ["-" * width for width in widths]
        blocks = []
        for columns in _fitting(widths, len(indent)):
            lines = [self._line(cells, widths, columns) for cells in (*above, rule)]
            lines += [
                self._line(row, widths, columns) if len(row) == len(widths) else row[0]
                for row in rows
            ]
            blocks.append("\n".join((indent + line).rstrip() for line in lines))
        return "\n\n".join(blocks)

    def _line(self, cells, widths, columns):
        left = [self.headings[i] in self.left for i in columns]
        return "  ".join(
            cells[i].ljust(widths[i]) if to_left else cells[i].rjust(widths[i])
            for i, to_left in zip(columns, left, strict=True)
        )

    def _shown(self, most):
        if most is None or len(self.rows) <= most:
            return self.rows
        return [*self.rows[:most], [f"-- {len(self.rows) - most} more"]]

    def html(self, *, most: int | None = None) -> str:
        """Return the table as HTML, every cell escaped; `most` as for `text`."""
        head = "".join(f"<th>{html.escape(h)}</th>" for h in self.headings)
        body = []
        for row in self._shown(most):
            if len(row) == len(self.headings):
                cells = "".join(f"<td>{html.escape(cell)}</td>" for cell in row)
            else:
                cells = f'<td colspan="{len(self.headings)}">{html.escape(row[0])}</td>'
            body.append(f"<tr>{cells}</tr>")
        return f"<table><thead><tr>{head}</tr></thead><tbody>{''.join(body)}</tbody></table>"


def accepted_text(accepted: Mapping[str, str]) -> list[str]:
    """Return lines on the findings that a layout accepts, {code: why}."""
    return [wrapped(f"accepted: {code}: {reason}", "") for code, reason in accepted.items()]


def wrapped(text: str, indent: str = '  ', width: int = 96) -> str:
    """Return text as one paragraph wrapped to a width, continuation lines indented."""
    import textwrap

    width = min(width, _columns.get() or width)
    text = one_line(text, collapsed=False)
    return textwrap.fill(text, width, initial_indent=indent, subsequent_indent=indent)
