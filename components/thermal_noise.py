"""What a matched load at a temperature emits, in quanta, with the vacuum counted."""

from __future__ import annotations

import numpy as np

from components.arrays import FloatArray, FloatLike
from components.constants import VACUUM, H, K


def photons(*, frequency_hz: FloatLike, temperature_k: FloatLike) -> FloatArray:
    """Return the mean thermal photons of a mode, n = 1 / (exp(hf/kT) - 1).

    Broadcasts; dimensionless; zero temperature gives zero.  M. Planck, 1901; H. B. Callen and
    T. A. Welton, Phys. Rev. 83, 34 (1951), without the half.
    """
    f, t = np.asarray(frequency_hz, float), np.asarray(temperature_k, float)
    with np.errstate(divide="ignore", over="ignore"):
        # expm1 keeps the digits where hf << kT; past 700 the exponential overflows and n is 0.
        return 1.0 / np.expm1(np.minimum(H * f / (K * t), 700.0))


def quanta(*, frequency_hz: FloatLike, temperature_k: FloatLike) -> FloatArray:
    """Return what a matched load emits, N = 1/2 coth(hf/2kT), in quanta (hf per hertz).

    Broadcasts; dimensionless; zero temperature gives the vacuum's 1/2.  H. B. Callen and
    T. A. Welton, Irreversibility and generalized noise, Phys. Rev. 83, 34 (1951).
    """
    return photons(frequency_hz=frequency_hz, temperature_k=temperature_k) + VACUUM


def kelvin_per_quantum(*, frequency_hz: FloatLike) -> FloatArray:
    """Return hf/k, the noise temperature of one quantum, in kelvin (broadcasts)."""
    return H * np.asarray(frequency_hz, float) / K
