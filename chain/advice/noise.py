"""Noise by other paths than the signal's: photons at the device, side ports, warm loads."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.advice.rules import WARNING, Remark, rule
from chain.layout.cooling import cooling_w
from chain.network.generators import generators_of
from chain.network.path import least_loss_path
from chain.noise.arrivals import photons_at
from chain.power.warming import NOTICED
from chain.writing.numbers import number, si
from components.quantities import Quantity, decibels
from components.thermal_noise import photons as thermal_photons

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection
    from chain.layout.layout import Port

STEP_DB = 10.0
"""What a further attenuator is tried with."""


@rule(
    "thermal-photons", WARNING, margins=("photons",),
    why="photons that a line lets through dephase a qubit, fill a resonator, and are counted as "
    "signal",
    source="S. Krinner et al., EPJ Quantum Technology 6:2 (2019), second-hand",
)
def thermal_photons_at_device(inspection: Inspection) -> Iterator[Remark]:
    """Look at the photons that arrive at every port of every device, and where they come from."""
    received = {signal.from_port for signal in inspection.received}
    for port, (shares, total) in inspection.arrivals.items():
        at = int(np.argmax(total))
        found = float(total[at])
        if found <= inspection.margin("photons"):
            continue
        most = sorted(shares, key=lambda key: -shares[key][at])[:3]
        parts = ", ".join(f"{key} {number(float(shares[key][at]), 3)}" for key in most)
        remedy = _isolate if port in received else _attenuate
        yield Remark(
            (port[0], *most[:1]),
            f"{number(found, 3)} photons arrive at {'.'.join(port)} at "
            f"{inspection.frequency_hz[at] / 1e9:.4g} GHz (most from {parts})",
            remedy(inspection, port, at, most),
        )


def _isolate(inspection, port, at, most):
    """Return what helps where the signal leaves by the port: attenuation would cost it."""
    found, limit = float(inspection.arrivals[port][1][at]), inspection.margin("photons")
    if (filtered := _filter_generator(inspection, most[0], at)) is not None:
        return filtered
    if (too_warm := _too_warm(inspection, port, at)) is not None:
        return too_warm
    missing = "" if limit <= 0 else f"{np.ceil(decibels(found / limit)):.0f} dB more "
    emitter, device = inspection.element(most[0]), inspection.element(port[0])
    colder = ""
    movable = emitter.kind.passive and not emitter.kind.outside
    if movable and emitter.stage != device.stage and emitter.stage is not None:
        colder = f", or {most[0]} on {device.stage}"
    return f"{missing}isolation between {port[0]} and what emits ({most[0]}){colder}"


def _attenuate(inspection, port, at, most):
    """Return at which stage an attenuator would help, and how much."""
    if (filtered := _filter_generator(inspection, most[0], at)) is not None:
        return filtered
    if (warm := by_itself(inspection, most[0])) is not None:
        return warm
    tried, limit = attenuation_would_leave(inspection, port, at), inspection.margin("photons")
    if not tried:
        return f"keep what emits ({most[0]}) from {port[0]}: isolation, a filter, a colder stage"
    if (too_warm := _too_warm(inspection, port, at)) is not None:
        return too_warm
    stage, where, left = min(tried, key=lambda one: one[2])
    enough = "which is enough" if left <= limit else "and more is needed"
    others = [f"at {name} {number(rest, 3)}" for name, _, rest in tried if name != stage]
    also = f" ({', '.join(others)})" if others else ""
    return (
        f"{STEP_DB:g} dB more at {stage}, {where}, would leave {number(left, 3)} photons, "
        f"{enough}{also}"
    )


def _filter_generator(inspection, key, at):
    """Return what helps where most of what a connector emits is the noise beside its tones."""
    sent = generators_of(inspection.layout).get(key, ())
    f, element = inspection.frequency_hz[[at]], inspection.element(key)
    beside = sum(float(one.quanta(f)[0]) for one in sent)
    thermal = thermal_photons(
        frequency_hz=f, temperature_k=inspection.layout.temperature_k(element)
    )
    if beside <= float(thermal[0]):
        return None
    tones = ", ".join(dict.fromkeys(one.tone for one in sent))
    return (
        f"filter what the generator of {tones} sends beside it, behind {key}, or take a quieter "
        "one: a pad weakens the tone as much as its noise"
    )


def by_itself(inspection: Inspection, key: str) -> str | None:
    """Return what helps against the noise of an element that tones warm, or None if none do.

    Another pad would be warmed as well, so attenuation is no sure remedy.
    """
    rows = inspection.power.warmed.films if inspection.power else ()
    row = next((row for row in rows if row.id == key and row.kelvin > NOTICED * row.stage_k), None)
    if row is None:
        return None
    taken = "as is assumed of a film" if row.assumed else "as the layout states"
    return (
        f"{si(row.absorbed_w, 'W', 3)} of tones take {key} from {si(row.stage_k, 'K', 3)} to "
        f"{si(row.kelvin, 'K', 3)}, {taken}: send less of them there, or less often, or lose the "
        "power in several pads and less of it in the last one"
    )


def _too_warm(inspection, port, at):
    """Return what to say where the device's own stage gives more photons than the margin."""
    device = inspection.element(port[0])
    kelvin = inspection.layout.temperature_k(device)
    own = float(thermal_photons(frequency_hz=inspection.frequency_hz[at], temperature_k=kelvin))
    if own <= inspection.margin("photons"):
        return None
    return (
        f"nothing helps while {port[0]} is at {si(kelvin, 'K', 3)}, where a load alone gives "
        f"{number(own, 3)} photons: lower its temperature"
    )


