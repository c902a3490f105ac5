"""What a cable is made of: conduction of heat, resistivity, dielectric constants, contraction.

Conductivities, resistivities and contractions of catalogue rows carry their own sources; nothing
is extrapolated: outside its ranges a material raises `OutsideRange`.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from components.conductivity import Law, Potential, PowerLaw, Table

_ROUNDING = 1e-9


class OutsideRange(ValueError):
    """A material was asked for a value at a temperature that its data do not reach.

    Attributes: `material` (name), `quantity`, `range_k` (low, high), `temperature_k` (asked).
    """

    def __init__(self, *, material, quantity, range_k, temperature_k):
        self.material, self.quantity = material, quantity
        self.range_k, self.temperature_k = range_k, temperature_k
        low, high = range_k
        super().__init__(
            f"{quantity} of {material} is known from {low:g} K to {high:g} K only, and "
            f"{temperature_k:g} K is asked; keep inside, or give a material with data there"
        )


class MissingProperty(ValueError):
    """A material was asked for a property that it has no value of.

    Attributes: `material` (name), `quantity`.
    """

    def __init__(self, *, material, quantity):
        self.material, self.quantity = material, quantity
        super().__init__(f"{material} has no {quantity}; give a material that states it")


@dataclass(frozen=True)
class Piece:
    """A law of conductivity and the range (K) in which it is used, with the key of its source."""

    law: Law
    low_k: float
    high_k: float
    source: str = ""
    note: str = ""

    def __post_init__(self):
        if not 0 <= self.low_k < self.high_k:
            raise ValueError(f"a range of {self.low_k:g} K to {self.high_k:g} K is none")
        if self.low_k == 0 and not (isinstance(self.law, PowerLaw) and self.law.exponent > -1):
            raise ValueError("only a power law (exponent above -1) can reach down to 0 K")

    def conductivity(self, *, temperature_k):
        """Return k, W/(m K), at `temperature_k` (array, K), whether in the range or not."""
        return self.law.conductivity(temperature_k=temperature_k)


@dataclass(frozen=True)
class Resistivity:
    """Normal-state resistivity, ohm m, over temperature (K), linear between the points."""

    temperature_k: tuple[float, ...]
    values_ohm_m: tuple[float, ...]
    source: str = ""
    note: str = ""

    def __post_init__(self):
        t, rho = np.array(self.temperature_k, float), np.array(self.values_ohm_m, float)
        if t.shape != rho.shape or t.ndim != 1 or t.size < 2:
            raise ValueError("a resistivity needs two or more temperatures, one value each")
        if not (np.all(np.diff(t) > 0) and t[0] >= 0 and np.all(rho > 0)):
            raise ValueError("a resistivity needs rising temperatures, values above zero")


@dataclass(frozen=True)
class Material:
    """A solid: pieces of k(T) in order and without gap, and what else is known of it."""

    name: str
    pieces: tuple[Piece, ...] = ()
    resistivity: Resistivity | None = None
    """Normal state; None where unknown, and for dielectrics."""
    critical_temperature_k: float | None = None
    """Below it a superconductor; None for all others."""
    mean_free_path_product_ohm_m2: float | None = None
    """Resistivity times electron mean free path: sets the anomalous skin effect; None: left out."""
    contraction: float | None = None
    """Relative shortening from 293 K to 4 K, a fraction."""
    permittivity: float | None = None
    """Relative, of a dielectric; taken as the same at every temperature."""
    loss_tangent: float | None = None
    """Of a dielectric at room temperature, used at every temperature (colder is less: upper)."""
    sources: tuple[str, ...] = ()
    """Keys of every source that this material's numbers have."""
    note: str = ""

    def __post_init__(self):
        for before, after in pairwise(self.pieces):
            if before.high_k != after.low_k:
                raise ValueError(
                    f"{self.name}: conductivity has a gap or an overlap between "
                    f"{before.high_k:g} K and {after.low_k:g} K; let the pieces meet"
                )

    @classmethod
    def from_table(cls, *, name, temperature_k, conductivity, **others):
        """Return a material whose k (W/(m K)) is a power law between points at `temperature_k`."""
        law = Table(tuple(map(float, temperature_k)), tuple(map(float, conductivity)))
        piece = Piece(law, law.temperature_k[0], law.temperature_k[-1])
        return cls(name=name, pieces=(piece,), **others)

    @classmethod
    def from_power_law(cls, *, name, coefficient, exponent, range_k, **others):
        """Return a material with k = coefficient T^exponent, W/(m K), in `range_k` (low, high)."""
        low, high = range_k
        piece = Piece(PowerLaw(float(coefficient), float(exponent)), float(low), float(high))
        return cls(name=name, pieces=(piece,), **others)

    def require(self, quantity):
        """Return a property by its field name; raises MissingProperty where it is None."""
        value = getattr(self, quantity)
        if value is None:
            raise MissingProperty(material=self.name, quantity=quantity.replace("_", " "))
        return value

    @property
    def range_k(self):
        """Lowest and highest temperature (K) at which the conductivity is known."""
        if not self.pieces:
            raise MissingProperty(material=self.name, quantity="thermal conductivity")
        return self.pieces[0].low_k, self.pieces[-1].high_k

    def piece_at(self, *, temperature_k):
        """Return the piece that holds at one temperature (K); at a seam, the warmer one."""
        t = self._inside(temperature_k, self.range_k, "thermal conductivity")
        return next(p for p in reversed(self.pieces) if p.low_k <= t)

    def conductivity(self, *, temperature_k):
        """Return k, W/(m K), at `temperature_k` (array, K); raises OutsideRange."""
        t = self._inside(temperature_k, self.range_k, "thermal conductivity")
        which = np.searchsorted([p.low_k for p in self.pieces[1:]], t, side="right")
        value = np.zeros(t.shape)
        for index, piece in enumerate(self.pieces):
            here = which == index
            if here.any():
                value[here] = piece.conductivity(temperature_k=t[here])
        return value[()]

    def theta(self, *, temperature_k):
        """Return the integral of k, W/m, from the lowest known temperature (K); OutsideRange."""
        t = self._inside(temperature_k, self.range_k, "thermal conductivity")
        return self._potential.theta(temperature_k=t)

    def conduction_integral(self, *, cold_k, warm_k):
        """Return the integral of k dT from `cold_k` to `warm_k` (arrays, K), W/m; OutsideRange.

        Good to 1e-6 of the laws; zero between equal temperatures, negative if the ends are swapped.
        """
        return self.theta(temperature_k=warm_k) - self.theta(temperature_k=cold_k)

    def temperature_at(self, *, theta_w_per_m):
        """Return the temperature (K) where `theta` has the value asked (array, W/m)."""
        return inverse(self.name, self._potential, theta_w_per_m)

    def resistivity_ohm_m(self, *, temperature_k):
        """Return the normal-state resistivity, ohm m, at `temperature_k` (array, K).

        Raises MissingProperty where unknown, OutsideRange beyond the table's ends.
        """
        known = self.require("resistivity")
        points = known.temperature_k
        t = self._inside(temperature_k, (points[0], points[-1]), "resistivity")
        return np.interp(t, points, known.values_ohm_m)

    @cached_property
    def _potential(self):
        segments = []
        for piece in self.pieces:
            knots = piece.law.knots(low_k=piece.low_k, high_k=piece.high_k)
            segments.append((knots, piece.conductivity(temperature_k=knots)))
        return Potential.of(segments, from_zero=self.range_k[0] == 0)

    def _inside(self, temperature_k, range_k, quantity):
        return inside(temperature_k, material=self.name, range_k=range_k, quantity=quantity)


