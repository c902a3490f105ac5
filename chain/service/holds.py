"""Hold points: what is checked and signed before a can or shield is closed again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from chain.service.cautions import COLD_K

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from chain.writing.text import Result

CHECKS = (
    "every joint there is made and initialled, its reading inside its interval or explained",
    "anchors and clamps tight, labels on, nothing touches the next stage",
    "tools, wipes, caps and tags counted: nothing stays inside",
    "sealing faces and seals clean and whole; where it holds vacuum, the leak check by the maker's "
    "procedure passed before the next one is closed",
)
"""Common practice, no source."""


@dataclass(frozen=True)
class Hold:
    """Nobody goes on past it before it is signed."""

    stage: str
    """The can or shield round this stage, if it has one, is closed after it."""
    joints: tuple[str, ...]
    """Joints at the stage that were made again."""
    checks: tuple[str, ...] = CHECKS

    @property
    def name(self) -> str:
        """The hold point in words."""
        return f"before the can or shield round {self.stage} is closed"

    def as_dict(self) -> dict[str, Any]:
        """Return the hold point under the names that programs lean on."""
        return {"stage": self.stage, "joints": list(self.joints), "checks": list(self.checks)}


def holds(layout: Layout, redo: Sequence[Result]) -> tuple[Hold, ...]:
    """Return the hold points of a reassembly, from the coldest stage that was opened outward.

    The warmest stage has none round it; where nothing is cold there are none.
    """
    stages = list(layout.stages)
    made: dict[str, list[str]] = {}
    for step in redo:
        made.setdefault(step.stage, []).append(step.joint)
    opened = [place for place, name in enumerate(stages) if name in made]
    if not opened:
        return ()
    return tuple(
        Hold(name, tuple(made.get(name, ())))
        for name in reversed(stages[1:max(opened) + 1])
        if layout.stages[name].temperature_k < COLD_K
    )