def attenuation_would_leave(
    inspection: Inspection, port: Port, at: int
) -> list[tuple[str, str, float]]:
    """Return [(stage, where, photons)]: what STEP_DB more at each stage would leave at a port.

    At the place of the line to the port where each stage stands last, for the frequency of index
    `at`; for waves along matched lines.
    """
    network = inspection.network(port[0])
    if network is None:
        return []
    transfers = network.adjoint(network.arriving(port))
    total = float(inspection.arrivals[port][1][at])
    found = {}
    for key, joint, stage in _line_to(inspection, network, port):
        passed = transfers.get((*joint, 1))
        if passed is None:
            continue
        gain = float(np.broadcast_to(network.mean(np.abs(passed) ** 2), _points(network))[at])
        _, here = photons_at(network, network.partner[joint])
        own = thermal_photons(
            frequency_hz=inspection.frequency_hz[at],
            temperature_k=inspection.layout.stages[stage].temperature_k,
        )
        kept = 10 ** (-STEP_DB / 10)
        change = gain * (1 - kept) * (float(own) - float(here[at]))
        # Where what arrives stands, the joint has more of it than goes on: no pad takes all away.
        found[stage] = (stage, f"behind {key}", max(total + change, kept * total))
    return list(found.values())


def _points(network):
    return (len(network.frequency_hz),)


def _line_to(inspection, network, port):
    """Yield (id, its port toward the device, stage there) along the line that leads to a port."""
    best: tuple[Any, ...] = ()
    for key in network.ids:
        element = inspection.element(key)
        if not element.kind.outside:
            continue
        hops = least_loss_path(network, (key, element.ports[0]), port)
        if hops and all(hop.gain > 0 for hop in hops):
            loss = -sum(decibels(hop.gain) for hop in hops)
            if not best or loss < best[0]:
                best = (loss, hops)
    for hop in best[1] if best else ():
        stage = _stage_at(inspection.element(hop.id), hop.leave)
        if stage is not None:
            yield hop.id, (hop.id, hop.leave), stage
    last = inspection.element(port[0]).stage
    if best and last is not None:
        yield best[1][-1].id, (best[1][-1].id, best[1][-1].leave), last


def _stage_at(element, port):
    """Return the stage on which a port of an element lies."""
    if element.from_stage is None:
        return element.stage
    return element.from_stage if port == element.kind.ports(element.settings)[0] \
        else element.to_stage


@rule(
    "side-port-noise", WARNING, margins=("side_port_noise",),
    why="noise that enters by a side port ahead of the gain is amplified like the signal; the "
    "20 dB of a coupler alone do not stop a warm line",
    source="a tenth of a quantum is common practice, no source",
)
def side_port_noise(inspection: Inspection) -> Iterator[Remark]:
    """Look at the shares of whole lines that a received signal does not go through.

    Only what attenuation could take away counts: not the vacuum, which every load emits.
    """
    for signal in inspection.received:
        budget, path = inspection.budget(signal.name), inspection.path_of(signal)
        if budget is None or path is None or budget.system_noise_quanta is None:
            continue
        lines = {}
        for row in budget.rows:
            if row.where == "side" and row.id not in path.ids:
                lines.setdefault(inspection.element(row.id).line, []).append(row.id)
        for line, ids in lines.items():
            yield from _side_line(inspection, signal, budget, line, ids)


