"""How a healthy line's data may differ from what the layout says: the covariance of all sets.

Tolerances of the layout are common to all data sets and act by their central differences; errors
that a file states are its own or common to its frequencies; unknown phases are drawn by the whole
program; what is left is a ripple of unknown size and width, which is integrated over.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.layout.variants import Variant
from chain.measurement.data_sets import ADDED, GAIN, VACUUM
from chain.network.assembly import Choices, phase_draws
from chain.network.draws import Draws
from chain.noise.shares import received
from chain.power.self_heating import noise_network
from components.faults import mapped
from components.quantities import Quantity, decibels
from components.settings import Settings

if TYPE_CHECKING:
    from chain.diagnosis.prediction import Prediction
    from chain.layout.layout import Layout
    from components.arrays import FloatArray

PHASE_DRAWS = 96
"""Draws of unknown phases that give their covariance."""

MAX_PHASE_POINTS = 201
"""Frequencies at which they are drawn."""

SIZES_DB = (0.02, 0.07, 0.15, 0.3, 0.6, 1.2)
"""Rms of the ripple that is not in the layout, after averaging over bins."""

WIDTHS = (0.012, 0.05, 0.15)
"""Its correlation length as a part of the band: finer than a bin, and wider."""


@dataclass(frozen=True)
class Ripple:
    """A correlated error of gain and noise beyond what the layout says."""

    size_db: float
    width: float
    weight: float
    """How likely beforehand."""


def ripples(size_db: float | None = None) -> tuple[Ripple, ...]:
    """Return the Ripples that are integrated over: all, or those of one size."""
    sizes = SIZES_DB if size_db is None else (size_db,)
    count = len(sizes) * len(WIDTHS)
    return tuple(Ripple(size, width, 1.0 / count) for size in sizes for width in WIDTHS)


@dataclass(frozen=True)
class Toleranced:
    """A value with a tolerance: how a fast layout has it one standard deviation off."""

    name: str
    sigma: float
    key: str
    parameter: str
    """Empty for a stage's temperature."""

    def variant(self, layout: Layout, sign: int, base: Variant) -> Variant:
        """Return a Variant of a layout with the value off as well."""
        if not self.parameter:
            own = base.temperature_k.get(self.key, layout.stages[self.key].temperature_k)
            kelvin = max(own + sign * self.sigma, 0.05 * own)
            return replace(base, temperature_k={**base.temperature_k, self.key: kelvin})
        element = layout.elements[self.key]
        values: dict[str, Any] = dict(base.settings.get(self.key, {}))
        value = values.get(self.parameter, element.settings[self.parameter])
        measure = element.kind.declared()[self.parameter].reads
        values[self.parameter] = mapped(
            value, lambda x: np.clip(x + sign * self.sigma, measure.lowest, measure.most))
        return replace(base, settings={**base.settings, self.key: values})


def toleranced(layout: Layout, ids: Sequence[str]) -> list[Toleranced]:
    """Return everything with a tolerance that the elements `ids` have or touch."""
    found = []
    for key in ids:
        element = layout.elements[key]
        for name, value in element.settings.values.items():
            tolerance = getattr(value, "tolerance", None)
            # Levels of compression and bias, in dBm, change neither gain nor noise.
            if tolerance is None or tolerance.size == 0 or tolerance.in_db:
                continue
            sigma = tolerance.size / (np.sqrt(3.0) if tolerance.uniform else 1.0)
            found.append(Toleranced(f"{key}.{name}", float(sigma), key, name))
    for name, stage in layout.stages.items():
        if stage.tolerance is not None and stage.tolerance.size > 0:
            sigma = stage.tolerance.size / (np.sqrt(3.0) if stage.tolerance.uniform else 1.0)
            found.append(Toleranced(f"stages.{name}.temperature", float(sigma), name, ""))
    return found


def jacobians(
    prediction: Prediction, values: Sequence[Toleranced], combinations: Sequence[Any],
) -> FloatArray:
    """Return what each toleranced value does to a set, dB for one sigma.

    Shape (combinations of causes, toleranced values, values of the set): half the difference of one
    sigma up and down, with the causes in place.
    """
    found = np.zeros((len(combinations), len(values), sum(prediction.sizes)))
    groups: dict[str, list[int]] = {}
    for number, combination in enumerate(combinations):
        name = " ".join(cause.name for cause, _ in combination if cause.rewires)
        groups.setdefault(name, []).append(number)
    for numbers in groups.values():
        layout = prediction.layout_with(combinations[numbers[0]])
        present = [
            place for place, one in enumerate(values)
            if (not one.parameter and not prediction.data.warm) or (one.key in layout.elements
            and one.parameter in layout.elements[one.key].settings.values)
        ]
        variants = []
        for number in numbers:
            base = prediction.variant_with(layout, combinations[number])
            for place in present:
                variants += [values[place].variant(layout, sign, base) for sign in (1, -1)]
        if not variants:
            continue
        solved = prediction.of_variants(layout, variants)
        solved = solved.reshape(len(numbers), len(present), 2, -1)
        half = (solved[:, :, 0] - solved[:, :, 1]) / 2.0
        found[np.ix_(numbers, present)] = np.where(np.isfinite(half), half, 0.0)
    return found


