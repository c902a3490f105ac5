"""Coax in the wrong place: superconductors too warm, resistance where it costs noise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from chain.advice.rules import NOTE, WARNING, Remark, rule
from chain.writing.numbers import number, si
from components.quantities import Quantity
from components.settings import Settings

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection

LOSSLESS = Quantity(0.0, "ratio", "0 dB")

LEAST_SHARE = 1e-3
"""Part of the margin that a cable's own share has to reach before its cost is worked out."""


@rule(
    "superconductor-too-warm", WARNING,
    why="above its critical temperature a superconductor is a poor normal metal: the coax loses "
    "what it was chosen not to lose, and conducts heat besides",
    source="critical temperatures in the catalogue",
)
def superconductor_too_warm(inspection: Inspection) -> Iterator[Remark]:
    """Look at the warmest anchor of every superconducting coax."""
    for cable in inspection.having("coax"):
        coax = cable.settings["coax"]
        limit_k = None if coax is None else coax.critical_temperature_k
        warmest = _warmest(inspection.layout, cable)
        if limit_k is None or warmest[1] < limit_k:
            continue
        stages = f"{cable.from_stage} and {cable.to_stage}" if cable.from_stage else cable.stage
        yield Remark(
            (cable.id,),
            f"{cable.id}, {coax.name}, superconducts below {si(limit_k, 'K', 3)} and reaches "
            f"{si(warmest[1], 'K', 3)} at {warmest[0]} ({stages})",
            f"take it no warmer than {si(limit_k, 'K', 3)}: end it on a colder stage, and go on "
            "from there with a normal coax",
            cable.place_of("coax"),
        )


def _warmest(layout, cable):
    """Return (stage, kelvin) of the warmest anchor of a cable."""
    if cable.settings.given("temperature") or cable.from_stage is None:
        return cable.stage or cable.from_stage, layout.temperature_k(cable)
    names = [cable.from_stage, *(stage for stage, _ in cable.via), cable.to_stage]
    return max(((name, layout.stages[name].temperature_k) for name in names), key=lambda p: p[1])


@rule(
    "unanchored-coax", NOTE,
    why="a coax that passes a stage without an anchor carries the heat of the warmer stages to the "
    "colder one, and its centre conductor arrives warm",
)
def unanchored_coax(inspection: Inspection) -> Iterator[Remark]:
    """Look for stages between the two ends of a cable at which it is not anchored."""
    names = list(inspection.layout.stages)
    for cable in inspection.having("coax"):
        ends = cable.from_stage, cable.to_stage
        if None in ends or cable.settings.given("temperature"):
            continue
        first, last = sorted(names.index(stage) for stage in ends if stage is not None)
        anchored = {stage for stage, _ in cable.via}
        passed = [name for name in names[first + 1 : last] if name not in anchored]
        if passed:
            yield Remark(
                (cable.id,),
                f"{cable.id} passes {' and '.join(passed)} between {cable.from_stage} and "
                f"{cable.to_stage} and is not anchored there",
                f"anchor it: via: {{{', '.join(f'{name}: ... m' for name in passed)}}}",
            )


@rule(
    "costly-coax", WARNING, margins=("coax",),
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
            if cost is not None and cost > inspection.margin("coax"):
                yield _coax_remark(inspection, signal, cable, cost)


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


SUPERCONDUCTS_BELOW_K = 9.0
"""Warmest end of a cable up to which a superconducting coax is advised: niobium and its alloy."""


def _coax_remark(inspection, signal, cable, cost):
    cold = _warmest(inspection.layout, cable)[1] < SUPERCONDUCTS_BELOW_K
    return Remark(
        (cable.id,),
        f"the loss of {cable.id} costs {signal.name} {number(cost, 3)} quanta of system noise",
        f"use a {'superconducting, a ' if cold else ''}shorter or a thicker one, or more gain "
        "before it",
        cable.place_of("coax" if cable.settings.given("coax") else "loss"),
    )
