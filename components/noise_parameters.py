"""From the four noise parameters of an amplifier to the noise waves that leave its ports.

T_e(G) = T_min + t |G - G_opt|^2 / ((1 - |G|^2) |1 + G_opt|^2), t = 4 R_n T0 / Z0, is the noise
temperature from a source that reflects G.  Here every temperature is in quanta, kT/hf.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from components.arrays import ComplexLike, FloatArray, FloatLike
from components.constants import T0, Z0, H, K
from components.nport import Entries, lossiness, magnitude2

if TYPE_CHECKING:
    from components.nport import EntryMap


@dataclass(frozen=True)
class NoiseParameters:
    """The four noise parameters; each a number or an array that broadcasts to (draws, points)."""

    minimum_quanta: FloatLike
    """Least added noise over all sources, kT/hf quanta."""
    optimum: ComplexLike
    """Reflection of the source that gives it, complex, 50 ohm."""
    resistance_quanta: FloatLike
    """t = 4 R_n T0 / Z0 in quanta: how fast noise grows away from the optimum."""

    @classmethod
    def of(
        cls, *, frequency_hz: FloatArray, minimum_k: FloatLike, optimum: ComplexLike,
        resistance_ohm: FloatLike,
    ) -> NoiseParameters:
        """Return the parameters from T_min in kelvin, G_opt and R_n in ohm (all broadcast)."""
        per_kelvin = K / (H * np.asarray(frequency_hz, float))
        return cls(
            minimum_k * per_kelvin, optimum, resistance_ohm / ohm_per_quantum(frequency_hz)
        )

    @property
    def slope_quanta(self) -> FloatLike:
        """t / |1 + G_opt|^2, quanta."""
        return self.resistance_quanta / magnitude2(1.0 + self.optimum)

    def added_quanta(self, source: ComplexLike) -> FloatLike:
        """Return the quanta added at the input from a source that reflects `source` (complex)."""
        away = magnitude2(source - self.optimum) / (1.0 - magnitude2(source))
        return self.minimum_quanta + self.slope_quanta * away

    def waves(self, s: EntryMap) -> Entries:
        """Return the upper entries of C, quanta, of a two-port with scattering entries `s`.

        S. W. Wedge and D. B. Rutledge, Wave techniques for noise modeling and measurement, IEEE
        Trans. MTT 40, 2004 (1992), the relations between noise waves and noise parameters.
        """
        own, gain = s.get((0, 0)), magnitude2(s[1, 0])
        slope = self.slope_quanta
        at_input = self.minimum_quanta + slope * magnitude2(self.optimum)
        c: Entries = {(1, 1): gain * at_input}
        if own is None:
            c[0, 0] = slope - self.minimum_quanta
            cross: ComplexLike = 0.0
        else:
            c[0, 0] = self.minimum_quanta * (magnitude2(own) - 1.0) + slope * magnitude2(
                1.0 - own * self.optimum
            )
            cross = own * at_input
        cross = np.conj(s[1, 0]) * (cross - np.conj(self.optimum) * slope)
        if np.any(cross):
            c[0, 1] = cross
        return c

    def least_minimum_quanta(self, s: EntryMap) -> FloatLike:
        """Return the least T_min, quanta, that a two-port with scattering entries `s` can have.

        With the optimum source the wave at its output carries the noise w^H C w and has the
        commutator w^H (I - S S^H) w, half of which no noise is below (C. M. Caves, Phys. Rev. D 26,
        1817, 1982); without mismatch this is (1 - 1/gain)/2.
        """
        reflected = self.optimum / (1.0 - self.optimum * s.get((0, 0), 0.0))
        weight = s[1, 0] * reflected
        loss = lossiness(s, (1, 1))
        commutator = loss[1, 1] + magnitude2(weight) * loss[0, 0]
        commutator = commutator + 2.0 * np.real(weight * loss.get((0, 1), 0.0))
        passed = magnitude2(s[1, 0]) * (1.0 - magnitude2(self.optimum))
        passed = passed / magnitude2(1.0 - self.optimum * s.get((0, 0), 0.0))
        return 0.5 * np.abs(commutator) / passed

    @property
    def least_resistance_quanta(self) -> FloatLike:
        """Least t, quanta, that goes with T_min and G_opt at large gain.

        An amplifier's two noise waves do not commute, so 4 N T0 >= T_min + hf/2k, N = R_n Re Y_opt;
        classically 4 N T0 >= T_min.  Our own derivation: with e = c2/S21 and d = c1 - S11 e, whose
        commutators tend to -1 and +1, C +- (I - S S^H)/2 >= 0 turns into 0 <= q <= t (1 -
        |G_opt|^2) / |1 + G_opt|^2 for q = T_min +- 1/2.
        """
        matched = magnitude2(1.0 + self.optimum) / (1.0 - magnitude2(self.optimum))
        return (self.minimum_quanta + 0.5) * matched


def ohm_per_quantum(frequency_hz: FloatLike) -> FloatArray:
    """Return the R_n, ohm, for which t = 4 R_n T0 / Z0 is one quantum (broadcasts)."""
    return Z0 / (4.0 * T0) * H * np.asarray(frequency_hz, float) / K
