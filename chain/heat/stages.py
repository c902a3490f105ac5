"""The heat load of each stage: conduction, bias, tones and others, against its cooling power."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from chain.errors import LayoutError
from chain.heat.conduction import Conduction
from chain.heat.currents import LineCurrent, current_remarks, possible_currents
from chain.heat.heat_export import heat_dict
from chain.heat.states import HOTTER
from chain.heat.steady_state import SteadyState, held, steady_state
from chain.layout.cautions import cautions
from chain.layout.cooling import cooling_w
from chain.layout.naming import called
from chain.network.laws import missed
from chain.power.tones import Power, power
from chain.power.warming import NOTHING, Warmed
from chain.writing.numbers import si
from components.materials import OutsideRange

if TYPE_CHECKING:
    from chain.layout.layout import Layout


@dataclass(frozen=True)
class StageHeat:
    """The heat at one stage, watt; None where it is not known."""

    stage: str
    temperature_k: float
    """As the layout gives it."""
    conduction_w: float | None
    """Conducted in from warmer stages less conducted out to colder ones."""
    conduction_in_w: float | None
    """Conducted in from warmer stages alone."""
    bias_w: float
    """What amplifiers there dissipate."""
    tones_w: float | None
    """Power of tones dissipated there."""
    currents_w: float
    """What direct currents dissipate there."""
    other_w: float
    """What the layout names under `other`."""
    cooling_w: float | None
    """Cooling power available at its temperature."""
    settled_k: float | None
    """Its steady-state temperature if the loads stay, kelvin."""
    state: str
    """What becomes of it: see chain.heat.states."""
    unknown: tuple[str, ...] = ()
    """Elements whose conduction to or from the stage is not known."""
    known_w: float = 0.0
    """The sum of what is known: the total where nothing is unknown."""
    least: bool = True
    """True where what is unknown can only add to it, so that `known_w` is a lower bound."""

    @property
    def total_w(self) -> float | None:
        """The sum of all loads, watt."""
        return None if self.unknown or self.tones_w is None else self.known_w

    @property
    def margin_w(self) -> float | None:
        """Cooling power less load, watt."""
        if self.cooling_w is None or self.total_w is None:
            return None
        return self.cooling_w - self.total_w

    @property
    def over(self) -> bool:
        """True where its load exceeds its cooling power, here or throughout its table."""
        if self.state == HOTTER:
            return True
        return self.cooling_w is not None and self.least and self.known_w > self.cooling_w


@dataclass(frozen=True)
class ElementHeat:
    """What one element brings to one stage, watt; conduction is None where it is not known."""

    conduction_w: float | None = 0.0
    conduction_in_w: float | None = 0.0
    bias_w: float = 0.0
    tones_w: float | None = 0.0
    currents_w: float = 0.0

    @property
    def total_w(self) -> float | None:
        """The sum, or None."""
        if self.conduction_w is None or self.tones_w is None:
            return None
        return self.conduction_w + self.bias_w + self.tones_w + self.currents_w


@dataclass(frozen=True)
class Heat:
    """The heat of a layout at the temperatures that it gives."""

    stages: Mapping[str, StageHeat]
    elements: Mapping[str, Mapping[str, ElementHeat]]
    """What each element brings to each stage that it heats or cools: {id: {stage: ...}}."""
    steady_state: SteadyState
    laws: Mapping[str, float | None]
    """conduction: its sum over all stages, which is nothing, over what flows; energy: the worst
    balance residual of the tones."""
    warnings: tuple[str, ...] = ()
    currents: Mapping[str, LineCurrent] = field(default_factory=dict)
    """Direct currents, by line."""
    warmed: Warmed = NOTHING
    """What tones warm along cables and in films."""
    layout: Layout = field(kw_only=True, repr=False)

    @property
    def over(self) -> tuple[str, ...]:
        """Stages whose load exceeds their cooling power."""
        return tuple(name for name, stage in self.stages.items() if stage.over)

    def contributions(self, stage: str, count: int | None = None) -> Any:
        """Return [(ids, line, ElementHeat of one, W of all)] at a stage, the largest first.

        Copies that bring the same stand together; what is unknown comes last, as None.
        """
        groups = {}
        for key, by_stage in self.elements.items():
            if stage in by_stage:
                element = self.layout.elements[key]
                line = self.layout.lines[element.line].declared_name
                group = (line, element.declared_id, by_stage[stage])
                groups.setdefault(group, []).append(key)
        rows = [
            (tuple(keys), line, one, None if one.total_w is None else len(keys) * one.total_w)
            for (line, _, one), keys in groups.items()
        ]
        rows.sort(key=lambda row: (row[3] is None, -(row[3] or 0.0)))
        return rows[:count]

    def as_dict(self, more: Any = None) -> dict[str, Any]:
        """Return the answer under the names that programs lean on; `more` is a MoreLines."""
        return heat_dict(self, more)

    def __str__(self):
        from chain.heat.heat_text import heat_text

        return heat_text(self)


def heat(layout: Layout) -> Heat:
    """Return the Heat of a layout.

    Raises LayoutError where a material has no conductivity at all, a tone's level cannot be, or a
    superconductor cannot carry its current.
    """
    conduction = Conduction(layout)
    currents = possible_currents(layout)
    powers, lacking = _powers(layout)
    steady = held(layout) if lacking else steady_state(layout, conduction=conduction, powers=powers)
    elements = _elements(layout, conduction, powers, currents, unknown_tones=bool(lacking))
    stages = {name: _stage(layout, name, elements, steady) for name in layout.stages}
    warnings = [
        *lacking, *_said(layout, conduction, stages), *steady.warnings, *powers.warnings,
        *current_remarks(layout, currents),
    ]
    laws = _laws(elements, powers)
    warnings += missed(laws)
    return Heat(
        stages, elements, steady, laws, tuple(dict.fromkeys(warnings)), currents, powers.warmed,
        layout=layout,
    )


def _powers(layout):
    """Return the Power of a layout and sentences on what it lacks.

    Where a cable's material has no data at its temperatures, what becomes of the tones is unknown:
    then it is a Power of no tone at all.  Raises LayoutError for anything else.
    """
    try:
        return power(layout), ()
    except LayoutError as error:
        if not _lacks_data(error):
            raise
        said = (
            f"{error.problems[0].what.partition('; ')[0]}; what tones dissipate is unknown, and so "
            "is the total of every stage that they reach; stages are held at their temperatures"
        )
        return Power({}, {}, tuple(layout.remarks), layout=layout), (said,)


def _lacks_data(error):
    """Tell whether an error comes from a material that has no data at a temperature."""
    while error is not None and not isinstance(error, OutsideRange):
        error = error.__cause__
    return error is not None


def _elements(layout, conduction, powers, currents, *, unknown_tones=False):
    parts = {}

    def add(key, stage, **watts):
        own = parts.setdefault(key, {}).setdefault(stage, {})
        for name, watt in watts.items():
            own[name] = None if watt is None else own.get(name, 0.0) + watt

    temperature_k = {name: stage.temperature_k for name, stage in layout.stages.items()}
    for key, by_stage in conduction.by_element(temperature_k).items():
        for stage, (net, into) in by_stage.items():
            add(key, stage, conduction_w=net, conduction_in_w=into)
    for key, stages in conduction.unknown.items():
        for stage in stages:
            add(key, stage, conduction_w=None, conduction_in_w=None)
    for element in layout.elements.values():
        watt = element.kind.dissipates(element.settings)
        if watt and element.stage is not None:
            add(element.id, element.stage, bias_w=watt)
    for tone in powers.tones.values():
        for key, by_stage in tone.absorbed_at_w.items():
            for stage, watt in by_stage.items():
                if watt:
                    add(key, stage, tones_w=watt)
    for current in currents.values():
        for key, by_stage in current.dissipated_w.items():
            for stage, watt in by_stage.items():
                add(key, stage, currents_w=watt)
    for key in _reached(layout) if unknown_tones else ():
        for stage in _touched(layout.elements[key]):
            add(key, stage, tones_w=None)
    return {
        key: {stage: ElementHeat(**watts) for stage, watts in by_stage.items()}
        for key, by_stage in parts.items()
    }


def _reached(layout):
    """Return the ids of elements that a tone can reach, in the layout's order."""
    found = {key for tone in layout.tones.values() for key in layout.connected(tone.into)}
    return [key for key in layout.elements if key in found]


