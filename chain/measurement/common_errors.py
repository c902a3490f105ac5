"""Errors that all readings share: the thermometer, the losses before the plane, drift.

Each has the size of one standard deviation and what that does to every reading: to the noise at
the reference plane, and to the power relative to itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError
from chain.measurement.load_noise import LoadNoise
from components.arrays import FloatArray
from components.quantities import Quantity, Table

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from chain.measurement.load_noise import Load

NEGLIGIBLE = 1e-9
"""Change of the noise at the plane, relative to it, below which a tolerance is left out."""

_DB = np.log(10.0) / 10.0


@dataclass(frozen=True)
class Sizes:
    """How large the errors are that no file states; standard deviations."""

    load_scale: float = 0.0
    """Of the thermometer's scale, relative."""
    load_offset_k: float = 0.0
    """Of the thermometer's zero, kelvin."""
    drift: float = 0.0
    """Of the gain from step to step, relative."""
    power_scale: float = 0.0
    """Of the instrument's power scale, relative: it moves the gain alone."""
    floor: float = 0.0
    """Of what the instrument reads by itself, relative to it."""
    gain_change_db: float = 0.0
    """Of the scale of the gain change between paramp off and on, dB."""


@dataclass(frozen=True)
class CommonError:
    """One standard deviation of one error, and what it does to the readings."""

    name: str
    size: str
    """The standard deviation as a person writes it."""
    noise: np.ndarray | float = 0.0
    """Change of the noise at the plane, quanta, (rows, points)."""
    relative: np.ndarray | float = 0.0
    """Change of the power relative to itself, (rows, points)."""
    gain_change: float = 0.0
    """Change of the measured ratio of gains, on over off, relative to itself."""
    lasting: bool = True
    """True where it is the same the next time that this is measured: of a thermometer or a part."""


def thermometer_errors(
    load_noise: LoadNoise, load_k: FloatArray, load_k_sigma: FloatArray, sizes: Sizes
) -> list[CommonError]:
    """Return the CommonErrors of the load's temperature; `load_k` (steps, points), NaN for none."""
    slope = np.nan_to_num(load_noise.slope(load_k))
    kelvin = np.nan_to_num(load_k)
    found = []
    if sizes.load_scale:
        found.append(CommonError(
            "thermometer, scale", f"{100 * sizes.load_scale:.3g} %",
            slope * kelvin * sizes.load_scale,
        ))
    if sizes.load_offset_k:
        found.append(CommonError(
            "thermometer, zero", f"{1e3 * sizes.load_offset_k:.3g} mK",
            slope * sizes.load_offset_k,
        ))
    for step, sigmas in enumerate(load_k_sigma):
        if np.any(sigmas > 0):
            noise = np.zeros_like(slope)
            noise[step] = slope[step] * sigmas
            found.append(CommonError(
                f"temperature of step {step + 1}", f"{1e3 * np.max(sigmas):.3g} mK", noise,
                lasting=False,
            ))
    return found


def drift_errors(shape: Any, drift: Any) -> Any:
    """Return one CommonError a row for a gain that drifts from step to step."""
    found = []
    for row in range(shape[0] if drift else 0):
        relative = np.zeros(shape)
        relative[row] = drift
        found.append(CommonError(f"drift, step {row + 1}", f"{100 * drift:.3g} %", 0.0, relative,
                                 lasting=False))
    return found


# -- what the layout's own tolerances do -----------------------------------------------------------


@dataclass(frozen=True)
class Toleranced:
    """One value of a layout with a tolerance, and the layout with it off by some of it."""

    name: str
    size: str
    shifted: Callable
    """From a number of standard deviations to the layout."""


