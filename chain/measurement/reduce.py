"""From readings with a load hot and cold to gain and added noise."""

from __future__ import annotations

import os
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError, Place
from chain.layout.signals import chosen_signal
from chain.measurement.common_errors import Sizes
from chain.measurement.compression import bend
from chain.measurement.doubts import doubts
from chain.measurement.estimate import gain_and_added, with_ripple
from chain.measurement.load_noise import Load, LoadNoise
from chain.measurement.on_off import GainChange, read_gain_change, without_paramps
from chain.measurement.readings import Readings, read_readings
from chain.measurement.readings_model import Pair, Task
from chain.measurement.reduction import Prediction, Reduction
from chain.noise.spread import spread

if TYPE_CHECKING:
    from chain.layout.layout import Layout

DRAWS = 200
"""Draws of the layout's tolerances for how far its prediction may be off."""


def reduce(
    layout: Layout, signal: str | None = None, *, source: str, readings: Any, on: Any = None,
    gain_change: Any = None, sizes: Any = None, floor_w_hz: Any = 0.0,
) -> Any:
    """Return the Reduction of readings taken while the element `source` was hot and cold.

    `readings` are Readings, or one or several CSV files of them; so are those `on`, with the
    paramps on (the others are then with them off), and `gain_change` is the GainChange between or
    its file.  `sizes` are the errors that no file states; `floor_w_hz` what the instrument
    reads by itself.  Raises LayoutError.
    """
    sizes = sizes or Sizes()
    readings = _read(readings, layout)
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
    noise = LoadNoise(layout, chosen.name, load, readings.frequency_hz)
    if on is None:
        return _with_doubts(_reduced(Task(noise, readings, sizes, floor_w_hz)))
    off = Task(noise.with_layout(without_paramps(layout, chosen)), readings, sizes, floor_w_hz)
    if not isinstance(gain_change, GainChange):
        gain_change = read_gain_change(gain_change)
    on = _read(on, layout, fewest=1).at(
        readings.frequency_hz, "there is a power with the paramp off and none with it on"
    )
    return _with_paramps_on(Pair(off, noise, on), gain_change)


def _read(files, layout, *, fewest=2):
    if isinstance(files, Readings):
        return files
    one = isinstance(files, str | os.PathLike)
    return read_readings([files] if one else files, band=layout.band, fewest=fewest)


def _reduced(task):
    """Return the Reduction of readings in one state, without its doubts."""
    model = task.model(task.errors())
    sigma, whence = task.sigma(model)
    fit = model.fitted(sigma)
    rippled = _rippled(task, fit)
    estimates = gain_and_added(rippled, model.errors, model.predicted_gain)
    return _result(task, model, fit, sigma, whence, estimates, bend(model, fit, sigma))


def _rippled(task, fit):
    """Return the fit with the errors of unknown phases between the load and the plane."""
    noise = task.load_noise
    if not noise.ripple.any():
        return fit
    cold, _ = noise.at(np.nanmin(task.readings.load_k, axis=0, keepdims=True))
    return with_ripple(fit, noise.ripple, cold[0])


def _with_paramps_on(pair, gain_change):
    """Return the Reduction with the paramps on, and in it that with them off."""
    alone = _with_doubts(_reduced(pair.off))
    model = pair.model(pair.errors(), *gain_change.at(alone.frequency_hz))
    typical = np.nanmedian(alone.relative_sigma)
    sigma_on = np.where(np.isfinite(pair.on.relative_sigma), pair.on.relative_sigma, typical)
    fit = model.fitted(np.concatenate([alone.relative_sigma, sigma_on]))
    rippled = _rippled(pair.off, fit)
    estimates = gain_and_added(rippled, model.errors, model.predicted_gain, intercept=2, lift=3)
    found = _result(replace(pair.off, load_noise=pair.noise_on), model, fit, alone.relative_sigma,
                    alone.sigma_from, estimates, alone.bend)
    return _with_doubts(replace(found, off=alone))


def _result(task, model, fit, sigma, whence, estimates, bent):
    noise, (gain, added) = task.load_noise, estimates
    rows = len(task.readings.quanta)
    predicted, remarks = _prediction(task)
    return Reduction(
        signal=task.signal.name, source=noise.load.id, plane=".".join(task.signal.start),
        to_port=".".join(task.signal.to_port), frequency_hz=task.readings.frequency_hz,
        gain=gain, added=added, predicted=predicted, readings=task.readings,
        noise_quanta=model.noise,
        residual=np.where(task.readings.read, fit.residual[:rows], np.nan),
        relative_sigma=sigma[:rows], sigma_from=whence, loss_db=noise.reaches_db,
        errors=model.errors, sizes=task.sizes, chi2=fit.chi2, freedom=fit.freedom, bend=bent,
        ripple=noise.ripple, laws=noise.budget.laws,
        remarks=(*noise.budget.warnings, *remarks), layout=noise.layout,
    )


def _prediction(task):
    """Return the Prediction, and a remark where its own spread is not known."""
    b, f = task.load_noise.budget, task.readings.frequency_hz
    try:
        spreading = spread(task.load_noise.layout, task.signal.name, draws=DRAWS, frequency_hz=f)
    except LayoutError as error:
        remark = (
            "how far tolerances let the layout's prediction be off is not known, and counted as "
            f"nothing: {error.problems[0].what}"
        )
        return Prediction(b.gain_db, b.added_quanta, np.zeros(f.size), np.zeros(f.size)), (remark,)
    sd = {name: spreading.quantities[name].sd for name in ("gain_db", "added_quanta")}
    return Prediction(b.gain_db, b.added_quanta, sd["gain_db"], sd["added_quanta"]), ()


def _with_doubts(reduction):
    return replace(reduction, doubts=tuple(doubts(reduction)))
