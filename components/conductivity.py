"""Laws k(T) of thermal conductivity, and the integral of k over temperature built from them.

A law knows nothing of the range it holds in: a `Piece` (components.materials) gives it one.
Every law takes `temperature_k` (array, K) and returns k in W/(m K), and gives the `knots` between
which k may be taken as a power law of T.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from components.arrays import FloatArray, FloatLike

LORENZ = 2.443e-8
"""Lorenz number pi^2/3 (k/e)^2, W ohm/K^2 (Sommerfeld value; as used by Hust and Lankford 1984)."""

COLDEST_K = 1e-4
"""First knot of a law that reaches to 0 K; below it the law is a power law down to zero."""

KNOTS_PER_DECADE = 2000
"""Power laws between so many knots give the integrals of all laws here to better than 1e-6."""


class Law(Protocol):
    """What every law of conductivity answers."""

    def conductivity(self, *, temperature_k: FloatLike) -> FloatArray:
        """Return k, W/(m K)."""

    def knots(self, *, low_k: float, high_k: float) -> FloatArray:
        """Return temperatures (K) between which k may be taken as a power law."""


def dense_knots(low_k, high_k):
    """Return temperatures (K), even in log T, from `low_k` (COLDEST_K for 0) to `high_k`."""
    low_k = max(low_k, COLDEST_K)
    count = int(np.ceil(KNOTS_PER_DECADE * np.log10(high_k / low_k))) + 2
    knots = np.geomspace(low_k, high_k, count)
    knots[0], knots[-1] = low_k, high_k
    return knots


class _Dense:
    """A law whose knots are dense because k is no power law of T."""

    def knots(self, *, low_k, high_k):
        """Return the knots (K) of this law from `low_k` to `high_k`."""
        return dense_knots(low_k, high_k)


@dataclass(frozen=True)
class PowerLaw:
    """k = coefficient (T / 1 K)^exponent, the coefficient in W/(m K)."""

    coefficient: float
    exponent: float

    def conductivity(self, *, temperature_k):
        """Return k, W/(m K), at `temperature_k` (array, K)."""
        return self.coefficient * np.power(temperature_k, self.exponent)

    def knots(self, *, low_k, high_k):
        """Return the two ends: between them the law is exact."""
        return np.array([max(low_k, COLDEST_K), high_k])

    @classmethod
    def through(cls, *, temperature_k, conductivity):
        """Return the power law through two points, (K, K) and (W/(m K), W/(m K))."""
        (t1, t2), (k1, k2) = temperature_k, conductivity
        exponent = np.log(k2 / k1) / np.log(t2 / t1)
        return cls(float(k1 * t1**-exponent), float(exponent))


@dataclass(frozen=True)
class LogPolynomial(_Dense):
    """log10 k = a + b L + c L^2 + ..., L = log10 T (Marquardt, Le, Radebaugh 2000)."""

    coefficients: tuple[float, ...]

    def conductivity(self, *, temperature_k):
        """Return k, W/(m K), at `temperature_k` (array, K)."""
        return 10.0 ** np.polyval(self.coefficients[::-1], np.log10(temperature_k))


@dataclass(frozen=True)
class NaturalLogPolynomial(_Dense):
    """ln k = sum of c_n (ln T)^n."""

    coefficients: tuple[float, ...]

    def conductivity(self, *, temperature_k):
        """Return k, W/(m K), at `temperature_k` (array, K)."""
        return np.exp(np.polyval(self.coefficients[::-1], np.log(temperature_k)))


@dataclass(frozen=True)
class RationalRoot(_Dense):
    """log10 k = (a + c s + e T + g T s + i T^2) / (1 + b s + d T + f T s + h T^2), s = sqrt(T).

    `coefficients` are a ... i in the order of the alphabet (Marquardt, Le, Radebaugh 2000).
    """

    coefficients: tuple[float, ...]

    def conductivity(self, *, temperature_k):
        """Return k, W/(m K), at `temperature_k` (array, K)."""
        a, b, c, d, e, f, g, h, i = self.coefficients
        s = np.sqrt(temperature_k)
        above = np.polyval((i, g, e, c, a), s)
        below = np.polyval((h, f, d, b, 1.0), s)
        return 10.0 ** (above / below)


@dataclass(frozen=True)
class Table:
    """Points (K, W/(m K)), a power law between neighbours."""

    temperature_k: tuple[float, ...]
    values: tuple[float, ...]

    def __post_init__(self):
        t, k = np.array(self.temperature_k, float), np.array(self.values, float)
        if t.shape != k.shape or t.ndim != 1 or t.size < 2:
            raise ValueError("a conductivity table needs two or more temperatures, one value each")
        if not (np.all(np.diff(t) > 0) and t[0] > 0 and np.all(k > 0)):
            raise ValueError("a conductivity table needs rising temperatures above 0 K, values > 0")

    def conductivity(self, *, temperature_k):
        """Return k, W/(m K), at `temperature_k` (array, K)."""
        logs = np.log(temperature_k), np.log(self.temperature_k), np.log(self.values)
        return np.exp(np.interp(*logs))

    def knots(self, *, low_k, high_k):
        """Return the table's temperatures from `low_k` to `high_k`, both ends included."""
        inside = [t for t in self.temperature_k if low_k < t < high_k]
        return np.array([low_k, *inside, high_k])


