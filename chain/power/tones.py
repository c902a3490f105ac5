"""Where the power of tones goes: levels, what is absorbed where, what exits."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError
from chain.layout.cautions import cautions
from chain.layout.cooling import cooling_w
from chain.layout.equal_networks import signal_keys, tone_key
from chain.layout.limits import check_work
from chain.network.assembly import Choices, Network, pump_remarks
from chain.network.pumps import LEAST_PART, pumps_with
from chain.power.against_ratings import demands, ratings
from chain.power.power_export import power_dict
from chain.power.signal_path import Cascade, cascade, headrooms, path_levels
from chain.power.warming import NOTHING, Warmed, warmed
from components.heating import NOTHING_HEATED, Heated
from components.nport import magnitude2
from components.quantities import watt_to_dbm

if TYPE_CHECKING:
    from chain.layout.layout import Layout, Signal, Tone
    from chain.network.waves import Wave
    from chain.power.levels import Headroom
    from chain.power.ratings import Demand, Rating
    from components.arrays import FloatArray


STANDS = 1e-9
"""Change of the loss of a network's cables, over that loss, below which it stands."""

MAX_ROUNDS = 60
"""Rounds of levels and temperatures after which there is no steady state."""

REACHED = 1e-10
"""Part of its power from which a tone is said to use an element."""


@dataclass(frozen=True)
class TonePower:
    """Where one tone (or comb), or the idler that it makes, goes; powers are totals over a comb.

    Of a pulsed tone they are averages over time; levels in dBm are those while it is on.
    """

    name: str
    frequency_hz: FloatArray
    injected_w: float
    """What the outside connector sends in."""
    arriving_w: Mapping[str, float]
    """Power of the wave arriving at each port, by `id.port`."""
    outgoing_w: Mapping[str, float]
    """Power of the outgoing wave at each port, by `id.port`."""
    absorbed_w: Mapping[str, float]
    absorbed_at_w: Mapping[str, Mapping[str, float]]
    """The same, stage by stage: a cable's goes to its anchors; none for what has no stage."""
    dissipated_by_stage_w: Mapping[str, float]
    """Power dissipated at each stage, watt."""
    exiting_w: Mapping[str, float]
    """Power that exits by each outside connector, watt, by its id."""
    given_w: float
    """What amplifiers add (and, of an idler, what is made at it)."""
    closure: float
    """Balance residual: injected and given, less absorbed and exiting, over injected and given."""
    loads_w: Mapping[str, float] = field(default_factory=dict)
    """Of what elements absorb, the part in the matched loads on their ports, by `id.port`."""
    duty: float = 1.0
    """Part of the time in which it is on."""
    pulse_s: float | None = None
    """How long it is on at a time, or None where that is not known."""

    def while_on_w(self, average_w: float) -> float:
        """Return the power while the tone is on of an average over time, watt."""
        return average_w / self.duty

    def renamed(self, name: str, called: Mapping[str, str]) -> TonePower:
        """Return the same tone in an equal network whose elements are `called` otherwise."""
        def of_ids(found):
            return {called[key]: value for key, value in found.items()}

        def of_ports(found):
            parted = ((port.rpartition("."), value) for port, value in found.items())
            return {f"{called[key]}.{port}": value for (key, _, port), value in parted}

        return replace(
            self, name=name, arriving_w=of_ports(self.arriving_w),
            outgoing_w=of_ports(self.outgoing_w), absorbed_w=of_ids(self.absorbed_w),
            absorbed_at_w=of_ids(self.absorbed_at_w), exiting_w=of_ids(self.exiting_w),
            loads_w=of_ports(self.loads_w) if self.loads_w else self.loads_w,
        )

    @property
    def by_stage_w(self) -> Mapping[str, float]:
        """The dissipated power by stage, under the name that programs lean on."""
        return self.dissipated_by_stage_w

    @property
    def leaving_w(self) -> Mapping[str, float]:
        """The exiting power by connector, under the name that programs lean on."""
        return self.exiting_w

    @property
    def arriving_dbm(self) -> dict[str, float | None]:
        """Levels arriving at each port while it is on, dBm; None where nothing arrives."""
        return {
            port: float(watt_to_dbm(self.while_on_w(watt))) if watt > 0 else None
            for port, watt in self.arriving_w.items()
        }


