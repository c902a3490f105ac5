"""Gain and added noise with their errors, own and common, from a fit of powers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chain.measurement.ratio_interval import mean_excess, ratio_interval
from components.arrays import FloatArray
from components.quantities import decibels

if TYPE_CHECKING:
    from chain.measurement.common_errors import CommonError
    from chain.measurement.least_squares import Fit

_DB = 10.0 / np.log(10.0)

THROUGH_READINGS = "readings, through what is fitted for all"
"""Name of the part of the common error that comes of the readings' own errors."""


@dataclass(frozen=True)
class Estimate:
    """One quantity over frequency; NaN where the readings do not determine it."""

    value: np.ndarray
    """The median."""
    own: np.ndarray
    """Standard deviation of its part that is independent from frequency to frequency."""
    common: np.ndarray
    """Standard deviation of its part that all frequencies share."""
    interval_68: tuple[np.ndarray, np.ndarray]
    """Low and high end of 68.3 %."""
    interval_95: tuple[np.ndarray, np.ndarray]
    """Low and high end of 95.4 %."""
    effects: Mapping[str, np.ndarray]
    """What one standard deviation of each common error does to it, signed, by name."""
    mean: float
    """Mean over the band, where it is skewed corrected for that."""
    mean_own: float
    """Standard deviation of the mean, from own errors."""
    mean_effects: Mapping[str, float]
    """What one standard deviation of each common error does to the mean."""

    @property
    def sigma(self) -> FloatArray:
        """Standard deviation, own and common together."""
        return np.hypot(self.own, self.common)

    @property
    def mean_common(self) -> float:
        """Standard deviation of the mean over the band, from common errors."""
        return float(np.sqrt(sum(effect**2 for effect in self.mean_effects.values())))

    @property
    def mean_sigma(self) -> float:
        """Standard deviation of the mean over the band."""
        return float(np.hypot(self.mean_own, self.mean_common))


def gain_and_added(
    fit: Fit, errors: Sequence[CommonError], predicted_gain: FloatArray, *, intercept: int = 1,
    lift: int | None = None,
) -> tuple[Estimate, Estimate]:
    """Return (gain in dB, added noise in quanta) as Estimates from a fit of powers.

    Their unknowns are g in units of `predicted_gain` (points,), g A at `intercept`, and at `lift`
    the logarithm of a further gain.
    """
    x = fit.unknowns
    g, a = x[:, 0], x[:, intercept]
    covariance = fit.covariance
    pair = covariance[:, [[intercept, intercept], [0, 0]], [[intercept, 0], [intercept, 0]]]
    known = g > np.sqrt(covariance[:, 0, 0])
    with np.errstate(divide="ignore", invalid="ignore"):
        noise = a / g
    by_noise, by_gain = np.zeros_like(x), np.zeros_like(x)
    by_noise[:, 0], by_noise[:, intercept] = -noise / g, 1.0 / g
    by_gain[:, 0] = _DB / g
    gain_db = decibels(np.where(known, g, np.nan) * predicted_gain)
    if lift is not None:
        by_gain[:, lift] = _DB
        gain_db = gain_db + _DB * x[:, lift]
    names = [error.name for error in errors]
    added = _estimate(
        fit, names, by_noise, noise, known,
        lambda sigmas: ratio_interval(a, g, pair, sigmas=sigmas),
        excess=mean_excess(a, g, fit.own_covariance[:, [[intercept, intercept], [0, 0]],
                                                    [[intercept, 0], [intercept, 0]]]),
    )
    variance = np.einsum("fi,fij,fj->f", by_gain, covariance, by_gain)

    def gain_interval(sigmas):
        half = sigmas * np.sqrt(variance) / _DB
        with np.errstate(invalid="ignore", divide="ignore"):
            return (gain_db + decibels(np.where(half < 1, 1 - half, np.nan)),
                    gain_db + decibels(1 + half))

    # The mean of a gain in dB lies below its median by half its relative variance.
    own = np.einsum("fi,fij,fj->f", by_gain, fit.own_covariance, by_gain)
    return _estimate(fit, names, by_gain, gain_db, known, gain_interval,
                     excess=-own / (2.0 * _DB)), added


def with_ripple(fit: Fit, ripple: FloatArray, cold_noise: FloatArray) -> Fit:
    """Return the fit with what unknown phases between load and plane add to its own errors.

    Where the part of the load's noise that reaches the plane is off by `ripple` (relative, one
    sigma, (points,)), so is g, and a = g A by that times g and the noise at the plane with the load
    cold, `cold_noise` (points,): no reading tells it from gain and noise, so all of it stays.
    """
    moved = np.zeros_like(fit.unknowns)
    moved[:, 0] = fit.unknowns[:, 0]
    moved[:, 1:3] = -(fit.unknowns[:, 0] * cold_noise)[:, None]
    moved = moved * ripple[:, None]
    own = fit.own_covariance + moved[:, :, None] * moved[:, None, :]
    return replace(fit, own_covariance=own)


def _estimate(fit, names, slopes, value, known, interval, *, excess):
    own = np.sqrt(np.einsum("fi,fij,fj->f", slopes, fit.own_covariance, slopes))
    effects = np.einsum("fi,fik->fk", slopes, fit.effects())
    through = np.einsum("fi,fik->fk", slopes, fit.through())
    common = np.sqrt(np.sum(effects**2, axis=1) + np.sum(through**2, axis=1))
    count = max(int(known.sum()), 1)
    mean_effects = dict(zip(names, effects[known].mean(axis=0), strict=True)) if known.any() else {}
    by_readings = through[known].mean(axis=0) if known.any() else np.zeros(1)
    mean_effects[THROUGH_READINGS] = float(np.sqrt(np.sum(by_readings**2)))

    def masked(values):
        return np.where(known, values, np.nan)

    return Estimate(
        value=masked(value), own=masked(own), common=masked(common),
        interval_68=tuple(masked(end) for end in interval(1.0)),
        interval_95=tuple(masked(end) for end in interval(2.0)),
        effects={name: masked(effects[:, k]) for k, name in enumerate(names)},
        mean=float(np.mean((value - excess)[known])) if known.any() else np.nan,
        mean_own=float(np.sqrt(np.sum(own[known] ** 2))) / count,
        mean_effects={name: float(effect) for name, effect in mean_effects.items()},
    )
