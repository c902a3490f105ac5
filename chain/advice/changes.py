"""Remedies as rules make them: values set, parts put in, moved, turned, for all equal copies."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

from chain.advice.remedies import Remedy
from chain.layout import edits
from chain.layout.cooling import cooling_w
from chain.layout.variants import Variant
from chain.writing.value_text import value_text
from components.quantities import Quantity, parse

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection
    from chain.layout.layout import Layout, Port
    from chain.network.path import Hop

COLD_AMPLIFIER_K = 10.0
"""Warmest stage for a cold amplifier: there its own noise is no longer that of its heat (common
practice, no source)."""


def typed(inspection: Inspection, key: str, name: str, text: str) -> Any:
    """Return a parameter's value from the words that a layout would have."""
    reads: Any = inspection.element(key).kind.declared()[name].reads
    return parse(text, reads.dimension)


def set_value(inspection: Inspection, says: str, key: str, **values: Any) -> Remedy:
    """Return the Remedy that gives an element and its copies other values."""
    every = inspection.alike(key)
    words = tuple(f"{key}.{name}={value_text(value)}" for name, value in values.items())
    return Remedy.of_variant(
        says, Variant(says, {one: values for one in every}), *words)


def edit(says: str, change: Any, *arguments: Any, **options: Any) -> Remedy:
    """Return the Remedy that is one of chain.layout.edits."""
    return Remedy(says, lambda layout: change(layout, *arguments, **options))


def _ports(inspection: Inspection, port: Port) -> list[Port]:
    return [(key, port[1]) for key in inspection.alike(port[0])]


def put_in(
    inspection: Inspection, says: str, port: Port, serves: str, *, stage: str,
    outward: bool = True, **values: Any,
) -> Remedy:
    """Return the Remedy that puts a usual part behind a port and those of its copies."""
    return edit(says, edits.put_in, _ports(inspection, port), serves, stage=stage,
                outward=outward, **values)


def put_in_at(
    inspection: Inspection, says: str, cable: str, serves: str, *, stage: str, **values: Any
) -> Remedy:
    """Return the Remedy that parts a cable and its copies at a stage and puts a part in there."""
    def change(layout: Layout) -> Layout:
        ports = []
        for key in inspection.alike(cable):
            layout, end, _ = edits.split(layout, key, stage)
            ports.append(end)
        return edits.put_in(layout, ports, serves, stage=stage, **values)

    return Remedy(says, change)


def move(inspection: Inspection, key: str, stage: str) -> Remedy:
    """Return the Remedy that puts an element and its copies on another stage."""
    def change(layout: Layout) -> Layout:
        for one in inspection.alike(key):
            layout = edits.on_stage(layout, one, stage)
        return layout

    return Remedy(f"{key} on {stage}", change)


def reverse(inspection: Inspection, key: str) -> Remedy:
    """Return the Remedy that turns a two-port round."""
    wanted = "false" if inspection.element(key).settings["reversed"] else "true"
    return Remedy(
        f"reverse it: {key}.reversed: {wanted}",
        lambda layout: edits.reversed_element(layout, inspection.alike(key)),
        (f"{key}.reversed={wanted}",),
    )


def send(inspection: Inspection, tone: str, change_db: float) -> Remedy:
    """Return the Remedy that sends a tone (and its copies) at another level."""
    layout = inspection.layout
    declared = layout.tones[tone].declared_name
    every = [one.name for one in layout.tones.values() if one.declared_name == declared]

    def change(layout: Layout) -> Layout:
        for name in every:
            layout = edits.with_tone_power(layout, name, change_db)
        return layout

    word = "less" if change_db < 0 else "more"
    return Remedy(f"send {abs(change_db):.0f} dB {word} of {declared}", change)


def stage_at(inspection: Inspection, port: Port) -> str | None:
    """Return the stage on which a port of an element lies."""
    element = inspection.element(port[0])
    if element.from_stage is None:
        return element.stage
    first = element.kind.ports(element.settings)[0]
    return element.from_stage if port[1] == first else element.to_stage


def last_ports(inspection: Inspection, hops: Iterable[Hop]) -> dict[str, Port]:
    """Return {stage: the last port by which a path leaves an element there}."""
    found: dict[str, Port] = {}
    for hop in hops:
        port = hop.id, hop.leave
        stage = stage_at(inspection, port)
        if stage is not None:
            found[stage] = port
    return found


def first_ports(inspection: Inspection, hops: Iterable[Hop]) -> dict[str, Port]:
    """Return {stage: the first port by which a path leaves an element there}."""
    found: dict[str, Port] = {}
    for hop in hops:
        port = hop.id, hop.leave
        stage = stage_at(inspection, port)
        if stage is not None:
            found.setdefault(stage, port)
    return found


def pads_along(inspection: Inspection, hops: Iterable[Hop], loss_db: float) -> Iterator[Remedy]:
    """Yield Remedies that put attenuation into a path, at each stage that it has, coldest first."""
    hops = list(hops)
    loss = parse(f"{loss_db:g} dB", "ratio")
    order = list(inspection.layout.stages)
    places = last_ports(inspection, hops)
    said = set(places)
    for stage in sorted(said, key=lambda name: -order.index(name)):
        if stage == order[0]:
            continue
        yield put_in(
            inspection, f"{loss_db:g} dB more on {stage}, behind {places[stage][0]}",
            places[stage], "attenuation", stage=stage, loss=loss,
        )
    for hop in hops:
        for stage, _ in inspection.element(hop.id).via:
            if stage not in said:
                said.add(stage)
                yield put_in_at(
                    inspection, f"{loss_db:g} dB more on {stage}, in {hop.id}", hop.id,
                    "attenuation", stage=stage, loss=loss,
                )


def amplifiers_along(
    inspection: Inspection, hops: Iterable[Hop], *, warm: bool, cold: bool = True
) -> Iterator[Remedy]:
    """Yield Remedies that put an amplifier into a path, where its stage can cool the bias."""
    layout = inspection.layout
    order = list(layout.stages)
    hops = list(hops)
    places = first_ports(inspection, hops)
    for stage in reversed(order):
        kelvin = layout.stages[stage].temperature_k
        if stage not in places:
            continue
        port = places[stage]
        if stage == order[0]:
            if warm:
                yield put_in(
                    inspection, f"an amplifier at {stage}, behind {port[0]} (30 dB, 100 K)", port,
                    "gain", stage=stage, gain=parse("30 dB", "ratio"),
                    noise_temperature=parse("100 K", "temperature"), bias=parse("0 W", "power"),
                )
        elif cold and 1.5 < kelvin <= COLD_AMPLIFIER_K:
            can = cooling_w(layout.stages[stage], kelvin)
            if can is None or can > 0.02:
                yield put_in(
                    inspection, f"a low-noise amplifier on {stage}, behind {port[0]} (35 dB, 3 K)",
                    port, "gain", stage=stage,
                )


def more_gain(inspection: Inspection, key: str) -> Iterator[Remedy]:
    """Yield Remedies that give an amplifier more gain, where its gain is one number."""
    gain = inspection.element(key).settings.values.get("gain")
    if not isinstance(gain, Quantity):
        return
    for step in (10.0, 20.0):
        more = typed(inspection, key, "gain", f"{gain.value + step:g} dB")
        yield set_value(inspection, f"{step:g} dB more gain in {key}", key, gain=more)
