"""Coax in the wrong place: superconductors too warm, resistance where it costs noise."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from chain.advice.changes import amplifiers_along, more_gain, set_value, typed
from chain.advice.remedies import Remedy
from chain.advice.rules import CAUSE, WARNING, Remark, rule
from chain.layout import edits
from chain.writing.numbers import number, si
from components.quantities import Quantity
from components.settings import Settings

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection
    from chain.layout.layout import Layout

LOSSLESS = Quantity(0.0, "ratio", "0 dB")

LEAST_SHARE = 1e-3
"""Part of the margin that a cable's own share has to reach before its cost is worked out."""


@rule(
    "superconductor-too-warm", WARNING, cause=CAUSE,
    why="above its critical temperature a superconductor is a poor normal metal: the coax loses "
    "what it was chosen not to lose, and conducts heat besides",
    source="critical temperatures in the catalogue",
)
def superconductor_too_warm(inspection: Inspection) -> Iterator[Remark]:
    """Look at the warmest anchor of every superconducting coax."""
    for cable in map(inspection.element, inspection.ids):
        solid = _solid(cable)
        limit_k = None if solid is None else solid.critical_temperature_k
        warmest = _warmest(inspection.layout, cable)
        if limit_k is None or warmest[1] < limit_k:
            continue
        stages = f"{cable.from_stage} and {cable.to_stage}" if cable.from_stage else cable.stage
        yield Remark(
            (cable.id,),
            f"{cable.id}, {solid.name}, superconducts below {si(limit_k, 'K', 3)} and reaches "
            f"{si(warmest[1], 'K', 3)} at {warmest[0]} ({stages})",
            _normal_above(inspection, cable, solid, limit_k),
            cable.place_of("coax" if cable.settings["coax"] is not None else "material"),
        )


def _solid(element):
    """Return what an element that runs between stages is made of: its coax or material, or None."""
    if not element.kind.spans_stages:
        return None
    declared = element.kind.declared()
    solid = element.settings["coax"] if "coax" in declared else None
    if solid is None and "material" in declared:
        solid = element.settings["material"]
    return solid


def _normal_above(inspection, cable, solid, limit_k):
    """Yield Remedies for a superconductor that is too warm at one end."""
    layout, coax = inspection.layout, cable.settings["coax"]
    names = [name for _, name in cable.anchored]
    cold = [name for name in names if layout.stages[name].temperature_k < limit_k]
    warmest = max(cold, key=lambda n: layout.stages[n].temperature_k, default=None)
    normal = [row for row in coaxes_like(layout, coax) if not row.is_superconducting] \
        if coax is not None else []
    for row in normal[:2]:
        if warmest is not None and warmest != min(
                names, key=lambda n: layout.stages[n].temperature_k):
            yield Remedy(
                f"end it on {warmest} and go on from there with {row.name}",
                _parted(inspection, cable, warmest, row),
            )
        yield set_value(inspection, f"{row.name} in its place", cable.id, coax=row)
    yield (
        f"take it no warmer than {si(limit_k, 'K', 3)}: end it on a colder stage, and go on "
        f"from there with {'a normal coax' if coax is not None else 'wires of a normal metal'}"
    )


def _parted(inspection, cable, stage, normal):
    """Return the change that parts a cable at a stage and makes its warm half of a normal coax."""
    def change(layout):
        for key in inspection.alike(cable.id):
            layout, end, start = edits.split(layout, key, stage)
            first, second = end[0], start[0]
            warm = max(first, second, key=lambda one: _warmest(layout, layout.elements[one])[1])
            layout = edits.with_value(layout, [warm], coax=normal)
        return layout

    return change


def coaxes_like(layout: Layout, coax: Any) -> list[Any]:
    """Return the other coaxes of the catalogue of about a coax's size, least conducting first.

    By the heat between 4 and 50 K; those whose conductivity is not known there are left out.
    """
    found = []
    known: Iterable[Any] = layout.coax.values()
    for row in known:
        size = row.outer.diameter_m / coax.outer.diameter_m
        low, high = row.range_k
        if row is coax or not 0.8 < size < 1.25 or low > 4.0 or high < 50.0:
            continue
        found.append((float(row.conduction_integral(cold_k=4.0, warm_k=50.0)), row.name, row))
    return [row for _, _, row in sorted(found, key=lambda one: one[:2])]


