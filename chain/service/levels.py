"""What an analyser should show once a joint is made again, from what can be reached by then."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError
from chain.layout.equal_networks import copy_key
from chain.layout.naming import called
from chain.measurement.analyser import REFLECTION, connectors, opened, traces
from chain.measurement.warm import warmed
from chain.measurement.warm_sheet_text import FLOOR_DB
from chain.service import cautions
from chain.service.reach import harmed_by_meter, reached

if TYPE_CHECKING:
    from chain.layout.layout import Joint, Layout
    from chain.measurement.analyser import Trace

DRAWS = 100
"""Draws of tolerances and phases behind each band."""

REFLECTION_FLOOR_DB = -40.0
"""Reflection below which an analyser shows what its calibration leaves (common practice, no
source)."""

CONTRAST_DB = 6.03
"""An open joint's reflection that is twice any other in amplitude is seen whatever their phases."""

_ID = re.compile(r"[A-Za-z]\w*(?:-\d+)?")


@dataclass(frozen=True)
class Reading:
    """One number to take with an analyser, everything at room temperature."""

    first: str
    """Where the wave goes in: a connector's id, or the port at which a joint is still open."""
    second: str
    """Where it comes out; `first` for a reflection."""
    frequency_hz: float
    expected_db: float
    """-inf where the layout knows of no reflection."""
    low_db: float
    """-inf for a reflection, of which less is better."""
    high_db: float
    opened: tuple[str, ...]
    """Ports at which joints are open meanwhile."""
    open_db: float | None = None
    """What a reflection would be with the joint left open."""
    harmed: str = ""
    """Elements that the analyser's power or a discharge can harm; empty where there are none."""

    @property
    def is_reflection(self) -> bool:
        """True where the wave comes back out where it went in."""
        return self.first == self.second

    @property
    def words(self) -> str:
        """The reading in words."""
        at = f"at {self.frequency_hz / 1e9:g} GHz"
        if self.is_reflection:
            said = (f"warm reflection at {self.first} {at}: below {self.high_db:.1f} dB (a joint "
                    f"left open shows {self.open_db:.1f} dB)")
        else:
            said = (f"warm transmission {self.first} to {self.second} {at}: "
                    f"{self.expected_db:.1f} dB ({self.low_db:.1f} .. {self.high_db:.1f})")
        return f"{said}; {cautions.analyser(self.harmed)}" if self.harmed else said

    def as_dict(self) -> dict[str, Any]:
        """Return the reading under the names that programs lean on."""
        return {
            "from": self.first, "to": self.second,
            "what": REFLECTION if self.is_reflection else "transmission",
            "opened": list(self.opened), "frequency_hz": self.frequency_hz,
            "expected_db": self.expected_db, "low_db": self.low_db, "high_db": self.high_db,
            "open_db": self.open_db,
        }

    def of_copy(self, names: Mapping[str, str]) -> Reading:
        """Return the reading of an equal copy, its ids given by those of this one."""
        def renamed(text):
            return _ID.sub(lambda found: names.get(found[0], found[0]), text)

        return replace(
            self, first=renamed(self.first), second=renamed(self.second),
            opened=tuple(map(renamed, self.opened)), harmed=renamed(self.harmed),
        )


@dataclass(frozen=True)
class Expected:
    """What is seen of a joint once it is made."""

    reading: Reading | None
    """None where nothing is seen."""
    words: str


