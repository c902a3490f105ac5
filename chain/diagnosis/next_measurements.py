"""What to measure next: what each further measurement is expected to tell, against its effort."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.diagnosis.evidence import log_sum
from chain.diagnosis.information import expected_bits
from chain.diagnosis.measured_set import MeasuredSet
from chain.diagnosis.prediction import Prediction
from chain.diagnosis.single_readings import Reading
from chain.errors import LayoutError
from chain.measurement.data_sets import (
    ASSUMED_COMMON_DB,
    ASSUMED_OWN_DB,
    GAIN,
    SYSTEM,
    Column,
    DataSet,
)
from components.quantities import Quantity, Tolerance

if TYPE_CHECKING:
    from chain.diagnosis.search import Explanation, Search
    from chain.layout.layout import Layout

MOST = 3
"""Measurements that are proposed."""

LEAST_BITS = 0.05
"""A measurement that is expected to tell less is not proposed."""

CONSIDERED, SIZES = 50, 6
"""Explanations that are to be told apart, and sizes drawn for each."""

POINTS = 9
"""Frequencies of a further measurement."""

OVERHEAD_MINUTES = 30.0
"""Added to a measurement's own time where bits are weighed against it: thinking costs too."""

OFF_MINUTES, SIGNAL_MINUTES, READING_MINUTES = 10, 30, 3
WARM_MINUTES, JOINT_MINUTES = 2 * 24 * 60, 60
"""Minutes of an on/off, another signal, a thermometer; of warming up and cooling down, and of one
joint opened and closed (common practice, no source)."""

THERMOMETER = 0.02
"""Relative error of a stage's thermometer (common practice, no source)."""


@dataclass(frozen=True)
class Further:
    """One measurement that may be made next."""

    measure: str
    """In words."""
    bits: float
    """Information that it is expected to give about which explanation holds."""
    minutes: float
    """What it takes, warming up and cooling down counted."""
    needs_warm_up: bool
    """True where the cryostat has to be warm."""

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        return {"measure": self.measure, "bits": self.bits, "minutes": self.minutes,
                "needs_warm_up": self.needs_warm_up}


@dataclass(frozen=True)
class _Candidate:
    measure: str
    minutes: float
    warm: bool
    seen: Any
    """What predicts it: a MeasuredSet or a Reading."""


def further_measurements(
    layout: Layout, signal: str, sets: Sequence[DataSet], search: Search,
    every: Sequence[Explanation],
) -> tuple[Further, ...]:
    """Return at most three Further measurements, the best first.

    Bits are weighed against the time; what is already among `sets` is not proposed.
    """
    some = list(every[:CONSIDERED])
    logs = np.array([one.log_evidence + np.log(max(one.prior, 1e-300)) for one in some])
    probabilities = np.exp(logs - log_sum(logs))
    if probabilities.max() > 0.9999:
        return ()
    drawn = [_drawn(one, place) for place, one in enumerate(some)]
    combinations = [combination for own in drawn for combination in own]
    found = []
    for candidate in _candidates(layout, signal, sets, search):
        values = candidate.seen.of(combinations)
        values = np.where(np.isfinite(values), values, 0.0).reshape(len(some), SIZES, -1)
        covariance = _covariance(candidate.seen, search)
        bits = expected_bits(values, probabilities, covariance)
        if bits >= LEAST_BITS:
            found.append(Further(candidate.measure, bits, candidate.minutes, candidate.warm))
    found.sort(key=lambda one: -one.bits / (one.minutes + OVERHEAD_MINUTES))
    return tuple(found[:MOST])