def _warmest(layout, cable):
    """Return (stage, kelvin) of the warmest anchor of a cable."""
    if cable.settings.given("temperature") or cable.from_stage is None:
        return cable.stage or cable.from_stage, layout.temperature_k(cable)
    names = [cable.from_stage, *(stage for stage, _ in cable.via), cable.to_stage]
    return max(((name, layout.stages[name].temperature_k) for name in names), key=lambda p: p[1])


@rule(
    "costly-coax", WARNING, variants=True, margins=("coax", "share"),
    why="loss before the gain adds its own noise and lets all that comes behind weigh more",
    source="a tenth of a quantum is common practice, no source",
)
def costly_coax(inspection: Inspection) -> Iterator[Remark]:
    """Look at what the loss of every resistive coax in a received signal's path costs in noise."""
    for signal in inspection.received:
        path, budget = inspection.path_of(signal), inspection.budget(signal.name)
        if path is None or budget is None or budget.system_noise_quanta is None:
            continue
        for hop in path.hops:
            cable = inspection.element(hop.id)
            if not cable.kind.spans_stages or _superconducts(inspection.layout, cable):
                continue
            if budget.shares_quanta[hop.id].max() < LEAST_SHARE * inspection.margin("coax"):
                continue
            cost = _cost(inspection, signal, budget, cable)
            whole = float(budget.system_noise_quanta.max())
            if cost is not None and cost > inspection.least_share("coax", whole):
                yield _coax_remark(inspection, signal, path, cable, cost)


def _superconducts(layout, cable):
    coax = cable.settings["coax"]
    limit_k = None if coax is None else coax.critical_temperature_k
    return limit_k is not None and _warmest(layout, cable)[1] < limit_k


def _cost(inspection, signal, budget, cable):
    """Return how much system noise (quanta, at worst) would go if the cable lost nothing."""
    without = _without_loss(inspection.layout, cable)
    found = inspection.budget_of(without, signal.name)
    if found is None:
        return None
    return float((budget.system_noise_quanta - found.system_noise_quanta).max())


def _without_loss(layout, cable):
    values = {k: v for k, v in cable.settings.values.items() if k not in ("data", "extra_loss")}
    settings = Settings(cable.kind, {**values, "loss": LOSSLESS})
    elements = {**layout.elements, cable.id: replace(cable, settings=settings)}
    return replace(layout, elements=elements)


def _coax_remark(inspection, signal, path, cable, cost):
    return Remark(
        (cable.id,),
        f"the loss of {cable.id} costs {signal.name} {number(cost, 3)} quanta of system noise",
        _less_loss(inspection, path, cable),
        cable.place_of("coax" if cable.settings.given("coax") else "loss"),
        about=(("noise", signal.name),),
    )


def _less_loss(inspection, path, cable):
    """Yield Remedies for a coax that loses too much: another one, half of it, gain before it."""
    layout, coax = inspection.layout, cable.settings["coax"]
    if cable.settings["state"] != "ok":
        yield set_value(inspection, f"repair {cable.id}", cable.id, state="ok")
    if cable.settings.given("extra_loss"):
        none = typed(inspection, cable.id, "extra_loss", "0 dB")
        yield set_value(inspection, f"mend what loses more in {cable.id}", cable.id,
                        extra_loss=none)
    warmest = _warmest(layout, cable)[1]
    if coax is not None:
        cold = [row for row in coaxes_like(layout, coax)
                if (row.critical_temperature_k or 0.0) > warmest]
        for row in cold[:1]:
            yield set_value(inspection, f"{row.name} in place of {coax.name}", cable.id, coax=row)
        thick = [row for row in layout.coax.values()
                 if row.outer.material is coax.outer.material
                 and row.outer.diameter_m > 1.25 * coax.outer.diameter_m]
        for row in sorted(thick, key=lambda one: one.outer.diameter_m)[:1]:
            yield set_value(inspection, f"{row.name} in place of {coax.name}", cable.id, coax=row)
    before = path.hops[: [hop.id for hop in path.hops].index(cable.id)]
    for hop in reversed(before):
        element = inspection.element(hop.id)
        if element.kind.is_amplifier(element.settings):
            yield from more_gain(inspection, hop.id)
            break
    yield from amplifiers_along(inspection, before, warm=False)
    yield "use a shorter or a thicker one, or more gain before it"
