"""How many more lines like one fit before a stage runs out of cooling."""

from __future__ import annotations

import math
from collections import Counter, deque
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from chain.errors import LayoutError, Place
from chain.suggestions import choose

if TYPE_CHECKING:
    from chain.heat.stages import Heat


@dataclass(frozen=True)
class MoreLines:
    """What one more such line brings, and how many of them the margins hold.

    All at the temperatures that the layout gives, at which every line brings as much as the first.
    """

    line: str
    lines: tuple[str, ...]
    """The line and what is joined to it, which comes along."""
    per_line_w: Mapping[str, float | None]
    """What one more brings to each stage, watt; None where unknown."""
    fit: Mapping[str, int | None]
    """How many more each stage holds; None where unknown, or where they bring it nothing."""

    @property
    def fits(self) -> int | None:
        """How many more fit before the first stage runs out, or None where no stage limits them."""
        return min((count for count in self.fit.values() if count is not None), default=None)

    @property
    def first_out(self) -> str | None:
        """The stage that runs out first, or None."""
        if self.fits is None:
            return None
        return next(name for name, count in self.fit.items() if count == self.fits)

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        return {
            "line": self.line, "lines": list(self.lines), "per_line_w": dict(self.per_line_w),
            "fit": dict(self.fit), "fits": self.fits, "first_out": self.first_out,
        }


def more_lines(heat: Heat, name: str) -> MoreLines:
    """Return the MoreLines for a line of a Heat's layout (of its copies, the most common kind).

    Raises LayoutError for a line that does not exist.
    """
    layout = heat.layout
    copies = [line for line in layout.lines.values() if name in (line.name, line.copy_of)]
    if not copies:
        known = dict.fromkeys(line.declared_name for line in layout.lines.values())
        raise LayoutError.at(
            Place("--more"), f"there is no line {name!r}", choose(name, known, "lines")
        )
    brought = {line.name: _brought(heat, _along(layout, line)) for line in copies}
    common, _ = Counter(_rounded(watts) for watts in brought.values()).most_common(1)[0]
    line = next(line for line in copies if _rounded(brought[line.name]) == common)
    per_line = brought[line.name]
    fit = {stage: _fit(heat.stages[stage], watt) for stage, watt in per_line.items()}
    return MoreLines(name, tuple(_along(layout, line)), per_line, fit)


def _along(layout, line):
    """Return the names of a line and of all that joints tie to it and that is copied with it."""
    found, queue = {line.name: None}, deque([line])
    while queue:
        for key in queue.popleft().elements:
            for other in layout.neighbours[key]:
                joined = layout.lines[layout.elements[other].line]
                if joined.name not in found and joined.number == line.number:
                    found[joined.name] = None
                    queue.append(joined)
    return list(found)


def _brought(heat, names):
    """Return {stage: watt} of what lines bring to each stage; None where unknown."""
    total: dict[str, float | None] = dict.fromkeys(heat.stages, 0.0)
    for name in names:
        for key in heat.layout.lines[name].elements:
            for stage, own in heat.elements.get(key, {}).items():
                so_far, more = total[stage], own.total_w
                total[stage] = None if so_far is None or more is None else so_far + more
    return total


def _rounded(watts):
    return tuple(None if watt is None else f"{watt:.9e}" for watt in watts.values())


def _fit(stage, watt):
    if watt is None or stage.margin_w is None or watt <= 0:
        return None
    # A margin of a whole number of lines holds them all, rounding or not.
    return max(0, math.floor(stage.margin_w / watt * (1 + 1e-9)))
