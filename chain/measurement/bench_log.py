"""Levels that were typed in, each beside what the layout should show there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError
from chain.measurement.analyser import DRAWS, WITHIN_DB, connectors, opened, traces
from chain.suggestions import choose

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from chain.measurement.typed_readings import TypedReading

INSIDE, OUTSIDE, NOT_KNOWN = "inside", "outside", "not known"


@dataclass(frozen=True)
class LoggedReading:
    """One level with its interval."""

    reading: TypedReading
    expected_db: float
    """-inf where the layout knows of nothing that comes."""
    low_db: float
    high_db: float

    @property
    def verdict(self) -> str:
        """`inside`, `outside`, or `not known` for a reflection of which the layout states nothing.

        Where no transmission should come and a level is seen, it lies outside.
        """
        is_reflection = self.reading.first == self.reading.second
        if is_reflection and not np.isfinite(self.high_db):
            return NOT_KNOWN
        inside = self.low_db <= self.reading.measured_db <= self.high_db
        return INSIDE if inside else OUTSIDE

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        one = self.reading
        return {
            "from": one.first, "to": one.second, "opened": list(one.opened),
            "frequency_hz": one.frequency_hz, "measured_db": one.measured_db,
            "expected_db": self.expected_db, "low_db": self.low_db, "high_db": self.high_db,
            "verdict": self.verdict, "initials": one.initials, "time": one.time, "note": one.note,
            "where": str(one.place),
        }


@dataclass(frozen=True)
class BenchLog:
    """All levels of a file beside a layout, in the order of the file."""

    path: str
    readings: tuple[LoggedReading, ...]
    layout: Layout = field(kw_only=True, repr=False)

    @property
    def inside(self) -> bool:
        """True where no level lies outside its interval."""
        return all(one.verdict != OUTSIDE for one in self.readings)

    def as_dict(self) -> dict[str, Any]:
        """Return the log under the names that programs lean on."""
        return {
            "readings": self.path, "inside": self.inside,
            "log": [one.as_dict() for one in self.readings],
            "warnings": list(self.layout.remarks), "laws": {},
        }

    def __str__(self):
        from chain.measurement.bench_log_text import log_text

        return log_text(self)


def bench_log(
    layout: Layout, readings: Sequence[TypedReading], path: str, *, draws: int = DRAWS,
    seed: int = 0, within_db: float = WITHIN_DB,
) -> BenchLog:
    """Return the BenchLog of readings of a layout as it stands (chain.measurement.warm warms it).

    Raises LayoutError where a reading names no connector or joint of the layout.
    """
    groups: dict[tuple, list[int]] = {}
    for place, one in enumerate(readings):
        groups.setdefault((one.opened, one.first, one.second), []).append(place)
    found: dict[int, LoggedReading] = {}
    for (ports, first, second), places in groups.items():
        view = _opened(layout, ports, readings[places[0]])
        _check_ends(view, readings[places[0]])
        f = np.array([readings[place].frequency_hz for place in places])
        trace = next(
            (one for one in traces(view, frequency_hz=f, draws=draws, seed=seed,
                                   within_db=within_db, only=(first,), both_ways=True)
             if (first, second) in ((one.first, one.second), *one.alike)), None,
        )
        for i, place in enumerate(places):
            levels = (-np.inf,) * 3 if trace is None else tuple(
                float(v[i]) for v in (trace.expected_db, trace.low_db, trace.high_db))
            found[place] = LoggedReading(readings[place], *levels)
    return BenchLog(path, tuple(found[place] for place in range(len(readings))), layout=layout)


def _opened(layout, ports, reading):
    try:
        return opened(layout, ports)
    except LayoutError as error:
        problem = error.problems[0]
        raise LayoutError.at(reading.place, f"opened: {problem.what}", problem.instead) from error


def _check_ends(view, reading):
    known = connectors(view.layout)
    for text in (reading.first, reading.second):
        if text not in known:
            raise LayoutError.at(
                reading.place, f"there is no connector {text!r} with those joints open",
                choose(text, known, "connectors"),
            )
