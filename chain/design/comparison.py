"""What a change costs: two layouts side by side, and each single point of failure."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields

import numpy as np

from chain.layout.signals import chosen_signal
from chain.layout.variants import Variant
from chain.network.assembly import pumps_of
from chain.network.pumps import OFF
from chain.noise.budget import Budget, NothingArrives, budget
from chain.noise.variants import variant_budgets


@dataclass(frozen=True)
class Comparison:
    """A signal in two layouts; arrays run over the first one's frequencies."""

    signal: str
    a: Budget
    b: Budget
    changed: tuple[str, ...]
    """What makes B of A, as --set would write it."""

    @property
    def frequency_hz(self):
        """The frequencies, Hz."""
        return self.a.frequency_hz

    @property
    def noise_a_quanta(self):
        """System noise of A, quanta (output noise for a signal without a start)."""
        return _noise(self.a)

    @property
    def noise_b_quanta(self):
        """System noise of B, quanta."""
        return _noise(self.b)

    @property
    def noise_ratio(self):
        """Noise of B over that of A."""
        return self.noise_b_quanta / self.noise_a_quanta

    @property
    def gain_change_db(self):
        """Gain of B less that of A, dB."""
        return None if self.a.gain_db is None else self.b.gain_db - self.a.gain_db

    @property
    def time_ratio_coherent(self):
        """Times as long to the same signal-to-noise ratio, coherent readout: the noise ratio."""
        return self.noise_ratio

    @property
    def time_ratio_radiometer(self):
        """Times as long for a radiometer, dT = T / sqrt(B t): the square of the noise ratio."""
        return self.noise_ratio**2

    @property
    def share_change_quanta(self):
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
    def warnings(self):
        """Warnings of both budgets."""
        return tuple(dict.fromkeys([*self.a.warnings, *self.b.warnings]))

    def as_dict(self):
        """Return the comparison under the names that programs lean on."""
        names = (
            "signal", "frequency_hz", "noise_a_quanta", "noise_b_quanta", "noise_ratio",
            "gain_change_db", "time_ratio_coherent", "time_ratio_radiometer",
        )
        return {
            **{name: getattr(self, name) for name in names},
            "changed": list(self.changed), "share_change_quanta": self.share_change_quanta,
            "warnings": list(self.warnings), "laws": self.a.laws.worst(self.b.laws).as_dict(),
        }

    def __str__(self):
        from chain.design.comparison_text import comparison_text

        return comparison_text(self)


def _noise(b):
    return b.noise_at_to_quanta if b.system_noise_quanta is None else b.system_noise_quanta


def compare(first, second, signal=None):
    """Return the Comparison of a signal in two layouts, at the first one's frequencies.

    Raises LayoutError where either has no such signal or nothing of it arrives.
    """
    name = chosen_signal(first, signal).name
    f = first.band.frequency_hz
    return Comparison(
        name, budget(first, name, frequency_hz=f), budget(second, name, frequency_hz=f),
        tuple(differences(first, second)),
    )


def differences(first, second):
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
            yield f"{key}.{name}={'' if after is None else written(after)}"


_IN_LAYOUT = {"temperature_k": ("temperature", "K"), "frequency_hz": ("frequency", "Hz"),
              "power_w": ("power", "W"), "spacing_hz": ("spacing", "Hz")}


def _field_changes(key, mine, its):
    for part in fields(mine):
        if "place" in part.name or part.name in ("name", "tolerance"):
            continue
        before, after = getattr(mine, part.name), getattr(its, part.name)
        if before != after:
            name, unit = _IN_LAYOUT.get(part.name, (part.name, ""))
            value = "" if after is None else f"{written(after)} {unit}".strip()
            yield f"{key}.{name}={value}"


