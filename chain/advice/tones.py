"""Tones where nobody wants them: at the device, in cold loads, near compression."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from chain.advice.changes import edit, move, send
from chain.advice.remedies import Remedy
from chain.advice.rules import CAUSE, ERROR, WARNING, Remark, rule
from chain.layout import edits
from chain.layout.cooling import cooling_w
from chain.writing.numbers import si
from components.quantities import watt_to_dbm

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection


def _dbm(watt):
    return f"{float(watt_to_dbm(watt)):.1f} dBm"


@rule(
    "pump-to-device", ERROR, cause=CAUSE,
    why="a pump is orders of magnitude stronger than any signal: at the device it heats, drives "
    "and shifts it, and what was meant for the paramp is missing there",
    source="a coupler sends what comes into its coupled port out of its port `in` (D. M. Pozar, "
    "Microwave Engineering, ch. 7, from memory)",
)
def pump_to_device(inspection: Inspection) -> Iterator[Remark]:
    """Look where a pump joins the path to its paramp: in which direction most of it goes."""
    for paramp in inspection.paramps:
        tone = inspection.power and inspection.power.tones.get(paramp.settings["pump"])
        if not tone or not paramp.kind.pumps(paramp.settings):
            continue
        for hop in _before(inspection, paramp):
            if len(inspection.element(hop.id).kind.ports(inspection.element(hop.id).settings)) < 3:
                continue
            back, on = (
                tone.while_on_w(tone.outgoing_w.get(f"{hop.id}.{port}", 0.0))
                for port in (hop.enter, hop.leave)
            )
            if back > on:
                yield _pump_remark(inspection, paramp, tone, hop, back, on)


def _before(inspection, paramp):
    """Return the hops of received signals from their device up to a paramp."""
    for signal in inspection.received:
        path = inspection.path_of(signal)
        ids = [hop.id for hop in path.hops] if path is not None else []
        if paramp.id in ids:
            return path.hops[: ids.index(paramp.id)]
    return ()


def _pump_remark(inspection, paramp, tone, hop, back, on):
    return Remark(
        (hop.id, paramp.id),
        f"{hop.id} sends {_dbm(back)} of {tone.name} back toward the device and "
        f"{_dbm(on)} on to {paramp.id}",
        _other_way(inspection, hop), about=(("at device", _device(inspection, paramp), tone.name),),
    )


def _device(inspection, paramp):
    """Return the id of the device whose signal a paramp amplifies."""
    for signal in inspection.received:
        path = inspection.path_of(signal)
        if path is not None and paramp.id in path.ids:
            return signal.from_port[0]
    return ""


def _other_way(inspection, hop):
    """Yield Remedies for a coupler that sends the pump the wrong way: its ports exchanged."""
    joined = [p for p in inspection.element(hop.id).ports if p not in (hop.enter, hop.leave)]
    yield Remedy(
        f"reverse {hop.id}: exchange what is joined to {hop.enter} and {hop.leave}",
        lambda layout: edits.exchanged_ports(layout, hop.id, hop.enter, hop.leave),
    )
    if len(joined) == 2:
        yield Remedy(
            f"feed the pump into the other side port of {hop.id}",
            lambda layout: edits.exchanged_ports(layout, hop.id, *joined),
        )
    yield f"reverse {hop.id}, or feed the pump into its other side port"


@rule(
    "pump-dumped-cold", WARNING, cause=CAUSE, margins=("dumped",),
    why="a cold stage has little cooling power, and what a tone dissipates there warms all on it",
    source="the stage's own cooling table",
)
def pump_dumped_cold(inspection: Inspection) -> Iterator[Remark]:
    """Look at what every element absorbs of every tone, against the cooling power of its stage."""
    for tone in inspection.power.tones.values() if inspection.power else ():
        for key, watt in tone.absorbed_w.items():
            element = inspection.element(key)
            stage = inspection.layout.stages.get(element.stage or "")
            can = cooling_w(stage, stage.temperature_k) if stage else None
            if stage is None or not can or key not in inspection.ids:
                continue
            if watt <= inspection.margin("dumped") * can:
                continue
            yield Remark(
                (key,),
                f"{key} absorbs {si(watt, 'W', 3)} of {tone.name} at {stage.name}, "
                f"{100 * watt / can:.3g} % of that stage's cooling power at "
                f"{si(stage.temperature_k, 'K', 3)} ({si(can, 'W', 3)})",
                _elsewhere(inspection, element, tone.name, watt, can),
                level=ERROR if watt > can else None, about=(
                    ("absorbed", key, tone.name), ("heat", stage.name)),
            )


def _elsewhere(inspection, element, tone, watt, can):
    """Yield Remedies that take the heat to a warmer stage, or send less."""
    order = list(inspection.layout.stages)
    warmer = order[: order.index(element.stage)][::-1]
    loads = element.settings["loads"] or () if "loads" in element.kind.declared() else ()
    like = next((key for key in inspection.ids
                 if element.stage in (inspection.element(key).from_stage,
                                      inspection.element(key).to_stage)), None)
    for port in loads if like is not None else ():
        for stage in warmer:
            yield edit(
                f"take {element.id}.{port} out of its load and join a line to it that ends in a "
                f"termination on {stage}", edits.led_to_load, (element.id, port), stage, like,
            )
    if element.kind.absorbs:
        for stage in warmer:
            yield move(inspection, element.id, stage)
    most = inspection.margin("dumped") * can
    name = inspection.power.idler_of.get(tone, tone)
    pumps = [x.id for x in inspection.paramps if x.settings["pump"] == name]
    if not pumps:
        yield send(inspection, name, -math.ceil(10 * math.log10(watt / most) + 1e-9))
    yield f"keep the tone away from {element.id}, or take one with less loss, or send less"


@rule(
    "near-compression", WARNING, margins=("compression",),
    why="near compression gain falls, tones mix with each other, and a paramp's noise rises",
)
def near_compression(inspection: Inspection) -> Iterator[Remark]:
    """Look at all tones together at every amplifier, against its compression point."""
    for level in inspection.power.headrooms if inspection.power else ():
        left = level.headroom_db
        least = inspection.margin("compression")
        if level.id not in inspection.ids or left is None or left >= least:
            continue
        far = f"{left:.1f} dB below" if left >= 0 else f"{-left:.1f} dB above"
        yield Remark(
            (level.id,),
            f"all tones give {_dbm(level.on_out_w)} at the output of {level.id}, {far} its "
            f"compression point of {_dbm(level.p1db_out_w)}",
            _less_level(inspection, level, least - left),
            level=ERROR if left < 0 else None, about=(("headroom", level.id),),
        )


def _less_level(inspection, level, missing_db):
    """Yield Remedies for too strong tones: the strongest sent weaker, or taken out before."""
    arriving = {
        tone.name: sum(tone.arriving_w.get(f"{level.id}.{port}", 0.0)
                       for port in inspection.element(level.id).ports)
        for tone in inspection.power.tones.values()
        if tone.name not in inspection.power.idler_of
        and tone.name != inspection.element(level.id).settings.values.get("pump")
    }
    name = max(arriving, key=lambda one: arriving[one], default=None)
    if name is not None:
        if all(x.settings["pump"] != name for x in inspection.paramps):
            yield send(inspection, name, -math.ceil(missing_db + 1e-9))
        band, f = inspection.layout.band, inspection.layout.tones[name].frequency_hz
        if not band.start_hz <= f <= band.stop_hz:
            yield f"take {name} out before {level.id}: a filter, a diplexer"
    yield "send less"
