"""Expected bits against enumeration and closed forms."""

import numpy as np
import pytest
from scipy.integrate import trapezoid

from chain.diagnosis.information import expected_bits


def _enumerated(means, probabilities, sigma):
    """Return the mutual information of one normal datum by a fine sum over its outcomes, bits."""
    y = np.linspace(min(means) - 8 * sigma, max(means) + 8 * sigma, 40001)
    p = np.asarray(probabilities)
    density = np.exp(-((y[:, None] - means) ** 2) / (2 * sigma**2)) / (sigma * np.sqrt(2 * np.pi))
    joint = p * density
    whole = joint.sum(axis=1, keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = np.where(joint > 0, joint * np.log2(joint / (whole * p)), 0.0)
    return trapezoid(terms.sum(axis=1), y)


@pytest.mark.parametrize(("means", "probabilities", "sigma"), [
    ((0.0, 1.0), (0.5, 0.5), 0.5),
    ((0.0, 1.0, 3.0), (0.6, 0.3, 0.1), 0.7),
    ((0.0, 0.2, 4.0, 4.1), (0.4, 0.3, 0.2, 0.1), 0.3),
])
def test_bits_are_those_of_an_enumeration(means, probabilities, sigma):
    found = expected_bits(np.array(means)[:, None, None], np.array(probabilities),
                          np.array([[sigma**2]]), draws=4000)
    assert found == pytest.approx(_enumerated(np.array(means), probabilities, sigma), abs=0.02)


def test_what_tells_everything_apart_gives_the_whole_entropy():
    means = np.array([0.0, 100.0, 200.0, 300.0])[:, None, None]
    found = expected_bits(means, np.full(4, 0.25), np.eye(1))
    assert found == pytest.approx(2.0, abs=1e-9)


def test_what_is_the_same_for_all_gives_nothing():
    assert expected_bits(np.zeros((3, 5, 2)), np.array([0.2, 0.3, 0.5]), np.eye(2)) < 1e-12


def test_unknown_sizes_that_overlap_hide_what_means_would_tell():
    rng = np.random.default_rng(5)
    wide = rng.normal(size=(2, 400, 1)) * 3.0 + np.array([0.0, 1.0])[:, None, None]
    sharp = np.broadcast_to(np.array([0.0, 1.0])[:, None, None], (2, 400, 1))
    p, covariance = np.array([0.5, 0.5]), np.array([[0.01]])
    assert expected_bits(wide, p, covariance) < 0.2 < expected_bits(sharp, p, covariance)