class Levels:
    """Tells what an analyser shows of a joint, as `chain.service.plan.service` asks it."""

    def __init__(self, layout: Layout, progress: Callable[[int, int], object] | None=None) -> None:
        self.layout, self.progress = layout, progress
        self.warm: Layout | None = None
        self.problem = ""
        try:
            self.warm = warmed(layout)
        except LayoutError as error:
            self.problem = str(error.problems[0].what)
        self._told, self._asked = {}, 0

    def __call__(self, joint: Joint, still_open: Collection[Joint]) -> Expected:
        """Return what is seen of `joint` while the `still_open` ones are open."""
        self._asked += 1
        if self.progress is not None:
            self.progress(self._asked, self._asked + len(still_open))
        if self.warm is None:
            return _not_known(self.problem)
        found, border = reached(self.layout, joint.first[0], still_open)
        ids = [key for key in self.layout.elements if key in found]
        alike = self._copy_key(self.warm, joint, ids, border)
        if alike not in self._told:
            self._told[alike] = ids, self._seen(self.warm, joint, border, still_open)
        its, expected = self._told[alike]
        if its == ids or expected.reading is None:
            return expected
        reading = expected.reading.of_copy(dict(zip(its, ids, strict=True)))
        return Expected(reading, reading.words)

    def _copy_key(self, warm, joint, ids, border):
        """Return a key that joints share only if as much of equal copies is joined to them."""
        parted = frozenset(port for one in border for port in (one.first, one.second))
        return (
            copy_key(warm, ids, heated={}, parted=parted),
            *((ids.index(key), port) for key, port in (joint.first, joint.second)),
        )

    def _seen(self, warm, joint, border, still_open):
        ends, reading, problem = [".".join(one.first) for one in border], None, ""
        # A transmission tells more than a reflection, at whatever frequency it is seen.
        asked = self._frequencies_hz(warm, joint)
        for reflected, hz in [(False, hz) for hz in asked] + [(True, hz) for hz in asked]:
            try:
                reading = self._reading(warm, joint, ends, np.array([hz]), reflected)
            except LayoutError as error:
                problem = problem or error.problems[0].what
            if reading is not None:
                break
        if reading is None and problem:
            return _not_known(problem)
        if reading is None:
            return Expected(None, "no analyser sees it from outside by now")
        harmed = called(warm, harmed_by_meter(self.layout, joint.first[0], still_open))
        reading = replace(reading, harmed=harmed)
        return Expected(reading, reading.words)

    def _reading(self, warm, joint, border, middle, reflected):
        view = opened(warm, border)
        close = view.layout.connected(joint.first[0])
        ends = [key for key in connectors(view.layout) if key in set(close)]
        every = traces(view, frequency_hz=middle, draws=DRAWS, only=tuple(ends)) if ends else []
        both = {joint.first[0], joint.second[0]}
        seen = [
            trace for trace in every
            if not trace.is_reflection and both <= set(trace.through)
            and trace.expected_db[0] > FLOOR_DB
        ]
        if seen:
            best = max(seen, key=lambda trace: (len(trace.through), trace.first, trace.second))
            return Reading(best.first, best.second, float(middle[0]), *_numbers(best),
                           tuple(border))
        if not reflected:
            return None
        return self._reflection(warm, joint, border, every, set(ends), middle)

    def _frequencies_hz(self, warm, joint):
        """Return the middle of the band, then the tones that run there: a filter may pass those."""
        f = self.layout.band.frequency_hz
        near = set(warm.connected(joint.first[0]))
        tones = [tone.frequency_hz for tone in warm.tones.values() if tone.into in near]
        return list(dict.fromkeys([float(f[len(f) // 2]), *tones]))

    def _reflection(self, warm, joint, border, every, ends, middle):
        """Return the Reading of a reflection that tells a joint left open from one that is made."""
        here = ".".join(joint.first)
        view = opened(warm, [*border, here])
        apart = {".".join(joint.first), ".".join(joint.second)}
        there_and_back = _there_and_back(
            traces(view, frequency_hz=middle, draws=DRAWS, only=tuple(apart),
                   both_ways=True), apart)
        found = []
        for trace in every:
            open_db = there_and_back.get(trace.first)
            if not trace.is_reflection or trace.first not in ends or open_db is None:
                continue
            expected, _, high = _numbers(trace)
            limit = max(high, REFLECTION_FLOOR_DB)
            if open_db >= limit + CONTRAST_DB:
                found.append(Reading(
                    trace.first, trace.first, float(middle[0]), expected,
                    -np.inf, min(limit, open_db - CONTRAST_DB), tuple(border), open_db,
                ))
        return max(found, key=lambda one: (one.open_db, one.first), default=None)


def _not_known(why):
    return Expected(None, f"what an analyser shows cannot be worked out: {why}")


def _numbers(trace: Trace) -> tuple[float, float, float]:
    """Return expected, least and most level of a Trace at its one frequency, dB."""
    return float(trace.expected_db[0]), float(trace.low_db[0]), float(trace.high_db[0])


def _there_and_back(found, apart):
    """Return {connector: dB} of a wave that an open joint sends back whole, by its two ways."""
    ways = {}
    for trace in found:
        for end, connector in ((trace.second, trace.first), (trace.first, trace.second)):
            if end in apart and connector not in apart:
                ways.setdefault((connector, end), []).append(float(trace.expected_db[0]))
    levels = {}
    for (connector, _), both in ways.items():
        if len(both) == 2:
            levels[connector] = max(levels.get(connector, -np.inf), sum(both))
    return levels
