"""Whether the power bends: a hot load that saturates an amplifier, or is not as hot as it says."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chain.errors import LayoutError
from chain.measurement.common_errors import CommonError
from components.arrays import FloatLike
from components.constants import H
from components.quantities import watt_to_dbm
from components.thermal_noise import quanta

if TYPE_CHECKING:
    from chain.layout.layout import Element, Layout
    from chain.measurement.least_squares import Fit
    from chain.measurement.power_model import PowerModel
    from components.arrays import FloatArray

_UNIT = 0.1
"""Prior size of the missing part: wide beside any that is worth fitting."""

DROP_AT_P1DB = 10**0.1 - 1.0
"""A cubic amplifier's drop of gain at its 1 dB point, power over power."""


@dataclass(frozen=True)
class Bend:
    """What is missing of the power at the hottest reading, as a part of it."""

    missing: float
    """Positive where the hottest reading lies below the line through the others."""
    sigma: float

    @property
    def sigmas(self) -> float:
        """How far it is from none."""
        return self.missing / self.sigma


def bend(model: PowerModel, fit: Fit, sigma: FloatArray) -> Bend | None:
    """Return the Bend of a PowerModel's readings; None with fewer than three temperatures.

    Gain that falls in proportion to the power, fitted beside everything else.
    """
    read = np.isfinite(model.quanta)
    levels = np.where(read, model.noise, np.nan)
    if np.min([len(np.unique(column[np.isfinite(column)])) for column in levels.T]) < 3:
        return None
    power = fit.unknowns[:, 1] + fit.unknowns[:, 0] * np.nan_to_num(model.noise)
    share = power / np.max(np.where(read, power, -np.inf), axis=0)
    bending = CommonError("bend", "", 0.0, -_UNIT * share)
    try:
        found = replace(model, errors=(*model.errors, bending)).fitted(sigma)
    except LayoutError:
        return None
    return Bend(float(_UNIT * found.common[-1]),
                float(_UNIT * np.sqrt(found.common_covariance[-1, -1])))


def drop_db(level_dbm: FloatLike, p1db_in_dbm: float) -> FloatLike:
    """Return by how much gain has dropped, dB, at a total input level."""
    over = 10.0 ** ((np.asarray(level_dbm) - p1db_in_dbm) / 10.0)
    return 10.0 * np.log10(1.0 + DROP_AT_P1DB * over)


def received_dbm(
    layout: Layout, frequency_hz: FloatArray, reaches: FloatArray, temperature_k: float
) -> float:
    """Return the power (dBm) of a load at the plane over the layout's band.

    `reaches` is the part of its noise that gets there at `frequency_hz`, (points,).
    """
    band = layout.band
    f = np.linspace(band.start_hz, band.stop_hz, 101)
    part = np.interp(f, frequency_hz, reaches)
    density = H * f * part * quanta(frequency_hz=f, temperature_k=temperature_k)
    return float(watt_to_dbm(density.mean() * max(band.stop_hz - band.start_hz, 1.0)))


def p1db_in_dbm(element: Element) -> float | None:
    """Return the input level (dBm) at which an element's gain is 1 dB down; None if not stated."""
    settings = element.settings
    if settings.given("p1db_in"):
        return float(watt_to_dbm(settings["p1db_in"].value))
    if settings.given("p1db_out") and hasattr(settings["gain"], "value"):
        return float(watt_to_dbm(settings["p1db_out"].value)) - settings["gain"].value + 1.0
    return None
