"""How parts hang together: stages that a joint skips, lengths, direct current, infrared, pads."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from chain.advice.changes import edit, set_value, stage_at, typed
from chain.advice.remedies import Remedy
from chain.advice.rules import CAUSE, ERROR, NOTE, WARNING, Remark, rule
from chain.layout import edits
from chain.writing.numbers import si
from components.direct_current import passage
from components.quantities import Quantity, parse

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection
    from chain.layout.layout import Port


@rule(
    "stage-skipped", ERROR, cause=CAUSE,
    why="two parts on different stages are joined by something that conducts heat, and what the "
    "layout does not have is in no heat load",
)
def stage_skipped(inspection: Inspection) -> Iterator[Remark]:
    """Look at the stages on both sides of every joint."""
    known = set(inspection.ids)
    for joint in inspection.layout.joints:
        ports = joint.first, joint.second
        stages = [stage_at(inspection, port) for port in ports]
        if None in stages or stages[0] == stages[1] or ports[0][0] not in known:
            continue
        one, other = ports
        here, there = (name or "" for name in stages)
        temperatures = {inspection.layout.stages[name].temperature_k for name in (here, there)}
        if len(temperatures) < 2:
            continue
        yield Remark(
            (one[0], other[0]),
            f"{'.'.join(one)} is on {here} and {'.'.join(other)}, joined to it, on {there}, "
            "without a cable between",
            _same_stage(inspection, one, other), joint.place,
        )


def _same_stage(inspection, one, other):
    """Yield Remedies that put both sides of a joint on one stage."""
    stages = {port: stage_at(inspection, port) for port in (one, other)}
    for port, target in ((one, stages[other]), (other, stages[one])):
        element = inspection.element(port[0])
        every = inspection.alike(port[0])
        if element.from_stage is None:
            yield Remedy(f"{port[0]} on {target}", _each(every, edits.placed, target))
        else:
            yield Remedy(f"lead {port[0]} to {target}", _led(every, port[1], target))
    yield "join them by a cable that runs between the two stages"


def _each(keys, change, *arguments):
    def changed(layout):
        for key in keys:
            layout = change(layout, key, *arguments)
        return layout

    return changed


def _led(keys, port, stage):
    def changed(layout):
        for key in keys:
            layout = edits.drawn_to(layout, layout.elements[key], (key, port), stage)
        return layout

    return changed


SHORTEST_M = 0.01
"""Shortest cable between two stages that is believed: their plates are further apart (common
practice, no source)."""


@rule(
    "length-unlikely", WARNING, margins=("length",), cause=CAUSE,
    why="heat goes with one over the length and loss with the length, so a slip in its unit puts "
    "both out by orders of magnitude",
)
def length_unlikely(inspection: Inspection) -> Iterator[Remark]:
    """Look at the length of everything that runs between two stages."""
    for key in inspection.ids:
        element = inspection.element(key)
        if not element.kind.spans_stages or element.from_stage in (None, element.to_stage):
            continue
        length = element.settings["length"]
        if length is None or SHORTEST_M <= length.value <= inspection.margin("length"):
            continue
        yield Remark(
            (key,),
            f"{key} between {element.from_stage} and {element.to_stage} is "
            f"{si(length.value, 'm', 3)} long",
            _likely(inspection, key, length.value), element.place_of("length"),
        )


def _likely(inspection, key, length_m):
    """Yield the lengths that a slip in the unit would have made of."""
    for factor in (0.01, 0.1, 0.001, 10.0, 100.0, 1000.0):
        new = factor * length_m
        if 0.05 <= new <= 1.5:
            text = f"{new:.3g} m"
            yield set_value(
                inspection, f"{text} in its place, if that was meant", key,
                length=typed(inspection, key, "length", text),
            )
    yield "measure it; accept length-unlikely where it is so"


@rule(
    "beyond-single-mode", WARNING,
    why="above the cut-off of its first higher mode a coax carries two waves that beat with each "
    "other, and neither its loss nor its phase is what its data say",
    source="D. M. Pozar, Microwave Engineering, section 3.5, TE11 of a coax; from memory",
)
def beyond_single_mode(inspection: Inspection) -> Iterator[Remark]:
    """Look at the cut-off of TE11 in every coax, against the band and the tones."""
    layout = inspection.layout
    highest = {key: ("the band", layout.band.stop_hz) for key in inspection.ids}
    for path in inspection.paths:
        if path.tone:
            f = layout.tones[path.name].frequency_hz
            for key in path.ids:
                if key in highest and f > highest[key][1]:
                    highest[key] = path.name, f
    for cable in inspection.having("coax"):
        coax = cable.settings["coax"]
        if coax is None or highest[cable.id][1] <= coax.single_mode_hz:
            continue
        name, f = highest[cable.id]
        yield Remark(
            (cable.id,),
            f"{cable.id}, {coax.name}, carries one mode up to {si(coax.single_mode_hz, 'Hz', 3)}, "
            f"and {name} reaches {si(f, 'Hz', 3)}",
            _thinner(inspection, cable, f), cable.place_of("coax"),
        )


def _thinner(inspection, cable, frequency_hz):
    coax = cable.settings["coax"]
    fit = [row for row in inspection.layout.coax.values()
           if row.single_mode_hz > frequency_hz and row.outer.material is coax.outer.material]
    for row in sorted(fit, key=lambda row: row.single_mode_hz)[:2]:
        yield set_value(inspection, f"{row.name} in its place", cable.id, coax=row)
    yield "a thinner coax"


DC_HZ = 1e8
"""A band that starts below this is of a line that carries slow currents: flux, gates, bias (common
practice, no source)."""


@rule(
    "dc-blocked", ERROR, cause=CAUSE,
    why="a line that has to carry a direct or a slow current does not carry it through a part that "
    "is open at dc",
)
def dc_blocked(inspection: Inspection) -> Iterator[Remark]:
    """Look along lines to dc ports, and along signals whose band starts near dc."""
    seen = set()
    for key in inspection.ids:
        port = inspection.element(key).kind.dc_port
        if port is not None and (key, port) in inspection.layout.partners:
            for other in _run(inspection, (key, port)):
                seen.add(other)
                yield _blocked(inspection, other, f"feeds {key}.{port}")
    for signal in inspection.signals:
        band = getattr(signal, "band", None) or inspection.layout.band
        path = inspection.path_of(signal)
        received = signal in inspection.received
        if band.start_hz >= DC_HZ or path is None or received:
            continue
        for hop in path.hops:
            element = inspection.element(hop.id)
            if hop.id not in seen and _blocks(element, hop.enter, hop.leave):
                seen.add(hop.id)
                yield _blocked(inspection, hop.id, f"carries {signal.name}, whose band starts at "
                               f"{si(band.start_hz, 'Hz', 3)}")


def _run(inspection: Inspection, port: Port) -> Iterator[str]:
    """Yield ids of what blocks direct current on the run of two-ports joined to a port."""
    layout = inspection.layout
    visited = {port}
    while (there := layout.partners.get(port)) is not None:
        element = layout.elements[there[0]]
        others = [one for one in element.ports if one != there[1]]
        if len(others) != 1 or (element.id, others[0]) in visited:
            return
        if _blocks(element, there[1], others[0]):
            yield element.id
        port = element.id, others[0]
        visited.add(port)


def _blocks(element, enter, leave):
    """Tell whether direct current is known not to get from one port of an element to another."""
    found = passage(element.kind, element.settings, enter)
    return found is not None and (found.blocks or found.leave not in (None, leave))


def _blocked(inspection, key, said):
    element = inspection.element(key)
    return Remark(
        (key,), f"{key} ({element.kind.name}) passes no direct current, and its line {said}",
        set_value(inspection, f"take {key} out", key, state="bypassed"),
    )


COLD_K = 0.1
"""Devices below this are judged for infrared."""


@rule(
    "no-infrared-filter", NOTE,
    why="what warm stages radiate far above the band goes down a coax past pads and metal filters, "
    "and breaks pairs in superconductors",
    source="common practice, no source",
)
def no_infrared_filter(inspection: Inspection) -> Iterator[Remark]:
    """Look for an absorber of infrared between every cold device and the outside.

    A warning where other ports of devices have one: then one was forgotten.
    """
    received = {signal.from_port for signal in inspection.received}
    found = {
        (device.id, port): _filtered(inspection, (device.id, port))
        for device in inspection.devices
        if inspection.layout.temperature_k(device) <= COLD_K
        for port in device.ports if len(device.ports) == 1 or (device.id, port) not in received
    }
    bare = [port for port, filtered in found.items() if not filtered]
    for port in bare:
        yield Remark(
            port[:1], f"no infrared filter stands before {'.'.join(port)}",
            _absorbers(inspection, bare), level=WARNING if len(bare) < len(found) else None,
            each="have no infrared filter before them",
        )


def _filtered(inspection, port):
    """Tell whether an absorber stands on the run of parts from a port as far as it is one line."""
    layout = inspection.layout
    waiting, visited = [port], set()
    while waiting:
        there = layout.partners.get(waiting.pop())
        if there is None or there[0] in visited:
            continue
        visited.add(there[0])
        element = layout.elements[there[0]]
        if element.kind.serves == "infrared" and element.settings["state"] == "ok":
            return True
        if element.kind.spans_stages and element.from_stage != element.to_stage:
            continue
        if element.kind.is_device or not element.kind.passive:
            continue
        waiting += [(element.id, one) for one in element.ports if one != there[1]]
    return False


def _absorbers(inspection, ports):
    """Yield the Remedy that puts an absorber before every port that has none."""
    def change(layout):
        for port in ports:
            stage = layout.elements[port[0]].stage
            if stage is not None:
                every = [(key, port[1]) for key in inspection.alike(port[0])]
                layout = edits.put_in(layout, every, "infrared", stage=stage, outward=False)
        return layout

    named = ", ".join(".".join(port) for port in ports)
    yield Remedy(f"an infrared filter before {named}", change)


LEAST_PADS_DB = 30.0
"""Attenuation of a line from which on it is asked where it stands."""


@rule(
    "attenuation-all-cold", WARNING,
    why="all that a line's pads absorb then heats the coldest stage, and its centre conductor "
    "arrives there as warm as the stage where it started",
)
def attenuation_all_cold(inspection: Inspection) -> Iterator[Remark]:
    """Look at the stages of the pads on every line from outside to a device."""
    coldest = list(inspection.layout.stages)[-1]
    for signal in inspection.signals:
        path = inspection.path_of(signal)
        if path is None or not inspection.element(signal.start[0]).kind.outside:
            continue
        pads = [
            element for hop in path.hops if (element := inspection.element(hop.id)).kind.absorbs
            and isinstance(element.settings["loss"], Quantity)
        ]
        total = sum(pad.settings["loss"].value for pad in pads)
        if total < LEAST_PADS_DB or any(pad.stage != coldest for pad in pads):
            continue
        most = max(pads, key=lambda pad: pad.settings["loss"].value)
        yield Remark(
            (most.id,),
            f"all {total:g} dB of attenuation of {signal.name} stand on {coldest}",
            _spread(inspection, path, most),
        )


def _spread(inspection, path, pad):
    """Yield Remedies that put part of a pad on warmer stages."""
    layout = inspection.layout
    for hop in path.hops:
        cable = inspection.element(hop.id)
        for stage in [name for _, name in cable.anchored]:
            kelvin = layout.stages[stage].temperature_k
            if not 0.5 < kelvin < 10.0:
                continue
            half = min(20.0, pad.settings["loss"].value / 2)
            yield edit(f"{half:g} dB of it on {stage}, in {hop.id}", _moved_part,
                       inspection.alike(hop.id), inspection.alike(pad.id), stage, half)
    yield "put 20 dB of it at about 4 K"


def _moved_part(layout, cables, pads, stage, part_db):
    loss = parse(f"{part_db:g} dB", "ratio")
    ports = []
    for key in cables:
        ends = {name: n for n, (_, name) in enumerate(layout.elements[key].anchored)}
        if stage in ends and ends[stage] in (0, len(ends) - 1):
            cable = layout.elements[key]
            ports.append((key, cable.ports[0] if ends[stage] == 0 else cable.ports[-1]))
        else:
            layout, end, _ = edits.split(layout, key, stage)
            ports.append(end)
    rest = layout.elements[pads[0]].settings["loss"].value - part_db
    layout = edits.with_value(layout, pads, loss=parse(f"{rest:g} dB", "ratio"))
    return edits.put_in(layout, ports, "attenuation", stage=stage, loss=loss)
