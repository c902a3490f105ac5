"""Noise and gain along a signal path, element by element, as budget figures in papers show it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from chain.errors import LayoutError
from chain.layout.naming import where_text
from components.thermal_noise import kelvin_per_quantum

if TYPE_CHECKING:
    from chain.writing.text import Result

INCOMING, IDLER, SIDE = "incoming", "idler", "side ports"
"""What stands for emitters that are no element of the path: what they send by the start at the
signal frequency, through the idler, and past the start."""


_ROUNDING = 1e-12
"""What is left of a difference of sums that are equal, relatively."""


@dataclass(frozen=True)
class Station:
    """One place along a signal path at one frequency; noise is referred to the signal's start."""

    name: str
    """Id of the element; INCOMING, IDLER or SIDE for what is no element of the path."""
    kind: str
    """Its kind, empty where it is no element."""
    stage: str
    """Its stage (of a cable the one to which it leads), empty where there is none."""
    gain_db: float | None
    """Gain of the element, dB; None off the path."""
    cumulative_db: float | None
    """Gain from the start to the wave that leaves it, dB; None off the path."""
    own_noise_k: float | None
    """Its noise temperature referred to its own input, kelvin; None where it has none."""
    share_k: float
    """Its part of the system noise temperature, kelvin."""
    sum_k: float
    """The parts of this and of all stations before it, kelvin; at the last, system noise."""


@dataclass(frozen=True)
class PathNoise:
    """The Stations of a signal at one frequency."""

    signal: str
    from_port: str
    to_port: str
    frequency_hz: float
    stations: tuple[Station, ...]
    """Incoming noise first, then the path, then the idler's and what comes in by side ports."""
    quantum_k: float
    """One quantum as a temperature, hf/k, kelvin."""

    @property
    def system_noise_k(self) -> float:
        """System noise temperature referred to the start, kelvin."""
        return self.stations[-1].sum_k


def path_noise(budget: Result, index: int) -> PathNoise:
    """Return the PathNoise of a Budget at the frequency of that index.

    Raises LayoutError for a signal without a start, which has no path.  The sum over stations is
    the budget's system noise: shares are the whole network's, with every reflection and idler, and
    what is no element of the path is counted before it and behind it.
    """
    if budget.gain_db is None:
        raise LayoutError.at(
            budget.layout.signals[budget.signal].place,
            f"signal {budget.signal} has no start, so no path and no gain along it",
            "give it a from, as in from: D1.out",
        )
    f = float(budget.frequency_hz[index])
    kelvin = float(kelvin_per_quantum(frequency_hz=f))

    def part(shares: Any, key: str) -> float:
        return float(shares[key][index]) * kelvin if key in shares else 0.0

    along = [row for row in budget.rows if row.where == "path"]
    aside = [row.id for row in budget.rows if row.where != "path"]
    incoming = sum(part(budget.incoming_shares_quanta, key) for key in aside)
    idler = sum(part(budget.idler_shares_quanta, key) for key in aside)
    whole = sum(part(budget.shares_quanta, key) for key in aside)
    places: list[tuple[str, Any, float]] = [(INCOMING, None, incoming)]
    places += [(row.id, row, part(budget.shares_quanta, row.id)) for row in along]
    if idler:
        places.append((IDLER, None, idler))
    if abs(beside := whole - incoming - idler) > _ROUNDING * abs(whole):
        places.append((SIDE, None, beside))
    stations, total_k = [], 0.0
    for name, row, share_k in places:
        total_k += share_k
        stage = "" if row is None else where_text(budget.layout.elements[name])
        stations.append(Station(
            name, "" if row is None else row.kind, stage.rpartition(" to ")[2],
            *_levels(row, index), share_k, total_k,
        ))
    return PathNoise(budget.signal, budget.from_port, budget.to_port, f, tuple(stations), kelvin)


def _levels(row: Any, index: int) -> tuple[float | None, float | None, float | None]:
    """Return gain, cumulative gain and own noise of a Row at one frequency, None for unknown."""
    if row is None:
        return None, None, None
    gain, level, own = (
        None if values is None else float(values[index])
        for values in (row.gain_db, row.cumulative_db, row.own_noise_k)
    )
    return gain, level, own
