"""Filter prototypes as lossless ladders: element values, scattering, frequency maps.

G. L. Matthaei, L. Young and E. M. T. Jones, Microwave Filters, Impedance-Matching Networks, and
Coupling Structures (1964), sec. 4.05 for the element values, 8.02 for the maps (from memory).
"""

import numpy as np

MAX_ORDER = 21
"""Highest order of a prototype that is worked out."""

_FAR = 1e12
"""Normalised frequency taken for all beyond it; to the power MAX_ORDER it is still a number."""


def butterworth_elements(order):
    """Return g_1 ... g_(N+1) of the maximally flat prototype, 3 dB at w = 1."""
    k = np.arange(1, order + 1)
    return [*(2.0 * np.sin((2 * k - 1) * np.pi / (2 * order))), 1.0]


def chebyshev_elements(order, *, ripple_db):
    """Return g_1 ... g_(N+1) of the equal-ripple prototype, `ripple_db` (dB, broadcasts) at w = 1.

    The tables' constant 17.37 is 40 / ln 10 rounded; taken exactly the ripple comes out as asked.
    """
    beta = -np.log(np.tanh(np.asarray(ripple_db, float) * np.log(10.0) / 40.0))
    gamma = np.sinh(beta / (2 * order))
    a = [np.sin((2 * k - 1) * np.pi / (2 * order)) for k in range(1, order + 1)]
    b = [gamma**2 + np.sin(k * np.pi / order) ** 2 for k in range(1, order)]
    g = [2.0 * a[0] / gamma]
    for k in range(1, order):
        g.append(4.0 * a[k - 1] * a[k] / (b[k - 1] * g[-1]))
    g.append(1.0 if order % 2 else 1.0 / np.tanh(beta / 4.0) ** 2)
    return g


def scattering(elements, w):
    """Return S11, S21, S22 of the ladder at normalised frequencies `w` (broadcasts; any sign).

    g_1 is a series inductance, g_2 a shunt capacitance and so on.  An even Chebyshev ladder ends in
    g_(N+1), not one: an ideal transformer at its output brings that to the reference resistance.
    """
    w = np.clip(np.asarray(w, float), -_FAR, _FAR)
    *reactances, load = elements
    # The chain matrix of a lossless ladder: a and d are real, j b and j c imaginary.
    a, b, c, d = np.ones_like(w), np.zeros_like(w), np.zeros_like(w), np.ones_like(w)
    for index, g in enumerate(reactances):
        x = w * g
        if index % 2 == 0:
            b, d = b + a * x, d - c * x
        else:
            a, c = a - b * x, c + d * x
    # Only ladders of even order, which end in a shunt capacitance, have a load other than one.
    turns = np.sqrt(load)
    a, b, c, d = a * turns, b / turns, c * turns, d / turns
    through = 2.0 / ((a + d) + 1j * (b + c))
    half = through / 2.0
    return ((a - d) + 1j * (b - c)) * half, through, ((d - a) + 1j * (b - c)) * half


def low_pass(frequency_hz, *, cutoff_hz):
    """Return the normalised frequency of a low-pass filter (broadcasts)."""
    return frequency_hz / cutoff_hz


def high_pass(frequency_hz, *, cutoff_hz):
    """Return the normalised frequency of a high-pass filter (broadcasts)."""
    return -cutoff_hz / frequency_hz


def band_pass(frequency_hz, *, centre_hz, bandwidth_hz):
    """Return the normalised frequency of a band-pass filter (broadcasts).

    The band's edges lie `bandwidth_hz` apart and have `centre_hz` as their geometric mean.
    """
    away = frequency_hz / centre_hz - centre_hz / frequency_hz
    return centre_hz / bandwidth_hz * away


def band_stop(frequency_hz, *, centre_hz, bandwidth_hz):
    """Return the normalised frequency of a band-stop filter (broadcasts); see `band_pass`."""
    w = band_pass(frequency_hz, centre_hz=centre_hz, bandwidth_hz=bandwidth_hz)
    return -1.0 / np.where(np.abs(w) < 1.0 / _FAR, np.copysign(1.0 / _FAR, w), w)
