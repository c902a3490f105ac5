"""Noise and gain of one signal in many variants of a layout."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from chain.errors import LayoutError
from chain.layout.asked import asked_frequencies
from chain.layout.signals import chosen_signal
from chain.layout.variants import Variant
from chain.network.variants import solve_variants
from chain.network.varied_pumps import pumped_variants
from chain.noise.budget import (
    LEAST_GAIN,
    MOST_GAIN,
    unanswered,
)
from chain.power.self_heating import heating_of
from components.quantities import decibels
from components.thermal_noise import kelvin_per_quantum

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from components.arrays import FloatArray
    from components.heating import Heated


@dataclass(frozen=True)
class VariantBudgets:
    """Noise and gain of a signal in every variant; arrays run over (variants, frequency).

    A variant with an error has NaN in its rows.
    """

    signal: str
    from_port: str | None
    to_port: str
    variants: tuple[Variant, ...]
    frequency_hz: np.ndarray
    gain_db: np.ndarray | None
    """Gain from the wave at the start to the wave at the end, dB; None without a start."""
    noise_at_to_quanta: np.ndarray
    """All noise arriving at the end, quanta; known too where no signal arrives."""
    system_noise_quanta: np.ndarray | None
    """The same referred to the start, quanta: mean noise over mean gain."""
    shares_quanta: Mapping[str, np.ndarray]
    """Each element's part of the system noise (of the noise at the end without a start)."""
    idler_shares_quanta: Mapping[str, np.ndarray]
    """The part of each share that came through the idler."""
    errors: Mapping[int, LayoutError]
    """By the variant's number: why it cannot be, or that nothing of the signal arrives."""
    warnings: Mapping[int, tuple[str, ...]]
    """By the variant's number: amplifiers that may oscillate."""
    layout: Layout | None = field(default=None, repr=False)

    @property
    def system_noise_k(self) -> FloatArray | None:
        """System noise as a temperature, kelvin."""
        if self.system_noise_quanta is None:
            return None
        return self.system_noise_quanta * kelvin_per_quantum(frequency_hz=self.frequency_hz)

    @property
    def noise_quanta(self) -> FloatArray:
        """System noise, or the noise at the end for a signal without a start, quanta."""
        if self.system_noise_quanta is None:
            return self.noise_at_to_quanta
        return self.system_noise_quanta


def variant_budgets(
    layout: Layout, variants: Sequence[Variant], signal: str | None = None, *,
    frequency_hz: FloatArray | None = None, shares: bool = True,
    heated: Sequence[Heated] | None = None,
) -> VariantBudgets:
    """Return the VariantBudgets of a signal, each variant as `budget` would have it.

    `frequency_hz` (array, Hz) replaces the band; without `shares` only gain and noise are worked
    out.  Where unknown phases matter, variants are solved together that are alike in all that
    closes a loop; where tones warm cables, or a generator's noise comes in, each by itself.
    `heated` is what tones warm in each variant, for who knows it already.  Raises LayoutError for
    what is wrong with the layout or the signal alone.
    """
    chosen = chosen_signal(layout, signal)
    variants = tuple(variants)
    f = asked_frequencies(layout, frequency_hz, chosen)
    if heated is None:
        heated = _heated(layout, chosen, variants)
    pumped, of_pumps = pumped_variants(layout, variants, layout.connected(chosen.to_port[0]))
    solved = solve_variants(layout, chosen, f, pumped, heated=heated, shares=shares)
    errors = {**solved.errors, **of_pumps}
    gain, noise = solved.gain, solved.noise
    for number in _suspect(solved):
        # NaN, not known, where a loop reaches one with some phase is no mistake: it is warned of.
        known = ~np.isnan(noise[number]) if number in solved.warnings else slice(None)
        error = unanswered(
            chosen, None if gain is None else gain[number][known], noise[number][known]
        )
        if error is not None:
            errors.setdefault(int(number), error)
    scale = np.ones_like(noise) if gain is None else gain.copy()
    scale[list(errors)] = np.nan
    return VariantBudgets(
        chosen.name, None if chosen.from_port is None else ".".join(chosen.from_port),
        ".".join(chosen.to_port), variants, f, None if gain is None else decibels(scale), noise,
        None if gain is None else noise / scale,
        {key: array / scale for key, array in solved.shares.items()},
        {key: array / scale for key, array in solved.idler.items()},
        errors, dict(solved.warnings), layout,
    )


def _suspect(solved):
    """Return the numbers of variants whose noise or gain may say nothing."""
    doubtful = ~np.isfinite(solved.noise).all(axis=1)
    if solved.gain is not None:
        doubtful |= ((solved.gain < LEAST_GAIN) | (solved.gain > MOST_GAIN)).any(axis=1)
    return np.flatnonzero(doubtful)


def _heated(layout, signal, variants):
    """Return what tones warm in the signal's network, for every variant."""
    ids = layout.connected(signal.to_port[0])
    if not (layout.self_heating and any(tone.into in ids for tone in layout.tones.values())):
        return ({},) * len(variants)
    return [heating_of(variant.apply(layout), ids) for variant in variants]
