"""What each single failure costs: every amplifier dead or off, every cable open, worst first."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.design.assumed import LOST, bypassed, ends
from chain.layout.asked import asked_frequencies
from chain.layout.equal_networks import signal_keys
from chain.layout.signals import chosen_signal
from chain.layout.variants import Variant
from chain.network.assembly import pumps_of
from chain.network.pumps import OFF
from chain.noise.budget import NothingArrives
from chain.noise.variants import variant_budgets
from chain.power.self_heating import heating_of

if TYPE_CHECKING:
    from chain.layout.layout import Layout, Signal


@dataclass(frozen=True)
class Failure:
    """What one failure costs one signal, at the middle of the band and at worst over it."""

    signal: str
    change: str
    """As --set would write it."""
    gain_change_db: float | None
    noise_ratio: float | None
    """None where nothing arrives any more."""
    worst_ratio: float | None
    """The same at worst over the band."""
    unpumped: tuple[str, ...] = ()
    """Paramps that lose their pump by it and are counted as off."""
    noise_ratio_range: tuple[float, float] | None = None
    """Least and most, over what is usual of values that nobody gave; None where none is assumed."""
    gain_change_range_db: tuple[float, float] | None = None
    """Least and most change of the gain, in the same way."""
    bypassed_ratio: float | None = None
    """The noise ratio with the element bypassed; None where that is not asked."""

    @property
    def line_lost(self) -> bool:
        """True where the noise rises so much that nothing useful is measured any more."""
        return self.noise_ratio is None or self.noise_ratio > LOST

    @property
    def loses_signal(self) -> bool:
        """True where nothing of the signal arrives any more."""
        return self.noise_ratio is None

    def as_dict(self) -> dict[str, Any]:
        """Return the failure under the names that programs lean on."""
        return {
            "signal": self.signal, "change": self.change, "gain_change_db": self.gain_change_db,
            "noise_ratio": self.noise_ratio, "worst_ratio": self.worst_ratio,
            "nothing_arrives": self.loses_signal, "unpumped": list(self.unpumped),
            "noise_ratio_range": self.noise_ratio_range,
            "gain_change_range_db": self.gain_change_range_db,
            "line_lost": self.line_lost, "bypassed_ratio": self.bypassed_ratio,
        }


@dataclass(frozen=True)
class Failures:
    """Every single failure of a layout's signals, worst first."""

    failures: tuple[Failure, ...]
    layout: Layout | None = field(default=None, repr=False)

    def as_dict(self) -> dict[str, Any]:
        """Return the failures under the names that programs lean on."""
        return {
            "failures": [one.as_dict() for one in self.failures], "warnings": [], "laws": {},
        }

    def __str__(self):
        from chain.design.failures_text import failures_text

        return failures_text(self)


def candidates(layout: Layout, signal: Signal) -> Iterator[tuple[str, str]]:
    """Return the (id, state) of every single failure that may matter to a signal."""
    for key in layout.connected(signal.to_port[0]):
        element = layout.elements[key]
        if element.kind.amplifies(element.settings) and "off" in element.kind.states:
            yield key, "off" if element.kind.pumps(element.settings) else "dead"
        elif element.kind.spans_stages and "open" in element.kind.states:
            yield key, "open"


def each_failure(
    layout: Layout, signal: str | None = None, *,
    progress: Callable[[int, int], object]=lambda done, of: None,
) -> Failures:
    """Return the Failures of one signal, or of all (of copies that solve alike only the first).

    Every amplifier in turn dead or off and every cable open; `progress` is called with the number
    done and the number in all.
    """
    chosen = [chosen_signal(layout, signal)] if signal else _first_copies(layout)
    work = {s.name: [*candidates(layout, s)] for s in chosen}
    of = sum(map(len, work.values()))
    found = []
    for s in chosen:
        some = asked_frequencies(layout, None, s)
        some = some[np.unique(np.linspace(0, some.size - 1, min(21, some.size)).astype(int))]
        progress(len(found), of)
        found += _failures(layout, s, work[s.name], some)
    progress(of, of)
    found.sort(key=lambda one: (not one.loses_signal, -(one.worst_ratio or 0.0)))
    return Failures(tuple(found), layout)


def _first_copies(layout):
    """Return the signals, of copies whose networks solve alike the first alone."""
    signals, found = layout.signals.values(), {}
    keys = signal_keys(layout, signals, heated=heating_of(layout))
    for signal in signals:
        found.setdefault((signal.declared_name, keys[signal.name]), signal)
    return list(found.values())


def _failures(layout, signal, states, f):
    """Return the Failure of every (id, state), solved together where that may be."""
    broken = [Variant(f"{key}.state={state}", {key: {"state": state}}) for key, state in states]
    more = [_with_doubt(layout, one) for one in broken]
    solved = variant_budgets(
        layout, [Variant("as it is"), *broken, *(one for own in more for one in own)],
        signal.name, frequency_hz=f, shares=False,
    )
    for number, error in solved.errors.items():
        if number == 0 or not isinstance(error, NothingArrives):
            raise error
    middle, found, following = len(f) // 2, [], 1 + len(broken)
    for number, (one, own) in enumerate(zip(broken, more, strict=True), 1):
        unpumped = _unpumped(one.apply(layout), signal)
        doubt, following = range(following, following + len(own)), following + len(own)
        if number in solved.errors:
            found.append(Failure(signal.name, one.name, None, None, None, unpumped))
            continue
        ratio = solved.noise_quanta[number] / solved.noise_quanta[0]
        gain = None
        if solved.gain_db is not None:
            gain = float((solved.gain_db[number] - solved.gain_db[0])[middle])
        worst = float(np.nanmax(ratio, initial=0.0)) or None
        found.append(Failure(
            signal.name, one.name, gain, float(ratio[middle]), worst, unpumped,
            *_in_doubt(solved, [number, *doubt], middle),
        ))
    return found


def _with_doubt(layout, one):
    """Return a failure's further Variants: what it assumes at both ends, and bypassed."""
    broken = one.apply(layout)
    further = [*ends(broken), bypassed(broken)]
    return [
        Variant(each.name, {key: {**one.settings.get(key, {}), **values}
                            for key, values in each.settings.items()})
        for each in further if each is not None
    ]


def _in_doubt(solved, numbers, middle):
    """Return (noise ratio and gain change, least and most of each, noise ratio bypassed)."""
    if len(numbers) == 1:
        return None, None, None
    *doubtful, without = numbers
    if any(number in solved.errors for number in doubtful):
        return None, None, None
    noise = [float(solved.noise_quanta[n][middle] / solved.noise_quanta[0][middle])
             for n in numbers]
    gains = None
    if solved.gain_db is not None:
        changes = [float((solved.gain_db[n] - solved.gain_db[0])[middle]) for n in doubtful]
        gains = min(changes), max(changes)
    return (min(noise[:-1]), max(noise[:-1])), gains, (
        None if without in solved.errors else noise[-1]
    )


def _unpumped(layout, signal):
    """Return the ids of paramps of a signal's network that have lost their pump."""
    ids = layout.connected(signal.to_port[0])
    return tuple(
        one.id for one in pumps_of(layout).values() if one.state == OFF and one.id in ids
    )
