"""A coaxial line: impedance, heat conducted, and loss per metre at a temperature.

Loss is c + a sqrt(f) + b f in dB/m: conductors go as sqrt(f), the dielectric as f, and c is the
flat value taken for superconductors (FLAT_SUPERCONDUCTING_DB_PER_M).
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from components.conductivity import Potential, dense_knots
from components.constants import MU0, C
from components.materials import Material, MissingProperty, inside, inverse
from components.surface_resistance import plated_resistance, surface_resistance

DB_PER_NEPER = 20 / np.log(10)

FLAT_SUPERCONDUCTING_DB_PER_M = 0.1
"""Loss of a superconducting line below its critical temperature, dielectric included: assumption,
common practice, no source. Bounds: 0.005 dB/m and more was measured in a range of lines (Kurpiers
et al., EPJ Quantum Technology 4:8, 2017, abstract); a ribbon of superconducting coax lost 1 dB in
0.3 m at 8 GHz with its connectors (arXiv 2007.06496, abstract)."""

REFERENCE_HZ = 6e9
"""Where surface resistance is evaluated when it is not exactly a sqrt(f) law (anomalous skin
effect, thin plating): the middle of 4-8 GHz."""

WARM_K = 295.0
"""Temperature of a measured loss table unless it says another."""


@dataclass(frozen=True)
class Plating:
    """A metal layer of `thickness_m` (m) on the side of a conductor that carries the current."""

    material: Material
    thickness_m: float


@dataclass(frozen=True)
class Conductor:
    """A conductor whose outside diameter, plating included, is `diameter_m` (m)."""

    material: Material
    diameter_m: float
    plating: Plating | None = None

    @property
    def surface(self):
        """The material that carries the current: the plating, if any."""
        return self.plating.material if self.plating else self.material


@dataclass(frozen=True)
class Dielectric:
    """What fills the line between centre and outer conductor, up to `diameter_m` (m)."""

    material: Material
    diameter_m: float


class LossCoefficients(NamedTuple):
    """Loss per metre, dB/m = flat + root sqrt(f / Hz) + linear f / Hz; arrays over temperature."""

    flat: np.ndarray
    root: np.ndarray
    linear: np.ndarray


@dataclass(frozen=True)
class Coax:
    """A coaxial line of solid materials; the outer conductor's plating lies on its inside."""

    name: str
    centre: Conductor
    dielectric: Dielectric
    outer: Conductor
    loss: tuple[tuple[float, float], ...] = ()
    """Measured (frequency in Hz, loss in dB/m), fitted as a sqrt(f) + b f; empty: computed."""
    loss_temperature_k: float = WARM_K
    """Temperature at which `loss` was measured, K."""
    sources: tuple[str, ...] = ()
    note: str = ""

    def __post_init__(self):
        d, big, out = self.centre.diameter_m, self.dielectric.diameter_m, self.outer.diameter_m
        if not 0 < d < big < out:
            raise ValueError(
                f"{self.name}: diameters of {d * 1e3:g}, {big * 1e3:g}, {out * 1e3:g} mm; centre, "
                "dielectric and outer diameter must grow in this order"
            )
        rooms = {"centre": (self.centre, d / 2), "outer": (self.outer, (out - big) / 2)}
        for part, (conductor, room) in rooms.items():
            if conductor.plating and not 0 < conductor.plating.thickness_m < room:
                raise ValueError(f"{self.name}: {part} plating must be thinner than its conductor")
        for frequency_hz, db in self.loss:
            if not (frequency_hz > 0 and db >= 0):
                raise ValueError(f"{self.name}: a loss table needs frequencies > 0, dB/m >= 0")
        self.dielectric.material.require("permittivity")

    # -- geometry ---------------------------------------------------------------------------

    @property
    def _permittivity(self):
        return self.dielectric.material.require("permittivity")

    @property
    def impedance_ohm(self):
        """Characteristic impedance, ohm, mu0 c / (2 pi sqrt(er)) ln(D/d) (Pozar, table 2.1)."""
        ratio = self.dielectric.diameter_m / self.centre.diameter_m
        return float(MU0 * C / (2 * np.pi * np.sqrt(self._permittivity)) * np.log(ratio))

    @property
    def velocity_factor(self):
        """Wave velocity over that of light in vacuum, 1 / sqrt(er)."""
        return float(self._permittivity**-0.5)

    @property
    def single_mode_hz(self):
        """Frequency (Hz) above which TE11 runs beside TEM, c k / (2 pi sqrt(er)), k = 4 / (d + D).

        D. M. Pozar, Microwave Engineering, section 3.5, k about 2 / (a + b) of the radii; from
        memory.
        """
        around = np.pi * (self.centre.diameter_m + self.dielectric.diameter_m) / 2
        return float(C / (around * np.sqrt(self._permittivity)))

    @cached_property
    def sections(self):
        """Cross-section, part by part: (part, Material, area in m^2)."""
        d, big, out = self.centre.diameter_m, self.dielectric.diameter_m, self.outer.diameter_m
        inner, wall = self.centre.plating, self.outer.plating
        core = d - 2 * inner.thickness_m if inner else d
        lined = big + 2 * wall.thickness_m if wall else big
        rings = [
            ("centre", self.centre.material, 0.0, core),
            ("centre plating", self.centre.surface, core, d),
            ("dielectric", self.dielectric.material, d, big),
            ("outer plating", self.outer.surface, big, lined),
            ("outer", self.outer.material, lined, out),
        ]
        return tuple(
            (part, material, np.pi / 4 * (b * b - a * a)) for part, material, a, b in rings if b > a
        )

    @cached_property
    def areas_m2(self):
        """Cross-section of each material, m^2, by its name."""
        areas = {}
        for _, material, area in self.sections:
            areas[material.name] = areas.get(material.name, 0.0) + area
        return areas

    # -- heat -------------------------------------------------------------------------------

    @property
    def range_k(self):
        """Lowest and highest temperature (K) at which every material's conductivity is known."""
        ranges = [material.range_k for _, material, _ in self.sections]
        return max(low for low, _ in ranges), min(high for _, high in ranges)

    def theta(self, *, temperature_k):
        """Return the integral of sum(area k) dT from the lowest known temperature (array, K), W m.

        Raises OutsideRange, which names the material that stops it.
        """
        return self._potential.theta(temperature_k=self._inside(temperature_k))

    def conduction_integral(self, *, cold_k, warm_k):
        """Return the integral of sum(area k) dT between two temperatures (arrays, K), W m.

        Divide by the length between the two ends to get the heat in W; raises OutsideRange.
        """
        return self.theta(temperature_k=warm_k) - self.theta(temperature_k=cold_k)

    def temperature_at(self, *, theta_w_m):
        """Return the temperature (K) where `theta` has the value asked (array, W m).

        Without side heat theta is linear in position: this gives the profile along a cable.
        """
        return inverse(self.name, self._potential, theta_w_m)

    @property
    def most_theta_w_m(self):
        """Theta at the highest temperature at which every material's conductivity is known, W m."""
        return self._potential.end_theta

    def _inside(self, temperature_k):
        for _, material, _ in self.sections:
            temperature_k = inside(
                temperature_k,
                material=material.name,
                range_k=material.range_k,
                quantity="thermal conductivity",
            )
        return temperature_k

    @cached_property
    def _potential(self):
        low, high = self.range_k
        seams = {piece.low_k for _, material, _ in self.sections for piece in material.pieces}
        edges = [low, *sorted(t for t in seams if low < t < high), high]
        segments = []
        for start, end in pairwise(edges):
            knots = self._knots(start, end)
            middle = (start + end) / 2
            total = sum(
                area * material.piece_at(temperature_k=middle).conductivity(temperature_k=knots)
                for _, material, area in self.sections
            )
            segments.append((knots, total))
        return Potential.of(segments, from_zero=low == 0)

    def _knots(self, start, end):
        """Dense knots, and each table's own points, where the slope changes."""
        middle = (start + end) / 2
        knots = [dense_knots(start, end)]
        low = knots[0][0]
        for _, material, _ in self.sections:
            law = material.piece_at(temperature_k=middle).law
            knots.append(law.knots(low_k=low, high_k=end))
        return np.array(sorted(set(np.concatenate(knots).tolist())))

    # -- loss -------------------------------------------------------------------------------

    @property
    def critical_temperature_k(self):
        """Temperature (K) above which the first superconducting conductor is normal, or None."""
        found = [c.surface.critical_temperature_k for c in (self.centre, self.outer)]
        return min((t for t in found if t is not None), default=None)

    @property
    def is_superconducting(self):
        """True if a current-carrying surface is of a superconductor."""
        return self.critical_temperature_k is not None

    def loss_coefficients(self, *, temperature_k, reference_hz=REFERENCE_HZ):
        """Return LossCoefficients at `temperature_k` (array, K).

        From geometry, resistivity and loss tangent; or from the measured table, its sqrt(f) part
        scaled with the computed one to the temperature asked (kept as it is where a resistivity is
        unknown). A conductor below its critical temperature has no resistance and brings the flat
        value instead, which stands for the whole line where both are. A table measured on a
        superconducting line holds while as many of its conductors superconduct; otherwise the
        line is computed. Raises OutsideRange, MissingProperty.
        """
        t = np.asarray(temperature_k, float)
        return self._scaled(t, reference_hz) if self.loss else self._computed(t, reference_hz)

    def loss_db_per_m(self, *, frequency_hz, temperature_k):
        """Return the loss, dB/m (arrays broadcast; Hz, K); raises as `loss_coefficients`."""
        f = np.asarray(frequency_hz, float)
        flat, root, linear = self.loss_coefficients(temperature_k=temperature_k)
        return flat + root * np.sqrt(f) + linear * f

    @cached_property
    def fitted_loss(self):
        """(a, b) of a sqrt(f / Hz) + b f / Hz, dB/m, through the measured table."""
        return fit_loss(*zip(*self.loss, strict=True))

    @property
    def fit_error_db_per_m(self):
        """Largest distance between the measured table and its fit, dB/m; zero without a table."""
        if not self.loss:
            return 0.0
        (f, db), (root, linear) = map(np.array, zip(*self.loss, strict=True)), self.fitted_loss
        return float(np.max(np.abs(root * np.sqrt(f) + linear * f - db)))

    def _computed(self, t, reference_hz):
        cold = self._superconducting(t)
        linear = 0.0 if np.all(cold == 2) else self._linear()
        return LossCoefficients(
            np.where(cold > 0, FLAT_SUPERCONDUCTING_DB_PER_M, 0.0),
            self._root(t, reference_hz),
            np.where(cold == 2, 0.0, linear),
        )

    def _scaled(self, t, reference_hz):
        root, linear = self.fitted_loss
        then = np.asarray(self.loss_temperature_k, float)
        try:
            ours, theirs = self._root(t, reference_hz), self._root(then, reference_hz)
        except MissingProperty:
            return LossCoefficients(*(np.full(t.shape, value) for value in (0.0, root, linear)))
        root = root * (ours / theirs if theirs > 0 else np.ones(t.shape))
        cold, cold_then = self._superconducting(t), self._superconducting(then)
        if cold_then == 0:
            flat = np.where(cold > 0, FLAT_SUPERCONDUCTING_DB_PER_M, 0.0)
            return LossCoefficients(flat, root, np.where(cold == 2, 0.0, linear))
        same = cold == cold_then
        other = self._computed(t, reference_hz)
        pairs = zip((0.0, root, linear), other, strict=True)
        return LossCoefficients(*(np.where(same, table, value) for table, value in pairs))

    def _superconducting(self, t):
        """How many of the two conductors superconduct at temperatures `t`."""
        limits = [c.surface.critical_temperature_k for c in (self.centre, self.outer)]
        return sum((t < limit).astype(int) for limit in limits if limit is not None) + np.zeros(
            t.shape, int
        )

    def _root(self, t, reference_hz):
        """Conductor loss over sqrt(f): (Rc/(pi d) + Ro/(pi D)) / (2 Z0) Np/m (Pozar, table 2.1)."""
        widths = self.centre.diameter_m, self.dielectric.diameter_m
        conductors = zip((self.centre, self.outer), widths, strict=True)
        per_m = sum(_resistance(c, t, reference_hz) / (np.pi * width) for c, width in conductors)
        return DB_PER_NEPER * per_m / (2 * self.impedance_ohm * np.sqrt(reference_hz))

    def _linear(self):
        """Dielectric loss over f, dB/m: pi sqrt(er) tan d / c (Pozar, section 3.1)."""
        tangent = self.dielectric.material.require("loss_tangent")
        return DB_PER_NEPER * np.pi * np.sqrt(self._permittivity) * tangent / C


