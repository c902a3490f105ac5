"""Which elements come out, and which joints that opens."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from chain.errors import LayoutError, Place
from chain.layout.joints import joint_name, stage_of
from chain.layout.layout import Joint
from chain.suggestions import choose

if TYPE_CHECKING:
    from chain.layout.layout import Layout


@dataclass(frozen=True)
class OpenedJoint:
    """A joint to disconnect, or the end of something that has no microwave ports."""

    name: str
    """`A1.out / W2.in`, or `L1 at plate`."""
    elements: tuple[str, ...]
    stage: int | None
    """Where it is made, counted from the warmest; None where the layout does not say."""
    joint: Joint | None = None


def between(layout: Layout, first: str, second: str) -> list[str]:
    """Return the ids of what stands between two stages or runs through there, in layout order.

    Raises LayoutError for stages that do not exist or are one.
    """
    order: dict[str, int] = {name: place for place, name in enumerate(layout.stages)}
    for name in (first, second):
        if name not in order:
            raise LayoutError.at(
                Place("--between"), f"there is no stage {name!r}",
                choose(name, order, "stages") if order else "add `stages:` to the layout",
            )
    if first == second:
        raise LayoutError.at(
            Place("--between"), f"{first} and {second} are one stage", "name two stages"
        )
    warm, cold = sorted((order[first], order[second]))
    return [key for key, element in layout.elements.items() if _inside(element, order, warm, cold)]


def _inside(element, order, warm, cold):
    """Tell whether any part of an element lies between two stages, the stages left out."""
    if element.from_stage is None:
        return element.stage is not None and warm < order[element.stage] < cold
    start, end = sorted((order[element.from_stage], order[element.to_stage]))
    return start < cold and end > warm


def named(layout: Layout, ids: Iterable[str]) -> list[str]:
    """Return the ids of elements to take out: `P1` stands for every copy; raises LayoutError."""
    found = []
    for text in ids:
        if text in layout.elements:
            found.append(text)
            continue
        copies = [key for key, element in layout.elements.items() if element.copy_of == text]
        if not copies:
            bases = dict.fromkeys(element.declared_id for element in layout.elements.values())
            raise LayoutError.at(
                Place("--remove"), f"there is no element {text!r}", choose(text, bases, "elements")
            )
        found += copies
    return list(dict.fromkeys(found))


def of_line(layout: Layout, name: str) -> list[str]:
    """Return the ids of a line; a line's declared name stands for its copies; LayoutError."""
    found = [
        key for key, line in layout.lines.items() if name in (key, line.copy_of)
    ]
    if not found:
        names = dict.fromkeys(line.declared_name for line in layout.lines.values())
        raise LayoutError.at(
            Place("--line"), f"there is no line {name!r}", choose(name, names, "lines")
        )
    return [key for one in found for key in layout.lines[one].elements]


def opened(layout: Layout, removed: Iterable[str]) -> list[OpenedJoint]:
    """Return the OpenedJoint of every joint at an element of `removed`, and of portless ends."""
    order: dict[str | None, int] = {name: place for place, name in enumerate(layout.stages)}
    inside = set(removed)
    found = [
        OpenedJoint(joint_name(joint), (joint.first[0], joint.second[0]),
                    order.get(stage_of(layout, joint)), joint)
        for joint in layout.joints if {joint.first[0], joint.second[0]} & inside
    ]
    for key in removed:
        element = layout.elements[key]
        if element.ports:
            continue
        ends = (element.from_stage, element.to_stage) if element.from_stage else (element.stage,)
        found += [
            OpenedJoint(f"{key} at {stage}", (key,), order.get(stage)) for stage in ends
        ]
    return found
