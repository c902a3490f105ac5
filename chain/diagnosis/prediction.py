"""What every measured column would be with any causes: the layout, and differences from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.diagnosis.causes import Cause, together
from chain.diagnosis.fast_layout import fast_layout, pump_changes
from chain.errors import LayoutError, Place
from chain.layout.layout import Signal
from chain.layout.signals import chosen_signal
from chain.layout.variants import Variant
from chain.measurement.analyser import opened, port_named
from chain.measurement.data_sets import ADDED, GAIN, VACUUM, DataSet
from chain.measurement.warm import warmed
from chain.noise.budget import NothingArrives, budget
from chain.noise.variants import variant_budgets
from chain.reading import changed
from components.quantities import Quantity, decibels

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from components.arrays import FloatArray

BINS = 25
"""Stretches of frequency into which a column is averaged: neighbours share their ripple."""

FLOOR_DB = -250.0
"""Gain where nothing arrives."""

PUMP_PATH_SIZES = 7
"""Sizes of a fault in a pump's path at which the pump is worked out."""

Combination = tuple[tuple[Cause, float], ...]
"""Causes with their sizes."""


@dataclass(frozen=True)
class Bins:
    """Points of a column averaged over stretches of frequency."""

    frequency_hz: FloatArray
    """Mean frequency of each."""
    members: tuple[np.ndarray, ...]

    @classmethod
    def of(cls, frequency_hz: FloatArray) -> Bins:
        """Return at most BINS stretches with as many points each."""
        members = np.array_split(np.arange(frequency_hz.size), min(BINS, frequency_hz.size))
        return cls(np.array([frequency_hz[one].mean() for one in members]), tuple(members))

    def mean(self, values: FloatArray) -> FloatArray:
        """Return the means over the last axis."""
        return np.stack([values[..., one].mean(axis=-1) for one in self.members], axis=-1)


