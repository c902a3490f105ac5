"""Directional couplers and hybrids."""

import numpy as np

from components.declaration import LOSS, MISMATCH, Kind, kind
from components.direct_current import Passage
from components.nport import evenly_lossy
from components.parameters import Choice, Measure, Parameter, ParameterError
from components.phases import UnknownPhase
from components.quantities import decibels


@kind
class Coupler(Kind):
    """A matched reciprocal four-port; `in` leaks to `isolated` by the directivity.

    With alpha = the way through, beta = the coupled and delta = the leaking amplitude, S has alpha
    between in-out and coupled-isolated, j beta between in-coupled and out-isolated, j delta between
    in-isolated and out-coupled.  A leak in phase with the coupling needs the least loss to be
    passive: |alpha + j (beta + delta)| <= 1.  D. M. Pozar, Microwave Engineering, ch. 7 (from
    memory) for the ideal four-port; the leak's phase is ours.
    """

    name = "coupler"
    also_called = ("directional-coupler",)
    symbol = "coupler"
    unchanged_when_warm = True
    absorbs_less = (
        "Its own insertion loss takes it: couple more strongly, so that less of the tone has to "
        "pass, or choose a coupler that loses less."
    )
    summary = "A directional coupler: `in` to `out`, and by the coupling to `coupled`."
    port_names = ("in", "out", "coupled", "isolated")
    parameters = (
        Parameter(
            "coupling", MISMATCH,
            "power from `in` to `coupled`", required=True,
        ),
        Parameter("insertion_loss", LOSS, "dissipated between `in` and `out`", "0 dB"),
        Parameter(
            "directivity", Measure("ratio", over_frequency=True),
            "how far the leak to `isolated` lies below the coupling; infinite where not given",
        ),
    )
    example = (
        "{id: C1, kind: coupler, stage: mixing, coupling: 20 dB, insertion_loss: 0.2 dB, "
        "loads: [coupled, isolated]}"
    )

    def direct_current(self, settings, enter):
        """Two lines side by side: it goes straight on along each."""
        between = {"in": "out", "out": "in", "coupled": "isolated", "isolated": "coupled"}
        return Passage(between[enter], stated=False)

    def phases(self, settings):
        """Return the leaks' phase: phi from `in` to `isolated`, -phi from `out` to `coupled`.

        Planes moved by phi/2 at `in` and `isolated` and by -phi/2 at the others turn the leaks
        alone, so a coupler that is passive for one phase is so for all.
        """
        if not settings.given("directivity"):
            return ()
        return (UnknownPhase(
            "directivity", "leak", {"in": 1, "isolated": 1}, {"out": -1, "coupled": -1}
        ),)

    def scattering(self, settings, at):
        beta = settings.lets_through("coupling", at)
        alpha = np.sqrt(1.0 - beta**2) * settings.lets_through("insertion_loss", at)
        s = {}
        for i, j in ((0, 1), (2, 3)):
            s[i, j] = s[j, i] = alpha
        for i, j in ((0, 2), (1, 3)):
            s[i, j] = s[j, i] = 1j * beta
        down = settings.lets_through("directivity", at)
        if down is not None:
            delta = beta * down
            self._passive(alpha, beta, delta)
            for i, j in ((0, 3), (1, 2)):
                s[i, j] = s[j, i] = 1j * delta
        return s

    @staticmethod
    def _passive(alpha, beta, delta):
        if np.all(alpha**2 + (beta + delta) ** 2 <= 1 + 1e-12):
            return
        room = 1.0 - (beta + delta) ** 2
        if np.any(room <= 0):
            raise ParameterError(
                "directivity", "a matched coupler cannot couple and leak this much",
                "raise the coupling or the directivity in dB",
            )
        least = np.max(-decibels(room / (1.0 - beta**2)))
        raise ParameterError(
            "insertion_loss",
            "no matched passive coupler has this coupling and directivity with so little loss",
            f"give an insertion_loss of at least {_up(least)} dB, or a higher directivity",
        )


@kind
class Hybrid(Kind):
    """A matched lossless four-port that halves the power, times the insertion loss.

    At 90 degrees the coupled way is j times the way through (a coupler of 3 dB).  At 180 degrees
    all entries are real and the one between `through` and `isolated` is negative: what enters by
    `through` and `coupled` meets as their sum at `in` and as their difference at `isolated`.
    D. M. Pozar, Microwave Engineering, ch. 7 (from memory): symmetric and antisymmetric couplers.
    """

    name = "hybrid"
    symbol = "hybrid"
    summary = "Halves the power of `in` between `through` and `coupled`, 90 or 180 degrees apart."
    port_names = ("in", "through", "coupled", "isolated")
    route = ("in", "through")
    parameters = (
        Parameter(
            "angle", Choice(("90 deg", "180 deg")),
            "90 deg: the halves are a quarter turn apart; 180 deg: sum and difference", "90 deg",
        ),
        Parameter("insertion_loss", LOSS, "dissipated on every path through", "0 dB"),
    )
    example = (
        "{id: Q1, kind: hybrid, stage: mixing, angle: 90 deg, insertion_loss: 0.3 dB, "
        "loads: [coupled, isolated]}"
    )

    def scattering(self, settings, at):
        half = settings.lets_through("insertion_loss", at) / np.sqrt(2.0)
        if settings["angle"] == "90 deg":
            entries = {(0, 1): half, (2, 3): half, (0, 2): 1j * half, (1, 3): 1j * half}
        else:
            entries = {(0, 1): half, (2, 3): half, (0, 2): half, (1, 3): -half}
        return entries | {(j, i): entry for (i, j), entry in entries.items()}

    def emission(self, settings, at, scattering):
        return evenly_lossy(4, settings.lets_through("insertion_loss", at), at.emitted)


def _up(loss_db):
    """Round a least loss up, so that what the message says will do."""
    return f"{np.ceil(loss_db * 1e4) / 1e4:.4f}"


