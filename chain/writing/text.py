"""Plain text and HTML tables, and numbers as a person reads them."""

from __future__ import annotations

import html
from collections.abc import Iterable, Mapping
from typing import Any, TypeAlias

from chain.writing.foreign_text import one_line

Result: TypeAlias = Any
"""A result that a text is made from; the text's docstring says which.

A result's `str` asks its text, so the text's module cannot import the result's without a circle.
"""


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
        lines = [self._line([head[level] for head in heads], widths) for level in range(depth)]
        lines.append("  ".join("-" * width for width in widths))
        for row in rows:
            lines.append(self._line(row, widths) if len(row) == len(widths) else row[0])
        return "\n".join((indent + line).rstrip() for line in lines)

    def _line(self, cells, widths):
        return "  ".join(
            cell.ljust(width) if heading in self.left else cell.rjust(width)
            for cell, width, heading in zip(cells, widths, self.headings, strict=True)
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

    text = one_line(text, collapsed=False)
    return textwrap.fill(text, width, initial_indent=indent, subsequent_indent=indent)