def stated_covariance(prediction: Prediction) -> FloatArray:
    """Return the covariance of one set's stated errors and of its unknown phases, dB^2."""
    blocks = []
    for bins, column in zip(prediction.bins, prediction.data.columns, strict=True):
        own = np.array([
            np.sum(column.own_db[one] ** 2) / len(one) ** 2 for one in bins.members
        ])
        blocks.append(np.diag(own) + column.common_db**2)
    whole = np.zeros((sum(prediction.sizes),) * 2)
    place = 0
    for block in blocks:
        whole[place:place + len(block), place:place + len(block)] = block
        place += len(block)
    return whole + _of_phases(prediction)


def ripple_covariance(prediction: Prediction, ripple: Ripple) -> FloatArray:
    """Return the covariance of a ripple in one set: its columns ripple independently."""
    band = prediction.layout.band
    length = ripple.width * max(band.stop_hz - band.start_hz, 1.0)
    whole = np.zeros((sum(prediction.sizes),) * 2)
    place = 0
    for bins in prediction.bins:
        f = bins.frequency_hz
        apart = (f[:, None] - f) / length
        whole[place:place + f.size, place:place + f.size] = \
            ripple.size_db**2 * np.exp(-apart**2 / 2.0)
        place += f.size
    return whole


def _of_phases(prediction):
    """Return the covariance of unknown phases: of draws by the whole program, nothing held."""
    layout, ids = prediction.network_layout, prediction.ids()
    size = sum(prediction.sizes)
    if phase_draws(layout, ids) == 1:
        return np.zeros((size, size))
    plain = exact(layout)
    drawn = Draws(plain, ids, count=PHASE_DRAWS, seed=17)
    parts = []
    for bins, column in zip(prediction.bins, prediction.data.columns, strict=True):
        some = [one[:: max(1, -(-len(one) * len(bins.members) // MAX_PHASE_POINTS))]
                for one in bins.members]
        f = np.concatenate([column.frequency_hz[one] for one in some])
        values = realised(plain, prediction.signal, f, drawn, column.quantity)
        ends = np.cumsum([0, *map(len, some)])
        parts.append(np.stack([
            values[:, low:high].mean(axis=1) for low, high in itertools.pairwise(ends)
        ], axis=1))
    values = np.concatenate(parts, axis=1)
    values = values[np.isfinite(values).all(axis=1)]
    if len(values) < 2:
        return np.zeros((size, size))
    return np.cov(values, rowvar=False).reshape(size, size)


def realised(
    layout: Layout, signal: Any, frequency_hz: FloatArray, draws: Draws, quantity: str
) -> FloatArray:
    """Return a column for draws of tolerances and phases, by the whole program, dB.

    Shape (draws, points).  Raises LayoutError where a draw cannot be.
    """
    network = noise_network(layout, signal.to_port[0], frequency_hz, Choices(draws=draws))
    found, shape = received(network, signal), (draws.draws, frequency_hz.size)
    gain = np.broadcast_to(np.asarray(found.gain, float), shape)
    if quantity == GAIN:
        return decibels(gain)
    noise = np.broadcast_to(found.noise, shape)
    if quantity == ADDED:
        incoming = sum(part.incoming for parts in found.parts.values() for part in parts)
        return decibels((noise - incoming) / gain + VACUUM)
    return decibels(noise / gain)


def exact(layout: Layout) -> Layout:
    """Return a layout without tolerances."""
    def plain(value):
        return replace(value, tolerance=None) if getattr(value, "tolerance", None) else value

    elements = {
        key: replace(element, settings=Settings(element.kind, {
            name: plain(value) if isinstance(value, Quantity) or hasattr(value, "tolerance")
            else value for name, value in element.settings.values.items()
        })) for key, element in layout.elements.items()
    }
    stages = {name: replace(stage, tolerance=None) for name, stage in layout.stages.items()}
    return replace(layout, elements=elements, stages=stages, derived="without tolerances")