def _touched(element):
    """Return the stages that an element is anchored to."""
    if element.from_stage is not None:
        return [stage for _, stage in element.anchored]
    return [] if element.stage is None else [element.stage]


def _stage(layout, name, elements, steady):
    stage = layout.stages[name]
    unknown, least = [], True
    names = ("conduction_w", "conduction_in_w", "bias_w", "tones_w", "currents_w")
    sums = dict.fromkeys(names, 0.0)
    for key, by_stage in elements.items():
        own = by_stage.get(name)
        if own is None:
            continue
        if own.conduction_w is None:
            unknown.append(key)
            least &= not _goes_on(layout, key, name)
        for part in sums:
            sums[part] += getattr(own, part) or 0.0
    found: dict[str, Any] = {
        part: None if unknown and part.startswith("cond") else w for part, w in sums.items()
    }
    if any(own[name].tones_w is None for own in elements.values() if name in own):
        found["tones_w"] = None
    other_w = float(sum(stage.other_w.values()))
    return StageHeat(
        stage=name, temperature_k=stage.temperature_k, **found, other_w=other_w,
        cooling_w=cooling_w(stage, stage.temperature_k), settled_k=steady.settled_k(name),
        state=steady.stages[name].state, unknown=tuple(unknown),
        known_w=sum(sums[part] for part in names if part != "conduction_in_w") + other_w,
        least=least,
    )


