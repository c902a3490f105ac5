"""What a part in another's place has to be: the worst value of each parameter that still does.

Each parameter is moved by itself, everything else as written, until noise, photons, heat or
headroom leaves its margin.  Heat and headroom that are outside already may not get worse, photons
by as little as noise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.advice.inspection import Inspection, photons_at
from chain.errors import LayoutError, Place
from chain.heat.stages import heat
from chain.layout.asked import asked_frequencies
from chain.layout.cautions import cautions
from chain.layout.joints import connector_text, connector_type
from chain.layout.margins import margins_of
from chain.layout.naming import where_text
from chain.noise.budget import budget
from chain.power.self_heating import noise_network
from chain.power.tones import power
from chain.suggestions import choose
from chain.writing.value_text import value_text
from components.declaration import COMMON
from components.parameters import Measure, ParameterError
from components.quantities import Quantity, Table, written

if TYPE_CHECKING:
    from chain.layout.layout import Element, Layout
    from components.arrays import FloatArray
    from components.quantities import Quantity as Value

POINTS = 5
"""Frequencies over the band at which a replacement is judged."""

MARGINS = ("replaced", "coax", "photons", "cooling", "compression")
"""Names of the margins that it uses."""

ALSO_COMMON = frozenset({"return_loss"})
"""Parameters that every kind has and by which parts differ."""

ALIKE = 1e-6
"""Relative change that is none."""

INFINITE_DB = 100.0
"""Where the search begins for an isolation or return loss that the layout leaves infinite."""

STEPS = 9
"""Halvings after a value that fails is found."""

_CANNOT_BE = "it cannot be"

LEVELS_W = 1e-20
"""Tones below this (watt) are not told."""


@dataclass(frozen=True)
class Bound:
    """How far one parameter may go."""

    parameter: str
    as_is: str
    """Its value in the layout; `not stated` where it is left ideal."""
    least: str | None
    """The lowest value that does; None where no lower one fails."""
    least_why: str
    """What the next lower value breaks."""
    most: str | None
    most_why: str
    remark: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        return {
            "parameter": self.parameter, "as_is": self.as_is, "least": self.least,
            "least_why": self.least_why or None, "most": self.most,
            "most_why": self.most_why or None, "remark": self.remark or None,
        }


@dataclass(frozen=True)
class PortNeed:
    """What a replacement has to have at one port."""

    port: str
    joined_to: str
    connector: str
    """As the layout states it; empty where it does not."""
    mates_with: str
    """The connector that it meets; empty where the layout does not say."""
    fits: bool | None
    """Whether the two mate; None where one is not stated."""

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        return {"port": self.port, "joined_to": self.joined_to, "connector": self.connector or None,
                "mates_with": self.mates_with or None, "fits": self.fits}


@dataclass(frozen=True)
class Replacement:
    """Everything that a part in an element's place has to be."""

    element: str
    kind: str
    bounds: tuple[Bound, ...]
    ports: tuple[PortNeed, ...]
    direction: str
    frequency_hz: tuple[float, float]
    """Lowest and highest frequency that pass it: the band and the tones that it sees, Hz."""
    temperature_k: tuple[float, float]
    """Coldest and warmest that it gets: at work, and before cooling down, kelvin."""
    where: str
    """Its stage or stages."""
    tones_dbm: Mapping[str, float]
    """Strongest level of each tone at one of its ports, dBm."""
    dissipates_w: float
    """Heat that it is counted with: bias and tones, watt."""
    owned: Mapping[str, str]
    """Tag, serial, cost, spares, note as the layout gives them."""
    cautions: tuple[str, ...] = ()
    layout: Layout = field(kw_only=True, repr=False)

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        return {
            "replace": self.element, "kind": self.kind,
            "bounds": [one.as_dict() for one in self.bounds],
            "ports": [one.as_dict() for one in self.ports], "direction": self.direction,
            "frequency_hz": list(self.frequency_hz), "temperature_k": list(self.temperature_k),
            "where": self.where, "tones_dbm": dict(self.tones_dbm),
            "dissipates_w": self.dissipates_w, "owned": dict(self.owned),
            "warnings": list(self.cautions), "laws": {},
        }

    def __str__(self):
        from chain.advice.replacement_text import replacement_text

        return replacement_text(self)


def replacement(
    layout: Layout, key: str, margins: Mapping[str, Value] | None = None,
    progress: Callable[[int, int], object] | None = None,
) -> Replacement:
    """Return what a part in the place of element `key` has to be; raises LayoutError."""
    if key not in layout.elements:
        raise LayoutError.at(
            Place("--replace"), f"there is no element {key!r}",
            choose(key, layout.elements, "elements"),
        )
    judge = _Judge(layout, key, margins)
    element = layout.elements[key]
    asked = list(_asked(element))
    bounds = []
    for done, name in enumerate(asked):
        if progress is not None:
            progress(done, len(asked))
        bounds.append(_bound(judge, element, name))
    return Replacement(
        key, element.kind.name, tuple(one for one in bounds if one is not None),
        tuple(_port(layout, element, port) for port in element.ports), _direction(layout, element),
        _frequencies(judge, element), _temperatures(layout, element), where_text(element),
        _levels(judge, element), _dissipated(judge, element), _owned(element),
        tuple(cautions(layout, [key])), layout=layout,
    )


