"""Cables, with the temperature along them."""

import itertools

import numpy as np

from components.constants import C
from components.declaration import (
    LOSS,
    Distances,
    Kind,
    Measure,
    Parameter,
    ParameterError,
    Reference,
    kind,
)
from components.materials import MissingProperty, OutsideRange
from components.nport import NPort, lossiness
from components.quantities import power_ratio
from components.thermal_noise import photons

NODES, WEIGHTS = np.polynomial.legendre.leggauss(24)
"""Gauss-Legendre points for each stretch between anchors, on -1 .. 1."""

_LN10_10 = np.log(10.0) / 10.0


def _running_integral():
    """Return the matrix that takes values at NODES to their integrals from -1 to each node."""
    fit = np.linalg.inv(np.polynomial.legendre.legvander(NODES, len(NODES) - 1))
    rows = []
    for power in range(len(NODES)):
        coefficients = np.zeros(len(NODES))
        coefficients[power] = 1.0
        antiderivative = np.polynomial.legendre.legint(coefficients, lbnd=-1)
        rows.append(np.polynomial.legendre.legval(NODES, antiderivative))
    return np.array(rows).T @ fit


RUNNING = _running_integral()


@kind
class Cable(Kind):
    """A matched line whose temperature changes along it.

    A slice dz at T(z) absorbs the share a(z) dz of what passes and emits as much thermal noise each
    way, so that toward an end C = integral of N(f, T(z)) d(transmission from z to that end); what
    the two ends get is uncorrelated.  The temperature is linear between anchors for a cable given
    by its loss, and follows from steady conduction (integral of k dT linear in z) for one given by
    its materials.
    """

    name = "cable"
    summary = "A coaxial line, between two stages or on one."
    noise = "Each slice emits at its own temperature; the two ends get different amounts."
    spans_stages = True
    parameters = (
        Parameter("from", Reference("stage"), "stage at its start"),
        Parameter("to", Reference("stage"), "stage at its end"),
        Parameter("via", Distances(), "stages that anchor it, at distances from its start"),
        Parameter("loss", LOSS, "loss from end to end"),
        Parameter("length", Measure("length", least=0.0), "length"),
        Parameter("coax", Reference("coax"), "catalogue row or own coax: loss and temperature"),
        Parameter(
            "velocity_factor", Measure("number", least=0.05, most=1.0),
            "wave speed over that of light; the coax's own where one is named, else 0.7",
            "0.7", source="common practice for PTFE, no source",
        ),
    )
    example = (
        "{id: W1, kind: cable, from: room, to: plate, length: 0.6 m, coax: cupronickel-2.19}"
    )

    def check(self, settings):
        """Yield what is missing or given twice."""
        if not (settings.given("loss") or settings.given("coax") or settings.given("data")):
            yield ParameterError(
                "loss", "the cable has neither a loss nor a coax", "give loss, or length and coax"
            )
        if settings.given("coax") and not settings.given("length"):
            yield ParameterError("coax", "a cable of a coax needs its length", "give length")

    def scattering(self, settings, at):
        loss_db = self._profile(settings, at).loss_db
        through = np.sqrt(power_ratio(-loss_db)) * self._delay(settings, at)
        return {(0, 1): through, (1, 0): through}

    def emission(self, settings, at, scattering):
        """Return C: for a matched cable diagonal, for a measured one weighted to each end.

        A measured cable emits D_ij (1/2 + sqrt(n_i n_j)), D = I - S S^H, with n the loss-weighted
        mean photons toward each end: the vacuum part exact, the rest positive by construction.
        """
        start, end = self._profile(settings, at, scattering).photons_at_ends(at.frequency_hz)
        loss = lossiness(scattering, (1, 1))
        seen = {(0, 0): start, (1, 1): end, (0, 1): np.sqrt(start * end)}
        return {key: entry * (0.5 + seen[key]) for key, entry in loss.items()}

    def respond(self, settings, at):
        """Return the NPort; the profile is worked out once for both matrices."""
        profile = self._profile(settings, at)
        through = np.sqrt(power_ratio(-profile.loss_db)) * self._delay(settings, at)
        start, end = profile.photons_at_ends(at.frequency_hz)
        absorbed = -np.expm1(-_LN10_10 * profile.loss_db)
        return NPort.plain(
            ("in", "out"),
            {(0, 1): through, (1, 0): through},
            {(0, 0): absorbed * (0.5 + start), (1, 1): absorbed * (0.5 + end)},
        )

    def absorbed_at_anchors(self, settings, at):
        """Return how what is absorbed parts over the anchors: of a wave from the start, from the end.

        Two arrays (anchors, points), each column adding to one.  Every slice's heat goes to the
        anchors on both sides in proportion to position: exact for a steady uniform rod, whatever
        k(T) is.
        """
        scattering = None
        if settings.given("data"):
            scattering = {(1, 0): settings["data"].scattering(at.frequency_hz)[1, 0]}
        return self._profile(settings, at, scattering).absorbed_at_anchors()

    @staticmethod
    def _delay(settings, at):
        if not settings.given("length"):
            return 1.0
        factor = settings.at("velocity_factor", at)
        if settings.given("coax") and not settings.given("velocity_factor"):
            factor = settings["coax"].velocity_factor
        seconds = settings.at("length", at) / (factor * C)
        return np.exp(-2j * np.pi * at.frequency_hz * seconds)

    @staticmethod
    def _profile(settings, at, scattering=None):
        anchors = at.anchors or ((0.0, at.temperature_k), (1.0, at.temperature_k))
        coax = settings["coax"]
        temperature_k = np.concatenate(
            [
                _stretch_temperatures(cold_to_warm, coax)
                for cold_to_warm in itertools.pairwise(anchors)
            ]
        )
        spans = np.diff([distance for distance, _ in anchors])
        if scattering is not None:
            whole_db = -10 * np.log10(np.maximum(np.abs(scattering[1, 0]) ** 2, 1e-30))
            density = np.ones((len(temperature_k), 1)) * np.atleast_1d(whole_db)
        elif settings.given("loss"):
            density = np.ones((len(temperature_k), 1)) * np.atleast_1d(settings.at("loss", at))
        else:
            density = _coax_density(coax, temperature_k, at.frequency_hz)
            density = density * settings.at("length", at)
        return Profile(temperature_k, spans, density)