def toleranced(layout: Layout, load: Load, ids: Iterable[str]) -> Iterator[Toleranced]:
    """Yield every Toleranced value of the elements `ids` and their stages; not the load's own."""
    elements = [layout.elements[key] for key in ids]
    for e in elements:
        for name, value in e.settings.values.items():
            own = e.id == load.id and name == "temperature"
            tolerance = getattr(value, "tolerance", None)
            if tolerance is None or tolerance.size == 0 or own:
                continue
            bounds = e.kind.declared()[name].reads
            yield Toleranced(
                f"{e.id}.{name}", _tolerance_text(value),
                lambda sigmas, e=e, name=name, value=value, bounds=bounds: layout.with_settings(
                    {e.id: {name: _shifted(value, sigmas, bounds)}}
                ),
            )
    touched = {s for e in elements
               for s in (e.stage, e.from_stage, e.to_stage, *(name for name, _ in e.via))}
    for name, stage in layout.stages.items():
        if name in touched and name != load.stage and stage.tolerance and stage.tolerance.size:
            sd = _standard_deviation(stage.tolerance)
            yield Toleranced(
                f"stages.{name}.temperature", f"{stage.temperature_k:g} K +/- {sd:.3g} K",
                lambda sigmas, name=name, stage=stage, sd=sd: layout.with_temperatures(
                    {name: max(stage.temperature_k + sigmas * sd, 1e-4)}
                ),
            )


def _tolerance_text(value):
    sd = _standard_deviation(value.tolerance)
    return value.text if isinstance(value, Quantity) else f"a table +/- {sd:.3g}"


def _standard_deviation(tolerance):
    return tolerance.size / np.sqrt(3.0) if tolerance.uniform else tolerance.size


def _shifted(value, sigmas, bounds):
    """Return a Quantity or Table off by so many standard deviations, inside its bounds."""
    change = sigmas * _standard_deviation(value.tolerance)

    def moved(number):
        number = number * 10 ** (change / 10) if value.tolerance.in_db else number + change
        if bounds.least is not None:
            number = max(number, bounds.least)
        return number if bounds.most is None else min(number, bounds.most)

    if isinstance(value, Table):
        return replace(value, values=tuple(moved(number) for number in value.values))
    return replace(value, value=moved(value.value))


def layout_errors(
    load_noises: Sequence[LoadNoise], loads: Sequence[FloatArray]
) -> list[CommonError]:
    """Return the CommonErrors of the layout's tolerances.

    `load_noises` and `loads` (arrays of load temperatures, (rows, points)) are of one signal with
    its paramps off, and with them on where that was read: their rows follow each other.
    """
    first: LoadNoise = load_noises[0]
    ids = first.layout.connected(first.load.id)
    nominal = [noise.at(kelvin)[0] for noise, kelvin in zip(load_noises, loads, strict=True)]
    lists = [list(toleranced(noise.layout, noise.load, ids)) for noise in load_noises]
    found = []
    for values in zip(*lists, strict=True):
        changes = [
            np.nan_to_num(_change(noise, kelvin, value))
            for noise, kelvin, value in zip(load_noises, loads, values, strict=True)
        ]
        if any(np.any(np.abs(change) > NEGLIGIBLE * np.nan_to_num(quanta, nan=np.inf))
               for change, quanta in zip(changes, nominal, strict=True)):
            found.append(CommonError(values[0].name, values[0].size, np.concatenate(changes)))
    return found


def _change(load_noise, load_k, value):
    """Return half the change from one standard deviation less to one more, (rows, points).

    Where a value can only be off to one side, as a loss that is the least its part can have, the
    change to that side.
    """
    sides = []
    refused: LayoutError | None = None
    for sign in (1.0, -1.0):
        try:
            altered = load_noise.altered((value.name, sign), partial(value.shifted, sign))
            sides.append((sign, altered.at(load_k)[0]))
        except LayoutError as error:
            refused = error
    if refused is not None and not sides:
        raise refused
    if len(sides) == 1:
        [(sign, noise)] = sides
        return sign * (noise - load_noise.at(load_k)[0])
    return (sides[0][1] - sides[1][1]) / 2.0
