"""Which load temperatures to read, in which order and for how long, for a wanted error.

The layout predicts the powers; a power averaged over bandwidth B and time t scatters by
1 / sqrt(B t) of itself (R. H. Dicke, Rev. Sci. Instrum. 17, 268 (1946)), and what the thermometer,
the losses and drift add does not average away.  The same fit that will reduce the readings says
what comes of both.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from chain.errors import LayoutError, Place
from chain.layout.signals import chosen_signal
from chain.measurement.common_errors import Sizes
from chain.measurement.compression import drop_db, p1db_in_dbm, received_dbm
from chain.measurement.estimate import gain_and_added
from chain.measurement.load_noise import Load, LoadNoise
from chain.measurement.on_off import pumped, without_paramps
from chain.measurement.power_model import On
from chain.measurement.readings import Readings
from chain.measurement.readings_model import Pair, Task
from components.constants import H
from components.quantities import watt_to_dbm
from components.thermal_noise import kelvin_per_quantum, quanta

if TYPE_CHECKING:
    from chain.layout.layout import Layout, Signal

BANDWIDTH_HZ = 1e6
"""Of one power where nothing else is said."""

HOTTEST_K = 4.0
"""Of a load, where nothing else is said (common practice, no source)."""

OPTIONS = 9
"""Hottest temperatures that are tried."""

SHORT_S = 10.0
"""Averaging time that is not worth more heat (common practice, no source)."""

MAX_POINTS = 21
"""Frequencies at which a plan is worked out."""

_LEAST_SIGMA, _MOST_SIGMA = 1e-6, 0.3


@dataclass(frozen=True)
class Option:
    """One hottest temperature, and what it takes."""

    hottest_k: float
    common_quanta: float
    """Error of the added noise that no time takes away, one sigma, median over the band."""
    seconds: float | None
    """For each sweep, at each frequency; None where the wanted error is out of reach."""


@dataclass(frozen=True)
class PlannedStep:
    """One sweep to take."""

    load_k: float
    paramps_on: bool
    noise_quanta: float
    """Noise at the plane in the middle of the band, without what is added."""
    power_dbm_hz: float
    """What the instrument should read there."""


@dataclass(frozen=True)
class Plan:
    """A measurement that gives the added noise to a wanted error."""

    signal: str
    source: str
    plane: str
    error_quanta: float
    bandwidth_hz: float
    options: tuple[Option, ...]
    chosen: Option | None
    """None where none reaches the error."""
    steps: tuple[PlannedStep, ...]
    relative_sigma: float | None
    """Of each power, from the time it is averaged over."""
    added_quanta: float
    """What the layout predicts, median over the band."""
    effects: tuple[tuple[str, str, float], ...]
    """(common error, its size, what it does to the added noise, quanta), most first."""
    points: int
    warnings: tuple[str, ...] = ()
    layout: Layout | None = field(default=None, repr=False)

    @property
    def seconds_in_all(self) -> float | None:
        """Averaging time of all sweeps at one frequency, seconds; None without a plan."""
        seconds = None if self.chosen is None else self.chosen.seconds
        return None if seconds is None else seconds * len(self.steps)

    def __str__(self):
        from chain.measurement.plan_text import plan_text

        return plan_text(self)


def plan(
    layout: Layout, signal: str | None = None, *, source: str, error_quanta: float,
    bandwidth_hz: float = BANDWIDTH_HZ, sizes: Sizes | None = None, hottest_k: float = HOTTEST_K,
) -> Plan:
    """Return the Plan for an error (one sigma) of the added noise at each frequency.

    With a paramp on, hot and cold are planned with it off, and one cold sweep with it on.  Raises
    LayoutError.
    """
    if error_quanta <= 0:
        raise LayoutError.at(Place("--error"), "the error has to lie above 0", "give '0.2 quanta'")
    case = _Case.of(layout, chosen_signal(layout, signal), source, sizes or Sizes())
    coldest = layout.temperature_k(layout.elements[source])
    if hottest_k < 1.5 * coldest:
        raise LayoutError.at(
            Place("--hottest"), f"{hottest_k:g} K is no hotter than {source} at {coldest:g} K",
            "name a higher one",
        )
    least = min(max(3.0 * coldest, hottest_k / 20.0), hottest_k)
    hottest = np.unique(np.geomspace(least, hottest_k, OPTIONS).round(6))
    options, tried = [], {}
    for kelvin in hottest:
        trial = tried[kelvin] = case.trial(coldest, float(kelvin))
        sigma = trial.sigma_for(error_quanta)
        seconds = None if sigma is None else 1.0 / (bandwidth_hz * sigma**2)
        options.append(Option(float(kelvin), trial.error(_LEAST_SIGMA), seconds))
    possible = [(option, option.seconds) for option in options if option.seconds is not None]
    # Of those that take hardly longer than the quickest, the least hot: it disturbs the least.
    enough = max(1.25 * min((seconds for _, seconds in possible), default=0.0), SHORT_S)
    chosen, seconds = next((each for each in possible if each[1] <= enough), (None, None))
    best = chosen or min(options, key=lambda option: option.common_quanta)
    trial = tried[best.hottest_k]
    sigma = None if seconds is None else 1.0 / np.sqrt(bandwidth_hz * seconds)
    return Plan(
        case.signal.name, source, ".".join(case.signal.start), error_quanta, bandwidth_hz,
        tuple(options), chosen, tuple(trial.steps()) if chosen else (), sigma,
        float(np.median(case.on_noise.added_quanta)),
        trial.effects(_LEAST_SIGMA if sigma is None else sigma),
        layout.band.points, tuple(_warnings(case, best.hottest_k)), layout,
    )


@dataclass(frozen=True)
class _Case:
    """What is to be measured: the layout as it is, and with its paramps off where it has any."""

    layout: Layout
    off_layout: Layout
    signal: Signal
    load: Load
    sizes: Sizes
    frequency_hz: np.ndarray

    @classmethod
    def of(cls, layout, signal, source, sizes):
        if signal.from_port is None:
            raise LayoutError.at(signal.place, f"signal {signal.name} has no start",
                                 "give it one: from: D1.out")
        load = Load.of(layout, source)
        off = without_paramps(layout, signal) if pumped(layout, signal) else layout
        f = layout.band.frequency_hz
        f = f[np.unique(np.linspace(0, f.size - 1, min(f.size, MAX_POINTS)).astype(int))]
        return cls(layout, off, signal, load, sizes, f)

    @cached_property
    def on_noise(self):
        return LoadNoise(self.layout, self.signal.name, self.load, self.frequency_hz)

    @cached_property
    def off_noise(self):
        return self.on_noise.with_layout(self.off_layout) if self.with_paramps else self.on_noise

    @property
    def with_paramps(self):
        return self.off_layout is not self.layout

    def trial(self, coldest, hottest):
        """Return the _Trial of cold, half way, hot and cold again."""
        middle = float(np.median(self.frequency_hz))
        ends = [quanta(frequency_hz=middle, temperature_k=k) for k in (coldest, hottest)]
        # Half way in noise: a power that bends shows there most.
        half = np.interp(np.mean(ends), quanta(
            frequency_hz=middle, temperature_k=np.linspace(coldest, hottest, 400)),
            np.linspace(coldest, hottest, 400))
        return _Trial(self, (coldest, _round(half), hottest, coldest))


def _round(kelvin):
    return float(f"{kelvin:.2g}")


class _Trial:
    """One choice of temperatures: the powers that the layout predicts, and the errors of a fit."""

    def __init__(self, case, loads):
        self.case, self.loads = case, loads
        off = Task(case.off_noise, self._readings(case.off_noise, loads), case.sizes)
        if not case.with_paramps:
            self.errors = off.errors()
            self.model = off.model(self.errors, check=False)
        else:
            pair = Pair(off, case.on_noise, self._readings(case.on_noise, loads[:1]))
            self.errors = pair.errors()
            flat = np.full(case.frequency_hz.size, _LEAST_SIGMA)
            change = pair.noise_on.gain / off.load_noise.gain
            self.model = pair.model(self.errors, change, flat, check=False)

    @cached_property
    def truth(self):
        """The unknowns of the model, as the layout has them, (points, unknowns)."""
        off = self.case.off_noise.added_quanta
        unknowns = [np.ones_like(off), off]
        if self.model.on is not None:
            unknowns += [self.case.on_noise.added_quanta, np.log(self.model.on.gain_change)]
        return np.stack(unknowns, axis=1)

    def _readings(self, noise, loads):
        """Return the readings that the layout predicts."""
        f = self.case.frequency_hz
        kelvin = np.repeat(np.array(loads)[:, None], f.size, axis=1)
        known, ratio = noise.at(kelvin)
        powers = noise.gain * ratio * (noise.added_quanta + known)
        zero, one = np.zeros_like(kelvin), np.ones_like(kelvin)
        return Readings(f, kelvin, zero, powers, one, None, (), ())

    def _added(self, sigma):
        on: On | None = self.model.on
        rows = len(self.model.all_quanta())
        fit = self.model.fitted_at(
            self.truth, np.full((rows, self.case.frequency_hz.size), sigma)
        )
        places = {} if on is None else {"intercept": 2, "lift": 3}
        return gain_and_added(fit, self.errors, self.model.predicted_gain, **places)[1]

    def error(self, sigma):
        """Return the error of the added noise, median over the band, for one of each power."""
        return float(np.median(np.nan_to_num(self._added(sigma).sigma, nan=np.inf)))

    def sigma_for(self, wanted):
        """Return the relative error of each power for a wanted one of the noise; None for none."""
        low, high = np.log(_LEAST_SIGMA), np.log(_MOST_SIGMA)
        if self.error(np.exp(low)) >= wanted:
            return None
        for _ in range(30):
            middle = (low + high) / 2
            low, high = (middle, high) if self.error(np.exp(middle)) < wanted else (low, middle)
        return float(np.exp(low))

    def effects(self, sigma):
        """Return (name, size, quanta) of every common error, most first."""
        added, sizes = self._added(sigma), {error.name: error.size for error in self.errors}
        named = [(name, sizes[name], float(np.nanmedian(effect)))
                 for name, effect in added.effects.items()]
        return tuple(sorted(named, key=lambda each: -abs(each[2])))

    def steps(self):
        """Yield the sweeps in the order in which to take them."""
        place = self.case.frequency_hz.size // 2
        per_watt = H * self.case.frequency_hz[place]
        noises = [(self.loads, False, self.model.noise, self.model.quanta)]
        if self.model.on is not None:
            noises.append((self.loads[:1], True, self.model.on.noise, self.model.on.quanta))
        for loads, on, noise, powers in noises:
            for load, n, power in zip(loads, noise[:, place], powers[:, place], strict=True):
                yield PlannedStep(load, on, float(n), float(watt_to_dbm(power * per_watt)))


def _warnings(case, hottest_k):
    f = case.frequency_hz
    half = kelvin_per_quantum(frequency_hz=f.max()) / 2
    if half > hottest_k:
        yield f"hf/2k is {half:.2g} K at {f.max() / 1e9:.3g} GHz, above the hottest load"
    level = received_dbm(case.off_layout, f, case.on_noise.reaches, hottest_k)
    for key in case.layout.connected(case.load.id):
        p1db = p1db_in_dbm(case.off_layout.elements[key])
        if p1db is not None and drop_db(level, p1db) > 0.02 and not case.with_paramps:
            yield f"{key} loses {float(drop_db(level, p1db)):.2g} dB of its gain to the hot load"
    if not (case.sizes.load_scale or case.sizes.load_offset_k):
        yield "no error of the thermometer is stated: --load-error '1 %'"
    if not case.sizes.drift:
        yield "no drift is stated: --drift '0.3 %'"
