"""Tones where nobody wants them: at the device, in cold loads, near compression."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from chain.advice.rules import ERROR, WARNING, Remark, rule
from chain.layout.cooling import cooling_w
from chain.writing.numbers import si
from components.quantities import watt_to_dbm

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection


def _dbm(watt):
    return f"{float(watt_to_dbm(watt)):.1f} dBm"


@rule(
    "pump-to-device", ERROR,
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
    element = inspection.element(hop.id)
    wanted = "false" if element.settings["reversed"] else "true"
    return Remark(
        (hop.id, paramp.id),
        f"{hop.id} sends {_dbm(back)} of {tone.name} back toward the device and "
        f"{_dbm(on)} on to {paramp.id}",
        f"reverse {hop.id} (reversed: {wanted}), or feed the pump into its other side port",
    )


@rule(
    "pump-dumped-cold", WARNING, margins=("dumped",),
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
                _elsewhere(inspection, element, watt),
                level=ERROR if watt > can else None,
            )


def _elsewhere(inspection, element, watt):
    """Return what would move the heat to a warmer stage."""
    warmer = _carrying(inspection, element.stage, watt)
    to = f"on {warmer}" if warmer else "on a warmer stage"
    loads = element.settings["loads"] or () if "loads" in element.kind.declared() else ()
    if loads:
        port = f"{element.id}.{loads[-1]}"
        return f"take {port} out of its load and join a line to it that ends in a termination {to}"
    if element.kind.absorbs:
        return f"put {element.id} {to}"
    return f"keep the tone away from {element.id}, or take one with less loss, or send less"


def _carrying(inspection, cold, watt):
    """Return the coldest stage above `cold` that can cool the power within the margin."""
    names = list(inspection.layout.stages)
    for name in reversed(names[: names.index(cold)]):
        stage = inspection.layout.stages[name]
        can = cooling_w(stage, stage.temperature_k)
        if can and watt <= inspection.margin("dumped") * can:
            return name
    return None


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
            "send less, or take the tones out before it: a filter, a diplexer",
            level=ERROR if left < 0 else None,
        )
