"""Readings over pump power and frequency: gain, added noise, compression and heat at each point.

At each point of the pump the load is cold and the paramp on; how much more gain there is than with
it off is traced with a weak tone, and perhaps with a stronger one, which shows compression.  Hot
and cold are read once, with the paramp off, so that no hot load saturates it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError, Place
from chain.heat.stages import heat
from chain.layout.signals import chosen_signal
from chain.measurement.common_errors import Sizes
from chain.measurement.estimate import gain_and_added
from chain.measurement.grid_readings import GridPoint
from chain.measurement.load_noise import Load, LoadNoise
from chain.measurement.on_off import pumped, without_paramps
from chain.measurement.readings import Readings, check_temperatures
from chain.measurement.readings_model import Pair, Task
from chain.power.tones import power
from components.quantities import dbm_to_watt, power_ratio

if TYPE_CHECKING:
    from chain.layout.layout import Layout

MAX_COMPRESSION_DB = 1.0
"""Drop of gain under the stronger tone from which on a point is no candidate."""

AS_GOOD = 2.0
"""Standard deviations of the difference within which another point is as good."""

_DB = np.log(10.0) / 10.0
_ONE_MW = 1e-3


@dataclass(frozen=True)
class PumpPoint:
    """What one power and frequency of the pump gives; means over the signal's band."""

    pump_dbm: float
    """Sent into the pump tone's port."""
    pump_hz: float
    gain_change_db: float
    """Gain over that with the paramp off."""
    gain_db: float
    """From the plane to the end."""
    added_quanta: float
    own: float
    """Standard deviation of the added noise that is new at each point."""
    common: float
    """Standard deviation of the added noise that all points share."""
    compression_db: float | None
    """Drop of gain under the stronger tone; None where none was traced."""
    tones_w: Mapping[str, float]
    """What all tones dissipate at each stage, watt."""
    margin_w: Mapping[str, float | None]
    """Cooling power left at each stage, watt; None where it is not known."""

    @property
    def sigma(self) -> Any:
        """Whole standard deviation of the added noise, quanta."""
        return float(np.hypot(self.own, self.common))

    @property
    def over(self) -> tuple[str, ...]:
        """Stages that get more than they can carry."""
        return tuple(name for name, left in self.margin_w.items() if left is not None and left < 0)

    @property
    def compressed(self) -> bool:
        """True where the stronger tone takes more gain than is bearable."""
        return self.compression_db is not None and self.compression_db > MAX_COMPRESSION_DB


@dataclass(frozen=True)
class PumpGrid:
    """Every point of the pump, and the least noise for a least gain within the cooling."""

    signal: str
    source: str
    plane: str
    tone: str
    """The pump."""
    least_gain_db: float
    points: tuple[PumpPoint, ...]
    best: PumpPoint | None
    """None where no point has the gain within the cooling."""
    frequency_hz: np.ndarray
    warnings: tuple[str, ...] = ()
    layout: Layout | None = field(default=None, repr=False)

    @property
    def as_good(self) -> Any:
        """Candidates whose added noise differs from the best's by less than the own errors."""
        if self.best is None:
            return ()
        return tuple(
            p for p in self.points if p is not self.best and self.fits(p)
            and p.added_quanta - self.best.added_quanta
            < AS_GOOD * np.hypot(p.own, self.best.own)
        )

    @property
    def neighbours(self) -> Any:
        """[(PumpPoint, gain less the best's in dB, added noise less the best's)] beside it."""
        if self.best is None:
            return ()
        powers = sorted({p.pump_dbm for p in self.points})
        tones = sorted({p.pump_hz for p in self.points})
        here = powers.index(self.best.pump_dbm), tones.index(self.best.pump_hz)
        return tuple(
            (p, p.gain_change_db - self.best.gain_change_db,
             p.added_quanta - self.best.added_quanta)
            for p in self.points
            if abs(powers.index(p.pump_dbm) - here[0]) + abs(tones.index(p.pump_hz) - here[1]) == 1
        )

    def fits(self, point: PumpPoint) -> bool:
        """Tell whether a point has the gain, uncompressed and within the cooling."""
        return _fits(point, self.least_gain_db)

    def __str__(self):
        from chain.measurement.pump_grid_text import pump_grid_text

        return pump_grid_text(self)


def _fits(point, least_gain_db):
    return (
        np.isfinite(point.added_quanta) and point.gain_change_db >= least_gain_db
        and not point.over and not point.compressed
    )


