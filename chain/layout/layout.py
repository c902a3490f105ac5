"""A layout as read: elements, their joints, stages, tones and signals, all values typed."""

from __future__ import annotations

import functools
from collections import deque
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Self, TypeVar

import numpy as np

from chain.errors import Place
from components.arrays import FloatArray
from components.declaration import Kind
from components.quantities import Quantity, Table, Tolerance
from components.settings import Settings

AnyLayout = TypeVar("AnyLayout", bound="Layout")
"""A Layout or one with answers, which stays what it is when it is changed."""

Port = tuple[str, str]
"""An element's id and the name of one of its ports."""


@dataclass(frozen=True)
class Band:
    """The frequencies of interest, evenly spaced."""

    start_hz: float
    stop_hz: float
    points: int
    place: Place

    @property
    def frequency_hz(self) -> FloatArray:
        """The frequencies, Hz, shape (points,)."""
        return np.linspace(self.start_hz, self.stop_hz, self.points)


@dataclass(frozen=True)
class Stage:
    """A temperature stage; `cooling` is (kelvin, watt) pairs, rising."""

    name: str
    temperature_k: float
    cooling: tuple[tuple[float, float], ...]
    other_w: Mapping[str, float]
    """Loads that the layout names: what it is, watt."""
    place: Place
    tolerance: Tolerance | None = None
    """How far the temperature may be off, kelvin."""


@dataclass(frozen=True)
class Element:
    """One element of a line."""

    id: str
    kind: Kind
    settings: Settings
    line: str
    place: Place
    ports: tuple[str, ...]
    """Ports that joints can use (those under `loads` are not among them)."""
    enter: str | None
    leave: str | None
    stage: str | None = None
    """Where it is anchored; None for what runs between two stages."""
    from_stage: str | None = None
    to_stage: str | None = None
    via: tuple[tuple[str, float], ...] = ()
    """Stages that anchor it in between: (stage, distance from its start in metres)."""
    part: str | None = None
    value_places: Mapping[str, Place] = field(default_factory=dict)
    """Where each parameter was written, for messages."""
    copy_of: str | None = None
    """The id that is declared where this element is one of its copies, else None."""
    number: int | None = None
    """Its number among the copies, from 1."""

    @property
    def declared_id(self) -> str:
        """The id under which the layout declares it: the same for every copy."""
        return self.copy_of or self.id

    def place_of(self, parameter: str) -> Place:
        """Return where a parameter is written, or the element's own place."""
        return self.value_places.get(parameter, self.place)

    @property
    def anchored(self) -> tuple[tuple[float, str], ...]:
        """(distance over length, stage) of every anchor, start to end; empty on one stage."""
        if self.from_stage is None or self.to_stage is None:
            return ()
        between: tuple[tuple[float, str], ...] = ()
        if self.via:
            length = self.settings["length"].value
            between = tuple((distance / length, stage) for stage, distance in self.via)
        return ((0.0, self.from_stage), *between, (1.0, self.to_stage))


@dataclass(frozen=True)
class Joint:
    """Two ports joined to each other."""

    first: Port
    second: Port
    place: Place


@dataclass(frozen=True)
class Line:
    """A row of elements in the order in which they are written."""

    name: str
    elements: tuple[str, ...]
    place: Place
    copy_of: str | None = None
    """The line that is declared where this one is one of its copies, else None."""
    number: int | None = None
    """Its number among the copies, from 1."""
    note: str | None = None
    current_a: float | None = None
    """Direct current at the end of its path, ampere; None for none."""
    current_place: Place | None = None

    @property
    def declared_name(self) -> str:
        """The name under which the layout declares it: the same for every copy."""
        return self.copy_of or self.name