@dataclass(frozen=True)
class Power:
    """Every tone of a layout."""

    tones: Mapping[str, TonePower]
    idler_of: Mapping[str, str]
    """Rows that are idlers: name -> the tone that makes them."""
    warnings: tuple[str, ...] = ()
    warmed: Warmed = NOTHING
    """What the tones warm."""
    layout: Layout = field(kw_only=True, repr=False)

    @property
    def absorbed_w(self) -> dict[str, float]:
        """What each element absorbs of all tones together, watt, by id."""
        total = {}
        for tone in self.tones.values():
            for key, watt in tone.absorbed_w.items():
                total[key] = total.get(key, 0.0) + watt
        return total

    @property
    def by_stage_w(self) -> Mapping[str, float]:
        """The dissipated power by stage, under the name that programs lean on."""
        return self.dissipated_by_stage_w

    @property
    def dissipated_by_stage_w(self) -> Mapping[str, float]:
        """Power of all tones together dissipated at each stage, watt."""
        return {
            stage: sum(tone.dissipated_by_stage_w[stage] for tone in self.tones.values())
            for stage in self.layout.stages
        }

    @property
    def cooling_w(self) -> dict[str, float | None]:
        """Cooling power of each stage at its temperature, watt, or None where unknown."""
        return {
            name: cooling_w(stage, stage.temperature_k)
            for name, stage in self.layout.stages.items()
        }

    @property
    def over(self) -> tuple[str, ...]:
        """Stages at which tones dissipate more than the cooling power."""
        available_w = self.cooling_w
        return tuple(
            stage for stage, watt in self.dissipated_by_stage_w.items()
            if (most := available_w[stage]) is not None and watt > most
        )

    @functools.cached_property
    def headrooms(self) -> tuple[Headroom, ...]:
        """A Headroom for every amplifier and paramp in working order."""
        return tuple(headrooms(self))

    @functools.cached_property
    def ratings(self) -> tuple[Rating, ...]:
        """Every part, generator and receiver whose rating the layout states."""
        return ratings(self)

    @functools.cached_property
    def demands(self) -> tuple[Demand, ...]:
        """The tones that take more at their connector than any generator gives."""
        return demands(self)

    @functools.cached_property
    def cascades(self) -> tuple[Cascade, ...]:
        """The Cascade of every signal with a start, at the middle of the band."""
        middle = (self.layout.band.start_hz + self.layout.band.stop_hz) / 2
        signals = [s for s in self.layout.signals.values() if s.from_port is not None]
        keys = signal_keys(self.layout, signals, heated=self.warmed.heated)
        known: dict[tuple, tuple[Cascade, tuple[str, ...]]] = {}
        found = []
        for signal in signals:
            ids = self.layout.connected(signal.to_port[0])
            key = keys[signal.name]
            if key not in known:
                known[key] = cascade(self.layout, signal, middle, self.warmed.heated), ids
            # Copies limit at the same place of their networks.
            limits, its_ids = known[key]
            first = limits.first and ids[its_ids.index(limits.first)]
            found.append(replace(limits, signal=signal.name, first=first))
        return tuple(found)

    def along(self, signal: Signal) -> Any:
        """Return the PathLevels of a Signal with a start; raises LayoutError."""
        return path_levels(self.layout, signal, self.warmed.heated)

    def as_dict(self) -> dict[str, Any]:
        """Return the answer under the names that programs lean on."""
        return power_dict(self)

    def __str__(self):
        from chain.power.power_text import power_text

        return power_text(self)


