"""Noise of what sends tones in: phase and amplitude noise beside a carrier."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from components.constants import H
from components.parameters import ParameterError
from components.quantities import Quantity, Table

if TYPE_CHECKING:
    from components.arrays import FloatArray

LEAST_OFFSET_HZ = 1e-3
"""Nearest to the tone that a table is read: zero has no logarithm."""


@dataclass(frozen=True)
class GeneratorNoise:
    """The noise that a generator sends beside its tone, of equal size on both sides of it.

    Stated as W/Hz on either side over the tone's power, as a spectrum analyser reads it (dBc/Hz).
    What lies above and below the tone is taken as uncorrelated: of phase or amplitude noise alone
    a four-wave paramp, which folds both sides onto each other, may see up to twice as much.
    """

    tone: str
    frequency_hz: tuple[float, ...]
    """The tone's frequency, or those of a comb's lines, each with noise of its own."""
    each_w: float
    """What the generator sends in each line while it is on."""
    beside: Quantity | Table
    """dBc/Hz: at every offset, or over the offset, linear in decibels over its logarithm."""

    def quanta(self, frequency_hz: FloatArray) -> FloatArray:
        """Return the quanta that it sends at frequencies (Hz, (points,)), above the vacuum.

        Raises ParameterError where a table does not reach that far from the tone.
        """
        f = np.asarray(frequency_hz, float)
        total = np.zeros_like(f)
        for line_hz in self.frequency_hz:
            total = total + 10 ** (self.dbc_hz(np.abs(f - line_hz)) / 10)
        return total * self.each_w / (H * f)

    def dbc_hz(self, offset_hz: FloatArray) -> FloatArray:
        """Return the noise at offsets from the tone (Hz), dBc/Hz."""
        if isinstance(self.beside, Quantity):
            return np.full_like(offset_hz, self.beside.value)
        table = self.beside
        low, high = float(np.min(offset_hz)), float(np.max(offset_hz))
        if not table.hold and (low < table.low_hz or high > table.high_hz):
            raise ParameterError(
                "noise", f"the noise of tone {self.tone} is given from {table.low_hz:.4g} Hz to "
                f"{table.high_hz:.4g} Hz beside it, and {low:.4g} Hz to {high:.4g} Hz is needed",
                "add points, or `outside: hold` to the table",
            )
        away = np.log(np.maximum(offset_hz, LEAST_OFFSET_HZ))
        return np.interp(away, np.log(table.frequency_hz), table.values)
