"""Layouts with parts moved, put in, exchanged or led elsewhere: pure functions of a Layout.

They do what a hand would do in the file, on the typed layout: joints, lines and anchors follow.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from chain.layout.layout import Element, Joint, Line
from components.declaration import usual_part
from components.quantities import Quantity
from components.settings import Settings

if TYPE_CHECKING:
    from chain.layout.layout import Layout, Port

class CannotEdit(ValueError):
    """The layout has no place where the change could be made."""


def _changed(layout: Layout, **parts: Any) -> Layout:
    return replace(layout, **parts, written=layout.written or layout, derived="changed")


def free_id(layout: Layout, like: str) -> str:
    """Return an id that the layout does not have yet: the letters of `like` and a number."""
    stem = re.sub(r"[^A-Za-z_].*$", "", like) or "X"
    number = 1
    while f"{stem}{number}" in layout.elements:
        number += 1
    return f"{stem}{number}"


def with_value(layout: Layout, keys: Iterable[str], **values: Any) -> Layout:
    """Return the layout with typed values of elements replaced."""
    same: dict[int, Settings] = {}
    elements = dict(layout.elements)
    for key in keys:
        # Copies share their very settings, which is how they are known to solve alike.
        old = elements[key].settings
        new = same.setdefault(id(old), old.with_values(**values))
        elements[key] = replace(elements[key], settings=new)
    return _changed(layout, elements=elements)


def without_value(layout: Layout, keys: Iterable[str], name: str) -> Layout:
    """Return the layout with a value of elements taken away."""
    elements = dict(layout.elements)
    for key in keys:
        elements[key] = replace(elements[key], settings=elements[key].settings.without(name))
    return _changed(layout, elements=elements)


def reversed_element(layout: Layout, keys: Iterable[str]) -> Layout:
    """Return the layout with two-ports turned round: their two ports exchange their joints."""
    turned = {}
    for key in keys:
        ends = layout.elements[key].enter, layout.elements[key].leave
        if None in ends:
            raise CannotEdit(f"{key} has no two ends")
        turned[key, ends[0]], turned[key, ends[1]] = (key, ends[1]), (key, ends[0])
    return _rejoined(layout, turned)


def exchanged_ports(layout: Layout, key: str, one: str, other: str) -> Layout:
    """Return the layout with what is joined to two ports of an element exchanged."""
    first, second = (key, one), (key, other)
    return _rejoined(layout, {first: second, second: first})


def _rejoined(layout, new):
    joints = tuple(
        replace(j, first=new.get(j.first, j.first), second=new.get(j.second, j.second))
        for j in layout.joints
    )
    return _changed(layout, joints=joints)


def exchanged(layout: Layout, one: str, other: str) -> Layout:
    """Return the layout with two elements in each other's place, stages kept."""
    first, second = layout.elements[one], layout.elements[other]
    elements = {
        **layout.elements,
        one: replace(first, kind=second.kind, settings=second.settings),
        other: replace(second, kind=first.kind, settings=first.settings),
    }
    return _changed(layout, elements=elements)


def put_in(
    layout: Layout, ports: Iterable[Port], serves: str, *, stage: str, outward: bool = True,
    **values: Any,
) -> Layout:
    """Return the layout with a usual part (see Kind.serves) at the joint of each of some ports.

    `outward`: its input is joined to the port; else its output is.
    """
    kind, typed = usual_part(serves, **values)
    settings = Settings(kind, typed)
    for port in ports:
        layout = _put_in(layout, port, settings, stage, outward)
    return layout


def _put_in(layout, port, settings, stage, outward):
    partner = layout.partners.get(port)
    if partner is None:
        raise CannotEdit(f"nothing is joined to {'.'.join(port)}")
    kind, beside = settings.kind, layout.elements[port[0]]
    ports = kind.ports(settings)
    key = free_id(layout, kind.name[:1].upper())
    new = Element(
        key, kind, settings, beside.line, beside.place, tuple(ports), ports[0], ports[-1],
        stage=stage,
    )
    near, far = (ports[0], ports[-1]) if outward else (ports[-1], ports[0])
    joints = []
    for joint in layout.joints:
        if {joint.first, joint.second} != {port, partner}:
            joints.append(joint)
            continue
        joints += [replace(joint, first=port, second=(key, near)),
                   replace(joint, first=(key, far), second=partner)]
    lines = _in_line(layout, beside.line, key, port[0])
    elements = {**layout.elements, key: new}
    return _changed(layout, elements=elements, joints=tuple(joints), lines=lines)


def _in_line(layout, name, key, after):
    line = layout.lines[name]
    place = line.elements.index(after) + 1
    own = (*line.elements[:place], key, *line.elements[place:])
    return {**layout.lines, name: replace(line, elements=own)}


