"""Whether paramps get the pump that their gain was stated with."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from chain.advice.changes import send
from chain.advice.rules import ERROR, NOTE, Remark, rule
from chain.network.assembly import pumps_of
from chain.network.pumps import HOLDS, NOT_WIRED, OFF

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection


@rule(
    "pump-level", ERROR, margins=("pump_level", "pump_lost"),
    why="a paramp's gain hangs steeply on its pump: a gain stated for one level holds "
    "near it alone",
)
def pump_level(inspection: Inspection) -> Iterator[Remark]:
    """Look at the level of its pump at every paramp, against that of its stated gain."""
    for one in (inspection.attempt(pumps_of, inspection.layout) or {}).values():
        if one.id not in inspection.ids or one.state == HOLDS:
            continue
        level = NOTE if one.state == NOT_WIRED else None
        yield Remark((one.id,), one.says, _remedies(inspection, one), level=level)


def _remedies(inspection, one):
    """Yield what brings the pump back to its level, tried where a number does it."""
    if one.level_dbm is not None and one.stated_dbm is not None:
        tone = inspection.layout.tones[one.tone]
        if tone.arriving is None and abs(one.stated_dbm - one.level_dbm) < MOST_CHANGE_DB:
            yield send(inspection, one.tone, one.stated_dbm - one.level_dbm)
    yield _remedy(one)


MOST_CHANGE_DB = 40.0
"""A pump that is further off is not weak or strong, but elsewhere."""


def _remedy(one):
    if one.state == NOT_WIRED:
        return f"wire {one.tone} to it to see what it gets"
    if one.state == OFF:
        return f"see what breaks the path of {one.tone}, or set {one.id}.state to off"
    if one.stated_dbm is None:
        return f"let the table of {one.id}'s gain reach {one.level_dbm:.1f} dBm"
    return (
        f"bring {one.tone} to {one.stated_dbm:.1f} dBm there, or say the gain over its level: "
        f"{{{one.stated_dbm:.0f} dBm: ..., {one.level_dbm:.0f} dBm: ...}}"
    )
