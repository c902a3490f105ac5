"""Which line brings how much heat to which stage."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from chain.layout.equal_lines import equal_lines
from chain.writing.numbers import number, si

if TYPE_CHECKING:
    from chain.writing.text import Result

OTHER, ALL = "other loads", "all"
"""Rows for what the layout names besides its lines, and for everything together."""

MAX_ROWS = 40
"""Lines on one map; of more, those that matter most."""

DARK = 0.7
"""Shade from which words are white."""

_DECADES = 5.0
"""Decades of the cooling power that shades tell apart."""


@dataclass(frozen=True)
class HeatByLine:
    """Heat of lines at stages; the warmest stage, which only gives, is left out."""

    stages: tuple[str, ...]
    rows: Mapping[str, Mapping[str, float | None]]
    """{line: {stage: W}} in the layout's order, equal copies together, then OTHER and ALL:
    conducted in less conducted out, bias and tones; None where something of it is not known."""
    cooling_w: Mapping[str, float | None]
    """Cooling power of each stage at its temperature, watt; None where it is not known."""

    def part(self, row: str, stage: str) -> float | None:
        """Return a row's heat over the cooling power of a stage, or None where unknown."""
        watt, cooling = self.rows[row][stage], self.cooling_w[stage]
        return None if watt is None or not cooling else watt / cooling

    def shade(self, row: str, stage: str) -> float:
        """Return how dark its cell is, 0 to 1: all of the cooling power 1, a decade less 4/5."""
        part = self.part(row, stage)
        if part is None or part <= 0:
            return 0.0
        return min(max(1.0 + math.log10(part) / _DECADES, 0.0), 1.0)

    def words(self, row: str, stage: str) -> tuple[str, ...]:
        """Return the heat, and below it its percent of the cooling power where that is known."""
        watt, part = self.rows[row][stage], self.part(row, stage)
        if watt is None:
            return ("unknown",)
        if watt == 0:
            return ("-",)
        shown = si(watt, "W", 3)
        return (shown,) if part is None else (shown, f"{number(100 * part, 2)} %")

    def largest(self, most: int) -> tuple[list[str], int]:
        """Return (rows in order, how many are left out): those with the largest parts, and ALL."""
        def size(row: str) -> float:
            return max((self.part(row, stage) or 0.0 for stage in self.stages), default=0.0)

        kept = {*sorted(self.rows, key=lambda row: -size(row))[:most], ALL}
        return [row for row in self.rows if row in kept], len(self.rows) - len(kept)


def heat_by_line(heat: Result) -> HeatByLine:
    """Return the HeatByLine of a Heat."""
    layout = heat.layout
    stages = tuple(heat.stages)[1:] or tuple(heat.stages)
    rows: dict[str, dict[str, float | None]] = {}
    for group in equal_lines(layout):
        name = group.name if group.count == 1 else f"{group.name} × {group.count}"
        ids = [key for line in group.lines for key in layout.lines[line].elements]
        rows[name] = {stage: _watt(heat, ids, stage) for stage in stages}
    others = {stage: heat.stages[stage].other_w for stage in stages}
    if any(others.values()):
        rows[OTHER] = dict(others)
    rows[ALL] = {stage: heat.stages[stage].total_w for stage in stages}
    return HeatByLine(stages, rows, {stage: heat.stages[stage].cooling_w for stage in stages})


def _watt(heat, ids, stage):
    """Return the heat of elements at a stage, watt; None where one is not known."""
    own = [heat.elements[key][stage] for key in ids if stage in heat.elements.get(key, {})]
    watts = [one.total_w for one in own]
    return None if any(watt is None for watt in watts) else math.fsum(watts)
