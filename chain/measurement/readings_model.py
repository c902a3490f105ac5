"""Readings and a layout together: the model of the powers, their errors, what is refused."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError, Place
from chain.measurement.common_errors import (
    CommonError,
    Sizes,
    drift_errors,
    layout_errors,
    thermometer_errors,
)
from chain.measurement.load_noise import LoadNoise
from chain.measurement.on_off import gain_change_errors
from chain.measurement.power_model import (
    On,
    PowerModel,
    scatter,
    scatter_between_frequencies,
)
from chain.measurement.readings import Readings
from components.arrays import FloatArray
from components.constants import H
from components.thermal_noise import kelvin_per_quantum

if TYPE_CHECKING:
    from chain.layout.layout import Signal

_FIRST_SIGMA = 0.01
"""Relative error of a power before its scatter is known."""


@dataclass(frozen=True)
class Task:
    """Readings of one state of a layout, and what is needed to reduce them."""

    load_noise: LoadNoise
    """Of the layout, signal and load, at the readings' frequencies."""
    readings: Readings
    sizes: Sizes
    floor_w_hz: float = 0.0

    @property
    def signal(self) -> Signal:
        """The Signal of the layout."""
        return self.load_noise.layout.signals[self.load_noise.signal]

    @property
    def floor(self) -> FloatArray:
        """What the instrument reads by itself, quanta, (points,)."""
        return self.floor_w_hz / (H * self.readings.frequency_hz)

    def errors(self) -> tuple[CommonError, ...]:
        """Return the CommonErrors of the readings."""
        noise, loads = self.load_noise, self.readings.load_k
        return (
            *thermometer_errors(noise, loads, self.readings.load_k_sigma, self.sizes),
            *layout_errors([noise], [loads]), *drift_errors(loads.shape, self.sizes.drift),
            *_instrument_errors(self.sizes, self.floor, self.readings.quanta),
        )

    def model(self, errors: tuple[CommonError, ...], *, check: bool = True) -> PowerModel:
        """Return the PowerModel; refuse powers that say nothing, unless told not to check."""
        noise = self.load_noise
        quanta, ratio = noise.at(self.readings.load_k)
        if check:
            _check_reached(self, noise)
            _check_differs(self.readings, quanta)
            _check_rises(self.readings, quanta)
        return PowerModel(
            self.readings.quanta, quanta, ratio, noise.gain, errors,
            self.floor,
        )

    def sigma(self, model: PowerModel) -> tuple[FloatArray, str]:
        """Return (relative error of each power, where it is from)."""
        given = self.readings.relative_sigma
        read = self.readings.read
        if np.all(np.isfinite(given[read])):
            return given, "power_sigma"
        fit = model.fitted(np.full(read.shape, _FIRST_SIGMA))
        found = scatter(fit, read)
        if found is None:
            found = scatter_between_frequencies(self.readings.quanta)
        if found is None:
            raise LayoutError.at(
                self.readings.place(0), "there is no power_sigma, and too few readings to take it "
                "from their scatter", "add the column, or read at three temperatures or more",
            )
        # Readings that lie on the line to the last digit still have the arithmetic's error.
        return np.where(np.isfinite(given), given, max(found, 1e-12)), "scatter"


