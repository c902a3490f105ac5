"""Absorbers of infrared on a line."""

import numpy as np

from components.declaration import LOSS, Kind, kind
from components.direct_current import Passage
from components.hot_films import HOT, hot_problems, stated_law
from components.parameters import Measure, Parameter, ParameterError
from components.quantities import Table, power_ratio


@kind
class InfraredFilter(Kind):
    """A matched stretch of lossy filling: loss in dB = `loss` (f / `reference`)^`exponent`.

    A filling with a constant loss tangent loses in proportion to frequency, exponent one (D. M.
    Pozar, Microwave Engineering, ch. 3, dielectric loss of TEM waves; from memory).
    """

    name = "infrared-filter"
    also_called = ("ir-filter", "absorber")
    symbol = "infrared-filter"
    serves = "infrared"
    usual = {"loss": "0.3 dB", "reference": "6 GHz"}
    unchanged_when_warm = True
    summary = "An absorber whose loss grows with frequency, matched; keeps infrared off the line."
    noise = "Emits as a pad of its loss at its temperature."
    parameters = (
        Parameter(
            "loss", LOSS, "loss at `reference`, or a table of the loss over frequency",
            required=True,
        ),
        Parameter(
            "reference", Measure("frequency"),
            "frequency at which it has that loss; not with a table",
        ),
        Parameter(
            "exponent", Measure("number", least=0.0, most=4.0),
            "power of frequency with which the decibels grow; not with a table", "1",
            source="a filling with a constant loss tangent",
        ),
        *HOT,
    )
    example = (
        "{id: J1, kind: infrared-filter, stage: mixing, loss: 0.6 dB, reference: 6 GHz, "
        "exponent: 1}"
    )

    def check(self, settings):
        """Yield a power law that is not complete, or stands beside a table."""
        yield from hot_problems(settings)
        if settings.given("data"):
            return
        if not isinstance(settings["loss"], Table):
            if not settings.given("reference"):
                yield ParameterError(
                    "loss", "the loss grows with frequency, and where it is this is not said",
                    "give reference, the frequency of that loss, or a table of the loss",
                )
            return
        for name in ("reference", "exponent"):
            if settings.given(name):
                yield ParameterError(
                    name, f"the loss is a table, and {name} belongs to a power law",
                    f"take {name} out, or give the loss at one frequency",
                )

    def hot_law(self, settings):
        return stated_law(settings)

    def direct_current(self, settings, enter):
        """Its filling surrounds a centre conductor that goes through."""
        return Passage("out" if enter == "in" else "in", stated=False)

    def scattering(self, settings, at):
        loss_db = settings.at("loss", at)
        if settings.given("reference"):
            over = at.frequency_hz / settings.at("reference", at)
            loss_db = loss_db * over ** settings.at("exponent", at)
        through = np.sqrt(power_ratio(-loss_db))
        return {(0, 1): through, (1, 0): through}