def fit_loss(frequency_hz, loss_db_per_m):
    """Return (a, b), neither negative, of a sqrt(f) + b f nearest to the points (Hz, dB/m).

    One point alone is all conductor loss, b = 0.
    """
    f, db = np.asarray(frequency_hz, float), np.asarray(loss_db_per_m, float)
    # Scaled to the highest point, so that both columns are of order one.
    top = f.max()
    columns = np.column_stack([np.sqrt(f / top), f / top])
    alone = np.diag(columns.T @ db / np.sum(columns**2, axis=0))
    candidates = [alone[0]]
    if f.size > 1:
        candidates += [alone[1], np.linalg.lstsq(columns, db, rcond=None)[0]]
    allowed = [pair for pair in candidates if np.all(pair >= 0)]
    best = min(allowed, key=lambda pair: np.sum((columns @ pair - db) ** 2))
    return float(best[0] / np.sqrt(top)), float(best[1] / top)


def _resistance(conductor, t, frequency_hz):
    """Surface resistance, ohm, at temperatures `t` (K); zero where the surface superconducts."""
    surface = _bulk_resistance(conductor.surface, t, frequency_hz)
    if conductor.plating is None:
        return surface
    base = _bulk_resistance(conductor.material, t, frequency_hz)
    return plated_resistance(
        frequency_hz=frequency_hz,
        plating_ohm=surface,
        plating_m=conductor.plating.thickness_m,
        base_ohm=base,
    )


def _bulk_resistance(material, t, frequency_hz):
    limit = material.critical_temperature_k
    resistance = surface_resistance(
        frequency_hz=frequency_hz,
        resistivity_ohm_m=material.resistivity_ohm_m(temperature_k=t),
        mean_free_path_product_ohm_m2=material.mean_free_path_product_ohm_m2,
    )
    return resistance if limit is None else np.where(t < limit, 0.0, resistance)
