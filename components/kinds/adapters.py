"""Adapters and feedthroughs: short matched pieces that are there for their connectors."""

from components.declaration import LOSS, Caution, Kind, kind
from components.parameters import Parameter


@kind
class Adapter(Kind):
    """A matched two-port between two kinds of connector: S21 = S12 = 10^(-insertion_loss/20)."""

    name = "adapter"
    also_called: tuple[str, ...] = ("between-series", "gender-changer", "barrel")
    summary = "An adapter between connectors: a short matched piece with a little loss."
    unchanged_when_warm = True
    parameters = (
        Parameter("insertion_loss", LOSS, "loss from one port to the other", "0 dB"),
    )
    example = (
        "{id: K1, kind: adapter, stage: plate, insertion_loss: 0.05 dB, connectors: "
        "{in: SMA female, out: SMP male}}"
    )

    def scattering(self, settings, at):
        through = settings.lets_through("insertion_loss", at)
        return {(0, 1): through, (1, 0): through}


@kind
class Feedthrough(Adapter):
    """A line through a wall that holds vacuum: an adapter that is part of the can."""

    name = "feedthrough"
    also_called = ("vacuum-feedthrough", "bulkhead")
    summary = "A line through the wall of a can: a short matched piece with a little loss."
    example = "{id: K2, kind: feedthrough, stage: room, insertion_loss: 0.1 dB}"

    def fragility(self, settings):
        return 1

    def handling(self, settings):
        return (Caution("it is part of the wall that holds the vacuum: hold its body against "
                        "turning, never its nut on the wall; turned, it is leak checked again"),)
