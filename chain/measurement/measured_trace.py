"""A measured trace beside what a layout should show: where it leaves its interval, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError, Place
from chain.measurement.analyser import (
    DRAWS,
    WITHIN_DB,
    Trace,
    connectors,
    opened,
    port_named,
    traces,
)
from chain.measurement.bad_joint import locate
from chain.measurement.deviations import Deviation, deviations, explain, standing_wave
from chain.measurement.warm import warmed
from components.arrays import FloatArray
from components.quantities import decibels
from components.touchstone import DataError, read

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from chain.measurement.bad_joint import Location
    from components.arrays import FloatArray

MAX_POINTS = 2001
"""Points of a measured trace that are compared; a longer one is thinned out evenly."""

MAX_LISTED = 6
"""Stretches of one trace that are listed in words."""

OPTION = "--measured"


@dataclass(frozen=True)
class Overlay:
    """One measured scattering parameter beside its expected interval."""

    parameter: str
    """Of the file: `S21`."""
    trace: Trace
    measured_db: FloatArray
    deviations: tuple[Deviation, ...]
    """Where it leaves the interval, in order of frequency."""
    remark: str = ""
    """What the deviations together look like."""

    @property
    def inside(self) -> bool:
        """True where it stays in its interval throughout."""
        return not self.deviations

    @property
    def words(self) -> tuple[str, ...]:
        """Everything about it, sentence by sentence."""
        head = f"{self.parameter}, {self.trace.name}"
        if self.inside:
            return (f"{head}: inside its interval throughout",)
        shown = self.deviations[:MAX_LISTED]
        said = [f"{head}: {one.words}" for one in shown]
        if len(shown) < len(self.deviations):
            said.append(f"{head}: and {len(self.deviations) - len(shown)} more stretches")
        return (*said, f"{head}: {self.remark}") if self.remark else tuple(said)

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        return {
            "parameter": self.parameter, **self.trace.as_dict(),
            "measured_db": self.measured_db, "inside": self.inside,
            "deviations": [
                {"low_hz": one.low_hz, "high_hz": one.high_hz, "off_db": one.off_db,
                 "beyond_db": one.beyond_db, "why": one.why, "words": one.words}
                for one in self.deviations
            ],
            "words": list(self.words),
        }


@dataclass(frozen=True)
class MeasuredTrace:
    """A Touchstone file beside a layout."""

    path: str
    ports: tuple[str, ...]
    """What port 1, 2 of the file are in the layout."""
    overlays: tuple[Overlay, ...]
    remarks: tuple[str, ...] = ()
    location: Location | None = None
    """Which joint or piece may be wrong; None where nothing looks wrong."""
    layout: Layout = field(kw_only=True, repr=False)

    @property
    def inside(self) -> bool:
        """True where everything measured stays in its interval."""
        return all(overlay.inside for overlay in self.overlays)

    def as_dict(self) -> dict[str, Any]:
        """Return the comparison under the names that programs lean on."""
        return {
            "measured": self.path, "ports": list(self.ports), "inside": self.inside,
            "traces": [overlay.as_dict() for overlay in self.overlays],
            "location": None if self.location is None else self.location.as_dict(),
            "warnings": list(self.remarks), "laws": {},
        }

    def __str__(self):
        from chain.measurement.measured_trace_text import measured_trace_text

        return measured_trace_text(self)


def against_trace(
    layout: Layout, signal_or_ports: str | Sequence[str] | None, path: str, *, warm: bool = False,
    draws: int = DRAWS, seed: int = 0, within_db: float = WITHIN_DB,
) -> MeasuredTrace:
    """Return the MeasuredTrace of a Touchstone file (one or two ports) beside a layout.

    `signal_or_ports` says between what was measured: the name of a signal, or the file's ports in
    the layout, `"S1:R1"`, `("D1.out", "R1")` or `"S1"`; None takes the layout's only pair of
    connectors.  Where that is no outside connector, the joint there is open and the analyser stands
    at the end that the wave goes into.  With `warm` everything is at room temperature.
    Raises LayoutError.
    """
    contents = _contents(path)
    count = contents.scattering.shape[1]
    here = warmed(layout) if warm else layout
    view, ports = _ports(here, signal_or_ports, count)
    index = _points(contents.frequency_hz, here.band, path)
    f = contents.frequency_hz[index]
    expected = {
        (trace.first, trace.second): trace
        for trace in traces(view, frequency_hz=f, draws=draws, seed=seed, within_db=within_db,
                            only=ports, both_ways=True)
    }
    overlays, silent = [], []
    for i, j in ((1, 0), (0, 1), (0, 0), (1, 1)):
        if max(i, j) < count:
            measured = decibels(np.abs(contents.scattering[index, i, j]) ** 2)
            trace = expected.get((ports[j], ports[i]))
            # Where the layout states nothing of a reflection, nothing can be held against it.
            if trace is None or trace.dark:
                silent.append(f"S{i + 1}{j + 1}")
            else:
                overlays.append(_overlay(view, f"S{i + 1}{j + 1}", trace, measured))
    remarks = [*here.remarks, *_not_compared(contents.frequency_hz, f, silent)]
    location = _location(view, ports, f, overlays, contents.scattering[index], warm)
    return MeasuredTrace(str(path), ports, tuple(overlays), tuple(remarks), location, layout=here)


def _location(view, ports, f, overlays, scattering, warm):
    """Return the Location where a level leaves its interval or an echo is worse than it may be."""
    through = next((one for one in overlays if one.parameter == "S21"), None)
    found = locate(
        view.layout, ports, f, warm=warm,
        off_db=None if through is None else through.measured_db - through.trace.expected_db,
        reflections=[scattering[:, i, i] for i in range(len(ports))],
    )
    wrong = any(not overlay.inside for overlay in overlays)
    return found if found is not None and (wrong or found.located) else None


def _overlay(view, parameter, trace, measured_db):
    found = deviations(trace, measured_db)
    found = tuple(explain(view.layout, trace, measured_db, one) for one in found)
    return Overlay(parameter, trace, measured_db, found, standing_wave(found))


# -- the file ---------------------------------------------------------------------------------


def _contents(path):
    try:
        contents = read(str(path))
    except DataError as error:
        raise LayoutError.at(Place(OPTION), error.what, error.instead) from error
    if contents.scattering.shape[1] > 2:
        raise LayoutError.at(
            Place(OPTION), f"{contents.name} has {contents.scattering.shape[1]} ports",
            "give a file of one or two ports: two connectors at a time",
        )
    return contents


def _points(f, band, path):
    """Return the indices of the points that are compared: inside the band, not too many."""
    inside = np.flatnonzero((f >= band.start_hz * (1 - 1e-12)) & (f <= band.stop_hz * (1 + 1e-12)))
    if not inside.size:
        raise LayoutError.at(
            Place(OPTION), f"{path} reaches from {f[0] / 1e9:g} to {f[-1] / 1e9:g} GHz, outside "
            f"the band of {band.start_hz / 1e9:g} to {band.stop_hz / 1e9:g} GHz",
            "measure inside the band, or change it: --set band.start=... --set band.stop=...",
        )
    if inside.size <= MAX_POINTS:
        return inside
    return inside[np.unique(np.linspace(0, inside.size - 1, MAX_POINTS).astype(int))]


def _not_compared(every, compared, silent):
    if silent:
        yield (
            f"{', '.join(silent)} of the file: not compared, nothing passes the layout in that "
            "direction (reflections are known where a part has a return_loss or a file)"
        )
    low, high = compared[0], compared[-1]
    outside = np.count_nonzero((every < low) | (every > high))
    if outside:
        yield (
            f"{outside} points of the file lie outside the layout's band and are not compared"
        )


# -- where it was measured --------------------------------------------------------------------


def _ports(layout, signal_or_ports, count):
    """Return the layout opened as asked, and the connectors of ports 1 and 2 of the file."""
    if signal_or_ports is None:
        return opened(layout, ()), _only_pair(layout, count)
    if isinstance(signal_or_ports, str) and signal_or_ports in layout.signals:
        signal = layout.signals[signal_or_ports]
        if signal.from_port is None:
            raise LayoutError.at(
                signal.place, f"signal {signal.name} has no start to measure from",
                "name two ports, like S1:R1",
            )
        asked = [(signal.from_port, True), (signal.to_port, True)]
    else:
        named = signal_or_ports.split(":") if isinstance(signal_or_ports, str) else signal_or_ports
        asked = [(port_named(layout, text.strip(), "ports"), False) for text in named]
    if len(asked) < count:
        raise LayoutError.at(
            Place(OPTION), f"the file has {count} ports and {len(asked)} are named",
            "name as many, like S1:R1",
        )
    return _opened_for(layout, asked[:max(count, 1)])


def _opened_for(layout, asked):
    """Open joints where asked; a signal's wave is met beyond its port, a named port looked into."""
    wanted, joints = [], []
    for port, beyond in asked:
        key = port[0]
        if layout.elements[key].kind.outside:
            wanted.append(key)
            continue
        end = layout.partners[port] if beyond else port
        wanted.append(".".join(end))
        joints.append(".".join(port))
    return opened(layout, joints), tuple(wanted)


def _only_pair(layout, count):
    keys = connectors(layout)
    pairs = [
        (a, b) for i, a in enumerate(keys) for b in keys[i + 1 :] if b in layout.connected(a)
    ]
    if count == 1 and len(keys) == 1:
        return (keys[0],)
    if count == 2 and len(pairs) == 1:
        return pairs[0]
    what = "connectors" if count == 1 else "pairs of connectors"
    several = keys if count == 1 else [":".join(pair) for pair in pairs]
    raise LayoutError.at(
        Place(OPTION), f"the layout has {len(several)} {what}, and none is named",
        f"name a signal, or ports: {', '.join(several[:8]) or 'there are none'}",
    )
