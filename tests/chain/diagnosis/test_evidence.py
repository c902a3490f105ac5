"""Evidence against exact results where predictions are straight lines of the sizes."""

import numpy as np
import pytest
from scipy.integrate import trapezoid

from chain.diagnosis.evidence import Box, integrated, laplace, log_sum

X = np.arange(1.0, 7.0)
Y = np.array([3.3, 5.6, 7.1, 9.3, 10.7, 12.1])
SIGMA = 0.5
"""Data of ISO/TS 28037:2010, 6.3, equal errors (read in an open library's documentation)."""

PRIORS = (10.0, 2.0)


def _residual(nodes):
    """Return whitened residuals of a line with intercept 10 z1 and slope 2 z2 at nodes."""
    points = Box.even(1, 2, nodes, 3.0).points[0]
    a, b = (PRIORS[i] * points[i] for i in (0, 1))
    line = a[:, None, None] + b[None, :, None] * X
    return ((Y - line) / SIGMA)[None]


def _exact(columns, priors):
    """Return ln N(y; 0, V + X S X'), written apart from what is tested."""
    covariance = SIGMA**2 * np.eye(6) + sum(
        s**2 * np.outer(column, column) for s, column in zip(priors, columns, strict=True))
    _, log_det = np.linalg.slogdet(2 * np.pi * covariance)
    return -log_det / 2 - Y @ np.linalg.solve(covariance, Y) / 2


@pytest.mark.parametrize("method", [laplace, integrated])
def test_a_line_through_six_points_has_its_exact_evidence(method):
    """ln E = -9.30136 (own, grid to 1e-9; formula Rogers and Girolami eq. 3.23)."""
    constant = -6 * np.log(SIGMA) - 3 * np.log(2 * np.pi)
    found = method(_residual(3), Box.even(1, 2, 3, 3.0)).log_evidence[0] + constant
    assert found == pytest.approx(-9.30136, abs=3e-4)
    assert found == pytest.approx(_exact((np.ones(6), X), PRIORS), abs=3e-4)


def test_a_constant_has_its_exact_evidence():
    """ln E = -114.46444 with prior N(0, 10^2); the best constant lies inside the box."""
    box = Box.even(1, 1, 3, 3.0)
    residual = ((Y - 10.0 * box.points[0, 0][:, None]) / SIGMA)[None]
    found = laplace(residual, box).log_evidence[0] - 6 * np.log(SIGMA) - 3 * np.log(2 * np.pi)
    assert found == pytest.approx(-114.46444, abs=1e-4)


@pytest.mark.parametrize("z", [0.0, 3.0])
def test_one_datum_has_the_bayes_factor_of_the_formula(z):
    """ln B10 = z^2/2 S^2/(S^2 + s^2) - ln(1 + S^2/s^2)/2; 2.14789 at S 10, s 1, z 3."""
    box = Box.even(1, 1, 3, 3.0)
    residual = (z - 10.0 * box.points[0, 0])[None, :, None]
    with_size = integrated(residual, box).log_evidence[0]
    without = laplace(np.full((1, 1), z), Box.even(1, 0, 3, 3.0)).log_evidence[0]
    wanted = z**2 / 2 * 100 / 101 - np.log(101) / 2
    assert with_size - without == pytest.approx(wanted, abs=1e-4)


def test_a_bent_prediction_is_integrated_as_a_dense_grid_has_it():
    box = Box.even(1, 1, 7, 3.2)

    def predicted(z):
        return np.exp(0.8 * z)[..., None] * np.array([1.0, 0.7, 0.2])

    data = np.array([1.4, 0.6, 0.5])
    fit = integrated((data - predicted(box.points[0, 0]))[None], box)
    z = np.linspace(-3.2, 3.2, 20001)
    weight = np.exp(-((data - predicted(z)) ** 2).sum(axis=1) / 2 - z**2 / 2) / np.sqrt(2 * np.pi)
    assert fit.log_evidence[0] == pytest.approx(np.log(trapezoid(weight, z)), abs=0.01)
    mean = trapezoid(weight * z, z) / trapezoid(weight, z)
    assert fit.z[0, 0] == pytest.approx(mean, abs=0.02)


def test_sizes_that_only_show_together_stay_correlated():
    box = Box.even(1, 2, 3, 3.0)
    a, b = box.points[0]
    residual = ((1.0 - (a[:, None] + b[None, :])) / 0.1)[None, :, :, None]
    covariance = integrated(residual, box).covariance[0]
    assert covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1]) < -0.9


def test_a_sum_of_logarithms_does_not_overflow():
    assert log_sum(np.array([1000.0, 1000.0])) == pytest.approx(1000.0 + np.log(2.0))
    assert log_sum(np.array([-np.inf, -np.inf])) == -np.inf
