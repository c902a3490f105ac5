"""Where a measured level leaves its interval, by how much, and whether a tolerance explains it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from chain.network.assembly import Choices, scattering_network
from chain.network.draws import Draws
from components.arrays import FloatArray
from components.constants import C
from components.nport import magnitude2
from components.quantities import decibels

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from chain.measurement.analyser import Trace
    from components.arrays import FloatArray

BRIDGED = 0.02
"""Part of the trace that may lie inside between two deviations that are one."""

MIN_POINTS = 2
"""Points of a deviation; a single one, in a trace of twenty or more, is taken for a spike."""

MAX_SIGMA = 3.0
"""Standard deviations that one tolerance is believed to be off by; a uniform one ends at one."""

SLOPED_DB = 1.0
"""Difference between the ends of a deviation from which on both are told."""

VELOCITY_FACTOR = 0.7
"""Wave speed over that of light in PTFE, for the length that a ripple tells (common practice)."""


@dataclass(frozen=True)
class Deviation:
    """A stretch of frequencies where a trace lies outside its interval on one side."""

    low_hz: float
    high_hz: float
    off_db: float
    """Measured less expected, the median over the stretch."""
    ends_db: tuple[float, float]
    """The same at its two ends."""
    beyond_db: float
    """How far it lies outside the interval at worst."""
    indices: tuple[int, int]
    """First and last point."""
    why: str = ""
    """Which tolerances explain it."""

    @property
    def words(self) -> str:
        """The deviation in words."""
        side = "low" if self.off_db < 0 else "high"
        first, last = (abs(end) for end in self.ends_db)
        level = f"{abs(self.off_db):.2g} dB {side}"
        if abs(first - last) > SLOPED_DB:
            level = f"{first:.2g} to {last:.2g} dB {side}"
        where = f"from {_ghz(self.low_hz)} to {_ghz(self.high_hz)} GHz"
        if self.low_hz == self.high_hz:
            where = f"at {_ghz(self.low_hz)} GHz"
        return f"{where} {level}" + (f": {self.why}" if self.why else "")


def _ghz(hz):
    return f"{hz / 1e9:.4g}"


def deviations(trace: Trace, measured_db: FloatArray) -> tuple[Deviation, ...]:
    """Return every Deviation of a measured level (dB, shape (points,)) from a Trace's interval."""
    f = trace.frequency_hz
    side = np.where(measured_db < trace.low_db, -1, np.where(measured_db > trace.high_db, 1, 0))
    bridge = max(1, int(BRIDGED * len(f)))
    runs = []
    for index in np.flatnonzero(side):
        if runs and side[index] == side[runs[-1][1]] and index - runs[-1][1] <= bridge:
            runs[-1] = runs[-1][0], index
        else:
            runs.append((index, index))
    fewest = MIN_POINTS if len(f) >= 20 else 1
    return tuple(
        _departure(trace, measured_db, first, last) for first, last in runs
        if last - first + 1 >= fewest
    )


def _departure(trace, measured_db, first, last):
    part = slice(first, last + 1)
    off = measured_db[part] - trace.expected_db[part]
    outside = np.maximum(trace.low_db[part] - measured_db[part],
                         measured_db[part] - trace.high_db[part])
    f = trace.frequency_hz
    edge = max(1, len(off) // 8)
    return Deviation(
        float(f[first]), float(f[last]), float(np.median(off)),
        (float(np.median(off[:edge])), float(np.median(off[-edge:]))), float(outside.max()),
        (int(first), int(last)),
    )


# -- what tolerances explain ----------------------------------------------------------------------


def explain(
    layout: Layout, trace: Trace, measured_db: FloatArray, deviation: Deviation
) -> Deviation:
    """Return the Deviation with the single tolerances that explain it."""
    first, last = deviation.indices
    part = slice(first, last + 1)
    off = measured_db[part] - trace.expected_db[part]
    # Unknown phases may add what they do beside the tolerance in question; other tolerances not.
    allowed = trace.within_db
    if trace.phases:
        allowed = max(allowed, float((trace.high_db - trace.low_db)[part].min()) / 2)
    effects = _effects(layout, trace, trace.frequency_hz[part])
    best, most = None, (None, 0.0)
    for drawn, effect in effects:
        reach = 1.0 if drawn.tolerance.uniform else MAX_SIGMA
        size = float(np.sum(effect * off) / max(np.sum(effect**2), 1e-30))
        size = min(max(size, -reach), reach)
        left = float(np.abs(off - size * effect).max())
        if left <= allowed and (best is None or abs(size) < abs(best[1])):
            best = drawn, size, left
        furthest = reach * float(np.median(np.abs(effect)))
        if furthest > most[1]:
            most = drawn, furthest
    return replace(deviation, why=_why(best, most))


def _why(best, most):
    if best is not None:
        drawn, size, _ = best
        unit = "of its half-width" if drawn.tolerance.uniform else "sigma"
        return (
            f"{drawn.name}, {drawn.text}, off by {abs(size):.2g} {unit} would explain it"
        )
    if most[0] is None:
        return "no value in the path has a tolerance that would explain it"
    return (
        f"more than any one tolerance explains (the most, {most[0].name}, gives {most[1]:.2g} dB)"
    )


def _effects(layout, trace, f):
    """Return [(Drawn, change of the level in dB for one tolerance)] of every toleranced value."""
    ids = layout.connected(trace.first)
    some = Draws(layout, ids, count=2, seed=0)
    found = []
    for drawn in some.values:
        one = _One(drawn)
        network = scattering_network(layout, trace.first, f, Choices(draws=one, phases=False))
        first, second = (
            (key, layout.elements[key].ports[0]) for key in (trace.first, trace.second)
        )
        transfer = network.adjoint(network.arriving(second)).get((*first, 1))
        if transfer is None:
            continue
        level = decibels(np.broadcast_to(magnitude2(transfer), (3, len(f))))
        if np.all(np.isfinite(level)):
            found.append((drawn, (level[2] - level[0]) / 2))
    return found


class _One:
    """Draws in which one value alone is off, by minus, no and plus its tolerance."""

    draws = 3

    def __init__(self, drawn):
        steps = np.array([-1.0, 0.0, 1.0])[:, None] * drawn.tolerance.size
        self._element = drawn.element
        self._vary = {drawn.parameter: replace(drawn, change=steps).as_varied()}

    def vary(self, element):
        """Return the one change."""
        return self._vary if element == self._element else {}


# -- together ---------------------------------------------------------------------------------


def standing_wave(found: Sequence[Deviation]) -> str:
    """Return a sentence where deviations alternate as a standing wave makes them, else nothing."""
    signs = [np.sign(one.off_db) for one in found]
    if len(found) < 4 or any(a == b for a, b in pairwise(signs)):
        return ""
    middles = np.array([(one.low_hz + one.high_hz) / 2 for one in found])
    period_hz = float(np.median(middles[2:] - middles[:-2]))
    metres = VELOCITY_FACTOR * C / (2 * period_hz)
    return (
        f"it leaves its interval up and down in turn, every {period_hz / 1e9:.2g} GHz: a standing "
        f"wave between two reflections some {metres:.2g} m of cable apart, as of a bad joint"
    )
