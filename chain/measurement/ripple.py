"""Standing waves in a measured level, and echoes in a measured reflection, as delays.

Two reflections a delay t apart (one way) make a ripple over frequency with the period 1/(2 t), so
that L = v/(2 df); its height tells the product of the two, 20 log((1 + r1 r2)/(1 - r1 r2)) from
trough to crest.  The reflection at a port holds the echo of one reflection by itself, as its
Fourier transform over frequency.  From standard formulas; the error of the fitted delay is that of
a sinusoid in white noise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from components.arrays import ComplexArray, FloatArray

MIN_PERIODS = 3.0
"""Periods of a ripple in the trace from which on it is told from a slope."""

MIN_POINTS = 16
FALSE_ALARM = 0.01
"""Chance that white noise alone would make as strong a ripple."""

EXPLAINED = 0.3
"""Part of the deviation's variance that the ripple has to explain."""

DETREND = 3
"""Order of the polynomial that is taken away first: what is slow is no ripple."""

MAX_ECHOES = 6
SIDELOBE = 10 ** (-26 / 20)
"""Beside the strongest echo, smaller ones may be the window's: -31 dB of a Hann window and some."""

ABOVE_FLOOR = 5.0
"""How far an echo stands above the median of all delays."""

OVERSAMPLED = 8


@dataclass(frozen=True)
class Ripple:
    """A sinusoid over frequency in a level."""

    period_hz: float
    height_db: float
    """From trough to crest."""
    delay_s: float
    """One way between the two reflections."""
    sigma_s: float
    """Standard error of the delay, by the scatter round the sinusoid."""

    @property
    def product(self) -> float:
        """The product of the two reflections' amplitudes (with the loss between them, twice)."""
        ratio = 10 ** (self.height_db / 20)
        return (ratio - 1) / (ratio + 1)


@dataclass(frozen=True)
class Echo:
    """One reflection seen in the reflection at a port."""

    delay_s: float
    """One way from the port."""
    amplitude: float
    """Of the wave that comes back, over that sent in."""
    sigma_s: float
    """Half of what the span of frequencies resolves."""


def height_db(first: float, second: float) -> float:
    """Return the ripple from trough to crest, dB, of two reflections (amplitudes)."""
    product = abs(first * second)
    return 20 * math.log10((1 + product) / (1 - product))


def period_hz(*, length_m: float, velocity_m_s: float) -> float:
    """Return the period over frequency (Hz) of a standing wave between reflections apart."""
    return velocity_m_s / (2 * length_m)


def find_ripple(frequency_hz: FloatArray, level_db: FloatArray) -> Ripple | None:
    """Return the Ripple of a level (dB, shape (points,)), or None where there is none to speak of.

    The frequencies need not be even; periods down to twice their mean step are seen.
    """
    f, n = np.asarray(frequency_hz, float), len(frequency_hz)
    if n < MIN_POINTS:
        return None
    span = f[-1] - f[0]
    x = (f - f.mean()) / span
    rest = level_db - np.polyval(np.polyfit(x, level_db, DETREND), x)
    whole = float(np.sum(rest**2))
    most = (n - 1) / (2 * span)  # periods a hertz that the step still resolves
    rates = np.arange(MIN_PERIODS / span, most, 1 / (OVERSAMPLED * span))
    if whole <= 0 or not rates.size:
        return None
    powers = np.array([_explained(x * span, rest, rate)[0] for rate in rates])
    place = int(np.argmax(powers))
    if place == 0:
        return None  # slower still explains more: a slope, a step
    best = rates[place]
    for step in (1 / (OVERSAMPLED * span) / 2**k for k in range(1, 8)):
        best = max((best - step, best, best + step),
                   key=lambda rate: _explained(x * span, rest, rate)[0])
    power, amplitude = _explained(x * span, rest, best)
    part = power / whole
    freedom = n - DETREND - 4
    strength = (part / 2) / max((1 - part) / freedom, 1e-12)
    chance = (1 + 2 * strength / freedom) ** (-freedom / 2) * most * span
    if part < EXPLAINED or chance > FALSE_ALARM:
        return None
    scatter = math.sqrt(max(whole - power, 0.0) / freedom)
    sigma = scatter / amplitude * math.sqrt(24 / n) / (2 * math.pi * span) / 2
    return Ripple(1 / best, 2 * amplitude, best / 2, sigma)


def _explained(f, rest, rate):
    """Return (sum of squares that a sinusoid of a rate explains, its amplitude)."""
    base = np.stack([np.cos(2 * np.pi * rate * f), np.sin(2 * np.pi * rate * f)])
    found, *_ = np.linalg.lstsq(base.T, rest, rcond=None)
    return float(np.sum((found @ base) ** 2)), float(np.hypot(*found))


def find_echoes(frequency_hz: FloatArray, reflection: ComplexArray) -> tuple[Echo, ...]:
    """Return the Echoes in a reflection (complex, shape (points,)), strongest first.

    Nothing where the file has no phases.
    """
    f = np.asarray(frequency_hz, float)
    if len(f) < MIN_POINTS or not np.any(np.abs(reflection.imag) > 1e-9 * np.abs(reflection)):
        return ()
    span, step = f[-1] - f[0], float(np.median(np.diff(f)))
    window = 0.5 - 0.5 * np.cos(2 * np.pi * (f - f[0]) / span)
    resolved = 1 / (2 * span)
    delays = np.arange(0.0, 1 / (4 * step), resolved / OVERSAMPLED)
    turned = np.exp(4j * np.pi * np.outer(delays, f - f.mean()))
    levels = np.abs(turned @ (window * reflection)) / window.sum()
    floor = max(ABOVE_FLOOR * float(np.median(levels)), SIDELOBE * float(levels.max()))
    inside = np.flatnonzero(
        (levels >= floor) & (levels >= np.r_[0.0, levels[:-1]]) & (levels > np.r_[levels[1:], 0.0])
    )
    found = [Echo(float(delays[i]), float(levels[i]), resolved / 2) for i in inside]
    return tuple(sorted(found, key=lambda echo: -echo.amplitude)[:MAX_ECHOES])