@dataclass(frozen=True)
class NetworkPower:
    """The tones of one network, at rest with what they warm."""

    tones: Mapping[str, TonePower]
    idler_of: Mapping[str, str]
    warnings: tuple[str, ...]
    warmed: Warmed = NOTHING

    def renamed(
        self, called: Mapping[str, str], tones: Mapping[str, str]
    ) -> NetworkPower:
        """Return the same in an equal network: its elements and tones are called otherwise."""
        def name_of(name):
            made_of = self.idler_of.get(name)
            return tones[name] if made_of is None else _idler_name(tones[made_of])

        return NetworkPower(
            {name_of(name): one.renamed(name_of(name), called) for name, one in self.tones.items()},
            {name_of(name): tones[made_of] for name, made_of in self.idler_of.items()},
            self.warnings, self.warmed.renamed(called),
        )


def power(layout: Layout) -> Power:
    """Return the Power of every tone of a layout, with what paramps make of them at the idler.

    Levels and what they warm are worked out in turn until the losses of cables stand.  Raises
    LayoutError: a wanted level that no source power reaches, a frequency without data.
    """
    found, idler_of, warnings, warm = {}, {}, [], {}
    for tone in layout.tones.values():
        ids = layout.connected(tone.into)
        own = network_power(layout, ids)
        for name in (tone.name, _idler_name(tone.name)):
            if name in own.tones:
                found[name] = own.tones[name]
        idler_of |= own.idler_of
        warnings += own.warnings
        warm[ids] = own.warmed
    warnings += tone_cautions(layout, found.values())
    warnings += [*pump_remarks(layout), *layout.remarks]
    return Power(
        found, idler_of, tuple(dict.fromkeys(warnings)), Warmed.together(list(warm.values())),
        layout=layout,
    )


def tone_cautions(layout: Layout, tones: Iterable[TonePower]) -> list[str]:
    """Return sentences on elements that tones reach, at the tones' own frequencies."""
    reached: dict[tuple[float, ...], dict[str, None]] = {}
    for tone in tones:
        ends = tuple(sorted({tone.frequency_hz.min(), tone.frequency_hz.max()}))
        least_w = REACHED * max(tone.arriving_w.values(), default=0.0)
        reached.setdefault(ends, {}).update(
            (port.rpartition(".")[0], None)
            for port, watt in tone.arriving_w.items() if watt > least_w
        )
    return [
        said for ends, keys in reached.items()
        for said in cautions(layout, keys, frequency_hz=np.array(ends))
    ]


def network_power(layout: Layout, ids: tuple[str, ...]) -> NetworkPower:
    """Return the NetworkPower of the network of elements `ids`, in layout order.

    Worked out once, and once for copies of it with copies of its tones.  Raises LayoutError.
    """
    return layout.remembered(("network power", ids), lambda: _like_another(layout, ids))


def _tones_by_network(layout):
    found = {}
    for tone in layout.tones.values():
        found.setdefault(layout.connected(tone.into), []).append(tone)
    return found


def _like_another(layout, ids):
    """Return the NetworkPower of a network, from an equal one where there is one."""
    tones = layout.remembered("tones by network", lambda: _tones_by_network(layout)).get(ids, ())
    if not tones:
        return NetworkPower({}, {}, ())
    solved = layout.remembered("solved networks", dict)
    like = tuple(tone_key(layout, tone) for tone in tones)
    if like not in solved:
        solved[like] = ids, [tone.name for tone in tones], _at_rest(layout, tones)
    from_ids, names, first = solved[like]
    if from_ids == ids:
        return first
    if first.warnings:  # they name what they are about
        return _at_rest(layout, tones)
    called = dict(zip(from_ids, ids, strict=True))
    return first.renamed(called, dict(zip(names, [tone.name for tone in tones], strict=True)))


def _at_rest(layout, tones):
    """Return the NetworkPower of tones through cables at the temperatures that they make.

    Begun cold: where a superconductor could stay cold or be driven normal, it stays cold.
    """
    heated: Heated = NOTHING_HEATED
    for _ in range(MAX_ROUNDS):
        found, idler_of, warnings = {}, {}, []
        for tone in tones:
            own, idler, said = _tone(layout, tone, heated)
            found[tone.name] = own
            warnings += said
            if idler is not None:
                found[idler.name] = idler
                idler_of[idler.name] = tone.name
        warm = warmed(layout, found, heated)
        if warm.moved <= STANDS:
            return NetworkPower(found, idler_of, tuple(warnings), warm)
        heated = {key: one for key, one in warm.heated.items() if one.along is not None}
    warnings.append(
        f"no steady state: the tones {', '.join(tone.name for tone in tones)} and the loss of the "
        f"cables that they warm still move by {warm.moved:.1e} after {MAX_ROUNDS} rounds; levels "
        "and temperatures are those of the last one"
    )
    return NetworkPower(found, idler_of, tuple(warnings), replace(warm, steady=False))


