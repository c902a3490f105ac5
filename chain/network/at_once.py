"""How much of a band is solved at once: what a processor's cache holds, and a bound on memory."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from chain.network.assembly import phase_draws

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from components.arrays import FloatArray

CHUNK = 16384
"""Draws times points that are solved at once: what a processor's cache holds comfortably."""

MAX_VALUES = 4_000_000
"""Elements times draws times points that are solved at once, to bound the memory it takes."""


def parts_of_band(
    layout: Layout, ids: Sequence[str], frequency_hz: FloatArray, draws: int | None = None
) -> list[FloatArray]:
    """Return the frequencies (Hz) at which the network of the elements `ids` is solved at once.

    Unknown phases are drawn anew for every part, so who wants the same numbers takes the same.
    `draws` is phase_draws where that is known.
    """
    values = frequency_hz.size * (phase_draws(layout, ids) if draws is None else draws)
    fit = max(1, min(CHUNK, MAX_VALUES // len(ids)))
    return np.array_split(frequency_hz, min(frequency_hz.size, -(-values // fit)))
