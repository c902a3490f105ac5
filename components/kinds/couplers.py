"""Directional couplers."""

import numpy as np

from components.declaration import LOSS, Kind, Measure, Parameter, ParameterError, kind
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
    summary = "A directional coupler: `in` to `out`, and by the coupling to `coupled`."
    port_names = ("in", "out", "coupled", "isolated")
    parameters = (
        Parameter(
            "coupling", Measure("ratio", least=0.0, above=True, over_frequency=True),
            "power from `in` to `coupled`", required=True,
        ),
        Parameter("insertion_loss", LOSS, "dissipated on the way through", "0 dB"),
        Parameter(
            "directivity", Measure("ratio", least=0.0, over_frequency=True),
            "how far the leak to `isolated` lies below the coupling; infinite where not given",
        ),
    )
    example = (
        "{id: C1, kind: coupler, stage: mixing, coupling: 20 dB, insertion_loss: 0.2 dB, "
        "loads: [coupled, isolated]}"
    )

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


def _up(loss_db):
    """Round a least loss up, so that what the message says will do."""
    return f"{np.ceil(loss_db * 1e4) / 1e4:.4f}"


