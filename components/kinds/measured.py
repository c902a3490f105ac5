"""Whatever has been measured and saved as a Touchstone file."""

from components.active import NOISE, noise_problems
from components.declaration import Kind, kind
from components.parameters import DataFile, Parameter


@kind
class Measured(Kind):
    """An n-port given by its file alone; its ports are numbered, a two-port's also in and out."""

    name = "measured"
    symbol = "measured"
    breaks = True
    summary = "Any n-port given by a Touchstone file."
    noise = (
        "A passive file emits as a passive part at its temperature; an active two-port needs its "
        "noise stated, or noise data in the file."
    )
    without = frozenset({"data"})
    parameters = (
        Parameter("data", DataFile(), "Touchstone file", required=True),
        *NOISE,
    )
    example = "{id: M1, kind: measured, stage: mixing, data: filter.s2p}"

    def check(self, settings):
        """Yield noise that is stated twice, or by half."""
        yield from noise_problems(settings)

    def ports(self, settings):
        count = settings["data"].ports
        return ("in", "out") if count == 2 else tuple(str(i + 1) for i in range(count))

    def default_route(self, settings):
        ports = self.ports(settings)
        return (ports[0], ports[1]) if len(ports) > 1 else (ports[0], None)

    def is_amplifier(self, settings):
        return self.amplifies(settings)

    def amplifies(self, settings):
        return settings["data"].active
