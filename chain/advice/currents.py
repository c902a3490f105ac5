"""Direct currents that cannot flow where the layout sends them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from chain.advice.rules import ERROR, Remark, rule
from chain.heat.currents import line_currents

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection


def _currents(inspection):
    """Return the LineCurrents, of equal copies the first."""
    found = inspection.attempt(line_currents, inspection.layout) or {}
    return list({one.declared: one for one in reversed(found.values())}.values())


@rule(
    "blocked-current", ERROR,
    why="a capacitor in the line passes microwaves and no direct current: the flux stays where it "
    "is, and nobody sees why",
    source="what the element is",
)
def blocked_current(inspection: Inspection) -> Iterator[Remark]:
    """Look along the path of every direct current for what passes none."""
    for one in _currents(inspection):
        if one.blocked_by is not None:
            kind = inspection.element(one.blocked_by).kind.name
            yield Remark(
                (one.blocked_by,),
                f"the direct current of {one.line} ends at the {kind} {one.blocked_by}, which "
                "passes none",
                f"take {one.blocked_by} out of the path, or bring the current in behind it by a "
                "bias-tee",
            )


@rule(
    "current-not-carried", ERROR,
    why="a superconductor that is too warm or carries too much is an ordinary, bad metal: it heats "
    "where it is, and does not recover while the current flows",
    source="critical temperatures of the catalogue, critical currents of the layout",
)
def current_not_carried(inspection: Inspection) -> Iterator[Remark]:
    """Look at every superconductor that carries a direct current."""
    for one in _currents(inspection):
        for key, (why, instead) in one.impossible.items():
            yield Remark((key,), why, instead)
