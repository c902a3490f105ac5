"""Gain and added noise from powers read with a load hot and cold, beside the layout's."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from chain.errors import LayoutError, Place
from chain.layout.signals import chosen_signal
from chain.measurement.common_errors import (
    CommonError,
    Sizes,
    drift_errors,
    layout_errors,
    thermometer_errors,
)
from chain.measurement.compression import Bend, bend
from chain.measurement.estimate import Estimate, gain_and_added
from chain.measurement.least_squares import Fit
from chain.measurement.load_noise import Load, LoadNoise
from chain.measurement.on_off import GainChange
from chain.measurement.power_model import (
    On,
    PowerModel,
    scatter,
    scatter_between_frequencies,
)
from chain.measurement.readings import Readings
from chain.network.laws import Laws
from chain.noise.spread import spread
from components.constants import H
from components.quantities import power_ratio
from components.thermal_noise import kelvin_per_quantum

DRAWS = 200
"""Draws of the layout's tolerances for how far its prediction may be off."""

_FIRST_SIGMA = 0.01
"""Relative error of a power before its scatter is known."""


@dataclass(frozen=True)
class Prediction:
    """What the layout says, and how far its own tolerances let that be off; (points,)."""

    gain_db: np.ndarray
    added_quanta: np.ndarray
    gain_db_sigma: np.ndarray
    """Standard deviation; zero where nothing has a tolerance."""
    added_quanta_sigma: np.ndarray


@dataclass(frozen=True)
class Reduction:
    """Gain and noise of one signal from readings; arrays run over frequency."""

    signal: str
    source: str
    """The element that was hot and cold."""
    plane: str
    """The port whose outgoing wave gain and noise are referred to."""
    to_port: str
    frequency_hz: np.ndarray
    gain: Estimate
    """From the plane to the end, dB."""
    added: Estimate
    """Added noise at the plane, quanta."""
    predicted: Prediction
    readings: Readings
    noise_quanta: np.ndarray
    """Noise at the plane other than what is added, for every step, quanta, (steps, points)."""
    residual: np.ndarray
    """Readings less the fit, relative to it, (steps, points); NaN where nothing was read."""
    relative_sigma: np.ndarray
    """Own error of each reading, relative, (steps, points)."""
    sigma_from: str
    """Where that comes from: `power_sigma` or `scatter`."""
    loss_db: np.ndarray
    """From the load to the plane, dB."""
    errors: tuple[CommonError, ...]
    sizes: Sizes
    chi2: float
    freedom: int
    bend: Bend | None
    """What is missing of the power at the hottest reading; None with two temperatures."""
    ripple_db: float | None
    """How far unknown phases let the layout's gain vary, dB; None where all are known."""
    laws: Laws
    """Of the layout's own solution."""
    off: "Reduction | None" = None
    """The same with the paramps off, where this one is with them on."""
    doubts: tuple[str, ...] = ()
    """What the readings themselves give reason to doubt."""
    remarks: tuple[str, ...] = ()
    """Warnings of the layout's budget."""
    layout: object = field(default=None, repr=False)

    @property
    def gain_db(self):
        """Gain from the plane to the end, dB."""
        return self.gain.value

    @property
    def gain_db_sigma(self):
        """Its whole standard deviation, dB."""
        return self.gain.sigma

    @property
    def gain_db_common(self):
        """The part of it common to all frequencies, dB."""
        return self.gain.common

    @property
    def added_quanta(self):
        """Added noise, quanta."""
        return self.added.value

    @property
    def added_quanta_sigma(self):
        """Its whole standard deviation, quanta."""
        return self.added.sigma

    @property
    def added_quanta_common(self):
        """The part of it common to all frequencies, quanta."""
        return self.added.common

    @property
    def added_noise_k(self):
        """Added noise as a temperature, kelvin."""
        return self.added.value * kelvin_per_quantum(frequency_hz=self.frequency_hz)

    @property
    def added_sigma_k(self):
        """Its whole standard deviation as a temperature, kelvin."""
        return self.added.sigma * kelvin_per_quantum(frequency_hz=self.frequency_hz)

    @property
    def predicted_added_quanta(self):
        """What the layout predicts, quanta."""
        return self.predicted.added_quanta

    @property
    def predicted_gain_db(self):
        """What the layout predicts, dB."""
        return self.predicted.gain_db

    @property
    def added_missed_sigma(self):
        """Measured less predicted added noise over both standard deviations together."""
        both = np.hypot(self.added.sigma, self.predicted.added_quanta_sigma)
        return (self.added.value - self.predicted.added_quanta) / both

    @property
    def gain_missed_sigma(self):
        """Measured less predicted gain over both standard deviations together."""
        both = np.hypot(self.gain.sigma, self.predicted.gain_db_sigma)
        return (self.gain.value - self.predicted.gain_db) / both

    @property
    def band(self) -> Mapping[str, float]:
        """Means over the band, with their errors; the prediction's tolerances count as common."""
        known = np.isfinite(self.added.value)
        if not known.any():
            return {}
        p = self.predicted
        found = {}
        for name, estimate, value, sd in (
            ("added_quanta", self.added, p.added_quanta, p.added_quanta_sigma),
            ("gain_db", self.gain, p.gain_db, p.gain_db_sigma),
        ):
            predicted, off = float(value[known].mean()), float(sd[known].mean())
            found |= {
                name: estimate.mean, f"{name}_sigma": estimate.mean_sigma,
                f"{name}_own": estimate.mean_own, f"{name}_common": estimate.mean_common,
                f"predicted_{name}": predicted, f"predicted_{name}_sigma": off,
                f"{name}_missed_sigma":
                    (estimate.mean - predicted) / np.hypot(estimate.mean_sigma, off),
            }
        return found

    @property
    def warnings(self):
        """Doubts of the readings, and the warnings of the layout."""
        return tuple(dict.fromkeys([*self.doubts, *self.remarks]))

    def as_dict(self):
        """Return the result under the names that programs lean on."""
        from chain.measurement.reduction_export import reduction_dict

        return reduction_dict(self)

    def to_csv(self, path):
        """Write the result over frequency as CSV; raises CannotWrite."""
        from chain.measurement.reduction_export import reduction_csv
        from chain.writing.files import write_whole

        write_whole(path, reduction_csv(self))

    def __str__(self):
        from chain.measurement.reduction_text import reduction_text

        return reduction_text(self)