def split(layout: Layout, key: str, stage: str) -> tuple[Layout, Port, Port]:
    """Return (layout, end of the first half, start of the second): a cable parted at a stage.

    At the anchor that it has there, or, where it has none, a proportionate length from its start.
    """
    cable = layout.elements[key]
    if cable.from_stage is None or cable.to_stage is None:
        raise CannotEdit(f"{key} runs between no stages")
    names = [name for _, name in _anchors_with(layout, cable, stage)]
    if stage in (names[0], names[-1]):
        raise CannotEdit(f"{key} ends at {stage}")
    parts = _anchors_with(layout, cable, stage)
    at = next(part for part, name in parts if name == stage)
    other = free_id(layout, key)
    first = _stretch(cable, parts, 0.0, at)
    second = replace(_stretch(cable, parts, at, 1.0), id=other, copy_of=None, number=None)
    enter, leave = cable.ports[0], cable.ports[-1]
    here, there = (key, leave), (other, enter)
    joints = tuple(
        replace(
            j, first=(other, leave) if j.first == here else j.first,
            second=(other, leave) if j.second == here else j.second,
        ) for j in layout.joints
    )
    joints = (*joints, Joint(here, there, cable.place))
    lines = _in_line(layout, cable.line, other, key)
    if cable.enter not in (None, enter):
        line = lines[cable.line]
        swapped = {key: other, other: key}
        lines = {**lines, line.name: replace(
            line, elements=tuple(swapped.get(one, one) for one in line.elements))}
    elements = {**layout.elements, key: first, other: second}
    return _changed(layout, elements=elements, joints=joints, lines=lines), here, there


def _anchors_with(layout, cable, stage):
    """Return ((distance over length, stage), ...) with one at `stage` too; raises CannotEdit."""
    parts = list(cable.anchored)
    if stage in [name for _, name in parts]:
        return parts
    order = list(layout.stages)
    for place in range(len(parts) - 1):
        (low, one), (high, other) = parts[place], parts[place + 1]
        between = sorted((order.index(one), order.index(other)))
        if between[0] < order.index(stage) < between[1]:
            return [*parts[: place + 1], ((low + high) / 2, stage), *parts[place + 1 :]]
    raise CannotEdit(f"{cable.id} does not pass {stage}")


def _stretch(cable, parts, start, end):
    """Return a cable's stretch between two distances over its length."""
    inside = [(part, name) for part, name in parts if start <= part <= end]
    values = dict(cable.settings.values)
    share = end - start
    via = []
    if "length" in values:
        whole = values["length"].value
        values["length"] = _quantity(share * whole, "length", "m")
        via = [(name, (part - start) * whole) for part, name in inside[1:-1]]
    if isinstance(values.get("loss"), Quantity):
        values["loss"] = _quantity(share * values["loss"].value, "ratio", "dB")
    elif "loss" in values or "data" in values:
        raise CannotEdit(f"the loss of half of {cable.id} is not known")
    return replace(
        cable, settings=Settings(cable.kind, values), from_stage=inside[0][1],
        to_stage=inside[-1][1], via=tuple(via),
    )


def _quantity(value, dimension, unit):
    return Quantity(float(value), dimension, f"{value:.4g} {unit}")


def anchored_at(layout: Layout, keys: Iterable[str], stages: Iterable[str]) -> Layout:
    """Return the layout with cables anchored at more stages on their way, halfway between."""
    elements = dict(layout.elements)
    for key in keys:
        for stage in stages:
            cable = elements[key]
            parts = _anchors_with(layout, cable, stage)
            if not cable.settings.given("length"):
                raise CannotEdit(f"the length of {key} is not given")
            whole = cable.settings["length"].value
            via = tuple((name, part * whole) for part, name in parts[1:-1])
            elements[key] = replace(cable, via=via)
    return _changed(layout, elements=elements)


def on_stage(layout: Layout, key: str, stage: str) -> Layout:
    """Return the layout with an element on another stage; a cable beside it is parted there.

    Where a line ends in the element its cable is cut or drawn out to the stage instead.
    """
    element = layout.elements[key]
    if len(element.ports) == 1:
        partner = layout.partners.get((key, element.ports[0]))
        cable = layout.elements[partner[0]] if partner is not None else None
        if cable is not None and cable.from_stage is not None and partner is not None:
            layout = drawn_to(layout, cable, partner, stage)
        return placed(layout, key, stage)
    for port in (element.ports[0], element.ports[-1]) if len(element.ports) == 2 else ():
        for cable, near in _cables_from(layout, (key, port)):
            far = (cable.id, next(p for p in cable.ports if p != near[1]))
            try:
                cut, end, start = split(layout, cable.id, stage)
            except CannotEdit:
                beyond = layout.partners.get(far)
                ends = cable.from_stage if far[1] == cable.ports[0] else cable.to_stage
                if ends == stage and beyond is not None:
                    return placed(_between(layout, key, port, far, beyond), key, stage)
                continue
            sides = (end, start) if near[1] == cable.ports[0] else (start, end)
            return placed(_between(cut, key, port, *sides), key, stage)
    if len(element.ports) == 2 and element.stage != stage:
        raise CannotEdit(f"no cable leads from {key} to {stage}")
    # Of more ports nobody can say which cables are to be drawn out: it is placed there.
    return placed(layout, key, stage)