def _idler_name(tone):
    return f"{tone} idler"


def tone_network(
    layout: Layout, tone: Tone, heated: Heated = NOTHING_HEATED
) -> Network:
    """Return the Network at a tone's frequencies, with every idler wave that it can make.

    `heated` are cables that are warm.
    """
    check_work(
        layout, elements=len(layout.connected(tone.into)), points=tone.count, place=tone.place
    )
    choices = Choices(at_pump=pumps_with(layout, tone), every_idler=True)
    return Network(layout, tone.into, np.array(tone.lines_hz), choices, heated=heated)


def _tone(layout, tone, heated):
    network = tone_network(layout, tone, heated)
    source = (tone.into, layout.elements[tone.into].ports[0], 1)
    waves = network.forward({source: 1.0})
    each_w = source_power(layout, tone, network, waves)
    scaled = _Scaled(network, waves, source, each_w * tone.duty)
    own = replace(scaled.result(tone.name, 1), duty=tone.duty, pulse_s=tone.pulse_s)
    idler = None
    if network.idler_hz is not None:
        idler = scaled.result(_idler_name(tone.name), -1)
        idler = replace(idler, duty=tone.duty, pulse_s=tone.pulse_s)
        if not any(idler.arriving_w.values()):
            idler = None
    said = []
    if own.closure > 1e-6:
        said.append(f"the energy balance of {tone.name} has a residual of {own.closure:.1e}")
    return own, idler, said


def source_power(layout: Layout, tone: Tone, network: Network, waves: Mapping[Wave, Any]) -> Any:
    """Return the power of each line of a tone at its connector while it is on, watt.

    Raises LayoutError.
    """
    if tone.arriving is None:
        return tone.power_w
    port, wanted_w = tone.arriving
    part = _part_arriving(network, waves, port)
    if part < LEAST_PART:
        place = tone.value_places.get("arriving", tone.place)
        raise LayoutError.at(
            place, f"nothing of tone {tone.name}, sent into {tone.into}, arrives at "
            f"{'.'.join(port)}", "name a port that it reaches, or give `power:` at the connector",
        )
    return wanted_w / part


def _part_arriving(network, waves, port):
    reached = waves.get(network.arriving(port))
    return 0.0 if reached is None else float(np.mean(network.mean(magnitude2(reached))))