@dataclass(frozen=True)
class Pair:
    """Readings with the paramps off, and some with them on."""

    off: Task
    noise_on: LoadNoise
    """With the paramps on."""
    on: Readings
    """At the same frequencies."""

    def errors(self) -> tuple[CommonError, ...]:
        """Return the CommonErrors of all readings, those with the paramps off first."""
        off, sizes = self.off, self.off.sizes
        loads = [off.readings.load_k, self.on.load_k]
        return (
            *self._thermometer(),
            *layout_errors([off.load_noise, self.noise_on], loads),
            *drift_errors(np.concatenate(loads).shape, sizes.drift),
            *_instrument_errors(
                sizes, off.floor, np.concatenate([off.readings.quanta, self.on.quanta])
            ),
            *gain_change_errors(sizes),
        )

    def _thermometer(self):
        """Yield the thermometer's errors of both kinds of readings together."""
        tasks = (self.off, replace(self.off, load_noise=self.noise_on, readings=self.on))
        by_name = {}
        for place, task in enumerate(tasks):
            read = task.readings
            for error in thermometer_errors(task.load_noise, read.load_k, read.load_k_sigma,
                                            task.sizes):
                # A step's own temperature is its own; scale and zero are one thermometer's.
                name = error.name if place == 0 or error.lasting else f"{error.name}, paramp on"
                by_name.setdefault(name, {})[place] = error
        empty = [np.zeros(task.readings.load_k.shape) for task in tasks]
        for name, found in by_name.items():
            noise = [found[i].noise if i in found else empty[i] for i in (0, 1)]
            one = next(iter(found.values()))
            yield CommonError(name, one.size, np.concatenate(noise), lasting=one.lasting)

    def model(
        self, errors: Any, gain_change: Any, gain_change_sigma: Any, *, check: bool = True
    ) -> Any:
        """Return the PowerModel; the ratio of gains is on over off, and its error relative."""
        noise, ratio = self.noise_on.at(self.on.load_k)
        on = On(self.on.quanta / ratio, noise, gain_change, gain_change_sigma)
        return replace(self.off.model(errors, check=check), on=on)


def _instrument_errors(sizes, floor, quanta):
    """Yield the CommonErrors of the instrument: its power scale, and what it reads by itself."""
    if sizes.power_scale:
        yield CommonError("instrument, power scale", f"{100 * sizes.power_scale:.3g} %",
                          0.0, sizes.power_scale)
    if sizes.floor and np.any(floor > 0):
        # Relative to the rest of the power, where that is more than the floor.
        part = floor / np.maximum(quanta - floor, floor)
        yield CommonError("instrument, floor", f"{100 * sizes.floor:.3g} %", 0.0,
                          np.nan_to_num(sizes.floor * part))


def _check_reached(task, noise):
    if np.all(noise.reaches <= 0):
        raise LayoutError.at(
            Place("--source"),
            f"nothing that {task.load_noise.load.id} emits reaches {task.signal.to_port[0]}",
            "name the load that was hot and cold",
        )


SAME = 1e-9
"""Relative difference of the noise at the plane below which hot and cold are one to any reading."""


def _check_differs(readings, noise):
    """Refuse loads whose noise at the plane is the same, hot or cold."""
    n = np.where(readings.read, noise, np.nan)
    low, high = np.nanmin(n, axis=0), np.nanmax(n, axis=0)
    alike = np.flatnonzero(high - low < SAME * high)
    if not alike.size:
        return
    f = readings.frequency_hz[alike[0]]
    raise LayoutError.at(
        readings.place(int(np.argmax(readings.step_k))),
        f"at {f / 1e9:g} GHz the load's noise at the plane is the same at every temperature: hf/2k "
        f"is {kelvin_per_quantum(frequency_hz=f) / 2:.3g} K, far above them, or its noise is lost "
        "on the way", "heat the load to hf/2k and above",
    )


def _check_rises(readings, noise):
    """Refuse powers that fall as the noise at the plane rises, over the band as a whole."""
    read = readings.read
    y = np.log(np.where(read, readings.quanta, np.nan))
    centred = y - np.nanmean(y, axis=0)
    n = np.where(read, noise, np.nan)
    n = n - np.nanmean(n, axis=0)
    if np.nansum(centred * n) > 0:
        return
    hottest = int(np.argmax(readings.step_k))
    raise LayoutError.at(
        readings.place(hottest), "over the band the power falls as the load gets hotter",
        "look for temperatures that stand in the wrong order, for an amplifier that the hot load "
        "saturates, or for a --source that is not the one that was heated",
    )
