"""Cables, with the temperature along them."""

import functools
from itertools import pairwise

import numpy as np

from components.constants import C
from components.declaration import LOSS, Caution, Kind, kind
from components.direct_current import (
    Passage,
    conductors_of,
    even_resistance,
    resistance_along,
)
from components.faults import extra_loss, in_state
from components.heat_path import HeatPath
from components.materials import MissingProperty, OutsideRange
from components.nport import NPort, lossiness
from components.parameters import Measure, Parameter, ParameterError, Reference
from components.profile import Profile, Rod
from components.quantities import Table
from components.smooth import over_band
from components.strands import ENDS_AND_ANCHORS, anchor_problems
from components.thermal_noise import photons, quanta

_LN10_10 = np.log(10.0) / 10.0

PLACES = 65
"""Places between two temperatures at which it is asked how far a rise moves what they emit."""

FINEST, HALVINGS = 20.0, 16
"""Decades over which a rise is looked for, and in how many halvings: to a thousandth of one."""

THIN_M = 1.3e-3
"""Outside diameter below which a coax kinks easily (common practice, no source)."""


@kind
class Cable(Kind):
    """A matched line whose temperature changes along it.

    A slice dz at T(z) absorbs the share a(z) dz of what passes and emits as much thermal noise each
    way, so that toward an end C = integral of N(f, T(z)) d(transmission from z to that end); what
    the two ends get is uncorrelated.  The temperature is linear between anchors for a cable given
    by its loss, and follows from steady conduction (integral of k dT linear in z) for one given by
    its materials; what it absorbs of tones warms it in between (components.profile.Warming).

    Centre and outer conductor share one temperature: a difference between them dies out over the
    healing length sqrt(k_c A_c ln(D/d) / (2 pi k_d)) through the dielectric, 0.4 to 1.3 mm for PTFE
    at low temperatures.  So what anchors the outer conductor clamps the centre conductor too.
    """

    name = "cable"
    also_called = ("coax", "line", "jumper", "semi-rigid")
    symbol = "cable"
    summary = "A coaxial line, between two stages or on one."
    noise = "Each slice emits at its own temperature; the two ends get different amounts."
    spans_stages = True
    warms_along = True
    parameters = (
        *ENDS_AND_ANCHORS,
        Parameter("loss", LOSS, "loss from end to end"),
        Parameter("length", Measure("length", zero=True), "length"),
        Parameter("coax", Reference("coax"), "catalogue row or own coax: loss and temperature"),
        Parameter(
            "velocity_factor", Measure("number", least=0.05, most=1.0),
            "wave speed over that of light; the coax's own where one is named, else 0.7",
            "0.7", source="common practice for PTFE, no source",
        ),
        Parameter(
            "critical_current", Measure("current"),
            "most direct current that its superconductors carry", fixed=True,
        ),
    )
    example = (
        "{id: W1, kind: cable, from: room, to: plate, length: 0.6 m, coax: cupronickel-2.19}"
    )

    def known_warm(self, settings):
        """Its coax says what it loses at any temperature; a bare loss is that of the cold one."""
        return settings["coax"] is not None

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
        return self._scattering(settings, at, self._loss_db(settings, at))

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
        start, end = self._photons_at_ends(settings, at)
        absorbed = -np.expm1(-_LN10_10 * loss_db)
        return NPort.plain(
            ("in", "out"),
            self._scattering(settings, at, loss_db),
            {(0, 0): absorbed * (0.5 + start), (1, 1): absorbed * (0.5 + end)},
        )

    def fragility(self, settings):
        """Return 4 for what is superconducting or thinner than THIN_M, 3 for any other cable."""
        coax = settings["coax"]
        if coax is None:
            return 3
        return 4 if coax.is_superconducting or coax.outer.diameter_m < THIN_M else 3

    def faults(self, settings):
        """Return a bad joint or kink, and a break."""
        return (extra_loss(3.0), in_state("open", 1.0))

    def handling(self, settings):
        """Return the cautions about a coax; nothing is known of one that is given by its loss."""
        coax = settings["coax"]
        said = [Caution("turn the coupling nut alone, hold the cable's end still")]
        if coax is not None and coax.is_superconducting:
            said.append(Caution(
                "superconducting coax work-hardens: mark which way it lies, keep its bends, do not "
                "straighten it or bend it again"
            ))
        elif coax is not None and coax.outer.diameter_m < THIN_M:
            said.append(Caution("thin coax kinks: lay it down in its own bends, nothing on top"))
        return tuple(said)

    def heat_path(self, settings):
        """Return the HeatPath of its coax; None for a cable that is given by its loss alone."""
        return HeatPath(settings["coax"]) if settings.given("coax") else None

    def direct_current(self, settings, enter):
        return Passage("out" if enter == "in" else "in")

    def resistance(self, settings, at):
        """Return the Resistance of both conductors at the temperatures along them."""
        anchors = at.anchors or ((0.0, at.temperature_k), (1.0, at.temperature_k))
        spans, ends_k = np.diff([part for part, _ in anchors]), [kelvin for _, kelvin in anchors]
        if settings.given("dc_resistance"):
            return even_resistance(settings["dc_resistance"].value, spans, ends_k)
        if not (settings.given("coax") and settings.given("length")):
            return None
        coax, length_m = settings["coax"], settings["length"].value
        temperature_k = self._rod(settings, at, even=True).temperature_k
        try:
            return resistance_along(temperature_k, spans, length_m, conductors_of(coax), ends_k)
        except (OutsideRange, MissingProperty) as error:
            raise ParameterError(
                "coax", str(error), "give the cable its dc_resistance, or name another coax"
            ) from error

    def cautions(self, settings, at):
        """Yield that a superconducting coax is too warm somewhere and loses as a normal one.

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
        """Return how what is absorbed of a wave from each end parts over the anchors.

        Two arrays (anchors, points), each column adding to one.
        """
        scattering = None
        if settings.given("data"):
            whole = settings["data"].scattering(at.frequency_hz)
            scattering = {(1, 0): whole[1, 0]}
        return self._profile(settings, at, scattering).absorbed_at_anchors()

    def absorbed_slices(self, settings, at):
        """Return how what is absorbed of a wave from each end parts over the slices of its Rod.

        Two arrays (nodes, points), each column adding to one.
        """
        scattering = None
        if settings.given("data"):
            scattering = {(1, 0): settings["data"].scattering(at.frequency_hz)[1, 0]}
        return self._profile(settings, at, scattering).absorbed_slices()

    def temperatures(self, settings, at):
        """Return (distance over length, kelvin) along it: anchors left out, shape (nodes,) each."""
        rod = self._rod(settings, at, even=True)  # where it loses does not matter
        starts = np.concatenate([[0.0], np.cumsum(rod.spans)[:-1]])
        distance = starts[:, None] + rod.spans[:, None] * rod.position
        return distance.ravel(), rod.temperature_k

    def loss_along(self, settings, at):
        """Return the parts of its loss up to each node: what tells whether warming moved it."""
        return self._rod(settings, at).before

    def unmoved_w(self, settings, anchors, frequency_hz, part):
        """Return a power (W) that it may absorb anywhere while what it emits moves by `part`.

        Relative, the vacuum counted, at a frequency (Hz) and above; a lower bound.  A power P
        anywhere in a stretch of length l raises theta by P l / 4 at most, a point source in its
        middle.
        """
        length_m, same = settings["length"].value, _Same(settings["coax"])
        return min(
            4 * _unmoved_w_m(same, min(both), max(both), frequency_hz, part)
            / max((end - start) * length_m, 1e-9)
            for (start, one_k), (end, other_k) in pairwise(anchors)
            for both in ((one_k, other_k),)
        )

    @staticmethod
    def _scattering(settings, at, loss_db):
        """Return S of a loss and of the delay, where a length is given."""
        exponent = -_LN10_10 / 2.0 * np.asarray(loss_db)
        if settings.given("length"):
            factor = settings.at("velocity_factor", at)
            if settings.given("coax") and not settings.given("velocity_factor"):
                factor = settings["coax"].velocity_factor
            seconds = settings.at("length", at) / (factor * C)
            exponent = exponent - 2j * np.pi * seconds * at.frequency_hz
        through = np.exp(exponent)
        return {(0, 1): through, (1, 0): through}

    def _photons_at_ends(self, settings, at):
        """Return the mean photons of what is emitted toward the start and toward the end."""
        kelvins = {kelvin for _, kelvin in at.anchors} or {at.temperature_k}
        if len(kelvins) == 1 and at.heating.along is None:
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
        flat, root, linear = self._rod(settings, at).whole
        f = at.frequency_hz
        return settings.at("length", at) * (flat + root * np.sqrt(f) + linear * f)

    def _profile(self, settings, at, scattering=None):
        """Return the Profile; with scattering entries, its loss is theirs, spread evenly."""
        if scattering is not None:
            passed = np.abs(scattering.get((1, 0), 0.0)) ** 2
            loss_db = -10 * np.log10(np.maximum(passed, 1e-30))
        elif settings.given("loss"):
            loss_db = settings.at("loss", at)
        else:
            f, length = at.frequency_hz, settings.at("length", at)
            amounts = [length * part for part in (np.ones_like(f), np.sqrt(f), f)]
            return Profile(self._rod(settings, at), np.array(amounts))
        return Profile(self._rod(settings, at, even=True), np.array([np.atleast_1d(loss_db)]))

    @staticmethod
    def _rod(settings, at, even=False):
        """Return the Rod between the anchors, worked out once for a coax; `even` in its loss."""
        anchors = at.anchors or ((0.0, at.temperature_k), (1.0, at.temperature_k))
        coax = settings["coax"]
        even = even or coax is None or settings.given("loss") or settings.given("data")
        try:
            return _rod(_Same(coax), anchors, even, at.heating.along)
        except (OutsideRange, MissingProperty) as error:
            raise ParameterError(
                "coax", str(error), "name another coax, or give the cable its loss"
            ) from error


class _Same:
    """A coax by identity, which is quick to compare where its materials are not."""

    def __init__(self, coax):
        self.coax = coax

    def __eq__(self, other):
        return self.coax is other.coax

    def __hash__(self):
        return id(self.coax)


@functools.lru_cache(maxsize=1024)
def _rod(same, anchors, even, warming):
    losses = None if even else functools.partial(_losses, same.coax)
    return Rod.of(anchors, functools.partial(_temperatures, same.coax), losses, warming)


@functools.lru_cache(maxsize=4096)
def _unmoved_w_m(same, cold_k, warm_k, frequency_hz, part):
    """Return a rise of theta (W m) anywhere between two temperatures that moves emission by `part`.

    Of the places with a temperature in between, the one that moves most decides.
    """
    coax = same.coax
    low_k, high_k = coax.range_k
    if not low_k <= cold_k <= warm_k < high_k:
        return 0.0
    here_k = np.geomspace(max(cold_k, 1e-6), warm_k, PLACES)
    theta = coax.theta(temperature_k=here_k)
    emitted = quanta(frequency_hz=frequency_hz, temperature_k=here_k)
    most = coax.most_theta_w_m - theta[-1]
    low, high = -FINEST, 0.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        moved = coax.temperature_at(theta_w_m=theta + most * 10**middle)
        more = quanta(frequency_hz=frequency_hz, temperature_k=moved) / emitted
        if np.max(more) <= 1 + part:
            low = middle
        else:
            high = middle
    return float(most * 10**low) if low > -FINEST else 0.0


def _losses(coax, temperature_k):
    """Return the flat, root and linear part of a coax's loss, dB/m, each at the temperatures."""
    parts = coax.loss_coefficients(temperature_k=temperature_k)
    return [np.broadcast_to(part, temperature_k.shape) for part in parts]


def _temperatures(coax, start_k, end_k, position, rise_w_m):
    """Return kelvin at positions 0 .. 1 of a stretch: by steady conduction, or else linear.

    `rise_w_m` is what tones add to the conduction integral there; beyond the materials' data they
    are taken at their end.
    """
    warmed = np.any(rise_w_m)
    if coax is None or (start_k == end_k and not warmed):
        return start_k + (end_k - start_k) * position
    start, end = coax.theta(temperature_k=np.array([start_k, end_k]))
    theta = start + (end - start) * position
    if warmed:
        theta = np.minimum(theta + rise_w_m, coax.most_theta_w_m)
    return coax.temperature_at(theta_w_m=theta)