# -- judging ------------------------------------------------------------------------------------


class _Judge:
    """Says what of a layout with other values leaves its margin, against the layout as it is."""

    def __init__(self, layout, key, margins):
        self.inspection = Inspection(layout, margins)
        self.layout = self.inspection.layout
        self.margins = margins_of(self.layout)
        f = layout.band.frequency_hz
        places = np.linspace(0, f.size - 1, min(POINTS, f.size)).astype(int)
        self.frequency_hz = f[np.unique(places)]
        near = set(layout.connected(key))
        self.signals = [s.name for s in self.inspection.received if s.to_port[0] in near]
        self.devices = [(d.id, port) for d in self.inspection.devices if d.id in near
                        for port in d.ports]
        self.key = key
        self.limits = self._limits()

    def _limits(self):
        """Return {what: the most that it may be} of the layout as it is, arrays over frequency."""
        limits: dict[str, Any] = {}
        for what, value in self._values(self.layout):
            if what.startswith("noise"):
                rise = np.maximum(self.margins["coax"].value,
                                  self.margins["replaced"].value * value)
                limits[what] = value + rise
            elif what.startswith("photons"):
                worse = (1 + self.margins["replaced"].value) * value
                limits[what] = np.maximum(worse, self.margins["photons"].value)
            elif what.startswith("heat"):
                free = 1.0 - self.margins["cooling"].value
                limits[what] = max(value, free)
            else:
                limits[what] = max(value, -self.margins["compression"].value)
        return limits

    def _values(self, layout):
        """Yield (what, value): less is better in all of them."""
        for name in self.signals:
            found = budget(layout, name, frequency_hz=self._frequencies(name))
            yield f"noise of {name}", found.system_noise_quanta
        for device, port in self.devices:
            network = noise_network(layout, device, self.frequency_hz)
            yield f"photons at {device}.{port}", photons_at(network, (device, port))[1]
        if layout.tones:
            for level in power(layout).headrooms:
                if level.headroom_db is not None:
                    yield f"headroom of {level.id}", -level.headroom_db
        for name, stage in heat(layout).stages.items():
            if stage.cooling_w:
                yield f"heat at {name}", stage.known_w / stage.cooling_w

    def _frequencies(self, signal):
        f = asked_frequencies(self.layout, None, self.layout.signals[signal])
        return f[np.unique(np.linspace(0, f.size - 1, min(POINTS, f.size)).astype(int))]

    def wrong(self, value_name: str, value: Quantity) -> str:
        """Return what leaves its margin with another value of the element; nothing if all stays."""
        layout = self.layout.with_settings({self.key: {value_name: value}})
        element = layout.elements[self.key]
        try:
            problem = next(iter(element.kind.check(element.settings)), None)
            if problem is not None:
                return f"{_CANNOT_BE}: {problem.what}"
            for what, found in self._values(layout):
                limit = self.limits.get(what)
                if limit is None:
                    continue
                if np.any(np.isnan(found)):
                    return f"{what} not known"
                if np.any(found > limit + ALIKE * np.abs(limit)):
                    return what
        except (LayoutError, ParameterError) as error:
            problems = getattr(error, "problems", None)
            return f"{_CANNOT_BE}: {problems[0].what if problems else error}"
        return ""


# -- one parameter ------------------------------------------------------------------------------


def _asked(element: Element):
    """Yield the parameters by which a replacement may differ."""
    common = {parameter.name for parameter in COMMON}
    for name, parameter in element.kind.declared().items():
        if parameter.fixed or not isinstance(parameter.reads, Measure):
            continue
        if name in common and name not in ALSO_COMMON:
            continue
        known = element.settings[name] is not None
        if known or (parameter.reads.dimension == "ratio" and not parameter.required):
            yield name


def _bound(judge, element, name):
    reads = element.kind.declared()[name].reads
    value = element.settings[name]
    if value is not None and not isinstance(value, Quantity):
        said = "a table over frequency" if isinstance(value, Table) else value_text(value)
        return Bound(name, said, None, "", None, "", "not moved: it is no single value")
    if value is None:
        start, as_is = INFINITE_DB, "not stated"
        if judge.wrong(name, _quantity(start, reads.dimension)):
            return None  # another parameter says the same, or the kind has no use for it
    else:
        start, as_is = value.value, value_text(value)
    down = _search(judge, name, reads, start, -1)
    up = (None, "") if value is None else _search(judge, name, reads, start, 1)
    if value is None and down[0] is None:
        return None
    return Bound(name, as_is, *down, *up)