def _stretch_temperatures(ends, coax):
    """Return the temperature at the nodes of one stretch, kelvin."""
    (_, start_k), (_, end_k) = ends
    part = (NODES + 1) / 2
    if coax is None or start_k == end_k:
        return start_k + (end_k - start_k) * part
    try:
        start, end = coax.theta(temperature_k=np.array([start_k, end_k]))
        return coax.temperature_at(theta_w_m=start + (end - start) * part)
    except (OutsideRange, MissingProperty) as error:
        raise ParameterError(
            "coax", str(error), "name another coax, or give the cable its loss"
        ) from error


def _coax_density(coax, temperature_k, frequency_hz):
    """Return dB/m at each node, shape (nodes, points)."""
    try:
        coefficients = coax.loss_coefficients(temperature_k=temperature_k)
    except (OutsideRange, MissingProperty) as error:
        raise ParameterError(
            "coax", str(error), "name another coax, or give the cable its loss"
        ) from error
    flat, root, linear = (
        np.broadcast_to(np.asarray(part, float), temperature_k.shape)[:, None]
        for part in coefficients
    )
    return flat + root * np.sqrt(frequency_hz) + linear * frequency_hz


class Profile:
    """Temperature (kelvin) and loss (dB per whole length) at the nodes along a cable."""

    def __init__(self, temperature_k, spans, density_db):
        self.temperature_k = temperature_k
        self._spans = spans
        weights = np.concatenate([WEIGHTS * span / 2 for span in spans])[:, None]
        self._slices = density_db * weights
        self.loss_db = self._slices.sum(axis=0)
        before, passed = [], 0.0
        for index, span in enumerate(spans):
            part = density_db[index * len(NODES) : (index + 1) * len(NODES)]
            before.append(passed + RUNNING @ part * span / 2)
            passed = passed + (WEIGHTS[:, None] * part).sum(axis=0) * span / 2
        self._before = np.concatenate(before)

    def photons_at_ends(self, frequency_hz):
        """Return the loss-weighted mean photons toward the start and toward the end."""
        own = photons(frequency_hz=frequency_hz, temperature_k=self.temperature_k[:, None])
        return [(weight * own).sum(axis=0) for weight in self._seen_from_ends()]

    def _seen_from_ends(self):
        """Return each slice's part of what is absorbed of (or emitted to) each end's wave.

        Normalised, so that a cable at one temperature emits exactly as that temperature.
        """
        found = []
        for passed in (self._before, self.loss_db - self._before):
            weight = self._slices * np.exp(-_LN10_10 * passed)
            total = weight.sum(axis=0)
            found.append(weight / np.where(total > 0, total, 1.0))
        return found

    def absorbed_at_anchors(self):
        """Return the parts of two arrays (anchors, points): of a wave from the start, the end."""
        to_right = np.tile((NODES + 1) / 2, len(self._spans))[:, None]
        found = []
        for weight in self._seen_from_ends():
            anchors = np.zeros((len(self._spans) + 1, weight.shape[1]))
            left = (weight * (1 - to_right)).reshape(len(self._spans), len(NODES), -1).sum(axis=1)
            right = (weight * to_right).reshape(len(self._spans), len(NODES), -1).sum(axis=1)
            anchors[:-1] += left
            anchors[1:] += right
            found.append(anchors)
        return found
