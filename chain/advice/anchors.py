"""Anchors of what runs between stages: one that is missing, and one that may fail."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from chain.advice.remedies import Remedy
from chain.advice.rules import NOTE, WARNING, Remark, rule
from chain.layout import edits
from chain.layout.cooling import cooling_w
from chain.writing.numbers import si
from components.materials import OutsideRange

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection


def _conducted_w(inspection, element, warm, cold, length_m):
    """Return what a length of an element conducts between two stages, W; None where unknown."""
    stages, path = inspection.layout.stages, element.kind.heat_path(element.settings)
    if path is None or length_m <= 0:
        return None
    try:
        return path.conducted_w(
            warm_k=stages[warm].temperature_k, cold_k=stages[cold].temperature_k,
            length_m=length_m,
        )
    except OutsideRange:
        return None


def _downward(inspection, element):
    """Return [(distance in m, stage)] of an element's anchors, the warmest first."""
    length = element.settings["length"]
    if length is None or not element.anchored or element.settings.given("temperature"):
        return []
    places = [(part * length.value, name) for part, name in element.anchored]
    order = list(inspection.layout.stages)
    return places if order.index(places[0][1]) < order.index(places[-1][1]) else [
        (length.value - at, name) for at, name in reversed(places)]


@rule(
    "unanchored-coax", NOTE, margins=("share",),
    why="a coax that passes a stage without an anchor carries the heat of the warmer stages to the "
    "colder one, and its centre conductor arrives warm",
)
def unanchored_coax(inspection: Inspection) -> Iterator[Remark]:
    """Look for stages between the two ends of what runs between stages that do not anchor it.

    A warning where anchors, halfway, would spare the colder stage a share of its cooling power.
    """
    names = list(inspection.layout.stages)
    for element in map(inspection.element, inspection.ids):
        ends = element.from_stage, element.to_stage
        if not element.kind.spans_stages or None in ends or element.settings.given("temperature"):
            continue
        first, last = sorted(names.index(stage) for stage in ends if stage is not None)
        anchored = {stage for stage, _ in element.via}
        passed = [name for name in names[first + 1 : last] if name not in anchored]
        if not passed:
            continue
        level, said = _spared(inspection, element, passed)
        yield Remark(
            (element.id,),
            f"{element.id} passes {' and '.join(passed)} between {element.from_stage} and "
            f"{element.to_stage} and is not anchored there{said}",
            _anchored(inspection, element, passed), level=level,
            about=(("heat", names[last]),) if level else (),
        )


def _spared(inspection, element, passed):
    """Return (level, words) by what anchors would spare the coldest stage."""
    places = _downward(inspection, element)
    if len(places) < 2 or element.kind.heat_path(element.settings) is None:
        return None, ""
    (at, warm), (end, cold) = places[-2:]
    now = _conducted_w(inspection, element, warm, cold, end - at)
    order = list(inspection.layout.stages)
    nearest = max(passed, key=order.index)
    if order.index(nearest) < order.index(warm):
        return None, ""
    then = _conducted_w(inspection, element, nearest, cold, (end - at) / 2)
    stage = inspection.layout.stages[cold]
    can = cooling_w(stage, stage.temperature_k)
    if now is None or then is None or not can:
        return None, ""
    count = len(inspection.alike(element.id))
    spared = count * (now - then)
    if spared <= inspection.margin("share") * can:
        return None, ""
    return WARNING, f": {cold} gets {si(count * now, 'W', 3)} by it of {si(can, 'W', 3)}"


def _anchored(inspection, element, passed):
    """Yield the Remedy that anchors an element, all its copies, where it passes a stage."""
    where = " and ".join(passed)
    if element.settings["length"] is not None:
        yield Remedy(
            f"anchor {element.id} at {where}: "
            f"via: {{{', '.join(f'{name}: ... m' for name in passed)}}}",
            lambda layout: edits.anchored_at(layout, inspection.alike(element.id), passed),
        )
    else:
        yield f"give its length, and anchor it at {where}"


@rule(
    "anchor-may-fail", NOTE,
    why="a clamp that loosens when cold is the commonest reason for a cryostat that does not reach "
    "its temperature, and one that would be the reason deserves a second look",
)
def anchor_may_fail(inspection: Inspection) -> Iterator[Remark]:
    """Look at what a colder stage would get of one element if an anchor of it failed."""
    for element in map(inspection.element, inspection.ids):
        if not element.kind.spans_stages or inspection.heat is None:
            continue
        places = _downward(inspection, element)
        for before, here, behind in zip(places, places[1:], places[2:], strict=False):
            now = _conducted_w(inspection, element, here[1], behind[1], behind[0] - here[0])
            then = _conducted_w(inspection, element, before[1], behind[1], behind[0] - before[0])
            row = inspection.heat.stages[behind[1]]
            if now is None or then is None or row.margin_w is None or row.over:
                continue
            if then - now > row.margin_w:
                yield Remark(
                    (element.id,),
                    f"if the anchor of {element.id} at {here[1]} fails, {behind[1]} gets "
                    f"{si(row.total_w + then - now, 'W', 3)} instead of "
                    f"{si(row.total_w, 'W', 3)}, and can cool {si(row.cooling_w, 'W', 3)}",
                    "anchor it twice there, or check the clamp before every closing, or take what "
                    "conducts less",
                    element.place_of("via"),
                )
