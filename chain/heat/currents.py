"""Direct currents along lines: what they meet, and what they dissipate where."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError, reported
from chain.writing.numbers import si
from components.conditions import Conditions
from components.direct_current import Resistance, before_pad, passage

if TYPE_CHECKING:
    from chain.layout.layout import Element, Layout, Line

HOTTER = 1.05
"""Ratio of a centre conductor's temperature to its warmer end's from which it is told."""


@dataclass(frozen=True)
class LineCurrent:
    """The direct current of one line, from its connector to where it ends.

    All of it comes back by the outer conductors, whose resistance counts (in a loom by half of the
    wires); what a pad's resistors take of it comes back from there.
    """

    line: str
    declared: str
    """The line's name without the number of its copy."""
    end_a: float
    """Current at the end of the path, ampere: what the layout states; 0 where it is blocked."""
    source_a: float
    """Current at the connector: more where pads take a part of it."""
    source_v: float
    """Voltage at the connector."""
    ids: tuple[str, ...]
    """What it passes, in order."""
    dissipated_w: Mapping[str, Mapping[str, float]]
    """{id: {stage: watt}}."""
    hottest_k: Mapping[str, float]
    """What centre conductors reach at most that are clamped at their anchors alone, by id."""
    films_k: Mapping[str, float] = field(default_factory=dict)
    """What resistive films reach by it, by id; what they emit is taken without that."""
    blocked_by: str | None = None
    """The element that no direct current passes, or None."""
    unknown: str | None = None
    """The element of which nobody says whether and how it passes, or None: nothing is counted."""
    unstated: tuple[str, ...] = ()
    """Elements with a resistance that is not stated and counted as none."""
    unrated: tuple[str, ...] = ()
    """Superconductors whose critical current is not stated."""
    impossible: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    """{id: (why it cannot carry the current, what would)}: too warm, or too much."""

    @property
    def dissipated_by_stage_w(self) -> dict[str, float]:
        """What it dissipates at each stage, watt."""
        total: dict[str, float] = {}
        for by_stage in self.dissipated_w.values():
            for stage, watt in by_stage.items():
                total[stage] = total.get(stage, 0.0) + watt
        return total

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        return {
            "line": self.line, "end_a": self.end_a, "source_a": self.source_a,
            "source_v": self.source_v, "elements": list(self.ids),
            "dissipated_w": {key: dict(found) for key, found in self.dissipated_w.items()},
            "by_stage_w": self.dissipated_by_stage_w, "hottest_k": dict(self.hottest_k),
            "films_k": dict(self.films_k),
            "blocked_by": self.blocked_by, "unknown": self.unknown,
            "unstated": list(self.unstated), "unrated": list(self.unrated),
            "impossible": {key: why for key, (why, _) in self.impossible.items()},
        }


def line_currents(layout: Layout) -> dict[str, LineCurrent]:
    """Return a LineCurrent for every line that states a current, worked out once for a layout.

    Raises LayoutError where a material has no resistivity, or a line does not begin at a connector.
    """
    return layout.remembered("currents", lambda: {
        name: _line_current(layout, line) for name, line in layout.lines.items()
        if line.current_a is not None
    })


def possible_currents(layout: Layout) -> dict[str, LineCurrent]:
    """Return the same; raises LayoutError where a superconductor cannot carry its current."""
    found = line_currents(layout)
    for one in found.values():
        for key, (why, instead) in one.impossible.items():
            raise LayoutError.at(layout.elements[key].place, why, instead)
    return found


