"""The powers that a load's temperatures give, and the gain and noise that fit them best.

    P = g [A + D(T)] (1 + r) + floor                        in quanta at the instrument
    P_on = G_on/G_off g [A_on + D_on(T)] (1 + r) + floor    with the paramps on, where it was read

g is the gain from the reference plane on, A the added noise there, D what the layout says of the
rest: eta N(f, T) + (1 - eta) N(f, T_loss) for a load behind a loss, N = 1/2 coth(hf/2kT) in quanta
(H. B. Callen and T. A. Welton, Phys. Rev. 83, 34 (1951)), never kT.  The unknowns at each frequency
are g and a = g A, in which the model is linear, and with the paramps on b = g A_on and the ratio of
the gains.  Residuals and their errors are relative to the model.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from chain.errors import LayoutError, Place
from chain.measurement.least_squares import Fit, Linear, iterated, least_squares
from components.arrays import FloatArray, FloatLike

LEAST_PART = 0.05
"""Part of a reading below which the model is not believed as a weight, early in the iteration."""

MAX_DRIFT, MAX_LIFT = 20.0, 50.0
"""Logarithms of a drift and of a ratio of gains beyond which they are not followed."""

EXACT = 1e-9
"""Relative error of a ratio of gains that is given without one."""


@dataclass(frozen=True)
class On:
    """Readings with the paramps on, and how much more gain there was."""

    quanta: np.ndarray
    """(rows, points)."""
    noise: np.ndarray
    """D with the paramps on, quanta, (rows, points)."""
    gain_change: np.ndarray
    """Gain on over gain off, a power ratio, (points,)."""
    gain_change_sigma: np.ndarray
    """Its own error, relative, (points,)."""


@dataclass(frozen=True)
class PowerModel:
    """Readings and what the model needs; arrays (rows, points), NaN where nothing was read."""

    quanta: np.ndarray
    noise: np.ndarray
    """D: noise at the plane other than what is added, quanta."""
    gain_ratio: np.ndarray
    """Gain at each load temperature over that of the layout as it stands."""
    predicted_gain: np.ndarray
    """The layout's own gain, (points,): the unit of g."""
    errors: tuple
    """CommonErrors, their rows those with the paramps off and then those with them on."""
    floor: float | np.ndarray = 0.0
    """What the instrument reads by itself, quanta, (points,)."""
    on: On | None = None

    @property
    def rows(self) -> int:
        """Number of readings with the paramps off."""
        return len(self.quanta)

    def all_quanta(self) -> FloatArray:
        """Return the readings, off and then on, in units of the predicted gain."""
        quanta = self.quanta if self.on is None else np.concatenate([self.quanta, self.on.quanta])
        return quanta / self.predicted_gain

    def fitted(self, relative_sigma: FloatArray) -> Fit:
        """Return the Fit; `relative_sigma` (all rows, points), of the powers.

        Raises LayoutError where the iteration does not settle.
        """
        start = self._start(self.all_quanta())
        try:
            with np.errstate(over="ignore", invalid="ignore"):
                fit = iterated(self._linear, self._sigma(relative_sigma), start, len(self.errors))
        except np.linalg.LinAlgError:
            fit = None
        if fit is None or not fit.converged:
            raise LayoutError.at(
                Place("--readings"), "no gain and noise fit the powers: the fit does not settle",
                "look for powers or temperatures in another unit, or errors that are far too small",
            )
        return fit

    def fitted_at(self, unknowns: FloatArray, relative_sigma: FloatLike) -> Fit:
        """Return the Fit of readings that the unknowns give exactly: what errors are to come."""
        linear = self._linear(unknowns, np.zeros(len(self.errors)))
        return least_squares(linear, self._sigma(relative_sigma), start=unknowns)

    def _sigma(self, relative_sigma):
        sigma = np.where(np.isfinite(self.all_quanta()), relative_sigma, np.inf)
        if self.on is None:
            return sigma
        return np.concatenate([sigma, [np.maximum(self.on.gain_change_sigma, EXACT)]])

    def _start(self, y):
        level = np.nanmean(y, axis=0) / (1.0 + np.nanmean(self.noise, axis=0))
        if self.on is None:
            return np.stack([level, level], axis=1)
        return np.stack([level, level, level, np.log(self.on.gain_change)], axis=1)

    def _linear(self, unknowns, common) -> Linear:
        off = slice(0, self.rows)
        ratio = np.nan_to_num(self.gain_ratio, nan=1.0)
        value, own, shared = self._lines(
            unknowns, common, self.noise, off, gain=ratio, intercept=1, count=unknowns.shape[1],
        )
        if self.on is None:
            return self._relative(value, own, shared)
        rest = slice(self.rows, self.rows + len(self.on.quanta))
        lift = np.exp(np.clip(unknowns[:, 3], -MAX_LIFT, MAX_LIFT))
        on_value, on_own, on_shared = self._lines(
            unknowns, common, self.on.noise, rest, gain=lift, intercept=2, count=4,
        )
        on_own[..., 3] = on_value
        stacked = self._relative(
            np.concatenate([value, on_value]), np.concatenate([own, on_own]),
            np.concatenate([shared, on_shared]),
        )
        return self._with_gain_change(stacked, unknowns, common)

    def _lines(self, unknowns, common, noise, rows, *, gain, intercept, count):
        """Return (power, slopes by the unknowns, slopes by the common errors) of some rows."""
        noise = np.nan_to_num(noise)
        by_noise = [np.broadcast_to(_of(e.noise, rows), noise.shape) for e in self.errors]
        by_power = [np.broadcast_to(_of(e.relative, rows), noise.shape) for e in self.errors]
        off = noise + sum((c * e for c, e in zip(common, by_noise, strict=True)), 0.0)
        drift = sum((c * e for c, e in zip(common, by_power, strict=True)), 0.0)
        drift = np.exp(np.clip(drift, -MAX_DRIFT, MAX_DRIFT))
        g, a = unknowns[:, 0], unknowns[:, intercept]
        line = gain * (a + g * off)
        own = np.zeros((*noise.shape, count))
        own[..., 0] = gain * off * drift
        own[..., intercept] = gain * drift
        shared = np.zeros((*noise.shape, len(self.errors)))
        for k, (n, p) in enumerate(zip(by_noise, by_power, strict=True)):
            shared[..., k] = (gain * g * n + line * p) * drift
        return line * drift, own, shared

    def _relative(self, value, own, shared):
        y = self.all_quanta()
        read = np.isfinite(y)
        whole = value + self.floor / self.predicted_gain
        weight = np.where(read, np.maximum(whole, LEAST_PART * np.nan_to_num(y)), 1.0)
        residual = np.where(read, np.nan_to_num(y) - whole, 0.0) / weight
        mask = read[..., None]
        return Linear(
            residual, np.where(mask, own / weight[..., None], 0.0),
            np.where(mask, shared / weight[..., None], 0.0),
        )

    def _with_gain_change(self, linear, unknowns, common):
        """Return the Linear with one more row: the ratio of gains as it was measured."""
        assert self.on is not None, "only readings with the paramps on have a ratio of gains"
        effects = np.array([e.gain_change for e in self.errors])
        residual = np.log(self.on.gain_change) - unknowns[:, 3] - effects @ common
        own = np.zeros((1, *unknowns.shape))
        own[0, :, 3] = 1.0
        shared = np.broadcast_to(effects, (1, len(residual), len(effects)))
        return Linear(
            np.concatenate([linear.residual, residual[None]]),
            np.concatenate([linear.own, own]), np.concatenate([linear.common, shared]),
        )