def _side_line(inspection, signal, budget, line, ids):
    above = {
        key: budget.shares_quanta[key] - budget.vacuum_shares_quanta[key] for key in ids
    }
    whole = sum(above.values())
    at = int(np.argmax(whole))
    if whole[at] <= inspection.margin("side_port_noise"):
        return
    most = sorted(ids, key=lambda key: -above[key][at])[:3]
    parts = ", ".join(f"{key} {number(float(above[key][at]), 3)}" for key in most)
    yield Remark(
        (most[0],),
        f"{number(float(whole[at]), 3)} of {number(float(budget.system_noise_quanta[at]), 4)} "
        f"quanta of system noise of {signal.name} come in by line {line}, its vacuum left out "
        f"({parts})",
        _filter_generator(inspection, most[0], at)
        or f"attenuate line {line} more and colder, filter it, or couple it more weakly",
    )


@rule(
    "warm-load", WARNING, margins=("load", "dumped"),
    why="a load emits at its temperature, and one that absorbs little can stand on a colder stage",
    source="a matched load emits 1/2 coth(hf/2kT) quanta",
)
def warm_load(inspection: Inspection) -> Iterator[Remark]:
    """Look at the loads whose noise counts: could a colder stage cool them?"""
    for load in _loads(inspection):
        colder = _coldest_with_cooling(inspection, load)
        if colder is None:
            continue
        for said, cost, left in _costs(inspection, load, colder):
            if cost - left <= inspection.margin("load"):
                continue
            yield Remark(
                (load.id,),
                f"{load.id} gives {number(cost, 3)} quanta to {said} from "
                f"{si(inspection.layout.temperature_k(load), 'K', 3)}; at {colder} it would be "
                f"{number(left, 3)}",
                f"put it on {colder}, which has the cooling power for what it absorbs",
            )
            break


def _loads(inspection):
    for key in inspection.ids:
        element = inspection.element(key)
        loads = element.settings["loads"] if "loads" in element.kind.declared() else ()
        if element.stage is not None and (element.kind.is_load(element.settings) or loads):
            yield element


def _coldest_with_cooling(inspection, load):
    """Return the coldest stage below the load's with cooling power for what it absorbs."""
    names = list(inspection.layout.stages)
    watt = 0.0
    if inspection.power:
        watt = sum(tone.absorbed_w.get(load.id, 0.0) for tone in inspection.power.tones.values())
    now = inspection.layout.temperature_k(load)
    for name in reversed(names):
        stage = inspection.layout.stages[name]
        if stage.temperature_k >= now:
            return None
        can = cooling_w(stage, stage.temperature_k)
        if watt <= 0 or (can and watt <= inspection.margin("dumped") * can):
            return name
    return None


def _costs(inspection, load, colder):
    """Yield (what, quanta from the load now, quanta from it on the colder stage)."""
    kelvin = inspection.layout.stages[colder].temperature_k
    moved = inspection.layout.with_settings(
        {load.id: {"temperature": Quantity(kelvin, "temperature", f"{kelvin:g} K")}}
    )
    for signal in inspection.received:
        budget = inspection.budget(signal.name)
        share = None if budget is None else budget.shares_quanta.get(load.id)
        if share is None or share.max() <= inspection.margin("load"):
            continue
        other = inspection.budget_of(moved, signal.name)
        if other is not None:
            at = int(np.argmax(share))
            yield signal.name, float(share[at]), float(other.shares_quanta[load.id][at])
    for port, (shares, _) in inspection.arrivals.items():
        share = shares.get(load.id)
        if share is None or share.max() <= inspection.margin("load"):
            continue
        at = int(np.argmax(share))
        now, then = thermal_photons(
            frequency_hz=inspection.frequency_hz[at],
            temperature_k=np.array([inspection.layout.temperature_k(load), kelvin]),
        )
        yield ".".join(port), float(share[at]), float(share[at] * then / now)