@dataclass(frozen=True)
class Tone:
    """A continuous wave (or a comb of them) put into an outside connector."""

    name: str
    into: str
    """Id of the port element."""
    frequency_hz: float
    power_w: float | None
    """Power sent in, or None where `arriving` fixes it."""
    arriving: tuple[Port, float] | None
    """A port and the power in watt that must arrive there."""
    place: Place
    count: int = 1
    spacing_hz: float | None = None
    noise: Quantity | Table | None = None
    """Of its generator, dBc/Hz, at every offset or over it; None where the layout states none."""
    duty: float = 1.0
    """Part of the time in which it is on; its power is that while it is."""
    pulse_s: float | None = None
    """How long it is on at a time, or None where that is not known."""
    value_places: Mapping[str, Place] = field(default_factory=dict)
    copy_of: str | None = None
    """The tone that is declared where this one is one of its copies, else None."""
    number: int | None = None
    """Its number among the copies, from 1."""

    @property
    def declared_name(self) -> str:
        """The name under which the layout declares it: the same for every copy."""
        return self.copy_of or self.name

    @property
    def lines_hz(self) -> tuple[float, ...]:
        """Its frequency, or those of a comb's lines, Hz."""
        step = self.spacing_hz or 0.0
        return tuple(self.frequency_hz + number * step for number in range(self.count))


@dataclass(frozen=True)
class Signal:
    """From the wave that leaves one port to the wave that arrives at another."""

    name: str
    from_port: Port | None
    to_port: Port
    place: Place
    band: Band | None = None
    """Frequencies of its own; None where the layout's band holds."""
    copy_of: str | None = None
    """The signal that is declared where this one is one of its copies, else None."""
    number: int | None = None
    """Its number among the copies, from 1."""

    @property
    def start(self) -> Port:
        """The port it comes from; only asked of a signal that has one."""
        assert self.from_port is not None, f"signal {self.name} has no start"
        return self.from_port

    @property
    def declared_name(self) -> str:
        """The name under which the layout declares it: the same for every copy."""
        return self.copy_of or self.name