def inside(temperature_k, *, material, range_k, quantity):
    """Return `temperature_k` as an array, K, rounding at the ends clipped; raises OutsideRange."""
    t = np.asarray(temperature_k, float)
    low, high = range_k
    wrong = ~((t >= low * (1 - _ROUNDING)) & (t <= high * (1 + _ROUNDING)))
    if wrong.any():
        asked = float(t[wrong].flat[0])
        raise OutsideRange(
            material=material, quantity=quantity, range_k=range_k, temperature_k=asked
        )
    return np.clip(t, low, high)


def inverse(name, potential, theta):
    """Return the temperature (K) at `theta` (array); ValueError beyond the potential's ends."""
    theta = np.asarray(theta, float)
    top = potential.end_theta
    slack = _ROUNDING * top
    if not np.all((theta >= -slack) & (theta <= top + slack)):
        raise ValueError(
            f"the conduction integral of {name} runs from 0 to {top:g}, and "
            f"{theta.min():g} to {theta.max():g} is asked; stay inside its temperatures"
        )
    return potential.temperature(theta=theta)


def named(word, materials):
    """Return the materials that a word names: one row, or all whose names begin with the word.

    `copper` is every copper of the catalogue, whatever its purity; empty where there is none.
    """
    if word in materials:
        return (materials[word],)
    return tuple(row for name, row in materials.items() if name.startswith(f"{word}-"))
