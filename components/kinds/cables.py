"""Cables, with the temperature along them."""

import itertools
from typing import NamedTuple

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
from components.heat_path import HeatPath
from components.materials import MissingProperty, OutsideRange
from components.nport import NPort, lossiness
from components.quantities import Table, power_ratio
from components.smooth import over_band
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
        yield from anchor_problems(settings)

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
        """Return the NPort; what it emits is worked out at few frequencies where it is smooth."""
        loss_db = self._loss_db(settings, at)
        through = np.sqrt(power_ratio(-loss_db)) * self._delay(settings, at)
        start, end = self._photons_at_ends(settings, at)
        absorbed = -np.expm1(-_LN10_10 * loss_db)
        return NPort.plain(
            ("in", "out"),
            {(0, 1): through, (1, 0): through},
            {(0, 0): absorbed * (0.5 + start), (1, 1): absorbed * (0.5 + end)},
        )

    def heat_path(self, settings):
        """Return the HeatPath of its coax; None for a cable that is given by its loss alone."""
        return HeatPath(settings["coax"]) if settings.given("coax") else None

    def cautions(self, settings, at):
        """Yield that a superconducting coax is too warm somewhere, so that it loses as a normal one.

        Silent where the layout states the loss itself.
        """
        coax = settings["coax"]
        limit_k = None if coax is None else coax.critical_temperature_k
        if limit_k is None or settings.given("loss") or settings.given("data"):
            return
        ends = [kelvin for _, kelvin in at.anchors] or [at.temperature_k]
        if max(ends) >= limit_k:
            where = "all of it is" if min(ends) >= limit_k else "part of it is"
            yield (
                f"{coax.name} superconducts below {limit_k:g} K only, and {where} warmer "
                f"(up to {max(ends):g} K): there its normal-state loss is taken"
            )

    def absorbed_at_anchors(self, settings, at):
        """Return how what is absorbed parts over the anchors, for a wave from each end.

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

    def _photons_at_ends(self, settings, at):
        """Return the mean photons of what is emitted toward the start and toward the end."""
        kelvins = {kelvin for _, kelvin in at.anchors} or {at.temperature_k}
        if len(kelvins) == 1:
            own = photons(frequency_hz=at.frequency_hz, temperature_k=kelvins.pop())
            return own, own

        def toward_ends(frequency_hz):
            profile = self._profile(settings, at.at_frequency(frequency_hz))
            # Times frequency: where kT is far above hf that hardly varies over the band.
            return np.array(profile.photons_at_ends(frequency_hz)) * frequency_hz

        if isinstance(settings["loss"], Table):
            return toward_ends(at.frequency_hz) / at.frequency_hz
        return over_band(toward_ends, at.frequency_hz) / at.frequency_hz

    def _loss_db(self, settings, at):
        """Return the loss from end to end, dB."""
        if settings.given("loss"):
            return settings.at("loss", at)
        rod = _rod(settings, at)
        return settings.at("length", at) * _over_frequency(rod.mean_loss, at.frequency_hz)

    @staticmethod
    def _profile(settings, at, scattering=None):
        rod = _rod(settings, at)
        nodes = (len(rod.temperature_k),)
        if scattering is not None:
            passed = np.abs(scattering.get((1, 0), 0.0)) ** 2
            whole_db = np.atleast_1d(-10 * np.log10(np.maximum(passed, 1e-30)))
            density = np.broadcast_to(whole_db, nodes + np.shape(whole_db))
        elif settings.given("loss"):
            whole_db = np.atleast_1d(settings.at("loss", at))
            density = np.broadcast_to(whole_db, nodes + whole_db.shape)
        else:
            length = np.atleast_1d(settings.at("length", at))
            parts = [_upright(part, length.ndim) for part in rod.loss]
            density = length * _over_frequency(parts, at.frequency_hz)
        return Profile(rod.temperature_k, rod.spans, density)


class Rod(NamedTuple):
    """What a cable's anchors and coax fix, whatever the frequency."""

    temperature_k: np.ndarray
    """At the nodes of every stretch between anchors."""
    spans: np.ndarray
    """Length of each stretch over the whole."""
    loss: tuple[np.ndarray, np.ndarray, np.ndarray] | None
    """At the nodes: flat, root and linear part of the loss, dB/m; None without a coax."""
    mean_loss: tuple[float, float, float] | None
    """The same as means over the length."""