def _line_current(layout: Layout, line: Line) -> LineCurrent:
    first = layout.elements[line.elements[0]]
    if not first.ports:
        return _loom_current(layout, line)
    if not first.kind.outside:
        raise LayoutError.at(
            line.current_place or line.place,
            f"line {line.name} carries a current, and begins with {first.id}, no outside connector",
            "state the current where it comes in: in the line that begins at its connector",
        )
    steps, end = _path(layout, first)
    if end.blocked_by is not None or end.unknown is not None:
        ids = tuple(element.id for element, _ in steps)
        return LineCurrent(
            line.name, line.declared_name, 0.0, 0.0, 0.0, ids, {}, {},
            blocked_by=end.blocked_by, unknown=end.unknown,
        )
    return _backward(layout, line, steps)


@dataclass(frozen=True)
class _End:
    blocked_by: str | None = None
    unknown: str | None = None


def _path(layout, first):
    """Return ([(Element, Passage)] from the connector to the end, _End)."""
    steps, port, seen = [], (first.id, first.ports[0]), set()
    while True:
        key, enter = layout.partners[port]
        element = layout.elements[key]
        found = passage(element.kind, element.settings, enter)
        if key in seen or found is None:
            return steps, _End(unknown=key)
        seen.add(key)
        if found.blocks:
            return steps, _End(blocked_by=key)
        steps.append((element, found))
        if found.leave is None:
            return steps, _End()
        port = (key, found.leave)
        if port not in layout.partners:
            # A load under `loads`: it ends there, in a matched resistor.
            return steps, _End(unknown=key)


class _Sums:
    """What is gathered from the end of a path backward."""

    def __init__(self):
        self.watts, self.hottest, self.films, self.impossible = {}, {}, {}, {}
        self.unstated, self.unrated = [], []


def _backward(layout, line, steps):
    sums, ampere, volt = _Sums(), line.current_a, 0.0
    for element, found in reversed(steps):
        if not found.stated:
            sums.unstated.append(element.id)
        if found.pad_db is not None:
            before = before_pad(loss_db=found.pad_db, volt=volt, ampere=ampere)
            watt = before[0] * before[1] - volt * ampere
            _dissipate(sums, element, watt)
            _warm_film(layout, element, watt, sums)
            volt, ampere = before
            continue
        ohm = _series(layout, element, found, ampere, sums)
        if ohm is None:
            ids = tuple(one.id for one, _ in steps)
            return LineCurrent(
                line.name, line.declared_name, 0.0, 0.0, 0.0, ids, {}, {}, unknown=element.id
            )
        volt += ampere * ohm
    return LineCurrent(
        line.name, line.declared_name, line.current_a, ampere, volt,
        tuple(element.id for element, _ in steps), sums.watts, sums.hottest, sums.films,
        unstated=tuple(reversed(sums.unstated)), unrated=tuple(reversed(sums.unrated)),
        impossible=sums.impossible,
    )


def _series(layout, element, found, ampere, sums):
    """Return the resistance of one element, its heat counted; None where it is not known."""
    if not element.kind.spans_stages or element.settings["state"] == "bypassed":
        _dissipate(sums, element, ampere**2 * found.ohm)
        _warm_film(layout, element, ampere**2 * found.ohm, sums)
        return found.ohm
    along = _along(layout, element)
    if along is None:
        return None
    _heat_along(element, along, ampere, sums)
    return along.ohm


def _loom_current(layout, line):
    sums, ampere, volt = _Sums(), line.current_a, 0.0
    for key in line.elements:
        element = layout.elements[key]
        along = _along(layout, element)
        if along is None:
            return LineCurrent(
                line.name, line.declared_name, 0.0, 0.0, 0.0, line.elements, {}, {}, unknown=key
            )
        _heat_along(element, along, ampere, sums)
        volt += 2 * ampere * sum(along.centre_ohm)
    return LineCurrent(
        line.name, line.declared_name, ampere, ampere, volt, line.elements, sums.watts,
        sums.hottest, unrated=tuple(sums.unrated), impossible=sums.impossible,
    )


