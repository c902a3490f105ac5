"""In which order joints are opened: the most fragile first, what hangs lowest before the rest."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from chain.layout.joints import pushed_on

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from chain.service.extent import OpenedJoint

PUSH_ON = 4.5
"""Fragility of a small connector that is pushed on: above any coax, below a fibre."""

RANKS = {
    5: "optical fibre",
    4.5: "small push-on connectors",
    4: "fine wires, thin or superconducting coax",
    3: "coax, and parts that static charge or a knock destroys",
    2: "blocks with connectors",
    0: "sturdy or heavy parts",
}
"""What each rung holds, common practice, no source."""


@dataclass(frozen=True)
class Ranked:
    """An OpenedJoint with its place in the order."""

    opened: OpenedJoint
    leading: str
    """The element that asks for care."""
    fragility: float


def in_order(layout: Layout, found: Iterable[OpenedJoint], removed: Iterable[str]) -> list[Ranked]:
    """Return the Ranked of joints to disconnect, in order.

    Rung by rung from the most fragile; on a rung one element after the other, the one that hangs
    lowest first; of an element its coldest joint first, so that it hangs from the warmer stage
    until it is held; at last layout order.
    """
    inside = set(removed)
    place = {key: number for number, key in enumerate(layout.elements)}
    ranked = [_ranked(layout, one, inside, place) for one in found]
    lowest = {}
    for one in ranked:
        stage = -1 if one.opened.stage is None else one.opened.stage
        lowest[one.leading] = max(lowest.get(one.leading, -1), stage)
    return sorted(ranked, key=lambda one: (
        -one.fragility, -lowest[one.leading], place[one.leading],
        -(-1 if one.opened.stage is None else one.opened.stage),
        min(place[key] for key in one.opened.elements),
    ))


def _ranked(layout, one, inside, place):
    def care(key):
        element = layout.elements[key]
        return element.kind.fragility(element.settings)

    leading = min(one.elements, key=lambda key: (-care(key), key not in inside, place[key]))
    fragility = care(leading)
    if one.joint is not None and pushed_on(layout, one.joint):
        fragility = max(fragility, PUSH_ON)
    return Ranked(one, leading, fragility)


def rung(fragility: float) -> str:
    """Return the words for a rung."""
    return RANKS[max((level for level in RANKS if level <= fragility), default=0)]