class Prediction:
    """One data set: what its columns should be, and with any causes, (combinations, values).

    Values are those of its columns one after the other, averaged over bins.
    """

    def __init__(self, base: Layout, signal: str, data: DataSet) -> None:
        low, high = base.band.start_hz, base.band.stop_hz
        self.data = data.thinned(low, high, data.name)
        self.layout = _as_measured(base, data)
        self.signal, self.network_layout = _signal_of(self.layout, data, signal)
        self.bins = [Bins.of(column.frequency_hz) for column in self.data.columns]
        self.sizes = [len(one.members) for one in self.bins]
        self._f, self._index = _union([one.frequency_hz for one in self.bins])
        self.fast = fast_layout(self.network_layout)
        self._more_incoming = self._missed_incoming()
        self._nominal = self._of_fast([()])[0]
        self.expected = self._expected()
        self._rewired: dict[str, Any] = {}
        self._of_pump: dict[str, Any] = {}

    @property
    def measured_db(self) -> FloatArray:
        """Measured values, averaged over bins."""
        pairs = zip(self.bins, self.data.columns, strict=True)
        return np.concatenate([bins.mean(column.value_db) for bins, column in pairs])

    def ids(self) -> tuple[str, ...]:
        """Return the ids of the elements of its network."""
        return self.network_layout.connected(self.signal.to_port[0])

    # -- the layout as it is ------------------------------------------------------------------

    def _expected(self):
        """Return the columns of the whole program: means over phases at every measured point."""
        parts = []
        for bins, column in zip(self.bins, self.data.columns, strict=True):
            b = budget(self._with_signal(self.network_layout), self.signal.name,
                       frequency_hz=column.frequency_hz)
            if column.quantity == GAIN:
                found = b.gain_db
            elif column.quantity == ADDED:
                found = _with_vacuum(b.added_quanta)
            else:
                found = decibels(np.asarray(b.system_noise_quanta, float))
            if found is None or not np.isfinite(found).all():
                raise LayoutError.at(
                    self.signal.place, f"the layout does not say the {column.quantity} of "
                    f"{self.signal.name} everywhere", "look what chain budget says of it",
                )
            parts.append(bins.mean(found))
        return np.concatenate(parts)

    def _with_signal(self, layout):
        return replace(layout, signals={**layout.signals, self.signal.name: self.signal})

    # -- combinations of causes ---------------------------------------------------------------

    def of(self, combinations: Sequence[Combination]) -> FloatArray:
        """Return the values with causes of given sizes, dB; NaN where the layout cannot be so."""
        return self.expected + self._of_fast(combinations) - self._nominal

    def layout_with(self, combination: Combination) -> Layout:
        """Return the fast layout, rewired as a combination of causes has it."""
        return self._rewired_by(tuple(cause for cause, _ in combination if cause.rewires))

    def _of_fast(self, combinations):
        groups: dict[tuple[str, ...], list[int]] = {}
        rewiring = {}
        for number, combination in enumerate(combinations):
            causes = tuple(cause for cause, _ in combination if cause.rewires)
            name = tuple(cause.name for cause in causes)
            rewiring[name] = causes
            groups.setdefault(name, []).append(number)
        found = np.full((len(combinations), sum(self.sizes)), np.nan)
        for name, numbers in groups.items():
            layout = self._rewired_by(rewiring[name])
            variants = [self.variant_with(layout, combinations[number]) for number in numbers]
            found[numbers] = self.of_variants(layout, variants)
        return found

    def _rewired_by(self, causes):
        name = " ".join(cause.name for cause in causes)
        if not causes:
            return self.fast
        if name not in self._rewired:
            layout, plain = self.fast, self.network_layout
            for cause in causes:
                if cause.place in layout.elements:
                    layout, plain = cause.rewired(layout), cause.rewired(plain)
            by_pump = pump_changes(self.network_layout, replace(plain, written=None)) \
                if any(".via." not in cause.key for cause in causes) else {}
            if by_pump:
                layout = layout.with_settings(by_pump)
            self._rewired[name] = layout
        return self._rewired[name]

    def variant_with(self, layout: Layout, combination: Combination) -> Variant:
        """Return the Variant of a layout of `layout_with` that a combination of causes makes."""
        parts = []
        for cause, size in combination:
            if cause.rewires or not (cause.place in layout.elements or cause.stage):
                continue
            variant = cause.variant(layout, size)
            parts += [variant, self._by_pump(cause, size)]
            if self.data.warm and variant.temperature_k:
                parts = parts[:-2]
        return together(parts)

    def _by_pump(self, cause, size):
        """Return what a cause does to paramps by their pumps."""
        if cause.fault is None or cause.place not in self._pump_path():
            return Variant("")
        if cause.name not in self._of_pump:
            self._of_pump[cause.name] = self._pump_table(cause)
        sizes, changes = self._of_pump[cause.name]
        return Variant("", changes[int(np.argmin(np.abs(np.array(sizes) - size)))])

    def _pump_table(self, cause):
        sizes = [0.0]
        if cause.size is not None:
            spread = np.linspace(-2.5, 2.5, PUMP_PATH_SIZES)
            sizes = list(cause.size.median * cause.size.factor**spread)
        return sizes, [
            pump_changes(self.network_layout, cause.variant(self.network_layout, size)
                         .apply(self.network_layout)) for size in sizes
        ]

    def _pump_path(self):
        """Return the ids of what stands between a pump's source and its paramp."""
        def work_out():
            layout, found = self.network_layout, set()
            for element in layout.elements.values():
                if not element.kind.pumps(element.settings):
                    continue
                tone = layout.tones[element.settings["pump"]]
                if element.id in layout.connected(tone.into):
                    port = layout.elements[tone.into].ports[0]
                    path = layout.signal_path(Signal(
                        "", (tone.into, port), (element.id, element.ports[0]), element.place))
                    found |= set(path) - {element.id, tone.into}
            return frozenset(found)
        return self.network_layout.remembered("diagnosis pump path", work_out)

    # -- variants -----------------------------------------------------------------------------

    def of_variants(self, layout: Layout, variants: Sequence[Variant]) -> FloatArray:
        """Return the columns of variants of a fast layout, dB."""
        found = variant_budgets(self._with_signal(layout), variants, self.signal.name,
                                frequency_hz=self._f, shares=False)
        gain_db = np.array(found.gain_db)
        noise = np.array(found.system_noise_quanta)
        incoming = np.zeros_like(noise)
        if any(column.quantity == ADDED for column in self.data.columns):
            incoming = self._incoming(layout, variants)
        for number, error in found.errors.items():
            if isinstance(error, NothingArrives):
                gain_db[number] = FLOOR_DB
                noise[number] = found.noise_at_to_quanta[number] * 10 ** (-FLOOR_DB / 10)
        parts = []
        for column, index in zip(self.data.columns, self._index, strict=True):
            if column.quantity == GAIN:
                parts.append(np.maximum(gain_db[:, index], FLOOR_DB))
            elif column.quantity == ADDED:
                added = np.maximum(noise[:, index] - incoming[:, index], 0.0)
                parts.append(decibels(added + VACUUM))
            else:
                parts.append(decibels(noise[:, index]))
        return np.concatenate(parts, axis=1)

    def _missed_incoming(self):
        """Return quanta through the start that opening the joint there leaves out, (points,).

        What the rest of the network sends back to the start, and that reflects: taken as the same
        whatever is wrong.
        """
        if not any(column.quantity == ADDED for column in self.data.columns):
            return 0.0
        whole = budget(self._with_signal(self.network_layout), self.signal.name,
                       frequency_hz=self._f)
        self._more_incoming = 0.0
        return np.asarray(whole.incoming_quanta) - self._incoming(self.fast, [Variant("")])[0]

    def _incoming(self, layout, variants):
        """Return quanta through the signal's start, the network cut there, (variants, points)."""
        start = self.signal.start
        name = ".".join(start)
        if start not in layout.partners:
            return np.zeros((len(variants), self._f.size)) + self._more_incoming
        cut = opened(layout, [name]).layout
        ends = {}
        for key in (name, ".".join(layout.partners[start])):
            end = cut.elements[key]
            cold = end.settings.with_values(temperature=Quantity(0.0, "temperature", "0 K"))
            ends[key] = replace(end, settings=cold)
        cut = replace(cut, elements={**cut.elements, **ends})
        end = cut.elements[name]
        at = Signal("incoming", None, (name, end.ports[0]), self.signal.place)
        cut = replace(cut, signals={"incoming": at})
        ids = set(cut.connected(name))
        some = [
            replace(variant, settings={key: value for key, value in variant.settings.items()
                                       if key in ids}) for variant in variants
        ]
        found = variant_budgets(cut, some, "incoming", frequency_hz=self._f, shares=False)
        return found.noise_at_to_quanta + self._more_incoming