def _along(layout: Layout, element: Element) -> Resistance | None:
    """Return the Resistance along an element, worked out once for equal ones."""
    def work_out():
        at = Conditions(
            np.array([layout.band.start_hz]), layout.temperature_k(element),
            layout.anchors(element),
        )
        with reported(element):
            return element.kind.resistance(element.settings, at)

    anchors, own_k = layout.anchors(element), layout.temperature_k(element)
    return layout.remembered(("ohm", id(element.settings), anchors, own_k), work_out)


def _heat_along(element, along, ampere, sums):
    stages = [stage for _, stage in element.anchored]
    if len(stages) != len(along.at_anchors_ohm):  # one stage, or a temperature of its own
        stages = (stages[:1] + stages[-1:]) if stages else [element.stage] * 2
    for stage, ohm in zip(stages, along.at_anchors_ohm, strict=True):
        _dissipate(sums, element, ampere**2 * ohm, stage)
    hottest = along.hottest_centre_k(ampere)
    if hottest > HOTTER * max(along.ends_k):
        sums.hottest[element.id] = hottest
    _superconducting(element, along, ampere, sums)


def _superconducting(element, along, ampere, sums):
    said = f"{element.id} carries {ampere * 1e3:.3g} mA of direct current"
    for name, limit_k in along.normal:
        sums.impossible[element.id] = (
            f"{said}: {name} superconducts below {limit_k:g} K only, and is up to "
            f"{max(along.ends_k):g} K warm",
            "anchor it colder, or take a normal metal for that stretch",
        )
    limit = element.settings["critical_current"]
    if limit is not None and ampere > limit.value:
        sums.impossible[element.id] = (
            f"{said}, above its critical current of {limit.text}",
            "send less, or take a larger conductor",
        )
    if limit is None and along.ohm == 0:
        sums.unrated.append(element.id)


def _warm_film(layout, element, watt, sums):
    law = element.kind.hot_law(element.settings)
    if law is not None:
        stage_k = layout.temperature_k(element)
        kelvin = law.temperature_k(stage_k=stage_k, absorbed_w=watt)
        if kelvin > HOTTER * stage_k:
            sums.films[element.id] = kelvin


def _dissipate(sums, element, watt, stage=None):
    stage = stage or element.stage
    if watt > 0 and stage is not None:
        own = sums.watts.setdefault(element.id, {})
        own[stage] = own.get(stage, 0.0) + watt


def current_remarks(layout: Layout, found: Mapping[str, LineCurrent]) -> list[str]:
    """Return sentences on currents that do not flow, and on what is not known of them."""
    said: dict[str, None] = {}
    for one in found.values():
        if one.blocked_by is not None:
            base = layout.elements[one.blocked_by].declared_id
            said[f"{base} passes no direct current, so that of {one.declared} does not flow"] = None
        if one.unknown is not None:
            base = layout.elements[one.unknown].declared_id
            said[
                f"whether and how {base} passes direct current is not known, so what that of "
                f"{one.declared} dissipates is not counted: give it dc_resistance"
            ] = None
        for ids, text in (
            (one.unstated, "resistance to direct current is not stated, counted as none "
                           "(dc_resistance)"),
            (one.unrated, "critical current is not stated; taken as carrying the current of "
                          f"{one.declared}"),
        ):
            if ids:
                names = ", ".join(dict.fromkeys(layout.elements[key].declared_id for key in ids))
                said[f"{names}: {text}"] = None
        for key, kelvin in one.films_k.items():
            base = layout.elements[key].declared_id
            said[
                f"{base}: the current of {one.declared} warms its film to about "
                f"{si(kelvin, 'K', 2)} (hot_power, or else a guess); what it emits is taken "
                "without that"
            ] = None
        for key, kelvin in one.hottest_k.items():
            base = layout.elements[key].declared_id
            said[
                f"{base}: its centre conductor reaches up to {si(kelvin, 'K', 3)} under the "
                f"current of {one.declared} where nothing but its anchors holds it; what it emits "
                "is taken without that"
            ] = None
    return list(said)