def written(value):
    """Return a typed value as a layout would write it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if hasattr(value, "text"):
        return value.text
    if hasattr(value, "frequency_hz") or hasattr(value, "power_dbm"):
        return "a table"
    if hasattr(value, "path"):
        return value.path
    if hasattr(value, "name"):
        return value.name
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{k}: {written(v)}" for k, v in value.items()) + "}"
    if isinstance(value, tuple | list):
        return "[" + ", ".join(written(item) for item in value) + "]"
    return str(value)


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
    unpumped: tuple[str, ...] = ()
    """Paramps that lose their pump by it and are counted as off."""

    @property
    def loses_signal(self):
        """True where nothing of the signal arrives any more."""
        return self.noise_ratio is None

    def as_dict(self):
        """Return the failure under the names that programs lean on."""
        return {
            "signal": self.signal, "change": self.change, "gain_change_db": self.gain_change_db,
            "noise_ratio": self.noise_ratio, "worst_ratio": self.worst_ratio,
            "nothing_arrives": self.loses_signal, "unpumped": list(self.unpumped),
        }


@dataclass(frozen=True)
class Failures:
    """Every single failure of a layout's signals, worst first."""

    failures: tuple[Failure, ...]
    layout: object = field(default=None, repr=False)

    def as_dict(self):
        """Return the failures under the names that programs lean on."""
        return {
            "failures": [one.as_dict() for one in self.failures], "warnings": [], "laws": {},
        }

    def __str__(self):
        from chain.design.comparison_text import failures_text

        return failures_text(self)


def candidates(layout, signal):
    """Return the (id, state) of every single failure that may matter to a signal."""
    for key in layout.connected(signal.to_port[0]):
        element = layout.elements[key]
        if element.kind.amplifies(element.settings) and "off" in element.kind.states:
            yield key, "off" if element.kind.pumps(element.settings) else "dead"
        elif element.kind.spans_stages and "open" in element.kind.states:
            yield key, "open"


def each_failure(layout, signal=None, *, progress=lambda done, of: None):
    """Return the Failures of one signal, or of all (of equal copies only the first).

    Every amplifier in turn dead or off and every cable open; `progress` is called with the number
    done and the number in all.
    """
    chosen = [chosen_signal(layout, signal)] if signal else _first_copies(layout)
    work = {s.name: [*candidates(layout, s)] for s in chosen}
    of = sum(map(len, work.values()))
    some = layout.band.frequency_hz
    some = some[np.unique(np.linspace(0, some.size - 1, min(21, some.size)).astype(int))]
    found = []
    for s in chosen:
        progress(len(found), of)
        found += _failures(layout, s, work[s.name], some)
    progress(of, of)
    found.sort(key=lambda one: (not one.loses_signal, -(one.worst_ratio or 0.0)))
    return Failures(tuple(found), layout)


def _first_copies(layout):
    """Return the signals, of copies (`drive-1` .. `drive-24`) the first alone."""
    return [s for s in layout.signals.values()
            if not (s.name.rpartition("-")[2].isdigit() and s.name.rpartition("-")[2] != "1")]


def _failures(layout, signal, states, f):
    """Return the Failure of every (id, state), solved together where that may be."""
    broken = [Variant(f"{key}.state={state}", {key: {"state": state}}) for key, state in states]
    solved = variant_budgets(
        layout, [Variant("as it is"), *broken], signal.name, frequency_hz=f, shares=False
    )
    for number, error in solved.errors.items():
        if number == 0 or not isinstance(error, NothingArrives):
            raise error
    middle, found = len(f) // 2, []
    for number, one in enumerate(broken, 1):
        unpumped = _unpumped(one.apply(layout), signal)
        if number in solved.errors:
            found.append(Failure(signal.name, one.name, None, None, None, unpumped))
            continue
        ratio = solved.noise_quanta[number] / solved.noise_quanta[0]
        gain = None
        if solved.gain_db is not None:
            gain = float((solved.gain_db[number] - solved.gain_db[0])[middle])
        worst = float(np.nanmax(ratio, initial=0.0)) or None
        found.append(Failure(
            signal.name, one.name, gain, float(ratio[middle]), worst, unpumped
        ))
    return found


def _unpumped(layout, signal):
    """Return the ids of paramps of a signal's network that have lost their pump."""
    ids = layout.connected(signal.to_port[0])
    return tuple(
        one.id for one in pumps_of(layout).values() if one.state == OFF and one.id in ids
    )
