"""Steady state: the temperatures at which every stage's cooling power equals its heat load.

Every stage's load depends on its neighbours' temperatures (conduction) and, through what cables
lose at a temperature, on everyone's (tones).  Stages are taken as independent: the cooling
power of each is that of its own table, whatever the load of the others.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from chain.errors import LayoutError
from chain.heat.conduction import Conduction
from chain.heat.currents import line_currents, possible_currents
from chain.heat.states import COLDER, HELD, HOTTER, NO_DATA, STEADY
from chain.layout.cooling import cooling_w
from chain.power.tones import power
from chain.writing.numbers import si

if TYPE_CHECKING:
    from chain.layout.layout import AnyLayout, Layout
    from chain.power.tones import Power

REL_TOL = 1e-9
"""Relative change of temperatures below which nothing moves any more."""

MAX_ROUNDS = 60
"""Rounds of tones after which temperatures that still move are reported to have no limit."""

MAX_SWEEPS = 2000


@dataclass(frozen=True)
class StageSteadyState:
    """What becomes of one stage."""

    stage: str
    state: str
    """`settled`; `held` at its given temperature (no cooling, or an unknown load); `colder` than
    the first or `hotter` than the last point of its cooling, by how much is unknown; `no data`
    where a material has none at the temperatures that it would have to reach."""
    temperature_k: float
    """What the other stages see: its steady state, or the point at which knowledge ends."""
    load_w: float | None
    """Its heat load then, or None where unknown."""
    why: str = ""
    """A sentence where no steady-state temperature is known."""


@dataclass(frozen=True)
class SteadyState:
    """Every stage, and how the search went."""

    stages: Mapping[str, StageSteadyState]
    rounds: int
    swings: bool
    """True where temperatures still moved at the end: then none is a steady state."""

    def settled_k(self, stage: str) -> float | None:
        """Return the temperature (K) of a stage in steady state, or None where unknown."""
        found = self.stages[stage]
        return found.temperature_k if found.state == STEADY and not self.swings else None

    @property
    def no_steady_state(self) -> Any:
        """Stages whose load exceeds their cooling power at the last point of their table."""
        return tuple(name for name, one in self.stages.items() if one.state == HOTTER)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences on stages without a known steady state."""
        said = [one.why for one in self.stages.values() if one.why and one.state != COLDER]
        colder = [one.why for one in self.stages.values() if one.state == COLDER]
        if colder:
            said.append(
                f"{', '.join(colder)}: below the first point of its cooling table, so its steady "
                "state is colder, how much is unknown; others are worked out with it at that point"
            )
        if self.swings:
            said.append(
                f"temperatures still move after {self.rounds} rounds of loads and tones, so none "
                "is given as a steady state"
            )
        return tuple(said)


def steady_state(
    layout: Layout, *, conduction: Conduction | None = None, powers: Power | None = None
) -> SteadyState:
    """Return the SteadyState of a layout, begun at the temperatures that it gives.

    `conduction` and `powers`, a Power at those temperatures, save working them out once more.
    A stage that a material touches beyond its data is held, since what it gets is unknown.  Raises
    LayoutError where a material has no conductivity at all.
    """
    conduction = conduction or Conduction(layout)
    here, found = layout, {}
    for round_number in range(1, MAX_ROUNDS + 1):
        powers = powers or power(here)
        found = _Balance(here, conduction, own_loads_w(here, powers)).found()
        moved = max(
            (abs(one.temperature_k - here.stages[name].temperature_k) / one.temperature_k
             for name, one in found.items() if one.temperature_k), default=0.0,
        )
        here = here.with_temperatures({name: one.temperature_k for name, one in found.items()})
        # Without tones and currents nothing but conduction moves, which is balanced already.
        if moved < 100 * REL_TOL or not (layout.tones or line_currents(layout)):
            return SteadyState(found, round_number, False)
        powers = None
    return SteadyState(found, MAX_ROUNDS, True)


