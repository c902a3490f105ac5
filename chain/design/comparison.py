"""What a change costs: two layouts side by side."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.design.assumed import LOST, bypassed, ends
from chain.errors import LayoutError
from chain.layout.asked import asked_frequencies
from chain.layout.signals import chosen_signal
from chain.noise.budget import Budget, NothingArrives, budget, budgets_that_arrive
from chain.writing.value_text import as_set

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from components.arrays import FloatArray


@dataclass(frozen=True)
class Comparison:
    """A signal in two layouts; arrays run over the first one's frequencies."""

    signal: str
    a: Budget
    b: Budget
    changed: tuple[str, ...]
    """What makes B of A, as --set would write it."""
    at_ends: tuple[tuple[Budget, Budget], ...] = ()
    """(A, B) with what nobody gave at its least and at its most; () where nothing is assumed."""
    without: Budget | None = None
    """B with what is assumed of bypassed, where the line is lost."""

    @property
    def noise_ratio_range(self) -> tuple[FloatArray, FloatArray] | None:
        """Noise of B over that of A, least and most over what is assumed; None for one value."""
        if not self.at_ends:
            return None
        ratios = [self.noise_ratio, *(noise_of(b) / noise_of(a) for a, b in self.at_ends)]
        return np.min(ratios, axis=0), np.max(ratios, axis=0)

    @property
    def gain_change_range_db(self) -> tuple[FloatArray, FloatArray] | None:
        """Gain of B less that of A, dB, least and most over what is assumed; None for one value."""
        change_db = self.gain_change_db
        if not self.at_ends or change_db is None:
            return None
        changes = [change_db, *(_gain_change_db(a, b) for a, b in self.at_ends)]
        return np.min(changes, axis=0), np.max(changes, axis=0)

    @property
    def line_lost(self) -> bool:
        """True where the noise rises so much that nothing useful is measured any more."""
        return bool(self.noise_ratio[len(self.frequency_hz) // 2] > LOST)

    @property
    def bypassed_ratio(self) -> FloatArray | None:
        """The noise ratio with what is assumed of bypassed, where the line is lost; else None."""
        return None if self.without is None else noise_of(self.without) / self.noise_a_quanta

    @property
    def frequency_hz(self) -> FloatArray:
        """The frequencies, Hz."""
        return self.a.frequency_hz

    @property
    def noise_a_quanta(self) -> FloatArray:
        """System noise of A, quanta (output noise for a signal without a start)."""
        return noise_of(self.a)

    @property
    def noise_b_quanta(self) -> FloatArray:
        """System noise of B, quanta."""
        return noise_of(self.b)

    @property
    def noise_ratio(self) -> FloatArray:
        """Noise of B over that of A."""
        return self.noise_b_quanta / self.noise_a_quanta

    @property
    def gain_change_db(self) -> FloatArray | None:
        """Gain of B less that of A, dB."""
        return _gain_change_db(self.a, self.b)

    @property
    def time_ratio_coherent(self) -> FloatArray:
        """Times as long to the same signal-to-noise ratio, coherent readout: the noise ratio."""
        return self.noise_ratio

    @property
    def time_ratio_radiometer(self) -> FloatArray:
        """Times as long for a radiometer, dT = T / sqrt(B t): the square of the noise ratio."""
        return self.noise_ratio**2

    @property
    def share_change_quanta(self) -> dict[str, FloatArray]:
        """What each element's share grew by, quanta, {id: array}, most first (in the mean)."""
        zero = np.zeros_like(self.frequency_hz)
        ids = dict.fromkeys([*self.a.shares_quanta, *self.b.shares_quanta])
        found = {
            key: self.b.shares_quanta.get(key, zero) - self.a.shares_quanta.get(key, zero)
            for key in ids
        }
        order = sorted(found, key=lambda key: -float(np.sum(np.nan_to_num(np.abs(found[key])))))
        return {key: found[key] for key in order}

    @property
    def warnings(self) -> tuple[str, ...]:
        """Warnings of both budgets."""
        return tuple(dict.fromkeys([*self.a.warnings, *self.b.warnings]))

    def as_dict(self) -> dict[str, Any]:
        """Return the comparison under the names that programs lean on."""
        names = (
            "signal", "frequency_hz", "noise_a_quanta", "noise_b_quanta", "noise_ratio",
            "noise_ratio_range", "line_lost", "bypassed_ratio", "gain_change_db",
            "gain_change_range_db", "time_ratio_coherent", "time_ratio_radiometer",
        )
        return {
            **{name: getattr(self, name) for name in names},
            "changed": list(self.changed), "share_change_quanta": self.share_change_quanta,
            "warnings": list(self.warnings), "laws": self.a.laws.worst(self.b.laws).as_dict(),
        }

    def __str__(self):
        from chain.design.comparison_text import comparison_text

        return comparison_text(self)


def _gain_change_db(a, b):
    return None if a.gain_db is None or b.gain_db is None else b.gain_db - a.gain_db


@dataclass(frozen=True)
class Comparisons:
    """Several signals in two layouts."""

    signals: tuple[Comparison, ...]
    """Those that arrive in both, in the order of A."""
    missing: Mapping[str, str]
    """Those of which nothing arrives, in A or in B or in both, and why."""
    changed: tuple[str, ...]
    """What makes B of A, as --set would write it."""

    def as_dict(self) -> dict[str, Any]:
        """Return the comparisons under the names that programs lean on."""
        warnings = dict.fromkeys(text for one in self.signals for text in one.warnings)
        laws = None
        for one in self.signals:
            both = one.a.laws.worst(one.b.laws)
            laws = both if laws is None else laws.worst(both)
        return {
            "signals": {one.signal: one.as_dict() for one in self.signals},
            "nothing_arrives": dict(self.missing), "changed": list(self.changed),
            "warnings": [*(f"signal {name}: {why}" for name, why in self.missing.items()),
                         *warnings],
            "laws": {} if laws is None else laws.as_dict(),
        }

    def __str__(self):
        from chain.design.comparison_text import comparisons_text

        return comparisons_text(self)


def noise_of(b: Budget) -> np.ndarray:
    """Return a budget's system noise, quanta; where there is no start, what arrives at its end."""
    return b.noise_at_to_quanta if b.system_noise_quanta is None else b.system_noise_quanta


def compare(first: Layout, second: Layout, signal: str | None = None) -> Comparison:
    """Return the Comparison of a signal in two layouts, at the first one's frequencies.

    Raises LayoutError where either has no such signal or nothing of it arrives.
    """
    chosen = chosen_signal(first, signal)
    name, f = chosen.name, asked_frequencies(first, None, chosen)
    found = Comparison(
        name, budget(first, name, frequency_hz=f), budget(second, name, frequency_hz=f),
        tuple(differences(first, second)),
    )
    return in_doubt(found, first, second)


def in_doubt(found: Comparison, first: Layout, second: Layout) -> Comparison:
    """Return a Comparison with what it would be at both ends of what nobody gave."""
    name, f, doubt = found.signal, found.frequency_hz, ends(second)
    if not doubt:
        return found

    def changed(layout, change):
        own = {key: values for key, values in change.settings.items()
               if key in layout.elements and layout.elements[key].kind is second.elements[key].kind}
        return budget(layout.with_settings(own), name, frequency_hz=f) if own else None

    at_ends = []
    try:
        for change in doubt:
            a = found.a if not ends(first) else changed(first, change)
            at_ends.append((a or found.a, changed(second, change)))
    except NothingArrives:
        return found
    found = replace(found, at_ends=tuple(at_ends))
    instead = bypassed(second)
    if not found.line_lost or instead is None:
        return found
    with contextlib.suppress(LayoutError):
        found = replace(found, without=budget(instead.apply(second), name, frequency_hz=f))
    return found


def compare_signals(first: Layout, second: Layout, names: Iterable[str]) -> Comparisons:
    """Return the Comparisons of signals in two layouts, at the first one's frequencies.

    A signal of which nothing arrives is told as that, and stops no other.  Raises LayoutError.
    """
    names = list(names)
    before, lost_a = budgets_that_arrive(first, None if set(names) == set(first.signals) else names)
    after, lost_b = _at_the_same(first, second, names)
    changed = tuple(differences(first, second))
    missing = {}
    for name in names:
        lost = [(where, lost[name]) for where, lost in (("A", lost_a), ("B", lost_b))
                if name in lost]
        if lost:
            which = " and ".join(where for where, _ in lost)
            missing[name] = f"{lost[-1][1].problems[0].what}, in {which}"
    return Comparisons(
        tuple(in_doubt(Comparison(name, before[name], after[name], changed), first, second)
              for name in names if name not in missing),
        missing, changed,
    )


def _at_the_same(first, second, names):
    """Return budgets of the second layout at the first one's frequencies, and what does not arrive.
    """
    if not any(first.signals[name].band or second.signals[name].band for name in names):
        every = None if set(names) == set(second.signals) else names
        return budgets_that_arrive(second, every, frequency_hz=first.band.frequency_hz)
    found, lost = {}, {}
    for name in names:
        f = asked_frequencies(first, None, first.signals[name])
        own, missing = budgets_that_arrive(second, [name], frequency_hz=f)
        found |= own
        lost |= missing
    return found, lost


def differences(first: Layout, second: Layout) -> list[str]:
    """Return what makes layout B of layout A, as --set would write it, in file order."""
    found = []
    for key, element in first.elements.items():
        other = second.elements.get(key)
        if other is None:
            found.append(f"{key} is only in A")
            continue
        if other.kind is not element.kind:
            found.append(f"{key}.kind={other.kind.name}")
        found += _settings_changes(key, element.settings, other.settings)
    added = [key for key in second.elements if key not in first.elements]
    found += [f"{key} is only in B" for key in added]
    for section in ("stages", "tones"):
        mine, its = getattr(first, section), getattr(second, section)
        for name in dict.fromkeys([*mine, *its]):
            if name not in mine or name not in its:
                where = "A" if name in mine else "B"
                found.append(f"{section}.{name} is only in {where}")
            else:
                found += _field_changes(f"{section}.{name}", mine[name], its[name])
    return found


def _settings_changes(key, mine, its):
    for name in dict.fromkeys([*mine.values, *its.values]):
        before, after = mine.values.get(name), its.values.get(name)
        if before != after:
            yield f"{key}.{name}={'' if after is None else as_set(after)}"


_IN_LAYOUT = {"temperature_k": ("temperature", "K"), "frequency_hz": ("frequency", "Hz"),
              "power_w": ("power", "W"), "spacing_hz": ("spacing", "Hz")}


def _field_changes(key, mine, its):
    for part in fields(mine):
        if "place" in part.name or part.name in ("name", "tolerance"):
            continue
        before, after = getattr(mine, part.name), getattr(its, part.name)
        if before != after:
            name, unit = _IN_LAYOUT.get(part.name, (part.name, ""))
            value = "" if after is None else f"{as_set(after)} {unit}".strip()
            yield f"{key}.{name}={value}"
