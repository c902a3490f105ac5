"""Noise by other paths than the signal's: photons at the device, side ports, warm loads."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.advice.changes import move, pads_along, put_in, send, set_value
from chain.advice.rules import WARNING, Remark, rule
from chain.layout.cooling import cooling_w
from chain.network.generators import generators_of
from chain.network.path import least_loss_path
from chain.power.warming import NOTICED
from chain.writing.numbers import number, si
from components.quantities import Quantity, decibels, parse
from components.thermal_noise import photons as thermal_photons

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection

STEPS_DB = (10.0, 20.0)
"""What further attenuators are tried with."""


@rule(
    "thermal-photons", WARNING, margins=("photons", "own_photons"),
    why="photons that a line lets through dephase a qubit, fill a resonator, and are counted as "
    "signal",
    source="S. Krinner et al., EPJ Quantum Technology 6:2 (2019), second-hand",
)
def thermal_photons_at_device(inspection: Inspection) -> Iterator[Remark]:
    """Look at the photons that arrive at every port of every device, and where they come from.

    What the device's own stage gives is no fault of the lines, and is left out.
    """
    received = {signal.from_port for signal in inspection.received}
    for port, (shares, total) in inspection.arrivals.items():
        found = inspection.excess.get(port)
        if found is None or found.worst <= found.limit:
            continue
        at = found.at
        most = sorted(shares, key=lambda key: -shares[key][at])[:3]
        parts = ", ".join(f"{key} {number(float(shares[key][at]), 3)}" for key in most)
        own = "" if found.own < 0.1 * inspection.margin("photons") else (
            f", {number(found.own, 3)} of them as its own stage gives")
        remedies = _isolate if port in received else _attenuate
        yield Remark(
            (port[0], *most[:1]),
            f"{number(float(total[at]), 3)} photons arrive at {'.'.join(port)} at "
            f"{inspection.frequency_hz[at] / 1e9:.4g} GHz (most from {parts}){own}",
            remedies(inspection, port, most, at), about=(("photons", ".".join(port)),),
        )


def _repairs(inspection, port):
    """Yield Remedies that repair what is out of order on the lines to a port."""
    for key in inspection.layout.connected(port[0]):
        if inspection.element(key).settings["state"] != "ok" and key in inspection.ids:
            yield set_value(inspection, f"repair {key}", key, state="ok")


def _filter_generator(inspection, key, at):
    """Yield what helps where most of what a connector emits is the noise beside its tones."""
    sent = generators_of(inspection.layout).get(key, ())
    f, element = inspection.frequency_hz[[at]], inspection.element(key)
    beside = sum(float(one.quanta(f)[0]) for one in sent)
    thermal = thermal_photons(
        frequency_hz=f, temperature_k=inspection.layout.temperature_k(element)
    )
    if beside <= float(thermal[0]):
        return
    tones = ", ".join(dict.fromkeys(one.tone for one in sent))
    yield (
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


def _isolate(inspection, port, most, at):
    """Yield Remedies where the signal leaves by the port: attenuation would cost it."""
    yield from _filter_generator(inspection, most[0], at)
    yield from _repairs(inspection, port)
    stage = inspection.element(port[0]).stage
    emitter = inspection.element(most[0])
    for count in (1, 2) if stage is not None else ():
        isolation = parse(f"{20 * count} dB", "ratio")
        many = "an isolator" if count == 1 else "two isolators"
        yield put_in(
            inspection, f"{many} behind {'.'.join(port)} on {stage}", port, "isolation",
            stage=stage, isolation=isolation, insertion_loss=parse(f"{0.3 * count} dB", "ratio"),
        )
    if emitter.kind.passive and stage is not None and emitter.stage not in (None, stage):
        yield move(inspection, emitter.id, stage)
    yield f"more isolation between {port[0]} and what emits ({most[0]})"


def _attenuate(inspection, port, most, at):
    """Yield Remedies where nothing is received by the port: pads, at each stage, or moved colder.
    """
    yield from _filter_generator(inspection, most[0], at)
    yield from _repairs(inspection, port)
    if (warm := by_itself(inspection, most[0])) is not None:
        yield from _sent_weaker(inspection, most[0])
        yield warm
    network = inspection.network(port[0])
    hops = _line_to(inspection, network, port) if network is not None else ()
    order = list(inspection.layout.stages)
    stage = inspection.element(port[0]).stage
    for hop in hops:
        element = inspection.element(hop.id)
        if element.kind.absorbs and stage is not None and element.stage is not None \
                and order.index(element.stage) < order.index(stage):
            yield move(inspection, hop.id, stage)
    if hops:
        for step in STEPS_DB:
            yield from pads_along(inspection, hops, step)
    yield f"keep what emits ({most[0]}) from {port[0]}: isolation, a filter, a colder stage"


def _sent_weaker(inspection, key):
    """Yield Remedies that send less of the tone that warms an element most."""
    tones = inspection.power.tones.values() if inspection.power else ()
    strongest = max(tones, key=lambda tone: tone.absorbed_w.get(key, 0.0), default=None)
    if strongest is not None:
        name = inspection.power.idler_of.get(strongest.name, strongest.name)
        for step in (-10.0, -20.0):
            yield send(inspection, name, step)


def _line_to(inspection, network, port):
    """Return the Hops of the line that leads to a port from outside with the least loss."""
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
    return best[1] if best else ()


@rule(
    "side-port-noise", WARNING, margins=("side_port_noise", "share"),
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
    system = float(budget.system_noise_quanta[at])
    if whole[at] <= inspection.least_share("side_port_noise", system):
        return
    most = sorted(ids, key=lambda key: -above[key][at])[:3]
    parts = ", ".join(f"{key} {number(float(above[key][at]), 3)}" for key in most)
    yield Remark(
        (most[0],),
        f"{number(float(whole[at]), 3)} of {number(float(budget.system_noise_quanta[at]), 4)} "
        f"quanta of system noise of {signal.name} come in by line {line}, its vacuum left out "
        f"({parts})",
        _quieter_line(inspection, signal, line, most, at), about=(("noise", signal.name),),
    )


def _quieter_line(inspection, signal, line, most, at):
    """Yield Remedies for a line that brings noise: pads on it, or its loads and pads colder."""
    yield from _filter_generator(inspection, most[0], at)
    yield from _repairs(inspection, signal.from_port)
    order = list(inspection.layout.stages)
    outside = next((key for key in inspection.layout.lines[line].elements
                    if inspection.element(key).kind.outside), None)
    network = inspection.network(signal.from_port[0])
    for key in most:
        element = inspection.element(key)
        if element.kind.absorbs and element.stage is not None:
            for stage in order[order.index(element.stage) + 1 :][::-1]:
                yield move(inspection, key, stage)
    if outside is not None and network is not None:
        path = inspection.path_of(signal)
        ends = [(hop.id, hop.enter) for hop in path.hops] if path is not None else []
        port = (outside, inspection.element(outside).ports[0])
        runs = [run for end in ends if (run := least_loss_path(network, port, end))]
        own = [hop for hop in min(runs, key=len, default=())
               if inspection.element(hop.id).line == line]
        yield from pads_along(inspection, own, STEPS_DB[0])
    yield f"attenuate line {line} more and colder, filter it, or couple it more weakly"


@rule(
    "warm-load", WARNING, variants=True, margins=("load", "dumped", "share"),
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
            least = inspection.margin("load")
            if said in inspection.layout.signals:
                least = inspection.least_share("load", inspection.noise_quanta(said))
            if cost - left <= least:
                continue
            yield Remark(
                (load.id,),
                f"{load.id} gives {number(cost, 3)} quanta to {said} from "
                f"{si(inspection.layout.temperature_k(load), 'K', 3)}; at {colder} it would be "
                f"{number(left, 3)}",
                _colder_load(inspection, load, colder),
                about=(("noise" if said in inspection.layout.signals else "photons", said),),
            )
            break


def _colder_load(inspection, load, colder):
    """Yield Remedies that put a load on a colder stage."""
    names = list(inspection.layout.stages)
    now = inspection.layout.temperature_k(load)
    for name in names[: names.index(colder) + 1][::-1]:
        if inspection.layout.stages[name].temperature_k < now:
            yield move(inspection, load.id, name)


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