def held(layout: Layout) -> SteadyState:
    """Return the SteadyState of a layout whose loads are not known: no stage moves."""
    return SteadyState(
        {name: StageSteadyState(name, HELD, stage.temperature_k, None)
         for name, stage in layout.stages.items()}, 0, False,
    )


def own_loads_w(layout: Layout, powers: Power) -> dict[str, float]:
    """Return {stage: W} of bias, tones, currents and other loads: all but conduction."""
    load = {name: sum(stage.other_w.values()) for name, stage in layout.stages.items()}
    for element in layout.elements.values():
        watt = element.kind.dissipates(element.settings)
        if watt and element.stage is not None:
            load[element.stage] += watt
    for stage, watt in powers.dissipated_by_stage_w.items():
        load[stage] += watt
    for current in possible_currents(layout).values():
        for stage, watt in current.dissipated_by_stage_w.items():
            load[stage] += watt
    return load


def at_steady_state(layout: AnyLayout) -> AnyLayout:
    """Return the layout at the steady-state temperatures of its stages, with remarks on them.

    A stage that is held or colder than its first point keeps that temperature.  Raises LayoutError
    where a stage has no steady state within its table, swings, or needs data that is missing.
    """
    found = steady_state(layout)
    for name, one in found.stages.items():
        if one.state in (HOTTER, NO_DATA):
            raise LayoutError.at(
                layout.stages[name].place, one.why, "give the stage less heat or more cooling"
            )
    if found.swings:
        raise LayoutError.at(
            next(iter(layout.stages.values())).place, found.warnings[-1],
            "keep superconducting lines clear of their critical temperature",
        )
    there = layout.with_temperatures(
        {name: one.temperature_k for name, one in found.stages.items()}
    )
    return there.with_remarks(*_remarks(layout, found), *found.warnings)


def _remarks(layout, found):
    """Return sentences on the temperatures that are used."""
    heads = {
        STEADY: "stages are at their steady-state temperatures",
        COLDER: "stages with a steady state below their tables are taken at the first point",
    }
    for state, head in heads.items():
        moved = [
            f"{name} {si(one.temperature_k, 'K')} "
            f"(given {si(layout.stages[name].temperature_k, 'K')})"
            for name, one in found.stages.items() if one.state == state
        ]
        if moved:
            yield f"{head}: {', '.join(moved)}"


