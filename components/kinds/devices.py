"""The device under test."""

from components.declaration import LOSS, Caution, Kind, kind
from components.direct_current import Passage
from components.parameters import Flag, Parameter
from components.phases import mirrored


@kind
class Device(Kind):
    """What the lines are for: a matched through, or with `reflects` a mirror."""

    name = "device"
    also_called = ("sample", "qubit", "dut", "chip")
    symbol = "device"
    is_device = True
    unchanged_when_warm = True
    summary = "What the lines are for: a through, or with `reflects: true` a one-port mirror."
    parameters = (
        Parameter("loss", LOSS, "loss through it, or of one reflection", "0 dB"),
        Parameter("reflects", Flag(), "one port `in` that sends back what arrives", "false",
                  fixed=True),
    )
    example = "{id: D1, kind: device, stage: mixing}"

    def ports(self, settings):
        return ("in",) if settings["reflects"] else ("in", "out")

    def default_route(self, settings):
        return ("in", None) if settings["reflects"] else ("in", "out")

    def fragility(self, settings):
        return 3

    def handling(self, settings):
        return (Caution("ask whoever put it in what it bears; earth yourself, cap its connectors"),)

    def direct_current(self, settings, enter):
        """A mirror ends it in a short, as a flux line's loop does; a through passes it."""
        if settings["reflects"]:
            return Passage(None)
        return Passage("out" if enter == "in" else "in", stated=False)

    def phases(self, settings):
        return mirrored("reflects", "in") if settings["reflects"] else ()

    def scattering(self, settings, at):
        through = settings.lets_through("loss", at)
        if settings["reflects"]:
            return {(0, 0): through}
        return {(0, 1): through, (1, 0): through}