def _search(judge, name, reads, start, sign):
    """Return (last value that does as text, what the next breaks), or (None, nothing)."""
    scale = _Scale(reads, start)
    good, step, bad, why = scale.place(start), scale.step, None, ""
    end = scale.place(reads.lowest if sign < 0 else reads.most)
    while bad is None:
        trial = min(good + step, end) if sign > 0 else max(good - step, end)
        if trial == good:
            return None, ""
        # What cannot be is no bound that a replacement could be beyond.
        why_not = judge.wrong(name, _quantity(scale.value(trial), reads.dimension))
        if why_not:
            bad, why = trial, why_not
        else:
            good, step = trial, 2 * step
    for _ in range(STEPS):
        trial = (good + bad) / 2
        why_not = judge.wrong(name, _quantity(scale.value(trial), reads.dimension))
        if why_not:
            bad, why = trial, why_not
        else:
            good = trial
    if why.startswith(_CANNOT_BE):
        return None, ""
    return _rounded(scale.value(good), reads.dimension, sign, start), why


class _Scale:
    """Decibels as they are; what is a size by its logarithm."""

    def __init__(self, reads, start):
        self._plain = reads.dimension in ("ratio", "angle", "fraction", "number") or start <= 0
        self.step = 0.5 if self._plain else 0.1

    def place(self, value):
        """Return where a value lies on the scale."""
        return value if self._plain else math.log(max(value, 1e-30))

    def value(self, place):
        """Return the value at a place."""
        return place if self._plain else math.exp(place)


def _quantity(value, dimension):
    return Quantity(value, dimension, written(value, dimension))


def _rounded(value, dimension, sign, start):
    """Return a value with three digits, rounded to the side that does, as text."""
    if value in (0.0, start):
        return written(value, dimension)
    digit = 10.0 ** (math.floor(math.log10(abs(value))) - 2)
    rounded = (math.floor if sign > 0 else math.ceil)(value / digit) * digit
    inside = min(rounded, value) if sign > 0 else max(rounded, value)
    return written(float(f"{inside:.3g}"), dimension)


# -- what else it has to be ---------------------------------------------------------------------


def _port(layout, element, port):
    other = layout.partners.get((element.id, port))
    mine = connector_text(layout, (element.id, port))
    theirs = "" if other is None else connector_text(layout, other)
    return PortNeed(port, "" if other is None else ".".join(other), mine, theirs,
                    _fits(layout, (element.id, port), other))


def _fits(layout, port, other):
    if other is None or None in (connector_type(layout, port), connector_type(layout, other)):
        return None
    from components.connectors import connector

    return connector(connector_text(layout, port)).mates(connector(connector_text(layout, other)))


def _direction(layout, element):
    """Return which way a line runs through it, in words."""
    if not element.ports:
        return "no microwave ports"
    said = []
    for word, port in (("enters by", element.enter), ("leaves by", element.leave)):
        if port is None:
            continue
        other = layout.partners.get((element.id, port))
        said.append(f"{word} {port}" + ("" if other is None else f" ({'.'.join(other)})"))
    turned = ["it stands reversed"] if element.settings["reversed"] else []
    return ", ".join(["the line " + ", ".join(said), *turned])


def _seen(judge, element):
    """Yield (tone, lowest Hz, highest Hz, strongest W) of tones that reach it."""
    found = judge.inspection.power
    for name, tone in (found.tones.items() if found is not None else ()):
        levels = [watt for port in element.ports for watt in
                  (tone.arriving_w.get(f"{element.id}.{port}", 0.0),
                   tone.outgoing_w.get(f"{element.id}.{port}", 0.0))]
        if max(levels, default=0.0) > LEVELS_W:
            yield (name, float(np.min(tone.frequency_hz)), float(np.max(tone.frequency_hz)),
                   max(levels))


def _frequencies(judge, element):
    band: FloatArray = judge.layout.band.frequency_hz
    found = [(low, high) for _, low, high, _ in _seen(judge, element)]
    return (float(min([band[0], *(low for low, _ in found)])),
            float(max([band[-1], *(high for _, high in found)])))


def _levels(judge, element):
    return {name: 10 * math.log10(watt / 1e-3) for name, _, _, watt in _seen(judge, element)}


def _temperatures(layout, element):
    stages = [name for name in (element.stage, element.from_stage, element.to_stage,
                                *(stage for stage, _ in element.via)) if name]
    kelvin = [layout.temperature_k(element)] if element.settings.given("temperature") else []
    kelvin += [layout.stages[name].temperature_k for name in stages]
    room = max((stage.temperature_k for stage in layout.stages.values()), default=295.0)
    return (min(kelvin, default=room), max(room, 295.0))


def _dissipated(judge, element):
    found = judge.inspection.power
    tones = found.absorbed_w.get(element.id, 0.0) if found is not None else 0.0
    return float(tones) + element.kind.dissipates(element.settings)


def _owned(element):
    said = {name: element.settings[name] for name in ("tag", "serial", "cost", "spares", "note")}
    return {name: value_text(value) for name, value in said.items() if value is not None}