class _Scaled:
    """The waves of a tone in watt, averaged over its pulses."""

    def __init__(self, network, waves, source, each_w):
        self.network, self.source, self.each_w = network, source, each_w
        self.waves = waves
        self.points = (network.draws, len(network.frequency_hz))

    def _watt(self, squared, side):
        """Return the power of squared amplitudes, summed over the comb, averaged over phases."""
        full = self.network.mean(np.broadcast_to(squared, self.points)) * self.each_w
        if side < 0:
            # Idler waves count photons of the signal: each carries its own frequency's energy.
            full = full * self.network.idler_hz / self.network.frequency_hz
        return float(full.sum())

    def _arriving(self, block, side):
        """Return the waves that arrive at a block's ports, {index: array}."""
        found = {}
        for index, (key, port, at) in enumerate(block.waves):
            if at == side:
                wave = self.waves.get((*self.network.partner[key, port], at))
                if wave is not None:
                    found[index] = wave
        return found

    def result(self, name, side):
        """Return the TonePower of the waves at the signal (1) or at the idler (-1)."""
        layout, network = self.network.layout, self.network
        arriving, outgoing, absorbed, at_stages, exiting = {}, {}, {}, {}, {}
        loads_w = {}
        given = injected = 0.0
        for block in network.blocks:
            if side not in block.nport.sidebands:
                continue
            element = layout.elements[block.id]
            into = self._arriving(block, side)
            for index, (key, port, at) in enumerate(block.waves):
                if at != side:
                    continue
                arriving[f"{key}.{port}"] = self._watt(magnitude2(into.get(index, 0.0)), side)
                out = magnitude2(self.waves.get(block.waves[index], 0.0))
                outgoing[f"{key}.{port}"] = self._watt(out, side)
            kept = self._kept(block, side)
            if self.source in block.waves and side > 0:
                injected, kept = self._injected(block, into, kept)
            if element.kind.outside:
                exiting[block.id] = kept
            elif network.amplifies(element):
                given -= kept
            else:
                absorbed[block.id] = kept
                at_stages[block.id] = self._to_stages(element, kept, into, side)
                loads_w |= self._into_loads(element, block, side)
        put_in = injected + given
        out = sum(absorbed.values()) + sum(exiting.values())
        closure = abs(put_in - out) / abs(put_in) if put_in else 0.0
        f = network.frequency_hz if side > 0 else network.idler_hz
        by_stage = dict.fromkeys(layout.stages, 0.0)
        for parts in at_stages.values():
            for stage, watt in parts.items():
                by_stage[stage] += watt
        return TonePower(name, f, injected, arriving, outgoing, absorbed, at_stages, by_stage,
                         exiting, given, closure, loads_w)

    def _kept(self, block, side):
        """Return what a block keeps of what arrives: a^H a - |S a|^2 over its ports of one side."""
        every = {**self._arriving(block, 1), **self._arriving(block, -1)}
        total: Any = 0.0
        for index, at in enumerate(block.nport.sidebands):
            if at != side:
                continue
            scattered = sum(
                (entry * every[j] for (i, j), entry in block.nport.scattering.items()
                 if i == index and j in every), 0.0,
            )
            total = total + magnitude2(every.get(index, 0.0)) - magnitude2(scattered)
        return self._watt(total, side)

    def _into_loads(self, element, block, side):
        """Return {id.port: W} of what leaves by the ports under `loads` for the loads there."""
        ports = element.settings["loads"] or ()
        if not ports:
            return {}
        bare = self.network.without_loads(block)
        waves = list(zip(bare.ports, bare.sidebands, strict=True))
        every = {**self._arriving(block, 1), **self._arriving(block, -1)}
        into = {block.waves[index][1:]: wave for index, wave in every.items()}
        found = {}
        for port in ports:
            row = waves.index((port, side))
            out = sum((entry * into[waves[j]] for (i, j), entry in bare.scattering.items()
                       if i == row and waves[j] in into), 0.0)
            found[f"{element.id}.{port}"] = self._watt(magnitude2(out), side)
        return found

    def _injected(self, block, into, kept):
        """Return what the source's connector puts in, and what it takes of what comes back."""
        back = block.nport.scattering.get((0, 0), 0.0) * into.get(0, 0.0)
        sent = self._watt(magnitude2(self.waves[self.source]) - magnitude2(back), 1)
        return sent, kept

    def _to_stages(self, element, kept, into, side):
        """Return {stage: watt} of what an element keeps."""
        anchored = element.anchored
        if not anchored:
            return {} if element.stage is None else {element.stage: kept}
        f = self.network.frequency_hz if side > 0 else self.network.idler_hz
        at = self.network.conditions(element, f)
        first, last = element.kind.absorbed_at_anchors(element.settings, at)
        waves = [self._watt(magnitude2(into.get(i, 0.0)), side) for i in (0, 1)]
        total = sum(waves)
        if total <= 0:
            return {}
        parts = (waves[0] * first.mean(axis=1) + waves[1] * last.mean(axis=1)) / total
        found = {}
        if not at.anchors:  # Its own temperature all along: only the ends are told apart.
            anchored = anchored[0], anchored[-1]
        for (_, stage), part in zip(anchored, parts, strict=True):
            found[stage] = found.get(stage, 0.0) + kept * float(part)
        return found
