"""Evidence of explanations: how probable the data are with all sizes integrated over.

Data d are normal about a prediction with covariance K; an explanation has no, one or two unknown
sizes z, standard normal beforehand.  Predictions are known at Chebyshev nodes of z and polynomials
in between.  ln E = ln of the integral of N(d; y(z), K) N(z; 0, 1) dz.  Laplace's approximation
about the best z is exact for a straight y(z); `integrated` sums the integral on a grid about it.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.polynomial import chebyshev

if TYPE_CHECKING:
    from components.arrays import FloatArray

STEPS = 8
"""Gauss-Newton steps toward the best sizes."""

COARSE = {0: 1, 1: 13, 2: 9}
"""Points per size from which the search starts, by the number of sizes."""

FINE = {1: 41, 2: 17}
"""Points per size of the grid on which the integral is summed."""

REACH = 4.5
"""Standard deviations that this grid reaches."""


@dataclass(frozen=True)
class Box:
    """Intervals of z, the same nodes in each; arrays (explanations, sizes)."""

    middle: FloatArray
    half: FloatArray
    nodes: int

    @classmethod
    def even(cls, count: int, sizes: int, nodes: int, reach: float) -> Box:
        """Return the interval from -reach to reach for every size of `count` explanations."""
        return cls(np.zeros((count, sizes)), np.full((count, sizes), reach), nodes)

    @property
    def points(self) -> FloatArray:
        """Nodes, shape (explanations, sizes, nodes)."""
        return self.middle[:, :, None] + self.half[:, :, None] * chebyshev.chebpts1(self.nodes)

    def inside(self, z: FloatArray) -> FloatArray:
        """Return z moved into the intervals; shape (explanations, sizes)."""
        return np.clip(z, self.middle - self.half, self.middle + self.half)


@dataclass(frozen=True)
class Fit:
    """Best sizes and evidence of explanations under one covariance; first axis explanations."""

    log_evidence: FloatArray
    """ln E without -ln|2 pi K|/2."""
    z: FloatArray
    """Best sizes, shape (explanations, sizes)."""
    covariance: FloatArray
    """Of z, shape (explanations, sizes, sizes)."""
    chi2: FloatArray
    """Squared whitened residual at the best sizes."""


def laplace(residual: FloatArray, box: Box) -> Fit:
    """Return the Fit of explanations by Laplace's approximation.

    `residual` are whitened data less predictions at the nodes of a box, shape (explanations, one
    axis of nodes for each size, data).
    """
    sizes = residual.ndim - 2
    if sizes == 0:
        chi2 = np.einsum("pm,pm->p", residual, residual)
        none = np.zeros((len(residual), 0))
        return Fit(-chi2 / 2.0, none, np.zeros((len(residual), 0, 0)), chi2)
    z = _start(residual, box, sizes)
    r, slope = _at(residual, box, z)
    best = _cost(r, z)
    for _ in range(STEPS):
        hessian = np.einsum("pim,pjm->pij", slope, slope) + np.eye(sizes)
        down = np.einsum("pim,pm->pi", slope, r) + z
        step = np.linalg.solve(hessian, down[:, :, None])[:, :, 0]
        for shorter in (1.0, 0.3):
            trial = box.inside(z - shorter * step)
            r_new, slope_new = _at(residual, box, trial)
            cost = _cost(r_new, trial)
            better = cost < best
            z = np.where(better[:, None], trial, z)
            r = np.where(better[:, None], r_new, r)
            slope = np.where(better[:, None, None], slope_new, slope)
            best = np.where(better, cost, best)
    hessian = np.einsum("pim,pjm->pij", slope, slope) + np.eye(sizes)
    _, log_det = np.linalg.slogdet(hessian)
    chi2 = np.einsum("pm,pm->p", r, r)
    return Fit(-best / 2.0 - log_det / 2.0, z, np.linalg.inv(hessian), chi2)


def integrated(residual: FloatArray, box: Box) -> Fit:
    """Return the Fit with evidence, mean and covariance of z summed on a grid about the best z."""
    fit = laplace(residual, box)
    sizes = residual.ndim - 2
    if sizes == 0:
        return fit
    t = np.linspace(-REACH, REACH, FINE[sizes])
    grid = np.stack(np.meshgrid(*([t] * sizes), indexing="ij"), axis=-1).reshape(-1, sizes)
    spread = np.linalg.cholesky(fit.covariance)
    z = fit.z[:, None, :] + np.einsum("pij,gj->pgi", spread, grid)
    count, points = z.shape[:2]
    chi2 = np.empty((count, points))
    for one in range(count):
        own = Box(np.repeat(box.middle[one:one + 1], points, 0),
                  np.repeat(box.half[one:one + 1], points, 0), box.nodes)
        chi2[one] = _chi2_of_one(residual[one], own, z[one])
    outside = (np.abs(z - box.middle[:, None]) > box.half[:, None] * (1 + 1e-9)).any(axis=2)
    log_weight = -chi2 / 2.0 - (z**2).sum(axis=2) / 2.0
    log_weight = np.where(outside, -np.inf, log_weight)
    top = log_weight.max(axis=1, keepdims=True)
    weight = np.exp(log_weight - top)
    cell = (t[1] - t[0]) ** sizes * np.abs(np.linalg.det(spread)) / (2 * np.pi) ** (sizes / 2)
    whole = weight.sum(axis=1)
    mean = np.einsum("pg,pgi->pi", weight, z) / whole[:, None]
    off = z - mean[:, None]
    covariance = np.einsum("pg,pgi,pgj->pij", weight, off, off) / whole[:, None, None]
    return Fit(np.log(whole) + top[:, 0] + np.log(cell), mean, covariance, fit.chi2)


def log_sum(values: FloatArray, axis: int = 0) -> FloatArray:
    """Return the logarithm of the sum of exponentials along an axis."""
    top = np.max(values, axis=axis, keepdims=True)
    top = np.where(np.isfinite(top), top, 0.0)
    with np.errstate(divide="ignore"):
        return np.log(np.exp(values - top).sum(axis=axis)) + np.squeeze(top, axis)


# -- polynomials through nodes --------------------------------------------------------------


@functools.cache
def _coefficients(nodes):
    """Return what makes Chebyshev polynomials into those that are one at each node, and slopes."""
    inverse = np.linalg.inv(chebyshev.chebvander(chebyshev.chebpts1(nodes), nodes - 1))
    return inverse, chebyshev.chebder(np.eye(nodes)) @ inverse


def _basis(t, nodes):
    """Return the polynomials that are one at each node, at t, and their slopes: (..., nodes)."""
    values, slopes = _coefficients(nodes)
    powers = chebyshev.chebvander(t, nodes - 1)
    return powers @ values, powers[..., :-1] @ slopes


def _at(residual, box, z):
    """Return (residual (p, m), its slopes in z (p, sizes, m)) at z (p, sizes)."""
    values, slopes = _basis((z - box.middle) / box.half, box.nodes)
    slopes = slopes / box.half[:, :, None]
    if z.shape[1] == 1:
        return (np.einsum("pa,pam->pm", values[:, 0], residual),
                np.einsum("pa,pam->pm", slopes[:, 0], residual)[:, None])
    along = np.einsum("pb,pabm->pam", values[:, 1], residual)
    second = np.einsum("pb,pabm->pam", slopes[:, 1], residual)
    return (
        np.einsum("pa,pam->pm", values[:, 0], along),
        np.stack([np.einsum("pa,pam->pm", slopes[:, 0], along),
                  np.einsum("pa,pam->pm", values[:, 0], second)], axis=1),
    )


def _chi2_of_one(residual, box, z):
    """Return chi2 of one explanation at many z (points, sizes), residual (nodes..., m)."""
    values, _ = _basis((z - box.middle) / box.half, box.nodes)
    flat = values[:, 0]
    if z.shape[1] == 2:
        flat = (values[:, 0, :, None] * values[:, 1, None, :]).reshape(len(z), -1)
    r = flat @ residual.reshape(flat.shape[1], -1)
    return np.einsum("gm,gm->g", r, r)


def _cost(r, z):
    return np.einsum("pm,pm->p", r, r) + np.einsum("pi,pi->p", z, z)


def _start(residual, box, sizes):
    """Return the best z on a coarse grid, shape (explanations, sizes)."""
    t = np.linspace(-1.0, 1.0, COARSE[sizes])
    values, _ = _basis(t, box.nodes)
    if sizes == 1:
        r = np.einsum("ga,pam->pgm", values, residual)
        cost = np.einsum("pgm,pgm->pg", r, r)
        z = box.middle + box.half * t
        return np.take_along_axis(z, np.argmin(cost + z**2, axis=1)[:, None], axis=1)
    flat = np.einsum("ga,hb->ghab", values, values).reshape(t.size**2, -1)
    grid = np.stack(np.meshgrid(t, t, indexing="ij"), axis=-1).reshape(-1, 2)
    z = box.middle[:, None] + box.half[:, None] * grid
    best = np.empty((len(residual), 2))
    for one in range(len(residual)):
        r = flat @ residual[one].reshape(flat.shape[1], -1)
        cost = np.einsum("gm,gm->g", r, r) + (z[one] ** 2).sum(axis=1)
        best[one] = z[one, np.argmin(cost)]
    return best
