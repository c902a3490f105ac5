"""Diplexers: two bands on one connector."""

import numpy as np

from components.declaration import LOSS, Kind, kind
from components.direct_current import BLOCKED, Passage
from components.parameters import Measure, Parameter, Whole
from components.phases import planes


@kind
class Diplexer(Kind):
    """A complementary Butterworth pair: matched at `common`, lossless but for the insertion loss.

    To `low` goes 1/B(s), to `high` s^N/B(s) with B the Butterworth polynomial and s = j f/f0, so
    the two powers add to one at every frequency.  With `common` matched, unitarity fixes the rest:
    `low` reflects |high|^2, `high` reflects |low|^2.  G. L. Matthaei, L. Young and E. M. T. Jones,
    Microwave Filters, Impedance-Matching Networks, and Coupling Structures (1964), ch. 16 (from
    memory).
    """

    name = "diplexer"
    symbol = "diplexer"
    unchanged_when_warm = True
    summary = "Parts what arrives at `common` by frequency: to `low` below, to `high` above."
    port_names = ("common", "low", "high")
    route = ("common", "low")
    parameters = (
        Parameter(
            "crossover", Measure("frequency"),
            "frequency at which the power parts in halves", required=True,
        ),
        Parameter("order", Whole(1, 21), "order of the filters", "5"),
        Parameter("insertion_loss", LOSS, "dissipated on every path through", "0 dB"),
    )
    example = (
        "{id: Y1, kind: diplexer, stage: mixing, crossover: 9.5 GHz, order: 11, loads: [high]}"
    )

    def direct_current(self, settings, enter):
        """It goes between `common` and `low`, whose ladder has inductors in series."""
        between = {"common": "low", "low": "common"}
        if enter not in between:
            return BLOCKED
        return Passage(between[enter], stated=False)

    def phases(self, settings):
        return planes("crossover", "low", "high")

    def scattering(self, settings, at):
        order, kept = settings["order"], settings.lets_through("insertion_loss", at)
        s = 1j * at.frequency_hz / settings.at("crossover", at)
        low = 1.0 / butterworth(s, order)
        high = s**order * low
        size = np.abs(low)
        # Phases of a real unitary matrix are free at each port; the ladder's are taken.
        turn_low, turn_high = low / size, high / np.abs(high)
        return {
            (0, 1): kept * low, (1, 0): kept * low,
            (0, 2): kept * high, (2, 0): kept * high,
            (1, 1): kept * np.abs(high) ** 2 * turn_low**2,
            (2, 2): kept * size**2 * turn_high**2,
            (1, 2): -kept * size * np.abs(high) * turn_low * turn_high,
            (2, 1): -kept * size * np.abs(high) * turn_low * turn_high,
        }


def butterworth(s, order):
    """Return the Butterworth polynomial of `order` at s = j f/f0 (array), |B|^2 = 1 + (f/f0)^2N.

    S. Butterworth, On the theory of filter amplifiers (1930).
    """
    poles = np.exp(1j * np.pi * (2 * np.arange(1, order + 1) + order - 1) / (2 * order))
    result = np.ones_like(s)
    for pole in poles:
        result = result * (s - pole)
    return result
