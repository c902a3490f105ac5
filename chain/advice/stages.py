"""Whether every stage has the cooling power for its heat."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from chain.advice.changes import move, send, set_value
from chain.advice.coax import coaxes_like
from chain.advice.remedies import Remedy
from chain.advice.rules import ERROR, WARNING, Remark, rule
from chain.layout import edits
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
                _relief(inspection, stage, row), stage.place, about=(("heat", stage.name),),
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
                _relief(inspection, stage, row), stage.place, about=(("heat", stage.name),),
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


LARGEST = 3
"""Elements at a stage whose change is tried."""


def _relief(inspection, stage, row):
    """Yield Remedies for what heats a stage most."""
    for ids, _, one, watt in inspection.heat.contributions(stage.name, LARGEST):
        if not watt or watt < 0.02 * row.known_w:
            continue
        key = ids[0] if ids[0] in inspection.ids else next(
            (k for k in inspection.ids if ids[0] in inspection.alike(k)), None)
        if key is None:
            continue
        parts = {"conduction": one.conduction_w or 0.0, "bias": one.bias_w,
                 "tones": one.tones_w or 0.0}
        most = max(parts, key=lambda name: parts[name])
        yield from {"conduction": _conducting, "bias": _biased, "tones": _heated}[most](
            inspection, stage, key)
    part = max(_PARTS, key=lambda key: getattr(row, key) or 0.0)
    name, remedy = _PARTS[part]
    yield f"most of it is {name}: {remedy}"


def _conducting(inspection, stage, key):
    element, layout = inspection.element(key), inspection.layout
    order = list(layout.stages)
    ends = [order.index(name) for _, name in element.anchored]
    passed = [name for name in order[min(ends) + 1 : max(ends)]
              if name not in [anchor for _, anchor in element.anchored]] if ends else []
    if passed and element.settings.given("length"):
        yield Remedy(
            f"anchor {key} at {' and '.join(passed)}",
            lambda layout: edits.anchored_at(layout, inspection.alike(key), passed),
        )
    coax = element.settings["coax"] if "coax" in element.kind.declared() else None
    warmest = max((layout.stages[name].temperature_k for _, name in element.anchored), default=0)
    for row in coaxes_like(layout, coax) if coax is not None else ():
        if row.critical_temperature_k is None or row.critical_temperature_k > warmest:
            yield set_value(inspection, f"{key} of {row.name}", key, coax=row)
            break
    yield from _other_wires(inspection, key, warmest)


_WIRES = ("niobium-titanium", "manganin", "phosphor-bronze")
"""What wires of looms are made of where they must not conduct, best first."""


def _other_wires(inspection, key, warmest):
    element, materials = inspection.element(key), inspection.layout.materials
    declared = element.kind.declared()
    if "material" not in declared or "count" not in declared:
        return
    for name in _WIRES:
        row = materials.get(name)
        if row is None or row is element.settings["material"]:
            continue
        if (row.critical_temperature_k or warmest + 1) > warmest:
            yield set_value(inspection, f"wires of {name} in {key}", key, material=row)


def _biased(inspection, stage, key):
    order = list(inspection.layout.stages)
    for name in reversed(order[: order.index(stage.name)]):
        yield move(inspection, key, name)
    yield f"a lower bias of {key}"


def _heated(inspection, stage, key):
    order = list(inspection.layout.stages)
    element = inspection.element(key)
    if element.kind.absorbs:
        for name in reversed(order[: order.index(stage.name)]):
            yield move(inspection, key, name)
    tones = inspection.power.tones.values() if inspection.power else ()
    strongest = max(tones, key=lambda tone: tone.absorbed_w.get(key, 0.0), default=None)
    if strongest is not None:
        name = inspection.power.idler_of.get(strongest.name, strongest.name)
        if any(paramp.settings["pump"] == name for paramp in inspection.paramps):
            return  # its level is what the paramp's gain needs
        for step in (-3.0, -10.0):
            yield send(inspection, name, step)
