"""Smooth functions of frequency, worked out at few frequencies and interpolated to all."""

import functools

import numpy as np

PRECISION = 1e-14
"""How small the last coefficients have to be beside the largest: rounding, and nothing above it."""

_COUNTS = (16, 32, 64)
"""Numbers of frequencies tried; a function that needs more is worked out at every one."""


def over_band(function, frequency_hz):
    """Return `function(frequency_hz)`, worked out at few frequencies where that is as exact.

    `function` takes frequencies (Hz, shape (n,)) and returns an array (..., n).  Interpolation is
    by Chebyshev polynomials in the square root of the frequency, in which loss and thermal noise
    are analytic; their last coefficients tell whether they reach rounding, and where they do not
    the function is asked at every frequency.  L. N. Trefethen, Approximation Theory and
    Approximation Practice (2013), ch. 3 and 8 (from memory).
    """
    f = np.asarray(frequency_hz, float)
    low, high = float(f.min()), float(f.max())
    if 0 < low < high:
        for count in _COUNTS:
            if f.size < 2 * count:
                break
            nodes = _nodes(count)
            root = np.sqrt(low) + (np.sqrt(high) - np.sqrt(low)) * (nodes + 1.0) / 2.0
            coefficients = function(root**2) @ _to_coefficients(count)
            size = np.abs(coefficients)
            if np.all(size[..., -3:].max(axis=-1) <= PRECISION * size.max(axis=-1)):
                return coefficients @ _polynomials(f.tobytes(), count)
    return function(f)


@functools.lru_cache(maxsize=8)
def _nodes(count):
    """Return the zeros of the Chebyshev polynomial T_count, on -1 .. 1."""
    return np.cos(np.pi * (np.arange(count) + 0.5) / count)


@functools.lru_cache(maxsize=8)
def _to_coefficients(count):
    """Return the matrix from values at `_nodes` (row vectors) to Chebyshev coefficients."""
    angle = np.pi * (np.arange(count) + 0.5) / count
    matrix = 2.0 / count * np.cos(np.outer(angle, np.arange(count)))
    matrix[:, 0] /= 2.0
    return matrix


@functools.lru_cache(maxsize=32)
def _polynomials(frequencies, count):
    """Return T_0 .. T_count-1 at frequencies given as bytes, shape (count, points)."""
    root = np.sqrt(np.frombuffer(frequencies))
    low, high = root.min(), root.max()
    x = 2.0 * (root - low) / (high - low) - 1.0
    return np.cos(np.outer(np.arange(count), np.arccos(np.clip(x, -1.0, 1.0))))
