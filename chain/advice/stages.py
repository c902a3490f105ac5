"""Whether every stage has the cooling power for its heat."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from chain.advice.rules import ERROR, WARNING, Remark, rule
from chain.writing.numbers import si

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection


@rule(
    "over-cooling", ERROR,
    why="a stage with more heat than cooling power warms until they balance, or beyond its table",
    source="the stage's own cooling table",
)
def over_cooling(inspection: Inspection) -> Iterator[Remark]:
    """Look for stages whose heat load exceeds their cooling power at their temperature."""
    for stage, row in _known(inspection):
        if row.over:
            least = "at least " if row.total_w is None else ""
            yield Remark(
                (), f"the heat load of stage {stage.name} is {least}{si(row.known_w, 'W', 3)}, "
                f"its cooling power {si(row.cooling_w, 'W', 3)} at "
                f"{si(stage.temperature_k, 'K', 3)} "
                f"({_parts(row)}; most from {_most(inspection, stage.name)})",
                _remedy(row), stage.place,
            )


@rule(
    "close-to-cooling", WARNING, margins=("cooling",),
    why="loads grow while a cryostat is used: what is planned to the limit will not get cold",
    source="the stage's own cooling table; the margin is common practice, no source",
)
def close_to_cooling(inspection: Inspection) -> Iterator[Remark]:
    """Look for stages that have less of their cooling power left than the margin."""
    for stage, row in _known(inspection):
        if row.over or row.margin_w is None or row.cooling_w <= 0:
            continue
        left = row.margin_w / row.cooling_w
        if left < inspection.margin("cooling"):
            yield Remark(
                (), f"the heat load of stage {stage.name} is {si(row.total_w, 'W', 3)} of "
                f"{si(row.cooling_w, 'W', 3)} cooling power at "
                f"{si(stage.temperature_k, 'K', 3)}: {100 * left:.3g} % left "
                f"({_parts(row)}; most from {_most(inspection, stage.name)})",
                _remedy(row), stage.place,
            )


def _known(inspection):
    """Yield (stage, its heat) where its cooling power is known."""
    for name, row in (inspection.heat.stages.items() if inspection.heat else ()):
        if row.cooling_w is not None:
            yield inspection.layout.stages[name], row


_PARTS = {
    "conduction_w": ("conduction", "longer, thinner or superconducting coax above it, or fewer"),
    "bias_w": ("bias", "a lower bias, or the amplifier on a warmer stage"),
    "tones_w": ("tones", "less tone power, or its loads on a warmer stage"),
    "currents_w": ("direct currents", "less current, thicker or superconducting wires"),
    "other_w": ("other loads", "what the stage names under other:"),
}


def _parts(row):
    return ", ".join(
        f"{name} {si(getattr(row, key), 'W', 3)}" for key, (name, _) in _PARTS.items()
        if getattr(row, key)
    )


def _most(inspection, stage):
    rows = [row for row in inspection.heat.contributions(stage) if row[3]][:2]
    return ", ".join(f"{ids[0] if len(ids) == 1 else f'{ids[0]} to {ids[-1]}'} {si(watt, 'W', 3)}"
                     for ids, _, _, watt in rows) or "what the stage names itself"


def _remedy(row):
    key = max(_PARTS, key=lambda key: getattr(row, key) or 0.0)
    name, remedy = _PARTS[key]
    return f"most of it is {name}: {remedy}"
