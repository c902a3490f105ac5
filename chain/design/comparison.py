"""What a change costs: two layouts side by side, and each single point of failure."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields

import numpy as np

from chain.layout.signals import chosen_signal
from chain.network.assembly import pumps_of
from chain.network.pumps import OFF
from chain.noise.budget import Budget, NothingArrives, budget


@dataclass(frozen=True)
class Comparison:
    """A signal in two layouts; arrays run over the first one's frequencies."""

    signal: str
    a: Budget
    b: Budget
    changed: tuple[str, ...]
    """What makes the second of the first, as --set would write it."""

    @property
    def frequency_hz(self):
        """The frequencies, Hz."""
        return self.a.frequency_hz

    @property
    def noise_a_quanta(self):
        """System noise of the first layout, quanta (at the end for a signal without a start)."""
        return _noise(self.a)

    @property
    def noise_b_quanta(self):
        """System noise of the second layout, quanta."""
        return _noise(self.b)

    @property
    def noise_ratio(self):
        """Noise of the second over the first."""
        return self.noise_b_quanta / self.noise_a_quanta

    @property
    def gain_change_db(self):
        """Gain of the second less that of the first, dB."""
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
    """Return what makes the second layout of the first, as --set would write it, in file order."""
    found = []
    for key, element in first.elements.items():
        other = second.elements.get(key)
        if other is None:
            found.append(f"{key} is only in the first")
            continue
        if other.kind is not element.kind:
            found.append(f"{key}.kind={other.kind.name}")
        found += _settings_changes(key, element.settings, other.settings)
    added = [key for key in second.elements if key not in first.elements]
    found += [f"{key} is only in the second" for key in added]
    for section in ("stages", "tones"):
        mine, its = getattr(first, section), getattr(second, section)
        for name in dict.fromkeys([*mine, *its]):
            if name not in mine or name not in its:
                where = "first" if name in mine else "second"
                found.append(f"{section}.{name} is only in the {where}")
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


@dataclass(frozen=True)
class Failures:
    """Every single failure of a layout's signals, worst first."""

    failures: tuple[Failure, ...]
    layout: object = field(default=None, repr=False)

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
    work = [(s, key, state) for s in chosen for key, state in candidates(layout, s)]
    some = layout.band.frequency_hz
    some = some[np.unique(np.linspace(0, some.size - 1, min(21, some.size)).astype(int))]
    whole = {s.name: budget(layout, s.name, frequency_hz=some) for s in chosen}
    found = []
    for done, (s, key, state) in enumerate(work):
        progress(done, len(work))
        found.append(_failure(layout, whole[s.name], key, state, some))
    progress(len(work), len(work))
    found.sort(key=lambda one: (not one.loses_signal, -(one.worst_ratio or 0.0)))
    return Failures(tuple(found), layout)


def _first_copies(layout):
    """Return the signals, of copies (`drive-1` .. `drive-24`) the first alone."""
    return [s for s in layout.signals.values()
            if not (s.name.rpartition("-")[2].isdigit() and s.name.rpartition("-")[2] != "1")]


def _failure(layout, whole, key, state, f):
    change = f"{key}.state={state}"
    broken = layout.with_settings({key: {"state": state}})
    near = broken.connected(whole.to_port.split(".")[0])
    unpumped = tuple(
        one.id for one in pumps_of(broken).values() if one.state == OFF and one.id in near
    )
    try:
        b = budget(broken, whole.signal, frequency_hz=f)
    except NothingArrives:
        return Failure(whole.signal, change, None, None, None, unpumped)
    ratio = _noise(b) / _noise(whole)
    middle = len(f) // 2
    gain = None if whole.gain_db is None else float((b.gain_db - whole.gain_db)[middle])
    worst = float(np.nanmax(ratio, initial=0.0)) or None
    return Failure(whole.signal, change, gain, float(ratio[middle]), worst, unpumped)
