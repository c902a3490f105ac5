"""The cooling power of a stage at a temperature."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from chain.layout.layout import Stage

DILUTION_K = 1.0
"""Below this the cooling power goes as T^2 between points (dilution: O. V. Lounasmaa, Experimental
Principles and Methods Below 1 K, 1974, from memory), above it as T."""


def cooling_w(stage: Stage, temperature_k: float) -> float | None:
    """Return the cooling power (watt) of a stage at a temperature, or None where unknown.

    Between the points of its table linear in T^2 up to 1 K and in T above; outside them unknown.
    """
    for (cold_k, cold_w), (warm_k, warm_w) in pairwise(stage.cooling):
        if cold_k <= temperature_k <= warm_k:
            low, high, here = (_scale(t, warm_k) for t in (cold_k, warm_k, temperature_k))
            return cold_w + (warm_w - cold_w) * (here - low) / (high - low)
    if len(stage.cooling) == 1 and stage.cooling[0][0] == temperature_k:
        return stage.cooling[0][1]
    return None


def _scale(temperature_k, warm_k):
    return temperature_k**2 if warm_k <= DILUTION_K else temperature_k


def settled_k(stage: Stage, load_w: float) -> float | None:
    """Return the temperature at which a stage cools a load, or None outside its table."""
    for (cold_k, cold_w), (warm_k, warm_w) in pairwise(stage.cooling):
        if cold_w <= load_w <= warm_w:
            part = (load_w - cold_w) / (warm_w - cold_w)
            if warm_k <= DILUTION_K:
                return (cold_k**2 + part * (warm_k**2 - cold_k**2)) ** 0.5
            return cold_k + part * (warm_k - cold_k)
    return None
