"""What hangs together while some joints are open, and whether a meter may touch it."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

from chain.layout.joints import joint_name

if TYPE_CHECKING:
    from chain.layout.layout import Joint, Layout, Port


def reached(
    layout: Layout, start: str, still_open: Collection[Joint]
) -> tuple[set[str], list[Joint]]:
    """Return the ids joined to `start` by now, and the open joints at their border."""
    parted = {port: one for one in still_open for port in (one.first, one.second)}
    ids, border, queue = {start}, {}, [start]
    while queue:
        key = queue.pop()
        for port in layout.elements[key].ports:
            there = layout.partners.get((key, port))
            if (key, port) in parted:
                border[joint_name(parted[key, port])] = parted[key, port]
            elif there is not None and there[0] not in ids:
                ids.add(there[0])
                queue.append(there[0])
    return ids, list(border.values())


def harmed_by_meter(layout: Layout, start: str, still_open: Collection[Joint]) -> list[str]:
    """Return the ids joined to `start` by now that a meter's current can destroy, in layout order.

    What blocks direct current in between is not trusted: a meter's first touch is no direct
    current, and a file does not say what is inside.
    """
    ids, _ = reached(layout, start, still_open)
    return [key for key in layout.elements if key in ids and _harmed(layout, key)]


def _harmed(layout, key):
    element = layout.elements[key]
    return element.kind.harmed_by_meter(element.settings)


def ends_to_meter(
    layout: Layout, joint: Joint, still_open: Collection[Joint]
) -> tuple[list[Port], list[str]]:
    """Return the ends of an open joint that a meter may touch, and the ids that forbid the others.

    `still_open` are the other open joints.
    """
    safe: list[Port] = []
    harmed: list[str] = []
    for port in (joint.first, joint.second):
        found = harmed_by_meter(layout, port[0], [*still_open, joint])
        harmed += [key for key in found if key not in harmed]
        if not found:
            safe.append(port)
    return safe, harmed
