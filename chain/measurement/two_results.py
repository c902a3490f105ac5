"""Two measurements of one signal, this time and last time: what changed, and how surely.

The thermometer's scale, the losses of parts that were not touched and an instrument's scale are off
by the same both times: what they do to both cancels, and only the difference counts.  Drift, each
sweep's own temperature and the readings' own errors are new every time.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from chain.errors import LayoutError, Place
from chain.suggestions import shown
from components.arrays import FloatArray

MAX_BYTES = 50_000_000
"""Largest result that is read."""

EXCEEDS = 2.0
"""Standard deviations from which on a change is named."""

_ARRAYS = ("frequency_hz", "gain_db", "gain_db_own", "gain_db_common", "added_quanta",
           "added_quanta_own", "added_quanta_common")
_WORDS = ("signal", "from", "to", "source", "layout", "steps", "error_budget", "common_errors",
          "lasting_errors", "convention", "band")


@dataclass(frozen=True)
class Change:
    """What one quantity changed by, this time less last time; arrays over frequency."""

    value: np.ndarray
    own: np.ndarray
    """Standard deviation of its part that is independent from frequency to frequency."""
    common: np.ndarray
    """Standard deviation of its part that all frequencies share."""
    mean: float
    mean_sigma: float
    """Of the mean over the frequencies, both parts together."""

    @property
    def sigma(self) -> FloatArray:
        """Standard deviation, own and common together."""
        return np.hypot(self.own, self.common)

    @property
    def exceeding(self) -> np.ndarray:
        """True where the change is more than two standard deviations."""
        return np.abs(self.value) > EXCEEDS * self.sigma


@dataclass(frozen=True)
class TwoResults:
    """Two reductions of one signal, and what changed from the last to this."""

    this: Mapping
    """As `reduce --json` printed it."""
    last: Mapping
    frequency_hz: np.ndarray
    gain: Change
    """dB."""
    added: Change
    """Quanta."""
    shared: tuple[str, ...]
    """Common errors that are the same both times."""
    changed: tuple[str, ...]
    """What changed in the layout from the last to this, value by value."""
    doubts: tuple[str, ...]

    @property
    def exceeds(self) -> list[tuple[str, float, float, float, float]]:
        """[(quantity, lowest Hz, highest Hz, change, sigma)] of stretches beyond two sigma."""
        return [
            (name, *stretch) for name, change in (("gain_db", self.gain),
                                                  ("added_quanta", self.added))
            for stretch in _stretches(self.frequency_hz, change)
        ]

    def as_dict(self) -> dict[str, Any]:
        """Return the comparison under the names that programs lean on."""
        from chain.measurement.two_results_text import two_results_dict

        return two_results_dict(self)

    def __str__(self):
        from chain.measurement.two_results_text import two_results_text

        return two_results_text(self)


def _stretches(f, change):
    beyond = np.flatnonzero(change.exceeding)
    if not beyond.size:
        return
    for run in np.split(beyond, np.flatnonzero(np.diff(beyond) > 1) + 1):
        worst = run[np.argmax(np.abs(change.value[run]) / change.sigma[run])]
        yield (float(f[run[0]]), float(f[run[-1]]), float(change.value[worst]),
               float(change.sigma[worst]))


def read_result(path: str) -> dict[str, Any]:
    """Return what `reduce --json` wrote to a file; raises LayoutError with place."""
    try:
        with open(path, "rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise LayoutError.at(
            Place(str(path)), str(error.strerror or error), "name a result of reduce --json"
        ) from error
    if len(data) > MAX_BYTES:
        raise LayoutError.at(Place(str(path)), "the file is too large",
                             "name a result of reduce --json")
    try:
        found = json.loads(data)
    except json.JSONDecodeError as error:
        raise LayoutError.at(Place(str(path), error.lineno, error.colno),
                             f"this is no JSON: {error.msg}", "name a result of reduce --json"
                             ) from error
    except (UnicodeDecodeError, RecursionError) as error:
        raise LayoutError.at(Place(str(path)), "this is no JSON", "name a result of reduce --json"
                             ) from error
    return _checked(path, found)


def _checked(path, found):
    here, right = Place(str(path)), "write it with: chain reduce ... --json > FILE"
    if not isinstance(found, dict):
        raise LayoutError.at(here, "this is no result of reduce --json", right)
    missing = [name for name in (*_ARRAYS, *_WORDS) if name not in found]
    if missing:
        raise LayoutError.at(
            here, f"this is no result of reduce --json: it has no {shown(missing[0])}", right
        )
    try:
        arrays: dict[str, Any] = {name: np.array(found[name], float) for name in _ARRAYS}
        arrays["effects"] = {
            name: {key: np.array(each[key], float) for key in ("gain_db", "added_quanta")}
            for name, each in found["common_errors"].items()
        }
    except (TypeError, ValueError, KeyError, AttributeError) as error:
        raise LayoutError.at(here, "its numbers cannot be read", right) from error
    f = arrays["frequency_hz"]
    shapes = {array.shape for name, array in arrays.items() if name != "effects"}
    if shapes != {f.shape} or f.ndim != 1 or not f.size or np.any(np.diff(f) <= 0):
        raise LayoutError.at(here, "its arrays do not run over one rising frequency_hz", right)
    return {**found, "arrays": arrays, "path": str(path)}


def compare_results(this_path: str, last_path: str) -> TwoResults:
    """Return the TwoResults of two files that `reduce --json` wrote; raises LayoutError."""
    this, last = read_result(this_path), read_result(last_path)
    for name in ("from", "to"):
        if this[name] != last[name]:
            raise LayoutError.at(
                Place(str(last_path)), f"it is referred {name} {shown(str(last[name]))}, and "
                f"{this_path} {name} {shown(str(this[name]))}",
                "compare two results of one signal at one plane",
            )
    f = _shared_frequencies(this, last)
    changed = tuple(_changed(last["layout"].get("values", {}), this["layout"].get("values", {})))
    touched = {text.partition(":")[0] for text in changed}
    shared = tuple(
        name for name in this["lasting_errors"]
        if name in last["lasting_errors"] and name not in touched
        and name in this["arrays"]["effects"] and name in last["arrays"]["effects"]
    )
    gain, added = (_change(this, last, f, name, shared) for name in ("gain_db", "added_quanta"))
    return TwoResults(this, last, f, gain, added, shared, changed, tuple(_doubts(this, last, f)))


def _shared_frequencies(this, last):
    f, other = this["arrays"]["frequency_hz"], last["arrays"]["frequency_hz"]
    inside = (f >= other[0] * (1 - 1e-9)) & (f <= other[-1] * (1 + 1e-9))
    if not inside.any():
        raise LayoutError.at(
            Place(last["path"]), f"it reaches from {other[0] / 1e9:g} to {other[-1] / 1e9:g} GHz, "
            f"{this['path']} from {f[0] / 1e9:g} to {f[-1] / 1e9:g} GHz",
            "compare results over one band",
        )
    return f[inside]


def _change(this, last, f, name, shared):
    """Return the Change of a quantity at frequencies f, last time's values linear in between."""

    def at(result, values):
        return np.interp(f, result["arrays"]["frequency_hz"], values)

    own2, common2 = np.zeros(f.size), np.zeros(f.size)
    lasting = {each: np.zeros(f.size) for each in shared}
    for sign, result in ((1.0, this), (-1.0, last)):
        arrays = result["arrays"]
        own2 = own2 + at(result, arrays[f"{name}_own"]) ** 2
        new = at(result, arrays[f"{name}_common"]) ** 2
        for each in shared:
            effect = at(result, arrays["effects"][each][name])
            lasting[each] = lasting[each] + sign * effect
            new = new - effect**2
        common2 = common2 + np.maximum(new, 0.0)
    value = at(this, this["arrays"][name]) - at(last, last["arrays"][name])
    both = sum((effect**2 for effect in lasting.values()), common2)
    known = np.isfinite(value) & np.isfinite(both)
    count = max(int(known.sum()), 1)
    mean_own = np.sqrt(np.sum(own2[known])) / count
    mean_new = np.sqrt(common2[known]).mean() if known.any() else np.nan
    mean_lasting = [effect[known].mean() for effect in lasting.values()] if known.any() else []
    mean_sigma = np.sqrt(mean_own**2 + mean_new**2 + np.sum(np.square(mean_lasting)))
    mean = float(value[known].mean()) if known.any() else np.nan
    return Change(value, np.sqrt(own2), np.sqrt(both), mean, float(mean_sigma))


def _changed(last, this):
    """Yield what changed from the last layout to this, `H1.gain: 36 dB, was 35 dB`."""
    for name in dict.fromkeys([*last, *this]):
        if name not in last:
            yield f"{name}: {this[name]}, was not there"
        elif name not in this:
            yield f"{name}: no longer there, was {last[name]}"
        elif this[name] != last[name]:
            yield f"{name}: {this[name]}, was {last[name]}"


def _doubts(this, last, f):
    if this["source"] != last["source"]:
        yield f"the load was {this['source']} this time and {last['source']} last time"
    if not np.all(np.isin(f, last["arrays"]["frequency_hz"])):
        yield "the frequencies differ: last time's values are taken linear in between"
    if len(f) < len(this["arrays"]["frequency_hz"]):
        left_out = len(this["arrays"]["frequency_hz"]) - len(f)
        yield f"{left_out} frequencies of this time lie outside last time's band and are left out"
    if ("off" in this) != ("off" in last):
        yield "one was measured by paramp on and off, the other by hot and cold alone"
