"""Intervals of a ratio of two quantities with normal errors, which is skewed.

Added noise is such a ratio: where the line through the powers meets zero power, over its slope.
E. C. Fieller, J. Roy. Stat. Soc. B 16, 175 (1954) (from memory).
"""

from __future__ import annotations

from typing import Any

import numpy as np


def ratio_interval(above: Any, below: Any, covariance: Any, *, sigmas: Any) -> Any:
    """Return (low, high) of above / below, each of the shape of `above`.

    `covariance` (..., 2, 2) is of (above, below); `sigmas` says how wide.  An end is infinite where
    `below` may as well be zero.  The ratio itself is the median.
    """
    v_aa, v_ab, v_bb = (covariance[..., i, j] for i, j in ((0, 0), (0, 1), (1, 1)))
    z2 = sigmas**2
    a = below**2 - z2 * v_bb
    b = above * below - z2 * v_ab
    c = above**2 - z2 * v_aa
    root = np.sqrt(np.maximum(b**2 - a * c, 0.0))
    bounded = (a > 0) & (below > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        low, high = (b - root) / a, (b + root) / a
    return np.where(bounded, low, -np.inf), np.where(bounded, high, np.inf)


def mean_excess(above: Any, below: Any, covariance: Any) -> Any:
    """Return by how much the mean of above / below lies above its median, to second order."""
    return (above * covariance[..., 1, 1] / below - covariance[..., 0, 1]) / below**2
