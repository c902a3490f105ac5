"""Filters on wires for direct current: what they dissipate, and where they cut."""

import math

from components.declaration import Caution, Kind, kind
from components.parameters import Measure, Parameter, ParameterError, Whole


@kind
class WireFilter(Kind):
    """Equal low-pass filters on the wires of a loom, one a wire, anchored at a stage.

    It takes no part in the microwave network.  With `resistance` in series and `capacitance` to
    ground each is -3 dB at 1/(2 pi R C) for a source of no resistance and no load; a `current` in
    every wire leaves count I^2 R at the stage.
    """

    name = "wire-filter"
    also_called = ("dc-filter", "rc-filter", "loom-filter")
    summary = "Low-pass filters on wires for direct current: no microwave ports, heat by current."
    noise = "None: no microwave ports."
    port_names = ()
    route = (None, None)
    states = ("ok",)
    parameters = (
        Parameter("count", Whole(1, 100_000), "number of wires", required=True),
        Parameter("resistance", Measure("resistance"), "in series, of one wire", example="1 kohm"),
        Parameter("capacitance", Measure("capacitance"), "to ground, of one wire",
                  example="10 nF"),
        Parameter(
            "cutoff", Measure("frequency"), "frequency at which it is down by 3 dB, as stated by "
            "its maker", example="15 kHz",
        ),
        Parameter("current", Measure("current"), "direct current in every wire", example="1 uA"),
    )
    without = frozenset({
        "reversed", "enter", "leave", "loads", "return_loss", "phase", "data", "extra_loss",
        "connector_loss", "warm", "connectors", "band",
    })
    example = (
        "{id: N1, kind: wire-filter, stage: mixing, count: 24, resistance: 1 kohm, "
        "capacitance: 10 nF}"
    )

    def check(self, settings):
        """Yield a current without the resistance that it warms, and a cutoff told twice."""
        if settings.given("current") and not settings.given("resistance"):
            yield ParameterError(
                "current", "a current flows, and what it warms is not given", "give resistance"
            )
        if settings.given("cutoff") and settings.given("capacitance"):
            yield ParameterError(
                "cutoff", "cutoff and capacitance both say where it cuts", "keep one"
            )

    def cutoff_hz(self, settings):
        """Return the frequency at which it is down by 3 dB, Hz; None where nothing says it."""
        if settings.given("cutoff"):
            return settings["cutoff"].value
        if settings.given("resistance") and settings.given("capacitance"):
            return 1 / (2 * math.pi * settings["resistance"].value * settings["capacitance"].value)
        return None

    def dissipates(self, settings):
        """Return count I^2 R, watt."""
        if not settings.given("current"):
            return 0.0
        return settings["count"] * settings["current"].value**2 * settings["resistance"].value

    def cautions(self, settings, at):
        """Yield that nothing says where it cuts, or that it lets the band pass that is of interest.
        """
        cutoff_hz = self.cutoff_hz(settings)
        if cutoff_hz is None:
            yield "nothing says where it cuts: give resistance and capacitance, or cutoff"
        elif cutoff_hz >= at.frequency_hz.min():
            yield f"it cuts at {cutoff_hz / 1e9:g} GHz only, inside the band or above it"

    def handling(self, settings):
        return (Caution("fine wires on both sides: pull at the plugs alone, and short them while "
                        "they are unplugged"),)

    def scattering(self, settings, at):
        return {}
