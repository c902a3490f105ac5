"""Parts and their papers: bands, tags, serial numbers, what is out of order."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from chain.advice.changes import set_value
from chain.advice.rules import CAUSE, NOTE, WARNING, Remark, rule

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection


@rule(
    "outside-band", WARNING,
    why="outside its band nobody vouches for a part's values",
    source="the part's own band",
)
def outside_band(inspection: Inspection) -> Iterator[Remark]:
    """Look at the band of every part with one: the layout's band, and tones that pass.

    A pump is worth a warning: it does not reach its paramp as the part's values have it.
    """
    layout = inspection.layout
    pumps = {paramp.settings["pump"] for paramp in inspection.paramps}
    seen = {key for signal in inspection.signals for key in layout.connected(signal.to_port[0])}
    for key in inspection.ids:
        element = inspection.element(key)
        band = element.settings.values.get("band")
        if band is None:
            continue
        known = f"{key} is good from {_ghz(band[0])} to {_ghz(band[1])}"
        used = layout.band
        if (key in seen or not seen) and (used.start_hz < band[0] or used.stop_hz > band[1]):
            yield Remark(
                (key,),
                f"{known}, and the layout asks {_ghz(used.start_hz)} to {_ghz(used.stop_hz)}",
                "choose a part for the whole band, or end the band where the part does",
                element.place_of("band"),
            )
        for name, f in _tones_through(inspection, key):
            if not band[0] <= f <= band[1] and element.settings["state"] == "ok":
                yield Remark(
                    (key,), f"{known}, and {name} at {_ghz(f)} passes it",
                    "take the tone out before it, or choose another part", element.place_of("band"),
                    level=None if name in pumps else NOTE,
                )


def _ghz(hz):
    return f"{hz / 1e9:g} GHz"


def _tones_through(inspection, key):
    """Yield (name, Hz) of the tones whose path leads through an element, its own pump left out."""
    settings, declared = inspection.element(key).settings, inspection.element(key).kind.declared()
    pump = settings["pump"] if "pump" in declared else None
    for path in inspection.paths:
        if path.tone and path.name != pump and key in path.ids:
            yield path.name, inspection.layout.tones[path.name].frequency_hz


@rule(
    "untagged", NOTE,
    why="a part that costs or breaks is sent away, swapped and asked about: without a tag or a "
    "serial number nobody knows which one it was",
)
def untagged(inspection: Inspection) -> Iterator[Remark]:
    """Look for a tag or a serial number on what costs or breaks."""
    for key in inspection.ids:
        element = inspection.element(key)
        costs, breaks = element.settings.given("cost"), element.kind.breaks
        if not (costs or breaks) or element.settings["tag"] or element.settings["serial"]:
            continue
        reason = "costs" if costs else "can break"
        yield Remark(
            (key,), f"{key} {reason} and has neither tag nor serial",
            "write a tag on it and in the layout (tag:), or its serial number (serial:)",
            each="cost or can break and have neither tag nor serial",
        )


@rule(
    "same-serial", WARNING,
    why="a serial number belongs to one part: one of the two is written wrong, and will mislead "
    "whoever looks it up",
)
def same_serial(inspection: Inspection) -> Iterator[Remark]:
    """Look for a serial number on two elements of one kind."""
    yield from _twice(inspection, "serial", lambda e: (e.kind.name, e.settings["serial"]))


@rule(
    "same-tag", WARNING,
    why="a tag that two parts carry does not tell them apart when both lie on the bench",
)
def same_tag(inspection: Inspection) -> Iterator[Remark]:
    """Look for a tag on two elements."""
    yield from _twice(inspection, "tag", lambda e: e.settings["tag"])


def _twice(inspection, name, key_of):
    found = {}
    for element in inspection.layout.elements.values():
        if element.settings[name]:
            found.setdefault(key_of(element), []).append(element)
    for elements in found.values():
        if len(elements) < 2:
            continue
        ids = [element.id for element in elements]
        line = inspection.layout.lines.get(elements[1].line)
        copies = line is not None and line.number is not None
        yield Remark(
            tuple(ids),
            f"{_listed(ids)} have the same {name}, {elements[1].settings[name]}",
            f"give each its own{', under `except:` for copies' if copies else ''}",
            elements[1].place_of(name),
        )


def _listed(ids, most=4):
    if len(ids) <= most:
        return f"{', '.join(ids[:-1])} and {ids[-1]}"
    return f"{ids[0]} to {ids[-1]} ({len(ids)} of them)"


@rule(
    "out-of-order", NOTE, cause=CAUSE,
    why="the layout describes the cryostat with this part not working, which is easily forgotten",
)
def out_of_order(inspection: Inspection) -> Iterator[Remark]:
    """Look for elements whose state is not ok."""
    for key in inspection.ids:
        element = inspection.element(key)
        if element.settings["state"] != "ok":
            yield Remark(
                (key,), f"{key} is {element.settings['state']}",
                set_value(inspection, f"repair {key}: {key}.state: ok", key, state="ok"),
                element.place_of("state"),
            )
