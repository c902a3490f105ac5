"""What readings themselves give reason to doubt, in sentences with numbers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.measurement.compression import drop_db, p1db_in_dbm, received_dbm
from components.constants import VACUUM
from components.quantities import decibels, power_ratio
from components.thermal_noise import kelvin_per_quantum, quanta

if TYPE_CHECKING:
    from chain.writing.text import Result

MIN_SIGMA = 3.0
"""Standard deviations from which on something is reported."""

FROZEN = 1.5
"""hf/2k over the hottest temperature from which on loads all look like the vacuum."""

WORTH_DB, WORTH_PART = 0.02, 0.002
"""Drop of gain by a hot load, and ripple of a part, that are worth a word."""


def doubts(reduction: Result) -> Iterator[Any]:
    """Yield every doubt about a Reduction."""
    yield from _temperatures(reduction)
    yield from _frozen(reduction)
    yield from _undetermined(reduction)
    yield from _below_the_limit(reduction)
    yield from _bends(reduction)
    yield from _saturates(reduction)
    yield from _scatters(reduction)
    yield from _not_given(reduction)
    yield from _phases(reduction)


def _temperatures(r):
    kelvin = r.readings.step_k
    own = np.nanmax(np.where(r.readings.read, r.readings.load_k_sigma, 0.0), axis=1)
    sigma = np.sqrt(own**2 + (r.sizes.load_scale * kelvin) ** 2 + r.sizes.load_offset_k**2)
    cold, hot = int(np.argmin(kelvin)), int(np.argmax(kelvin))
    apart, error = kelvin[hot] - kelvin[cold], np.hypot(sigma[hot], sigma[cold])
    if apart < MIN_SIGMA * error:
        yield (
            f"the load was at {_mk(kelvin[cold])} to {_mk(kelvin[hot])}, {_mk(apart)} apart, and "
            f"the thermometer's error of that is {_mk(error)}: heat it further"
        )


def _frozen(r):
    middle = np.median(r.frequency_hz)
    half = kelvin_per_quantum(frequency_hz=middle) / 2
    hottest = np.nanmax(r.readings.load_k)
    if half > FROZEN * hottest:
        ends = quanta(frequency_hz=middle, temperature_k=hottest) - VACUUM
        yield (
            f"hf/2k is {_mk(half)} at {middle / 1e9:.3g} GHz, far above the hottest load at "
            f"{_mk(hottest)}, which emits {ends:.2g} quanta above the vacuum's half: all loads "
            "look alike; heat further"
        )


def _undetermined(r):
    lost = int(np.count_nonzero(~np.isfinite(r.added.value)))
    if lost:
        yield (
            f"at {lost} of {len(r.frequency_hz)} frequencies the powers do not rise by more than "
            "their error: gain and noise are not known there, and are left out of the mean"
        )
    open_ends = np.isfinite(r.added.value) & ~np.isfinite(r.added.interval_95[1])
    if np.any(open_ends):
        yield (
            f"at {np.count_nonzero(open_ends)} frequencies the 95 % interval of the added noise "
            "has no upper end"
        )


def _below_the_limit(r):
    if not np.isfinite(r.added.mean):
        return
    if r.added.mean < 0:
        yield _negative(r)
        return
    gain = power_ratio(np.nanmedian(r.gain.value))
    limit = VACUUM * abs(1.0 - 1.0 / gain)
    below = (limit - r.added.mean) / r.added.mean_sigma
    if below > MIN_SIGMA:
        yield (
            f"the added noise, {r.added.mean:.3g} quanta in the mean, lies {below:.2g} sigma below "
            f"what a phase-preserving amplifier must add, {limit:.2g} (C. M. Caves, 1982): the "
            "loss before the plane or the load's temperature is off by more than is stated"
        )


def _negative(r):
    """Return by how much loss or temperature would have to be off for no added noise at all."""
    middle = int(np.argmin(np.abs(r.frequency_hz - np.median(r.frequency_hz))))
    f, noise = r.frequency_hz[middle], r.noise_quanta[:, middle]
    cold, hot = int(np.nanargmin(noise)), int(np.nanargmax(noise))
    floor = quanta(frequency_hz=f, temperature_k=r.readings.load_k[cold, middle])
    says = f"the added noise is negative, {r.added.mean:.3g} quanta in the mean"
    ways = []
    if r.added.mean + floor > 0:
        less = decibels(floor / (floor + r.added.mean))
        ways.append(f"{less:.2g} dB less were lost between {r.source} and {r.plane}")
    short = -r.added.mean * (noise[hot] - noise[cold]) / (r.added.mean + noise[cold])
    per_kelvin = power_ratio(-r.loss_db[middle]) / kelvin_per_quantum(frequency_hz=f)
    kelvin = r.readings.load_k[hot, middle]
    if short > 0:
        part = 100 * short / per_kelvin / kelvin
        ways.append(f"the load at {_mk(kelvin)} had been {part:.2g} % hotter than read")
    return f"{says}: it would be zero if {', or '.join(ways) or 'loss and load were far off'}"


def _bends(r):
    if r.bend is None or abs(r.bend.sigmas) < MIN_SIGMA:
        return
    part = f"{100 * abs(r.bend.missing):.2g} +/- {100 * r.bend.sigma:.2g} %"
    if r.bend.missing > 0:
        yield (
            f"the power is not linear in the load's noise: at the hottest reading {part} of it is "
            "missing, as where a hot load compresses an amplifier or is colder than its "
            "thermometer; leave the hottest out, or measure on and off instead"
        )
    else:
        yield (
            f"the power is not linear in the load's noise: at the hottest reading it is {part} too "
            "high, as where a cold load is warmer than its thermometer or the heat reaches more "
            "than the load"
        )


def _saturates(r):
    """Yield what a hot load does to a paramp that is on while it is hot."""
    layout = r.layout if r.off is None else r.off.layout
    hottest = float(np.nanmax(r.readings.load_k))
    level = received_dbm(layout, r.frequency_hz, power_ratio(-r.loss_db), hottest)
    for key in layout.connected(r.source):
        element = layout.elements[key]
        if not element.kind.pumps(element.settings):
            continue
        what = f"{key} is on while the load is at {_mk(hottest)}, {level:.1f} dBm over the band"
        p1db = p1db_in_dbm(element)
        if p1db is None:
            yield (
                f"{what}, and the layout states no p1db_in for it: a paramp that saturates looks "
                "noisier than it is; read hot and cold with it off, and add --on and --gain-change"
            )
        elif drop_db(level, p1db) > WORTH_DB:
            yield (
                f"{what}: that costs it {float(drop_db(level, p1db)):.2g} dB of gain (P1dB "
                f"{p1db:.0f} dBm), and makes it look noisier than it is; read hot and cold with it "
                "off, and add --on and --gain-change"
            )


def _scatters(r):
    if r.sigma_from == "scatter":
        typical = 100 * float(np.nanmedian(r.relative_sigma))
        yield f"there is no power_sigma: {typical:.2g} % of each power, from the readings' scatter"
        return
    if r.freedom > 0:
        ratio = r.chi2 / r.freedom
        if ratio > 1.0 + MIN_SIGMA * np.sqrt(2.0 / r.freedom) and ratio > 1.2:
            yield (
                f"the readings scatter {np.sqrt(ratio):.2g} times as far as power_sigma and the "
                "stated errors allow: the errors here are too small by about as much"
            )


def _not_given(r):
    sizes, own = r.sizes, np.nanmax(r.readings.load_k_sigma)
    missing = []
    if not (sizes.load_scale or sizes.load_offset_k or own):
        missing.append("of the load's temperature (--load-error '1 %')")
    if not sizes.drift:
        missing.append("for drift between readings (--drift '0.3 %')")
    named = {error.name.split(".")[0] for error in r.errors}
    if np.nanmax(r.loss_db) > 0.05 and not named & set(r.layout.elements):
        missing.append(
            f"of the {np.nanmedian(r.loss_db):.2g} dB from {r.source} to {r.plane} (a tolerance in "
            "the layout)"
        )
    if missing:
        yield f"no error is stated {', nor '.join(missing)}: what is stated here is too small by it"


def _phases(r):
    ripple = float(np.max(r.ripple))
    if ripple > WORTH_PART:
        yield (
            f"reflections of unknown phase let what of the load's noise reaches {r.plane} be off "
            f"by up to {100 * ripple:.2g} %: counted among each frequency's own errors, and so "
            "averaged over the band, which holds where the band is wide beside their ripple"
        )


def _mk(kelvin):
    return f"{1e3 * kelvin:.3g} mK" if kelvin < 1 else f"{kelvin:.3g} K"