class _Balance:
    """Cooling against load with everything but conduction fixed.

    Load rises with the neighbours' temperatures and falls with a stage's own, cooling rises: so
    there is one balance, and taking stages in turn comes to it whatever their order (an M-function:
    J. M. Ortega, W. C. Rheinboldt, Iterative Solution of Nonlinear Equations in Several Variables,
    1970, section 13.5, from memory).
    """

    def __init__(self, layout, conduction, load_w):
        self.layout, self.conduction, self.load_w = layout, conduction, load_w
        self.temperature_k = {name: s.temperature_k for name, s in layout.stages.items()}
        self.links = defaultdict(list)
        for (first, second), links in conduction.links().items():
            self.links[first] += [(second, *link) for link in links]
            self.links[second] += [(first, *link) for link in links]
        unknown = {stage for stages in conduction.unknown.values() for stage in stages}
        for name, links in self.links.items():
            # Stages that stay where they are known keep every other link inside its data.
            if any(conduction.outside(stretch, self.temperature_k) for _, stretch, _ in links):
                unknown.add(name)
        self.free = {
            name: self._reach(name) for name, stage in layout.stages.items()
            if stage.cooling and name not in unknown
        }
        self.unknown = unknown

    def _reach(self, name):
        """Return (lowest, highest) temperature (K) that cooling and materials allow a stage."""
        points = self.layout.stages[name].cooling
        ranges = [stretch.path.solid.range_k for _, stretch, _ in self.links[name]]
        low = max([points[0][0], *(low for low, _ in ranges)])
        high = min([points[-1][0], *(high for _, high in ranges)])
        return low, high

    def load(self, name, temperature_k):
        """Return the load of a stage at a temperature (K), the others as they are, watt."""
        total = self.load_w[name]
        for other, stretch, factor in self.links[name]:
            there = self.conduction.theta(stretch, self.temperature_k[other])
            total += factor * (there - self.conduction.theta(stretch, temperature_k))
        return total

    def spare(self, name, temperature_k):
        """Return the cooling power less the load of a stage at a temperature (K), watt."""
        carried = cooling_w(self.layout.stages[name], temperature_k)
        return carried - self.load(name, temperature_k)

    def found(self):
        """Return {stage: StageSteadyState}."""
        states = dict.fromkeys(self.free, STEADY)
        for _ in range(MAX_SWEEPS):
            moved = 0.0
            for name in self.free:
                before = self.temperature_k[name]
                states[name], now = self._stage_state(name)
                self.temperature_k[name] = now
                moved = max(moved, abs(now - before) / now)
            if moved < REL_TOL:
                break
        return {
            name: self._said(name, states.get(name, HELD)) for name in self.layout.stages
        }

    def _stage_state(self, name):
        """Return (state, temperature) of one stage with the others as they are."""
        low, high = self.free[name]
        if low > high:
            return NO_DATA, self.layout.stages[name].temperature_k
        points = self.layout.stages[name].cooling
        at_low = self.spare(name, low)
        if at_low > 0:
            return (COLDER if low == points[0][0] else NO_DATA), low
        at_high = self.spare(name, high)
        if at_high < 0:
            return (HOTTER if high == points[-1][0] else NO_DATA), high
        if 0 in (at_low, at_high):
            return STEADY, low if at_low == 0 else high
        return STEADY, _root(
            lambda kelvin: self.spare(name, kelvin), (low, at_low), (high, at_high)
        )

    def _said(self, name, state):
        stage, kelvin = self.layout.stages[name], self.temperature_k[name]
        load = None if name in self.unknown else self.load(name, kelvin)
        return StageSteadyState(name, state, kelvin, load, self._why(stage, state, kelvin, load))

    def _why(self, stage, state, kelvin, load):
        at = si(kelvin, "K")
        if state in (COLDER, HOTTER):
            gets, carried = si(load, "W"), si(cooling_w(stage, kelvin), "W")
        if state == COLDER:
            return f"{stage.name} has a load of {gets} and a cooling power of {carried} at {at}"
        if state == HOTTER:
            return (f"{stage.name} has no steady state within its cooling table: at {at}, its last "
                    f"point, the load is {gets} and the cooling power {carried}; others are worked "
                    "out with it there")
        if state == NO_DATA:
            return (f"the steady state of {stage.name} lies where materials that touch it have no "
                    f"data: they end at {at}")
        if stage.name in self.unknown:
            return f"the load of {stage.name} is unknown, so it is held at {at}"
        return ""


def _root(function, low, high):
    """Return where a rising function passes zero between two points (x, value).

    Inverse quadratic steps where they are safe, halving where not (T. R. Chandrupatla, Advances in
    Engineering Software 28, 145, 1997, from memory).
    """
    (b, at_b), (a, at_a) = low, high
    step = 0.5
    while True:
        x = a + step * (b - a)
        value = function(x)
        if (value > 0) == (at_a > 0):
            c, at_c = a, at_a
        else:
            (c, at_c), (b, at_b) = (b, at_b), (a, at_a)
        a, at_a = x, value
        best, least = min(((a, at_a), (b, at_b)), key=lambda point: abs(point[1]))
        near = REL_TOL * 1e-3 * best / abs(b - c)
        if least == 0 or near > 0.5:
            return best
        xi, phi = (a - b) / (c - b), (at_a - at_b) / (at_c - at_b)
        step = 0.5
        if phi**2 < xi and (1 - phi) ** 2 < 1 - xi:
            step = at_a / (at_b - at_a) * at_c / (at_b - at_c)
            step += (c - a) / (b - a) * at_a / (at_c - at_a) * at_b / (at_c - at_b)
        step = min(max(step, near), 1 - near)