def _drawn(one: Explanation, seed: int) -> list[Any]:
    """Return combinations of an explanation at sizes that are as likely as each other now."""
    rng = np.random.default_rng([23, seed])
    shown = one.same_as or one
    found = []
    known = {cause.key + cause.what: place for place, cause in enumerate(shown.sized)}
    if shown.sized:
        spread = np.linalg.cholesky(shown.covariance + 1e-12 * np.eye(len(shown.sized)))
        fitted = shown.z + rng.normal(size=(SIZES, len(shown.sized))) @ spread.T
    else:
        fitted = np.zeros((SIZES, 0))
    for z in fitted:
        sizes = [
            z[known[cause.key + cause.what]] if cause.key + cause.what in known else rng.normal()
            for cause in one.sized
        ]
        found.append(one.combination(list(np.clip(sizes, -2.6, 2.6))))
    return found


def _covariance(seen, search):
    slopes = seen.slopes(search.toleranced, [()])[0]
    whole = seen.stated() + slopes.T @ slopes
    return whole + seen.ripple(search.ripples[len(search.ripples) // 2])


def _candidates(layout, signal, sets, search) -> Iterator[_Candidate]:
    done = {(one.changes, one.warm, one.ports, one.signal or signal) for one in sets}
    paramps = [key for key, e in layout.elements.items()
               if e.kind.pumps(e.settings) and key in search.sets[0].prediction.ids()]
    for key in paramps:
        changes = (f"{key}.state=off",)
        if (changes, False, "", signal) not in done:
            yield from _tried(layout, signal, f"gain and noise of {signal} with {key} off",
                              OFF_MINUTES, changes=changes)
    for name, other in layout.signals.items():
        if other.from_port is not None and ((), False, "", name) not in done and \
                other.declared_name != layout.signals[signal].declared_name:
            yield from _tried(layout, signal, f"gain and noise of {name}", SIGNAL_MINUTES, of=name)
    known = {reading.key for reading in search.sets if isinstance(reading, Reading)}
    for name, stage in layout.stages.items():
        key = f"stages.{name}.temperature"
        if key not in known and any(cause.key == key for cause in search.causes):
            sigma = THERMOMETER * stage.temperature_k
            reading = Reading(key, Quantity(stage.temperature_k, "temperature", "",
                                            Tolerance(sigma)))
            reading.of_layout(layout)
            yield _Candidate(f"the temperature of {name}", READING_MINUTES, False, reading)
    yield from _warm(layout, signal, done)


def _warm(layout, signal, done) -> Iterator[_Candidate]:
    """Yield warm transmissions: the whole path, and to and from the signal's start, opened."""
    own = layout.signals[signal]
    outside = [key for key, e in layout.elements.items() if e.kind.outside
               and key in layout.connected(own.to_port[0])]
    start, end = ".".join(own.start), own.to_port[0]
    if not layout.elements[end].kind.outside:
        return
    for key in outside:
        ports = f"{key}:{end}"
        if key != end and ((), True, ports, signal) not in done:
            yield from _tried(layout, signal, f"warm transmission {key} to {end}", WARM_MINUTES,
                              warm=True, ports=ports)
    if not layout.elements[own.start[0]].kind.outside:
        other = ".".join(layout.partners[own.start])
        yield from _tried(
            layout, signal, f"warm transmission {other} to {end}, the joint at {start} open",
            WARM_MINUTES + JOINT_MINUTES, warm=True, ports=f"{other}:{end}",
        )


def _tried(layout, signal, measure, minutes, *, changes=(), warm=False, ports="",
           of="") -> Iterator[_Candidate]:
    """Yield the candidate of a data set, unless the layout cannot say what it would be."""
    f = np.linspace(layout.band.start_hz, layout.band.stop_hz, POINTS)
    own, zero = np.full(POINTS, ASSUMED_OWN_DB), np.zeros(POINTS)
    quantities = (GAIN,) if warm else (GAIN, SYSTEM)
    columns = tuple(Column(quantity, f, zero, own, ASSUMED_COMMON_DB) for quantity in quantities)
    data = DataSet(measure, columns, changes, warm, ports, of)
    try:
        prediction = Prediction(layout, signal, data)
    except LayoutError:
        return
    yield _Candidate(measure, minutes, warm, MeasuredSet(prediction))
