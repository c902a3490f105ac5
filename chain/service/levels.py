"""What an analyser should show once a joint is made again, from what can be reached by then."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import TYPE_CHECKING

import numpy as np

from chain.errors import LayoutError
from chain.layout.equal_networks import copy_key
from chain.layout.joints import joint_name
from chain.measurement.analyser import REFLECTION, connectors, opened, traces
from chain.measurement.warm import warmed

if TYPE_CHECKING:
    from chain.layout.layout import Joint, Layout

DRAWS = 100
"""Draws of tolerances and phases behind each band."""


class Levels:
    """Tells the warm transmission through a joint, as `chain.service.plan.service` asks it."""

    def __init__(self, layout: Layout, progress: Callable[[int, int], object] | None=None) -> None:
        self.layout, self.progress = layout, progress
        self.warm: Layout | None = None
        self.problem = ""
        try:
            self.warm = warmed(layout)
        except LayoutError as error:
            self.problem = str(error.problems[0].what)
        self._told, self._asked = {}, 0

    def __call__(self, joint: Joint, still_open: Collection[Joint]) -> list[str]:
        """Return sentences on what passes `joint` while the `still_open` ones are open."""
        self._asked += 1
        if self.progress is not None:
            self.progress(self._asked, self._asked + len(still_open))
        if self.warm is None:
            return [f"warm transmission cannot be worked out: {self.problem}"]
        ids, border = self._reach(joint, still_open)
        alike = self._copy_key(self.warm, joint, ids, border)
        if alike in self._told:
            return [f"warm transmission as at {self._told[alike]}"]
        self._told[alike] = joint_name(joint)
        try:
            return self._sentences(self.warm, joint, ids, border)
        except LayoutError as error:
            return [f"warm transmission cannot be worked out: {error.problems[0].what}"]

    def _copy_key(self, warm, joint, ids, border):
        """Return a key that joints share only if as much of equal copies is joined to them."""
        ids = [key for key in self.layout.elements if key in ids]
        parted = frozenset(port for one in border for port in (one.first, one.second))
        return (
            copy_key(warm, ids, heated={}, parted=parted),
            *((ids.index(key), port) for key, port in (joint.first, joint.second)),
        )

    def _reach(self, joint, still_open):
        """Return the ids joined to a joint by now, and the open joints at their border."""
        parted = {port: one for one in still_open for port in (one.first, one.second)}
        ids, border, queue = {joint.first[0]}, {}, [joint.first[0]]
        while queue:
            key = queue.pop()
            for port in self.layout.elements[key].ports:
                there = self.layout.partners.get((key, port))
                if (key, port) in parted:
                    border[joint_name(parted[key, port])] = parted[key, port]
                elif there is not None and there[0] not in ids:
                    ids.add(there[0])
                    queue.append(there[0])
        return ids, list(border.values())

    def _sentences(self, warm, joint, ids, border):
        view = opened(warm, [".".join(one.first) for one in border])
        reached = set(view.layout.connected(joint.first[0]))
        ends = [key for key in connectors(view.layout) if key in reached]
        f = self.layout.band.frequency_hz
        middle = f[[len(f) // 2]]
        both = {joint.first[0], joint.second[0]}
        found = [
            trace for trace in traces(view, frequency_hz=middle, draws=DRAWS, only=tuple(ends))
            if trace.what != REFLECTION and both <= set(trace.through)
            and np.isfinite(trace.expected_db[0])
        ]
        if not found:
            return ["no transmission through it can be seen from outside by now"]
        best = max(found, key=lambda trace: (len(trace.through), trace.first, trace.second))
        level, low, high = (float(v[0]) for v in (best.expected_db, best.low_db, best.high_db))
        return [f"warm transmission {best.first} to {best.second} at {middle[0] / 1e9:g} GHz: "
                f"{level:.1f} dB ({low:.1f} .. {high:.1f})"]