def _cables_from(layout, port):
    """Yield (cable, the port by which it is met) along the line that a port starts, as it goes."""
    while (there := layout.partners.get(port)) is not None:
        element = layout.elements[there[0]]
        if len(element.ports) != 2 or element.kind.is_device:
            return
        if element.from_stage is not None and element.from_stage != element.to_stage:
            yield element, there
        port = element.id, next(p for p in element.ports if p != there[1])


def placed(layout: Layout, key: str, stage: str) -> Layout:
    """Return the layout with an element said to stand on another stage, nothing else moved."""
    element = layout.elements[key]
    settings = element.settings.without("temperature") if element.settings.given(
        "temperature") else element.settings
    elements = {**layout.elements, key: replace(element, stage=stage, settings=settings)}
    return _changed(layout, elements=elements)


def drawn_to(layout: Layout, cable: Element, end: Port, stage: str) -> Layout:
    """Return the layout with that end of a cable led to another stage."""
    first = end[1] == cable.ports[0]
    try:
        parts = _anchors_with(layout, cable, stage)
    except CannotEdit:
        new = replace(cable, from_stage=stage) if first else replace(cable, to_stage=stage)
    else:
        at = next(part for part, name in parts if name == stage)
        if at == (1.0 if first else 0.0):
            raise CannotEdit(f"nothing would be left of {cable.id}")
        new = _stretch(cable, parts, *((at, 1.0) if first else (0.0, at)))
    return _changed(layout, elements={**layout.elements, cable.id: new})


def _between(layout, key, port, near, far):
    """Return the layout with a two-port taken out of its place and put between two joined ports.

    `near` is the one that is met first from its port `port`.
    """
    element = layout.elements[key]
    facing = key, port
    other = key, next(p for p in element.ports if p != port)
    before, behind = layout.partners.get(facing), layout.partners.get(other)
    if before is None or behind is None:
        raise CannotEdit(f"{key} does not stand between two others")
    kept = [
        j for j in layout.joints
        if not {j.first, j.second} & {facing, other} and {j.first, j.second} != {near, far}
    ]
    joints = ((far, facing), (other, near), (before, behind))
    new = [Joint(one, two, element.place) for one, two in joints]
    return _changed(layout, joints=(*kept, *new))


def led_to_load(layout: Layout, port: Port, stage: str, like: str) -> Layout:
    """Return the layout with a loaded port joined to a cable that ends in a load on a stage.

    The cable is as the cable `like`, straight between the two stages.
    """
    element, model = layout.elements[port[0]], layout.elements[like]
    if element.stage is None or model.from_stage is None:
        raise CannotEdit(f"{port[0]} stands on no stage")
    cable, load = free_id(layout, model.id), free_id(layout, "T")
    kind, values = usual_part("load")
    line = free_id(layout, "L")
    new = {
        element.id: replace(
            element, ports=(*element.ports, port[1]),
            settings=element.settings.with_values(
                loads=tuple(p for p in element.settings["loads"] if p != port[1])
            ),
        ),
        cable: replace(
            model, id=cable, line=line, from_stage=element.stage, to_stage=stage, via=(),
            copy_of=None, number=None,
        ),
        load: Element(
            load, kind, Settings(kind, values), line, element.place, ("in",), "in", None,
            stage=stage,
        ),
    }
    joints = (
        Joint(port, (cable, model.ports[0]), element.place),
        Joint((cable, model.ports[-1]), (load, "in"), element.place),
    )
    lines = {**layout.lines, line: Line(line, (cable, load), element.place)}
    return _changed(
        layout, elements={**layout.elements, **new}, joints=(*layout.joints, *joints), lines=lines
    )


def with_tone_power(layout: Layout, name: str, change_db: float) -> Layout:
    """Return the layout with a tone sent at another level (dB)."""
    tone, factor = layout.tones[name], 10 ** (change_db / 10)
    if tone.arriving is not None:
        new = replace(tone, arriving=(tone.arriving[0], tone.arriving[1] * factor))
    else:
        new = replace(tone, power_w=(tone.power_w or 0.0) * factor)
    return _changed(layout, tones={**layout.tones, name: new})
