"""Gain and added noise of one signal as they were measured, beside what its layout predicts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.measurement.common_errors import CommonError, Sizes
from chain.measurement.compression import Bend
from chain.measurement.estimate import Estimate
from chain.measurement.readings import Readings
from chain.network.laws import Laws
from components.arrays import FloatArray
from components.thermal_noise import kelvin_per_quantum

if TYPE_CHECKING:
    from chain.layout.layout import Layout


@dataclass(frozen=True)
class Prediction:
    """What the layout says, and how far its own tolerances let that be off; (points,)."""

    gain_db: np.ndarray
    added_quanta: np.ndarray
    gain_db_sigma: np.ndarray
    """Standard deviation; zero where nothing has a tolerance."""
    added_quanta_sigma: np.ndarray


@dataclass(frozen=True)
class Reduction:
    """Gain and noise of one signal from readings; arrays run over frequency."""

    signal: str
    source: str
    """The element that was hot and cold."""
    plane: str
    """The port whose outgoing wave gain and noise are referred to."""
    to_port: str
    frequency_hz: np.ndarray
    gain: Estimate
    """From the plane to the end, dB."""
    added: Estimate
    """Added noise at the plane, quanta."""
    predicted: Prediction
    readings: Readings
    noise_quanta: np.ndarray
    """Noise at the plane other than what is added, for every step, quanta, (steps, points)."""
    residual: np.ndarray
    """Readings less the fit, relative to it, (steps, points); NaN where nothing was read."""
    relative_sigma: np.ndarray
    """Own error of each reading, relative, (steps, points)."""
    sigma_from: str
    """Where that comes from: `power_sigma` or `scatter`."""
    loss_db: np.ndarray
    """From the load to the plane, dB."""
    errors: tuple[CommonError, ...]
    sizes: Sizes
    chi2: float
    freedom: int
    bend: Bend | None
    """What is missing of the power at the hottest reading; None with two temperatures."""
    ripple: np.ndarray
    """How far unknown phases let the load's part at the plane be off, relative, one sigma: counted
    among the own errors, (points,)."""
    laws: Laws
    """Of the layout's own solution."""
    off: Reduction | None = None
    """The same with the paramps off, where this one is with them on."""
    doubts: tuple[str, ...] = ()
    """What the readings themselves give reason to doubt."""
    remarks: tuple[str, ...] = ()
    """Warnings of the layout's budget."""
    layout: Layout | None = field(default=None, repr=False)

    @property
    def gain_db(self) -> FloatArray:
        """Gain from the plane to the end, dB."""
        return self.gain.value

    @property
    def gain_db_sigma(self) -> FloatArray:
        """Its whole standard deviation, dB."""
        return self.gain.sigma

    @property
    def gain_db_common(self) -> FloatArray:
        """The part of it common to all frequencies, dB."""
        return self.gain.common

    @property
    def added_quanta(self) -> FloatArray:
        """Added noise, quanta."""
        return self.added.value

    @property
    def added_quanta_sigma(self) -> FloatArray:
        """Its whole standard deviation, quanta."""
        return self.added.sigma

    @property
    def added_quanta_common(self) -> FloatArray:
        """The part of it common to all frequencies, quanta."""
        return self.added.common

    @property
    def added_noise_k(self) -> FloatArray:
        """Added noise as a temperature, kelvin."""
        return self.added.value * kelvin_per_quantum(frequency_hz=self.frequency_hz)

    @property
    def added_sigma_k(self) -> FloatArray:
        """Its whole standard deviation as a temperature, kelvin."""
        return self.added.sigma * kelvin_per_quantum(frequency_hz=self.frequency_hz)

    @property
    def predicted_added_quanta(self) -> FloatArray:
        """What the layout predicts, quanta."""
        return self.predicted.added_quanta

    @property
    def predicted_gain_db(self) -> FloatArray:
        """What the layout predicts, dB."""
        return self.predicted.gain_db

    @property
    def added_missed_sigma(self) -> FloatArray:
        """Measured less predicted added noise over both standard deviations together."""
        both = np.hypot(self.added.sigma, self.predicted.added_quanta_sigma)
        return (self.added.value - self.predicted.added_quanta) / both

    @property
    def gain_missed_sigma(self) -> FloatArray:
        """Measured less predicted gain over both standard deviations together."""
        both = np.hypot(self.gain.sigma, self.predicted.gain_db_sigma)
        return (self.gain.value - self.predicted.gain_db) / both

    @property
    def band(self) -> Mapping[str, float]:
        """Means over the band, with their errors; the prediction's tolerances count as common."""
        known = np.isfinite(self.added.value)
        if not known.any():
            return {}
        p = self.predicted
        found = {}
        for name, estimate, value, sd in (
            ("added_quanta", self.added, p.added_quanta, p.added_quanta_sigma),
            ("gain_db", self.gain, p.gain_db, p.gain_db_sigma),
        ):
            predicted, off = float(value[known].mean()), float(sd[known].mean())
            found |= {
                name: estimate.mean, f"{name}_sigma": estimate.mean_sigma,
                f"{name}_own": estimate.mean_own, f"{name}_common": estimate.mean_common,
                f"predicted_{name}": predicted, f"predicted_{name}_sigma": off,
                f"{name}_missed_sigma":
                    (estimate.mean - predicted) / np.hypot(estimate.mean_sigma, off),
            }
        return found

    @property
    def warnings(self) -> tuple[str, ...]:
        """Doubts of the readings, and the warnings of the layout."""
        return tuple(dict.fromkeys([*self.doubts, *self.remarks]))

    def as_dict(self) -> dict[str, Any]:
        """Return the result under the names that programs lean on."""
        from chain.measurement.reduction_export import reduction_dict

        return reduction_dict(self)

    def __str__(self):
        from chain.measurement.reduction_text import reduction_text

        return reduction_text(self)