def _goes_on(layout, key, name):
    """Tell whether an element goes on from a stage to a colder one."""
    here = layout.stages[name].temperature_k
    met = [stage for _, stage in layout.elements[key].anchored]
    beside = [*met[max(met.index(name) - 1, 0) : met.index(name)], *met[met.index(name) + 1 :][:1]]
    return any(layout.stages[stage].temperature_k < here for stage in beside)


def _laws(elements, powers):
    # An element that is known at one of its stages alone has nothing to balance.
    known = [
        one for by_stage in elements.values() for one in by_stage.values()
        if all(other.conduction_w is not None for other in by_stage.values())
    ]
    into = sum(one.conduction_in_w for one in known)
    return {
        "conduction": abs(sum(one.conduction_w for one in known)) / into if into else None,
        "energy": max((tone.closure for tone in powers.tones.values()), default=None),
    }


def _said(layout, conduction, stages):
    """Return sentences on what is not known, skipped or left out."""
    said = _uncooled(layout, stages)
    if conduction.unknown:
        said.append(
            f"{called(layout, conduction.unknown)} conduct heat that is not known: they are given "
            "without what they are of (coax or material) and how long; the totals of their stages "
            "are unknown"
        )
    temperature_k = {name: stage.temperature_k for name, stage in layout.stages.items()}
    for (first, second, why), keys in conduction.all_outside(temperature_k).items():
        said.append(
            f"{called(layout, keys)}, between {first} and {second}: {why}; nothing is "
            "extrapolated, so what is conducted there and the totals of both stages are unknown"
        )
    for stages_met, keys in _skipping(layout).items():
        first, second, left_out = stages_met
        said.append(
            f"{called(layout, keys)}: from {first} to {second} without an anchor at "
            f"{' and '.join(left_out)}: what comes down goes past"
        )
    return said + _uncounted(layout) + cautions(layout, bands=False)


def _uncounted(layout):
    """Return sentences on heat that the layout does not place or does not state."""
    elements, said = layout.elements.values(), []
    stray = [
        e.id for e in elements if e.stage is None and not e.anchored and not e.kind.outside
    ]
    if stray:
        said.append(f"{called(layout, stray)}: a temperature of its own and no stage, so its heat "
                    "is counted nowhere")
    unbiased = [
        e.id for e in elements
        if "bias" in e.kind.declared() and not e.settings.given("bias")
        and e.stage is not None and layout.stages[e.stage].cooling
    ]
    if unbiased:
        said.append(f"{called(layout, unbiased)}: no bias is given, counted as 0 W")
    return said


def _uncooled(layout, stages):
    said = []
    for name, stage in list(layout.stages.items())[1:]:
        if not stage.cooling:
            said.append(f"{name} has no cooling table: its cooling power is unknown")
        elif stages[name].cooling_w is None:
            ends = [si(kelvin, "K") for kelvin, _ in (stage.cooling[0], stage.cooling[-1])]
            reach = ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"
            said.append(
                f"the cooling power of {name} at {si(stage.temperature_k, 'K')} is unknown: its "
                f"table covers {reach} only"
            )
    return said


def _skipping(layout):
    """Return {(stage, stage, stages passed by): ids} of stretches that pass stages by."""
    order = list(layout.stages)
    found = {}
    for element in layout.elements.values():
        met = [stage for _, stage in element.anchored]
        for first, second in pairwise(met):
            low, high = sorted((order.index(first), order.index(second)))
            passed = tuple(order[low + 1 : high])
            if passed:
                found.setdefault((first, second, passed), []).append(element.id)
    return found
