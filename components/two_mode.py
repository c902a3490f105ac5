"""Two modes that amplify each other along a length that loses: gain, and the noise of the loss."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from components.nport import magnitude2

if TYPE_CHECKING:
    from components.arrays import FloatArray, FloatLike

_STEPS = 60
"""Halvings of the interval that holds the gain per length: to the last digit."""


@dataclass(frozen=True)
class TwoMode:
    """Amplitudes from signal and conjugate idler at the start to those at the end.

    Along the length u = 0 .. 1 of a travelling-wave paramp whose phases match, d a_s = (g a_i^* -
    k_s a_s / 2) du + what the loss emits, and the same for a_i^* with k_i: signal and idler lose
    exp(-k) each without gain (M. Houde, L. C. G. Govia, A. A. Clerk, Loss asymmetries in quantum
    traveling-wave parametric amplifiers, Phys. Rev. Applied 12 (2019), from memory; worked out here
    from the equations).
    """

    signal: FloatLike
    to_signal: FloatLike
    """From the idler's wave."""
    to_idler: FloatLike
    idler: FloatLike
    _sums: tuple[FloatLike, ...]
    """What a unit emission all along the signal's and the idler's loss gives: see `emitted`."""

    def emitted(
        self, signal: FloatLike, idler: FloatLike
    ) -> tuple[FloatLike, FloatLike, FloatLike]:
        """Return the noise (signal, both, idler) at the end, quanta, of loss that emits so much."""
        ss, sp, si, ips, ipp, ipi = self._sums
        return ss * signal + ips * idler, sp * signal + ipp * idler, si * signal + ipi * idler


def two_mode(*, gain: FloatLike, signal_left: FloatLike, idler_left: FloatLike) -> TwoMode:
    """Return the TwoMode of a power gain and of the amplitudes that loss alone would leave.

    `gain` is from end to end, loss included, at least `signal_left` squared; arrays broadcast.
    """
    if not (np.any(signal_left != 1.0) or np.any(idler_left != 1.0)):
        direct, crossed = np.sqrt(gain), np.sqrt(gain - 1.0)
        return TwoMode(direct, crossed, crossed, direct, (0.0,) * 6)
    amplitude, lost, its_lost = np.broadcast_arrays(
        np.sqrt(gain), -np.log(magnitude2(signal_left)), -np.log(magnitude2(idler_left))
    )
    mean, apart = (lost + its_lost) / 4.0, (lost - its_lost) / 4.0
    rate = _rate(amplitude, mean, apart)
    nu = np.sqrt(rate**2 + apart**2)
    # Where nothing goes on (nu = 0), sinh(nu) / nu is 1.
    safe = np.where(nu > 0.0, nu, 1.0)
    cosh, sinh = np.cosh(nu) * np.exp(-mean), np.sinh(nu) * np.exp(-mean)
    over, tilt = np.where(nu > 0.0, rate / safe, 0.0), np.where(nu > 0.0, apart / safe, 0.0)
    cross = over * sinh
    return TwoMode(
        cosh - tilt * sinh, cross, cross, cosh + tilt * sinh,
        tuple(
            own * each for own, sign in ((lost, 1.0), (its_lost, -1.0))
            for each in _sums(mean, nu, over, sign * tilt)[::1 if sign > 0 else -1]
        ),
    )


def _rate(amplitude: FloatArray, mean: FloatArray, apart: FloatArray) -> FloatArray:
    """Return the gain per length g at which the signal's amplitude is as given, by halving."""
    low = np.zeros_like(amplitude)
    # exp(nu - mean) (1 - |apart| / nu) / 2 is less than the amplitude, so this is too much.
    high = np.log(2.0 * amplitude) + mean + 2.0 * np.abs(apart) + 2.0
    for _ in range(_STEPS):
        middle = (low + high) / 2.0
        nu = np.sqrt(middle**2 + apart**2)
        ratio = np.where(nu > 0.0, apart / np.where(nu > 0.0, nu, 1.0), 0.0)
        reached = np.exp(-mean) * (np.cosh(nu) - ratio * np.sinh(nu))
        less = reached < amplitude
        low, high = np.where(less, middle, low), np.where(less, high, middle)
    return np.where(high < 1e-15, 0.0, (low + high) / 2.0)


def _sums(mean, nu, over, tilt):
    """Return the integrals over u of (M_1^2, M_1 M_2, M_2^2), M from a mode to itself, the other.

    M_1 = exp(-mean u) (cosh(nu u) - tilt sinh(nu u)), M_2 = exp(-mean u) over sinh(nu u).
    """
    rising, falling = _integral(2.0 * (nu - mean)), _integral(-2.0 * (nu + mean))
    flat = _integral(-2.0 * mean)
    cc, ss = (rising + falling + 2.0 * flat) / 4.0, (rising + falling - 2.0 * flat) / 4.0
    cs = (rising - falling) / 4.0
    return cc - 2.0 * tilt * cs + tilt**2 * ss, over * (cs - tilt * ss), over**2 * ss


def _integral(x: FloatArray) -> FloatArray:
    """Return the integral of exp(x u) over u = 0 .. 1."""
    small = np.abs(x) < 1e-12
    return np.where(small, 1.0 + x / 2.0, np.expm1(x) / np.where(small, 1.0, x))
