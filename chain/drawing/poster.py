"""Drawings one under the other on one picture: rows that wrap, and sheets to pin up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from chain.drawing.picture import FONT, INK
from chain.drawing.svg import escape, number, paper, tag, title, wrap

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

GAP = 26.0
"""Pixels between two rows."""

LONG_MM, SHORT_MM, EDGE_MM = 420.0, 297.0, 10.0
"""Sides of a sheet of A3 (ISO 216), and what stays white around it."""

LEAST_MM_PER_PX = 0.19
"""Where a drawing would be smaller than this, it goes on several sheets: its letters of 10 pixels
are then 1.9 mm, which is read from half a metre (common practice, no source)."""

_HEAD_MM, _FOOT_MM = 14.0, 7.0
_TITLE_MM, _SMALL_MM = 6.5, 2.8


@dataclass(frozen=True)
class Row:
    """A drawing as SVG text with its size in pixels."""

    svg: str
    width: float
    height: float


def stacked(rows: Sequence[Row], heading: str) -> str:
    """Return one SVG of rows, one under the other; a single row as it is."""
    if len(rows) == 1:
        return rows[0].svg
    width, height = _size(rows)
    return tag(
        "svg", "\n".join([title(heading), paper(width, height), *_placed(rows, 0.0, 0.0, 1.0)]),
        xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {number(width)} {number(height)}",
        width=width, height=height, role="img", font_family=FONT, class_="drawing",
    ) + "\n"


def _size(rows):
    return (max(row.width for row in rows),
            sum(row.height for row in rows) + GAP * (len(rows) - 1))


def _placed(rows, left, top, scale):
    """Return rows as nested SVGs, `scale` units of the picture a pixel."""
    found, y = [], top
    for row in rows:
        inside = row.svg.replace(
            f' width="{number(row.width)}" height="{number(row.height)}" role',
            f' x="{number(left)}" y="{number(y)}" width="{number(scale * row.width)}" '
            f'height="{number(scale * row.height)}" role', 1,
        )
        found.append(inside)
        y += scale * (row.height + GAP)
    return found


# -- sheets to pin up ---------------------------------------------------------------------------


def scale_of(rows: Sequence[Row], legend: Row) -> tuple[float, bool]:
    """Return (mm a pixel, True where the sheet lies) at which rows and legend fit a sheet best."""
    width, height = _size([*rows, legend])
    found = []
    for lying in (True, False):
        across, down = (LONG_MM, SHORT_MM) if lying else (SHORT_MM, LONG_MM)
        room = down - 2 * EDGE_MM - _HEAD_MM - _FOOT_MM
        found.append((min((across - 2 * EDGE_MM) / width, room / height), lying))
    return max(found)


def on_sheets(arrangements: Iterable[Sequence[Row]], legend: Row) -> list[Sequence[Row]]:
    """Return what stands on each sheet: the arrangement that one sheet shows largest.

    Where none is legible on one sheet, the rows of the last go on several, as many as one holds.
    """
    best: tuple[float, Sequence[Row]] = (0.0, ())
    rows: Sequence[Row] = ()
    for rows in arrangements:
        scale, _ = scale_of(rows, legend)
        best = max(best, (scale, rows), key=lambda one: one[0])
    if best[0] >= LEAST_MM_PER_PX or len(rows) < 2:
        return [best[1]]
    sheets: list[list[Row]] = []
    for row in rows:
        if sheets and scale_of([*sheets[-1], row], legend)[0] >= LEAST_MM_PER_PX:
            sheets[-1].append(row)
        else:
            sheets.append([row])
    return list(sheets)


def poster(rows: Sequence[Row], legend: Row, heading: str, below: str) -> tuple[str, bool]:
    """Return (SVG of a sheet of A3, True where it lies): heading, rows, symbols, and what it is of.

    Its units are millimetres.
    """
    scale, lying = scale_of(rows, legend)
    across, down = (LONG_MM, SHORT_MM) if lying else (SHORT_MM, LONG_MM)
    width, height = (scale * length for length in _size([*rows, legend]))
    spare = down - 2 * EDGE_MM - _HEAD_MM - _FOOT_MM - height
    parts = [
        _words(heading, EDGE_MM + _TITLE_MM, _TITLE_MM, across - 2 * EDGE_MM, bold=True),
        *_placed([*rows, legend], (across - width) / 2, EDGE_MM + _HEAD_MM + spare / 2, scale),
        _words(below, down - EDGE_MM, _SMALL_MM, across - 2 * EDGE_MM),
    ]
    return tag(
        "svg", "\n".join([title(heading), paper(across, down), *parts]),
        xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {number(across)} {number(down)}",
        width=f"{number(across)}mm", height=f"{number(down)}mm", role="img", font_family=FONT,
        class_="poster",
    ) + "\n", lying


def _words(text, y, size, room, *, bold=False):
    return "".join(
        tag("text", escape(line), x=EDGE_MM, y=y, font_size=size, fill=INK,
            font_weight="bold" if bold else None)
        for line in wrap(text, room, size, most=1, bold=bold)
    )