def reduce(layout, signal=None, *, source, readings, on=None, gain_change=None, sizes=None,
           floor_w_hz=0.0):
    """Return the Reduction of Readings taken while the element `source` was hot and cold.

    `on` are Readings with the paramps on (the others are then with them off) and `gain_change` the
    GainChange between; `sizes` the errors that no file states; `floor_w_hz` what the instrument
    reads by itself.  Raises LayoutError.
    """
    sizes = sizes or Sizes()
    chosen = chosen_signal(layout, signal)
    if chosen.from_port is None:
        raise LayoutError.at(
            chosen.place, f"signal {chosen.name} has no start, so there is no plane to refer to",
            "give it one: from: D1.out",
        )
    load = Load.of(layout, source)
    if source not in layout.connected(chosen.to_port[0]):
        raise LayoutError.at(
            Place("--source"), f"{source} is not joined to {'.'.join(chosen.to_port)}",
            "name the load that was hot and cold",
        )
    if on is None:
        task = Task(layout, chosen, load, readings, sizes, floor_w_hz)
        return _with_doubts(task.reduced())
    return _paramps_on(layout, chosen, load, readings, on, gain_change, sizes, floor_w_hz)


@dataclass(frozen=True)
class Task:
    """Readings of one state of a layout, and what is needed to reduce them."""

    layout: object
    signal: object
    load: Load
    readings: Readings
    sizes: Sizes
    floor_w_hz: float

    @property
    def load_noise(self):
        """The LoadNoise at the readings' frequencies."""
        return LoadNoise(self.layout, self.signal.name, self.load, self.readings.frequency_hz)

    @property
    def floor(self):
        """What the instrument reads by itself, quanta, (points,)."""
        return self.floor_w_hz / (H * self.readings.frequency_hz)

    def errors(self):
        """Return the CommonErrors of the readings."""
        noise, loads = self.load_noise, self.readings.load_k
        return (
            *thermometer_errors(noise, loads, self.readings.load_k_sigma, self.sizes),
            *layout_errors([noise], [loads]), *drift_errors(loads.shape, self.sizes.drift),
            *_scale_error(self.sizes),
        )

    def model(self, noise, errors, *, check=True):
        """Return the PowerModel; refuse powers that say nothing, unless told not to check."""
        quanta, ratio = noise.at(self.readings.load_k)
        if check:
            _check_reached(self, noise)
            _check_differs(self.readings, quanta)
            _check_rises(self.readings, quanta)
        return PowerModel(
            self.readings.quanta, quanta, ratio, power_ratio(noise.budget.gain_db), errors,
            self.floor,
        )

    def reduced(self):
        """Return the Reduction, without its doubts."""
        noise, errors = self.load_noise, self.errors()
        model = self.model(noise, errors)
        sigma, whence = self.sigma(model)
        fit = model.fitted(sigma)
        estimates = gain_and_added(fit, errors, power_ratio(noise.budget.gain_db))
        return _result(self, noise, model, errors, fit, sigma, whence, estimates,
                       bend(model, fit, sigma))

    def sigma(self, model):
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
                self.readings.steps[0], "there is no power_sigma, and too few readings to take it "
                "from their scatter", "add the column, or read at three temperatures or more",
            )
        # Readings that lie on the line to the last digit still have the arithmetic's error.
        return np.where(np.isfinite(given), given, max(found, 1e-12)), "scatter"


def _scale_error(sizes):
    if not sizes.power_scale:
        return ()
    return (CommonError("instrument, power scale", f"{100 * sizes.power_scale:.3g} %",
                        0.0, sizes.power_scale),)