def _rod(settings, at):
    """Return the Rod of a cable, worked out once for its anchors."""
    anchors = at.anchors or ((0.0, at.temperature_k), (1.0, at.temperature_k))
    return settings.remembered(anchors, lambda: _worked_out(settings, anchors))


def _worked_out(settings, anchors):
    coax = settings["coax"]
    stretches = itertools.pairwise(anchors)
    temperature_k = np.concatenate([_stretch_temperatures(ends, coax) for ends in stretches])
    spans = np.diff([distance for distance, _ in anchors])
    if settings.given("loss") or settings.given("data") or coax is None:
        return Rod(temperature_k, spans, None, None)
    try:
        coefficients = coax.loss_coefficients(temperature_k=temperature_k)
    except (OutsideRange, MissingProperty) as error:
        raise ParameterError(
            "coax", str(error), "name another coax, or give the cable its loss"
        ) from error
    loss = tuple(
        np.broadcast_to(np.asarray(part, float), temperature_k.shape) for part in coefficients
    )
    weights = _weights(spans)
    return Rod(temperature_k, spans, loss, tuple(float(weights @ part) for part in loss))


def _weights(spans):
    """Return the weights of all nodes in an integral over the length; they add to one."""
    return np.concatenate([WEIGHTS * span / 2 for span in spans])


def _over_frequency(parts, frequency_hz):
    """Return flat + root sqrt(f) + linear f."""
    flat, root, linear = parts
    return flat + root * np.sqrt(frequency_hz) + linear * frequency_hz


def _upright(values, dimensions):
    """Return values at the nodes with so many axes of length one behind."""
    return np.reshape(values, (-1,) + (1,) * dimensions)


def anchor_problems(settings):
    """Yield what is wrong with the length and the distances of the anchors on the way."""
    via, length = settings["via"] or (), settings["length"]
    if via and length is None:
        yield ParameterError(
            "via", "anchors at distances need the length that they lie on", "give length"
        )
        return
    if settings.given("from") and length is not None and length.value <= 0:
        yield ParameterError(
            "length", f"a length of {length.text} cannot reach from one stage to another",
            "give the length between its ends",
        )
        return
    for stage, metres in via:
        if not 0 < metres < length.value:
            yield ParameterError(
                "via", f"its anchor at {stage}, {metres:g} m from its start, does not lie between "
                f"its ends, {length.text} apart", f"give less than {length.text}, and more than 0",
            )


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


class Profile:
    """Temperature (kelvin) and loss (dB per whole length) at the nodes along a cable.

    The loss has the shape (nodes, points) or (nodes, draws, points), points perhaps 1.
    """

    def __init__(self, temperature_k, spans, density_db):
        axes = density_db.ndim - 1
        self.temperature_k = _upright(temperature_k, axes)
        self._spans = spans
        self._slices = density_db * _upright(_weights(spans), axes)
        self.loss_db = self._slices.sum(axis=0)
        before, passed = [], 0.0
        for index, span in enumerate(spans):
            part = slice(index * len(NODES), (index + 1) * len(NODES))
            before.append(passed + np.tensordot(RUNNING, density_db[part], 1) * span / 2)
            passed = passed + self._slices[part].sum(axis=0)
        self._before = np.concatenate(before)

    def photons_at_ends(self, frequency_hz):
        """Return the loss-weighted mean photons toward the start and toward the end."""
        own = photons(frequency_hz=frequency_hz, temperature_k=self.temperature_k)
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
        part = (NODES + 1) / 2
        found = []
        for weight in self._seen_from_ends():
            stretches = weight.reshape(len(self._spans), len(NODES), *weight.shape[1:])
            anchors = np.zeros((len(self._spans) + 1, *weight.shape[1:]))
            anchors[:-1] += np.tensordot(stretches, 1.0 - part, (1, 0))
            anchors[1:] += np.tensordot(stretches, part, (1, 0))
            found.append(anchors)
        return found
