"""Noise and gain of one signal in many variants of a layout."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from chain.errors import LayoutError
from chain.layout.asked import asked_frequencies
from chain.layout.signals import chosen_signal
from chain.layout.variants import Variant
from chain.network.variants import solve_variants
from chain.noise.budget import (
    LEAST_GAIN,
    MOST_GAIN,
    NothingArrives,
    budget,
    unanswered,
)
from chain.power.self_heating import heating_of
from components.quantities import decibels
from components.thermal_noise import kelvin_per_quantum

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from components.arrays import FloatArray

POINTS_AT_ONCE = 4096
"""Frequencies that are solved at once: what fits a processor's cache for one variant."""


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
) -> VariantBudgets:
    """Return the VariantBudgets of a signal, each variant as `budget` would have it.

    `frequency_hz` (array, Hz) replaces the band; without `shares` only gain and noise are worked
    out.  Where phases are unknown, a paramp hangs on a pump that the layout brings to it, or a
    generator's noise comes in, each variant is a budget of its own.  Raises LayoutError for what
    is wrong with the layout or the signal alone.
    """
    chosen = chosen_signal(layout, signal)
    variants = tuple(variants)
    f = asked_frequencies(layout, frequency_hz, chosen)
    heated = _heated(layout, chosen, variants)
    if _pumped_from(layout, chosen) or _generated(layout, chosen):
        return _by_budgets(layout, variants, chosen, f, shares)
    parts = [
        solve_variants(layout, chosen, part, variants, heated=heated, shares=shares)
        for part in np.array_split(f, -(-f.size // POINTS_AT_ONCE))
    ]
    if any(part.unsolved for part in parts):
        return _by_budgets(layout, variants, chosen, f, shares)
    errors: dict[int, LayoutError] = {}
    warnings = {}
    for part in parts:
        errors |= part.errors
        for number, said in part.warnings.items():
            warnings.setdefault(number, said)
    noise = _joined([part.noise for part in parts])
    shared, by_idler = (
        _joined_each([getattr(part, name) for part in parts]) for name in ("shares", "idler")
    )
    gain = None if chosen.from_port is None else _joined([part.gain for part in parts])
    for number in _suspect(noise, gain):
        error = unanswered(chosen, None if gain is None else gain[number], noise[number])
        if error is not None:
            errors.setdefault(int(number), error)
    if gain is None:
        gain_db, system, scale = None, None, np.ones_like(noise)
    else:
        scale = gain.copy()
        scale[list(errors)] = np.nan
        gain_db, system = decibels(scale), noise / scale
    return VariantBudgets(
        chosen.name, None if chosen.from_port is None else ".".join(chosen.from_port),
        ".".join(chosen.to_port), variants, f, gain_db, noise, system,
        {key: array / scale for key, array in shared.items()},
        {key: array / scale for key, array in by_idler.items()},
        errors, warnings, layout,
    )


def _suspect(noise, gain):
    """Return the numbers of variants whose noise or gain may say nothing."""
    doubtful = ~np.isfinite(noise).all(axis=1)
    if gain is not None:
        doubtful |= ((gain < LEAST_GAIN) | (gain > MOST_GAIN)).any(axis=1)
    return np.flatnonzero(doubtful)


def _pumped_from(layout, signal):
    """Tell whether the signal's network has a paramp to which the layout brings its pump."""
    ids = layout.connected(signal.to_port[0])
    return any(
        e.kind.pumps(e.settings.with_values(state="ok"))
        and e.id in layout.connected(layout.tones[e.settings["pump"]].into)
        for e in (layout.elements[key] for key in ids)
        if "pump" in e.kind.declared() and e.settings["pump"] in layout.tones
    )


def _generated(layout, signal):
    """Tell whether a generator's noise comes into the signal's network: variants may change it."""
    ids = layout.connected(signal.to_port[0])
    return any(tone.into in ids for tone in layout.noisy_tones)


def _by_budgets(layout, variants, signal, f, shares):
    """Return the VariantBudgets of variants that cannot be solved together."""
    def empty():
        return np.full((len(variants), f.size), np.nan)

    gain_db, noise = None if signal.from_port is None else empty(), empty()
    system = None if signal.from_port is None else empty()
    every, errors, warnings = ({}, {}), {}, {}
    for number, variant in enumerate(variants):
        try:
            b = budget(variant.apply(layout), signal.name, frequency_hz=f)
        except LayoutError as error:
            errors[number] = error
            if isinstance(error, NothingArrives):
                noise[number] = _arriving(variant.apply(layout), signal, f)
            continue
        noise[number] = b.noise_at_to_quanta
        if gain_db is not None and system is not None:
            gain_db[number], system[number] = b.gain_db, b.system_noise_quanta
        said = tuple(text for text in b.warnings if "may oscillate" in text)
        if said:
            warnings[number] = said
        of_budget = (b.shares_quanta, b.idler_shares_quanta) if shares else ({}, {})
        for arrays, own in zip(every, of_budget, strict=True):
            for key, share in own.items():
                arrays.setdefault(key, np.zeros_like(noise))[number] = share
    for array in (*every[0].values(), *every[1].values()):
        array[list(errors)] = np.nan
    return VariantBudgets(
        signal.name, None if signal.from_port is None else ".".join(signal.from_port),
        ".".join(signal.to_port), variants, f, gain_db, noise, system, *every, errors, warnings,
        layout,
    )


def _arriving(layout, signal, f):
    """Return all noise at the end of a signal of which nothing arrives, quanta."""
    alone = replace(signal, from_port=None)
    return budget(
        replace(layout, signals={signal.name: alone}), signal.name, frequency_hz=f
    ).noise_at_to_quanta


def _heated(layout, signal, variants):
    """Return what tones warm in the signal's network, for every variant."""
    ids = layout.connected(signal.to_port[0])
    if not any(tone.into in ids for tone in layout.tones.values()):
        return ({},) * len(variants)
    return [heating_of(variant.apply(layout), ids) for variant in variants]


def _joined(arrays):
    return arrays[0] if len(arrays) == 1 else np.concatenate(arrays, axis=1)


def _joined_each(dicts):
    """Return {id: array} over all frequencies; a share that some of them lack is zero there."""
    keys = dict.fromkeys(key for one in dicts for key in one)
    return {key: _joined([one[key] for one in dicts]) for key in keys}