@dataclass(frozen=True)
class Layout:
    """Everything a layout file says, checked and typed."""

    path: str
    title: str
    band: Band
    stages: Mapping[str, Stage]
    elements: Mapping[str, Element]
    joints: tuple[Joint, ...]
    lines: Mapping[str, Line]
    tones: Mapping[str, Tone]
    signals: Mapping[str, Signal]
    coax: Mapping[str, object]
    materials: Mapping[str, object]
    accepted: Mapping[str, str]
    """Findings that the layout accepts: code -> why."""
    sources: Mapping[str, bytes]
    """Every file that was read, by the name it was read under, for documents and hashes."""
    changes: tuple[str, ...] = ()
    """What --set changed, as written."""
    margins: Mapping[str, Quantity] = field(default_factory=dict)
    """Margins of advice that the layout gives itself (chain.layout.margins)."""
    remarks: tuple[str, ...] = ()
    """Sentences that every result of this layout has among its warnings."""
    self_heating: bool = True
    """False to leave every part and cable at its stage's temperature."""
    films_cooled: float = 1.0
    """By what factor resistive films of which nothing is stated are cooled better than assumed."""
    data_files: Mapping[tuple[str, bool], object] = field(default_factory=dict, repr=False)
    """Touchstone files that elements name (NamedFile), by path and whether they hold outside."""
    allowed: tuple[str, ...] = ()
    """Folders besides its own from which it may name files."""
    written: Layout | None = field(default=None, repr=False, compare=False)
    """The layout whose pumps are as they should be: the file's before any change; None for
    itself."""
    derived: str = ""
    """What was done to it after it was read: `warm`, `at other temperatures`; else empty."""

    @functools.cached_property
    def noisy_tones(self) -> tuple[Tone, ...]:
        """Tones that state the noise of their generator."""
        return tuple(tone for tone in self.tones.values() if tone.noise is not None)

    @property
    def files(self) -> tuple[str, ...]:
        """Names of every file that was read for it, and of the data files that it names."""
        return (*self.sources, *(path for path, _ in self.data_files))

    def temperature_k(self, element: Element, at_stage: str | None = None) -> float:
        """Return the temperature of an element (or of a stage that it touches), kelvin."""
        if at_stage is None:
            own = element.settings["temperature"]
            if isinstance(own, Quantity):
                return own.value
            at_stage = element.stage or element.from_stage or ""
        return self.stages[at_stage].temperature_k

    def remembered(self, key: Hashable, work_out: Callable[[], Any]) -> Any:
        """Return `work_out()`, called once for a key: what follows from this layout alone."""
        if key not in self._remembered:
            self._remembered[key] = work_out()
        return self._remembered[key]

    @functools.cached_property
    def _remembered(self) -> dict[Hashable, Any]:
        return {}

    def anchors(self, element: Element) -> tuple[tuple[float, float], ...]:
        """Return (distance over length, kelvin) of every anchor along an element, start to end.

        Empty for what sits on one stage, or has a temperature of its own.
        """
        if element.settings.given("temperature"):
            return ()
        return tuple(
            (part, self.stages[stage].temperature_k) for part, stage in element.anchored
        )

    @functools.cached_property
    def partners(self) -> dict[Port, Port]:
        """Each joined port's partner, both ways."""
        result = {}
        for joint in self.joints:
            result[joint.first] = joint.second
            result[joint.second] = joint.first
        return result

    @functools.cached_property
    def neighbours(self) -> dict[str, list[str]]:
        """Ids of the elements joined to each element."""
        result = {key: [] for key in self.elements}
        for joint in self.joints:
            result[joint.first[0]].append(joint.second[0])
            result[joint.second[0]].append(joint.first[0])
        return result

    @functools.cached_property
    def _components(self) -> dict[str, tuple[str, ...]]:
        """Each element's connected component, as one shared tuple of ids in layout order."""
        number = {}
        for key in self.elements:
            if key in number:
                continue
            number[key], queue = key, [key]
            while queue:
                for other in self.neighbours[queue.pop()]:
                    if other not in number:
                        number[other] = key
                        queue.append(other)
        groups = {}
        for key, first in number.items():
            groups.setdefault(first, []).append(key)
        order = {key: place for place, key in enumerate(self.elements)}
        together = {
            first: tuple(sorted(keys, key=order.__getitem__)) for first, keys in groups.items()
        }
        return {key: together[first] for key, first in number.items()}

    def connected(self, start: str) -> tuple[str, ...]:
        """Return the ids of all elements connected to `start` by joints, in layout order."""
        return self._components[start]

    def signal_path(self, signal: Signal) -> list[str]:
        """Return the ids along the shortest run of joints from a signal's start to its end."""
        start, end = signal.start[0], signal.to_port[0]
        came: dict[str, str | None] = {start: None}
        queue = deque([start])
        while queue and end not in came:
            here = queue.popleft()
            for other in self.neighbours[here]:
                if other not in came:
                    came[other] = here
                    queue.append(other)
        run = [end]
        while (before := came[run[-1]]) is not None:
            run.append(before)
        return run[::-1]

    def with_settings(self, changes: Mapping[str, Mapping[str, Any]]) -> Self:
        """Return the layout with other values: {id: {parameter: typed value}}."""
        elements = dict(self.elements)
        for key, values in changes.items():
            element = elements[key]
            elements[key] = replace(element, settings=element.settings.with_values(**values))
        return replace(
            self, elements=elements, written=self.written or self, derived="with other values"
        )

    def with_temperatures(self, temperature_k: Mapping[str, float]) -> Self:
        """Return the layout with stages at other temperatures: {stage: K}."""
        stages = dict(self.stages)
        for name, kelvin in temperature_k.items():
            stages[name] = replace(stages[name], temperature_k=float(kelvin))
        return replace(self, stages=stages, derived="at other temperatures")

    def with_remarks(self, *remarks: str) -> Self:
        """Return the layout with more sentences that its results have among their warnings."""
        return replace(self, remarks=(*self.remarks, *remarks))