def _with_vacuum(added):
    return decibels(np.maximum(np.asarray(added, float) + VACUUM, 1e-12))


def _as_measured(base, data):
    try:
        layout = changed(base, data.changes) if data.changes else base
    except LayoutError as error:
        place = data.place or Place(data.name)
        raise LayoutError([replace(one, place=place) for one in error.problems]) from error
    return warmed(layout) if data.warm else layout


def _signal_of(layout, data, signal):
    """Return the Signal that a data set is of, and the layout in which it is measured."""
    if not data.ports:
        return chosen_signal(layout, data.signal or signal), layout
    place = data.place or Place(data.name)
    names = data.ports.split(":")
    if len(names) != 2:
        raise LayoutError.at(place, f"{data.ports!r} are not two ports", "write them like S1:R1")
    try:
        ends = [port_named(layout, name.strip(), "ports") for name in names]
    except LayoutError as error:
        raise LayoutError([replace(one, place=place) for one in error.problems]) from error
    asked = [".".join(end) for end in ends if not layout.elements[end[0]].kind.outside]
    view = opened(layout, asked)
    ports = []
    for end in ends:
        outside = layout.elements[end[0]].kind.outside
        key = end[0] if outside else view.ends[".".join(end)]
        ports.append((key, view.layout.elements[key].ports[0]))
    made = Signal(data.ports, ports[0], ports[1], place)
    if ports[1][0] not in view.layout.connected(ports[0][0]):
        raise LayoutError.at(place, f"nothing joins {names[0]} to {names[1]}",
                             "name two ports of one line")
    return made, replace(view.layout, signals={**view.layout.signals, made.name: made})


def _union(frequencies):
    """Return (all frequencies, [indices of each array's in it])."""
    every = np.unique(np.concatenate(frequencies))
    return every, [np.searchsorted(every, f) for f in frequencies]


