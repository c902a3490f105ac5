"""Least squares over many frequencies whose errors are partly common to all of them.

At each frequency there are a few unknowns of its own; errors of a thermometer, of a loss or of a
gain that drifts are common.  Each common error is an unknown with a prior of its own size, the own
unknowns are eliminated frequency by frequency, and a small system for the common ones is left.
That is generalised least squares with the full covariance, never built (JCGM 100:2008, H.3.6 and
F.1.2.3; C. R. Rao, Linear Statistical Inference, 2nd ed. (1973), ch. 4, from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from components.arrays import FloatArray, FloatLike

MAX_ITERATIONS = 60
CONVERGED, ENOUGH = 1e-11, 1e-5
"""Step of the unknowns, relative to their size, below which an iteration ends; and below which it
has converged all the same where it does not get there."""


@dataclass(frozen=True)
class Linear:
    """A model linearised about a point: readings less model, and slopes."""

    residual: np.ndarray
    """Readings less model, shape (rows, points), in the unit of `sigma`."""
    own: np.ndarray
    """Slopes by the unknowns of each frequency, (rows, points, unknowns)."""
    common: np.ndarray
    """Slopes by the common errors, each in units of its own size, (rows, points, commons)."""


@dataclass(frozen=True)
class Fit:
    """What least squares finds; the errors of the unknowns in an own and a common part."""

    unknowns: np.ndarray
    """(points, unknowns)."""
    common: np.ndarray
    """How far each common error is found to be off, in units of its prior size, (commons,)."""
    own_covariance: np.ndarray
    """Of the unknowns, independent from frequency to frequency, (points, unknowns, unknowns)."""
    response: np.ndarray
    """What the unknowns move by for a common error, (points, unknowns, commons)."""
    common_covariance: np.ndarray
    """Of the common errors after the fit, (commons, commons)."""
    residual: np.ndarray
    """Readings less the fitted model, (rows, points)."""
    chi2: float
    """Sum of squared residuals over their own sigma, and of the common errors over their size."""
    freedom: int
    """Readings less own unknowns; each common error brings its own datum."""
    converged: bool

    @property
    def covariance(self) -> FloatArray:
        """Covariance of the unknowns at each frequency, own and common part together."""
        return self.own_covariance + self.common_part(self.response)

    def common_part(self, response: Any) -> Any:
        """Return response S response^T of responses (..., unknowns, commons)."""
        return response @ self.common_covariance @ np.swapaxes(response, -1, -2)

    def effects(self) -> Any:
        """Return what one sigma of each common error does to the unknowns after the fit.

        (points, unknowns, commons).  Squares summed over the commons, with those of `through`, give
        the common part of the covariance.
        """
        return -self.response @ self.common_covariance

    def through(self) -> Any:
        """Return what the readings' own errors do by way of the fitted common errors.

        (points, unknowns, commons): independent contributions, each common to all frequencies.
        """
        # S (S^-1 - 1) S, with S^-1 - 1 what the readings themselves say of the common errors.
        values, vectors = np.linalg.eigh(self.common_covariance)
        root = vectors * np.sqrt(np.clip(values * (1.0 - values), 0.0, None))
        return self.response @ root


def least_squares(
    linear: Linear, sigma: FloatArray, *, start: FloatLike = 0.0, common: FloatLike = 0.0
) -> Fit:
    """Return the Fit of a linear model; `sigma` (rows, points) is infinite where nothing was read.

    `start` (points, unknowns) and `common` (commons,) are where it was linearised.  Raises
    numpy.linalg.LinAlgError where a frequency's own unknowns are not determined.
    """
    weight = np.where(np.isfinite(sigma), 1.0 / sigma, 0.0)
    own, shared = (np.moveaxis(slopes * weight[..., None], 1, 0)
                   for slopes in (linear.own, linear.common))
    held = (linear.residual * weight).T + shared @ np.broadcast_to(common, shared.shape[-1:])
    # Orthogonal factors, and not normal equations: weights may differ by many powers of ten.
    across, triangle = np.linalg.qr(own)
    inverse = np.linalg.inv(triangle)
    to_unknowns = inverse @ np.swapaxes(across, -1, -2)
    response = to_unknowns @ shared
    left = shared - own @ response
    precision = np.eye(shared.shape[-1]) + np.einsum("frk,frl->kl", left, left)
    covariance = np.linalg.inv(precision)
    found = covariance @ np.einsum("frk,fr->k", left, held)
    rest = held - shared @ found
    step = np.einsum("fir,fr->fi", to_unknowns, rest)
    residual = rest - np.einsum("fri,fi->fr", own, step)
    read = np.isfinite(sigma)
    return Fit(
        unknowns=start + step, common=found,
        own_covariance=inverse @ np.swapaxes(inverse, -1, -2), response=response,
        common_covariance=covariance,
        residual=np.where(read, residual.T * np.where(read, sigma, 0.0), 0.0),
        chi2=float(np.sum(residual**2) + np.sum(found**2)),
        freedom=int(read.sum() - step.size), converged=True,
    )


def iterated(linearise: Callable, sigma: Any, start: Any, commons: Any) -> Fit:
    """Return the Fit of a model that is not linear, by Gauss and Newton's iteration.

    `linearise(unknowns, common)` returns the Linear there.  The weights follow the model where its
    residuals are relative to it, and never the readings: a covariance built from readings pulls
    the answer low (T. Burr et al., Algorithms 4, 28, 2011).
    """
    unknowns, common = np.asarray(start, float), np.zeros(commons)
    for _ in range(MAX_ITERATIONS):
        fit = least_squares(linearise(unknowns, common), sigma, start=unknowns, common=common)
        scale = np.abs(fit.unknowns).max(axis=0) + 1e-300
        change = np.abs(fit.unknowns - unknowns) / scale
        unknowns, common = fit.unknowns, fit.common
        if np.all(change < CONVERGED):
            return fit
    return replace(fit, converged=bool(np.all(change < ENOUGH)))
