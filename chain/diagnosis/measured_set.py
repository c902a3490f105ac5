"""One data set as the search asks for it: values, what tolerances do, covariances."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from chain.diagnosis.healthy import jacobians, ripple_covariance, stated_covariance

if TYPE_CHECKING:
    from chain.diagnosis.healthy import Ripple
    from chain.diagnosis.prediction import Prediction
    from components.arrays import FloatArray


class MeasuredSet:
    """A Prediction with the covariances that the search asks for."""

    def __init__(self, prediction: Prediction) -> None:
        self.prediction = prediction
        self.measured_db = prediction.measured_db

    def of(self, combinations: Sequence[Any]) -> FloatArray:
        """Return the values with combinations of causes, dB."""
        return self.prediction.of(combinations)

    def slopes(self, values: Sequence[Any], combinations: Sequence[Any]) -> FloatArray:
        """Return what tolerances do with combinations of causes, dB for one sigma."""
        return jacobians(self.prediction, values, combinations)

    def stated(self) -> FloatArray:
        """Return the covariance of stated errors and unknown phases."""
        return stated_covariance(self.prediction)

    def ripple(self, ripple: Ripple) -> FloatArray:
        """Return the covariance of a ripple."""
        return ripple_covariance(self.prediction, ripple)