def _of(values, rows):
    """Return some rows of what an error does; a number holds for all."""
    return values if np.ndim(values) < 2 else values[rows]


def scatter(fit: Fit, read: np.ndarray) -> float | None:
    """Return the relative error of one power from the residuals of a fit; None with too few.

    `read` (rows, points) tells where there is a reading.  What a whole step is off by is common,
    and is taken out.
    """
    rows, points = read.shape
    residual = np.where(read, fit.residual[:rows], np.nan)
    freedom = float(read.sum() - fit.unknowns.shape[1] * points)
    if points > 1:
        residual = residual - np.nanmean(residual, axis=1, keepdims=True)
        freedom *= 1.0 - 1.0 / points
    if freedom < 1:
        return None
    return float(np.sqrt(np.nansum(residual**2) / freedom))


def scatter_between_frequencies(quanta: FloatArray) -> float | None:
    """Return the relative error of one power from how ratios of steps change between neighbours.

    For two temperatures, which leave no residual: second differences over frequency of the
    logarithm of the ratio of steps, which gain's own shape does not enter.  None with fewer than
    five frequencies.
    """
    ratios = np.diff(np.log(quanta), axis=0)
    second = ratios[:, 2:] - 2.0 * ratios[:, 1:-1] + ratios[:, :-2]
    second = second[np.isfinite(second)]
    if quanta.shape[1] < 5 or second.size < 3:
        return None
    # Variance of a second difference is 1 + 4 + 1 of one value's, and a ratio has two of them.
    return float(np.sqrt(np.mean(second**2) / 12.0))