def pump_grid(
    layout: Layout, signal: str | None = None, *, source: str, readings: Readings,
    grid: Sequence[GridPoint], least_gain_db: float = 0.0, sizes: Sizes | None = None,
    floor_w_hz: float = 0.0,
    progress: Callable[[int, int], object] = lambda done, of: None,
) -> PumpGrid:
    """Return the PumpGrid of GridPoints; `readings` are hot and cold with the paramps off.

    `progress` is called with the points done and in all.  Raises LayoutError.
    """
    chosen, load = chosen_signal(layout, signal), Load.of(layout, source)
    tone = _pump(layout, chosen)
    f = grid[0].frequency_hz
    readings = readings.at(f, "the grid has a power, and there is none hot and cold")
    check_temperatures(readings, 2)
    off_layout = without_paramps(layout, chosen)
    off_noise = LoadNoise(off_layout, chosen.name, load, f)
    off = Task(off_noise, readings, sizes or Sizes(), floor_w_hz)
    sigma, _ = off.sigma(off.model(off.errors()))
    cold = float(np.nanmin(readings.step_k))
    # What tolerances do with the paramp on hardly hangs on its pump: worked out once.
    on_noise = LoadNoise(layout, chosen.name, load, f)
    errors = Pair(off, on_noise, _on(grid[0], cold)).errors()
    heats = _Heats(layout, tone)
    points = []
    for done, point in enumerate(grid):
        progress(done, len(grid))
        noise = on_noise.altered(("pump", point.pump_hz),
                                 partial(_tuned, layout, tone, point.pump_hz))
        points.append(_point(Pair(off, noise, _on(point, cold)), errors, point, sigma, heats))
    candidates = [p for p in points if _fits(p, least_gain_db)]
    best = min(candidates, key=lambda p: p.added_quanta, default=None)
    return PumpGrid(
        chosen.name, source, ".".join(chosen.start), tone, least_gain_db, tuple(points), best,
        f, tuple(_warnings(points, grid)), layout,
    )


def _pump(layout, signal):
    keys = pumped(layout, signal)
    if not keys:
        raise LayoutError.at(Place("--grid"), f"signal {signal.name} meets no paramp that is on",
                             "switch one on: --set X1.state=ok")
    return layout.elements[keys[0]].settings["pump"]


def _on(point: GridPoint, cold):
    shape = 1, point.frequency_hz.size
    return Readings(
        point.frequency_hz, np.full(shape, cold), np.zeros(shape), point.quanta[None],
        point.relative_sigma[None], None, (), (),
    )


def _tuned(layout, tone, pump_hz, power_w=None):
    """Return the layout with its pump at another frequency (Hz), and power (W) where given."""
    changes = {"frequency_hz": pump_hz}
    if power_w is not None:
        changes |= {"power_w": power_w, "arriving": None}
    return replace(layout, tones={**layout.tones, tone: replace(layout.tones[tone], **changes)})


def _point(pair, errors, point, sigma, heats):
    model = pair.model(errors, power_ratio(point.gain_change_db), point.gain_change_sigma_db * _DB)
    own = np.where(np.isfinite(point.relative_sigma), point.relative_sigma, np.nanmedian(sigma))
    fit = model.fitted(np.concatenate([sigma, own[None]]))
    gain, added = gain_and_added(fit, errors, model.predicted_gain, intercept=2, lift=3)
    # Off readings, and their drift, are the same for all points; the sweep's own drift is not.
    last = [name for name in added.mean_effects if name == f"drift, step {len(sigma) + 1}"]
    new = [_own_of_on(fit, added), *(added.mean_effects[name] for name in last)]
    own_mean = float(np.sqrt(np.sum(np.square(new))))
    tones_w, margin_w = heats.at(point.pump_dbm, point.pump_hz)
    return PumpPoint(
        point.pump_dbm, point.pump_hz, float(np.mean(point.gain_change_db)), gain.mean, added.mean,
        own_mean, float(np.sqrt(max(added.mean_sigma**2 - own_mean**2, 0.0))),
        point.compression_db, tones_w, margin_w,
    )


def _own_of_on(fit, added):
    """Return the error of the mean added noise from one point's own readings alone."""
    # The unknowns of the paramp off, g and a, follow from the readings off alone: held, what is
    # left of the covariance of b and the ratio of gains is new.
    x, own = fit.unknowns, fit.own_covariance
    held = own[:, 2:, 2:] - own[:, 2:, :2] @ np.linalg.inv(own[:, :2, :2]) @ own[:, :2, 2:]
    variance = held[:, 0, 0] / x[:, 0] ** 2
    known = np.isfinite(added.value)
    return float(np.sqrt(np.sum(variance[known]))) / max(int(known.sum()), 1)


class _Heats:
    """Heat at the stages for any power of the pump; linear in it at each frequency."""

    def __init__(self, layout, tone):
        self.layout, self.tone = layout, tone
        self.stages = heat(layout).stages
        self.planned = power(layout).tones[tone].dissipated_by_stage_w
        self.of_one_mw = {}

    def at(self, pump_dbm, pump_hz):
        """Return ({stage: W of tones}, {stage: W left or None})."""
        if pump_hz not in self.of_one_mw:
            tuned = _tuned(self.layout, self.tone, pump_hz, _ONE_MW)
            self.of_one_mw[pump_hz] = power(tuned).tones[self.tone].dissipated_by_stage_w
        times = dbm_to_watt(pump_dbm) / _ONE_MW
        more = {name: times * self.of_one_mw[pump_hz][name] - self.planned[name]
                for name in self.stages}
        return (
            {name: stage.tones_w + more[name] for name, stage in self.stages.items()},
            {name: None if stage.margin_w is None else stage.margin_w - more[name]
             for name, stage in self.stages.items()},
        )


def _warnings(points, grid):
    if all(point.compression_db is None for point in grid):
        yield "no gain_change_strong_db: how the points compress is not known"
    if len({p.pump_dbm for p in points}) > 1:
        by_hz = {}
        for p in points:
            by_hz.setdefault(p.pump_hz, []).append(p)
        if all(row == sorted(row, key=lambda p: p.pump_dbm) and
               row[-1].gain_change_db == max(q.gain_change_db for q in row)
               for row in by_hz.values()):
            yield "gain still rises at the strongest pump: the grid ends before the most gain"