def _check_reached(task, noise):
    if np.all(noise.reaches <= 0):
        raise LayoutError.at(
            Place("--source"),
            f"nothing that {task.load.id} emits reaches {task.signal.to_port[0]}",
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
        readings.steps[int(np.argmax(readings.step_k))] if readings.steps else Place("--readings"),
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
        readings.steps[hottest], "over the band the power falls as the load gets hotter",
        "look for temperatures that stand in the wrong order, for an amplifier that the hot load "
        "saturates, or for a --source that is not the one that was heated",
    )


def _result(task, noise, model, errors, fit: Fit, sigma, whence, estimates, bent):
    gain, added = estimates
    rows = len(task.readings.quanta)
    return Reduction(
        signal=task.signal.name, source=task.load.id, plane=".".join(task.signal.from_port),
        to_port=".".join(task.signal.to_port), frequency_hz=task.readings.frequency_hz,
        gain=gain, added=added, predicted=_prediction(task, noise), readings=task.readings,
        noise_quanta=model.noise,
        residual=np.where(task.readings.read, fit.residual[:rows], np.nan),
        relative_sigma=sigma[:rows], sigma_from=whence, loss_db=noise.reaches_db, errors=errors,
        sizes=task.sizes, chi2=fit.chi2, freedom=fit.freedom, bend=bent,
        ripple_db=_ripple_db(noise.budget), laws=noise.budget.laws,
        remarks=noise.budget.warnings, layout=task.layout,
    )


def _ripple_db(b):
    low, high = b.ripple.get("gain_db", (None, None))
    return None if low is None else float(np.max(high - low))


def _prediction(task, noise):
    b = noise.budget
    spreading = spread(
        task.layout, task.signal.name, draws=DRAWS, frequency_hz=task.readings.frequency_hz
    )
    quantities = spreading.quantities
    return Prediction(
        b.gain_db, b.added_quanta, quantities["gain_db"].sd, quantities["added_quanta"].sd
    )


def _with_doubts(reduction):
    from chain.measurement.doubts import doubts

    return replace(reduction, doubts=tuple(doubts(reduction)))


# -- with the paramps on ------------------------------------------------------------------------


def _paramps_on(layout, signal, load, readings, on, gain_change: GainChange, sizes, floor_w_hz):
    """Return the Reduction with the paramps on, from readings with them off and how both differ."""
    off_layout = gain_change.without_paramps(layout, signal)
    f = readings.frequency_hz
    on = gain_change.same_frequencies(on, f)
    task = Task(off_layout, signal, load, readings, sizes, floor_w_hz)
    alone = _with_doubts(task.reduced())
    noise_off = task.load_noise
    noise_on = LoadNoise(layout, signal.name, load, f)
    loads = np.concatenate([readings.load_k, on.load_k])
    quanta_on, _ = noise_on.at(on.load_k)
    model_off = task.model(noise_off, ())
    ratio, ratio_sigma = gain_change.at(f)
    errors = (
        *_both(noise_off, noise_on, readings, on, sizes),
        *layout_errors([noise_off, noise_on], [readings.load_k, on.load_k]),
        *drift_errors(loads.shape, sizes.drift), *_scale_error(sizes), *gain_change.errors(sizes),
    )
    model = replace(model_off, errors=errors, on=On(on.quanta, quanta_on, ratio, ratio_sigma))
    sigma_off = alone.relative_sigma
    sigma_on = np.where(np.isfinite(on.relative_sigma), on.relative_sigma,
                        np.nanmedian(sigma_off))
    fit = model.fitted(np.concatenate([sigma_off, sigma_on]))
    estimates = gain_and_added(
        fit, errors, power_ratio(noise_off.budget.gain_db), intercept=2, lift=3
    )
    on_task = replace(task, layout=layout)
    found = _result(on_task, noise_on, model, errors, fit, sigma_off, alone.sigma_from, estimates,
                    alone.bend)
    return _with_doubts(replace(found, off=alone))


def _both(noise_off, noise_on, readings, on, sizes):
    """Return the thermometer's errors of readings with the paramps off and on together."""
    off_errors = thermometer_errors(noise_off, readings.load_k, readings.load_k_sigma, sizes)
    on_errors = thermometer_errors(noise_on, on.load_k, on.load_k_sigma, sizes)
    by_name = {}
    for place, errors in enumerate((off_errors, on_errors)):
        for error in errors:
            # A step's own temperature is its own; the scale and the zero are one thermometer's.
            shared = error.name.startswith("thermometer")
            name = error.name if shared or place == 0 else f"{error.name}, paramp on"
            by_name.setdefault(name, {})[place] = error
    empty = (np.zeros(readings.load_k.shape), np.zeros(on.load_k.shape))
    for name, found in by_name.items():
        noise = [found[i].noise if i in found else empty[i] for i in (0, 1)]
        any_one = next(iter(found.values()))
        yield CommonError(name, any_one.size, np.concatenate(noise), lasting=any_one.lasting)
