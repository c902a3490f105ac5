"""What conducts heat from anchor to anchor: a solid, and how much of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol


class Conductor(Protocol):
    """What theta, the integral of the conductivity, is known of."""

    @property
    def name(self) -> str:
        """Name in the catalogue or the layout."""

    def theta(self, *, temperature_k: float) -> Any:
        """Return the integral of the conductivity up to a temperature (K)."""


@dataclass(frozen=True)
class HeatPath:
    """A solid and a factor: the heat along a length is factor times the change of theta over it.

    `solid` has `name`, `range_k` and `theta(temperature_k=)`; it is a Coax (theta in W m, factor 1)
    or a Material (theta in W/m, factor the cross-section in m^2).
    """

    solid: Conductor
    factor: float = 1.0
    parameter: str = "coax"
    """The element's parameter that names the solid, for messages."""

    def conducted_w(self, *, warm_k: float, cold_k: float, length_m: float) -> float:
        """Return the heat (W) that a length (m) between two temperatures (K) conducts.

        Positive from `warm_k` to `cold_k`; raises OutsideRange.
        """
        warm, cold = (self.solid.theta(temperature_k=t) for t in (warm_k, cold_k))
        return self.factor * float(warm - cold) / length_m