@dataclass(frozen=True)
class HustLankford(_Dense):
    """Copper of any residual resistance ratio (Hust and Lankford 1984, NBSIR 84-3007)."""

    rrr: float

    def conductivity(self, *, temperature_k):
        """Return k, W/(m K), at `temperature_k` (array, K)."""
        t = temperature_k
        beta = 15.4e-9 / (self.rrr - 1) / LORENZ
        p7 = 0.838 / (beta / 0.0003) ** 0.1661
        power = 1.754e-8 * t**2.763
        bend = 1.754e-8 * 1102 * t ** (2.763 - 0.165) * np.exp(-((70 / t) ** 1.765))
        impurity = beta / t
        intrinsic = power / (1 + bend) + self._correction(t)
        mixed = p7 * intrinsic * impurity / (intrinsic + impurity)
        return 1 / (impurity + intrinsic + mixed)

    @staticmethod
    def _correction(t):
        terms = ((0.00012, 420, 470, 0.7), (0.00016, 73, 87, 0.45), (0.00002, 18, 21, 0.5))
        return -sum(
            size * np.log(t / zero) * np.exp(-((np.log(t / middle) / width) ** 2))
            for size, zero, middle, width in terms
        )


@dataclass(frozen=True)
class WiedemannFranz(_Dense):
    """k = L0 T / rho(T): what the electrons carry; phonons are left out."""

    temperature_k: tuple[float, ...]
    resistivity_ohm_m: tuple[float, ...]

    def conductivity(self, *, temperature_k):
        """Return k, W/(m K), at `temperature_k` (array, K)."""
        t = np.asarray(temperature_k, float)
        return LORENZ * t / np.interp(t, self.temperature_k, self.resistivity_ohm_m)


@dataclass(frozen=True)
class Potential:
    """theta(T) = integral of k dT from the lowest known temperature, and its inverse.

    Between knots k is a power law, so that theta rises everywhere, has a closed inverse and adds
    up to rounding. Arrays run over intervals: `start_k` (K), `scale` (k there times T there, per
    unit of what is integrated), `power` (exponent of k plus one), `start_theta`.
    """

    start_k: np.ndarray
    scale: np.ndarray
    power: np.ndarray
    start_theta: np.ndarray
    end_theta: float

    @classmethod
    def of(cls, segments, *, from_zero):
        """Build from segments in order, each (knots in K, values of k there)."""
        start, scale, power, step = [], [], [], []
        for knots, values in segments:
            logs = np.diff(np.log(knots))
            start.append(knots[:-1])
            scale.append(values[:-1] * knots[:-1])
            power.append(1 + np.diff(np.log(values)) / logs)
            step.append(scale[-1] * _stretch(power[-1], logs))
        scales, powers = np.concatenate(scale), np.concatenate(power)
        first = scales[0] / powers[0] if from_zero else 0.0
        theta = first + np.concatenate([[0.0], np.cumsum(np.concatenate(step))])
        return cls(np.concatenate(start), scales, powers, theta[:-1], float(theta[-1]))

    def theta(self, *, temperature_k):
        """Return theta at `temperature_k` (array, K, inside the known range)."""
        t = np.asarray(temperature_k, float)
        i = np.maximum(np.searchsorted(self.start_k, t, side="right") - 1, 0)
        with np.errstate(divide="ignore"):
            logs = np.log(t / self.start_k[i])
        return self.start_theta[i] + self.scale[i] * _stretch(self.power[i], logs)

    def temperature(self, *, theta):
        """Return the temperature (K) at which theta has the value asked (array, in range)."""
        theta = np.clip(np.asarray(theta, float), 0.0, self.end_theta)
        i = np.maximum(np.searchsorted(self.start_theta, theta, side="right") - 1, 0)
        part = (theta - self.start_theta[i]) / self.scale[i]
        flat = np.abs(self.power[i]) < 1e-9
        power = np.where(flat, 1.0, self.power[i])
        with np.errstate(divide="ignore"):
            bent = np.log1p(np.maximum(power * part, -1.0)) / power
        return self.start_k[i] * np.exp(np.where(flat, part, bent))


def _stretch(power, logs):
    """Return (e^(power logs) - 1) / power, its limit `logs` where the power vanishes."""
    flat = np.abs(power) < 1e-9
    safe = np.where(flat, 1.0, power)
    return np.where(flat, logs, np.expm1(safe * logs) / safe)
