"""Where lines end: outside connectors and matched loads."""

from components.constants import H
from components.declaration import Caution, Kind, kind
from components.hot_films import HOT, TYPICAL, hot_problems, stated_law
from components.parameters import Measure, Parameter


@kind
class Port(Kind):
    """An outside connector; S = 0, seen from the line it is a matched source and receiver."""

    name = "port"
    also_called = ("connector", "feedthrough", "source", "input", "output")
    symbol = "port"
    unchanged_when_warm = True
    summary = "An outside connector: a matched source of noise and tones, and a receiver."
    noise = "Emits as a load at its temperature, or `emits`; what arrives gets `adds` on top."
    port_names = ("port",)
    route = ("port", None)
    states = ("ok", "open", "shorted")
    outside = True
    without = frozenset({"loads", "enter", "leave", "reversed", "extra_loss"})
    parameters = (
        Parameter(
            "emits", Measure("noise power density", over_frequency=True, zero=True),
            "noise sent into the line above the vacuum, in place of a load at its temperature",
        ),
        Parameter(
            "adds", Measure("noise power density", over_frequency=True, zero=True),
            "noise of the receiver behind the connector, counted where the signal arrives",
        ),
    )
    example = "{id: S1, kind: port, stage: room}"

    def fragility(self, settings):
        return 1

    def handling(self, settings):
        return (Caution("it is often a vacuum feedthrough: hold its body against turning"),)

    def scattering(self, settings, at):
        return {}

    def emission(self, settings, at, scattering):
        stated = settings.at("emits", at)
        if stated is None or at.uniform_k is not None:
            return {(0, 0): at.emitted}
        # A stated power density is what a receiver would read, so the vacuum comes on top.
        return {(0, 0): stated / (H * at.frequency_hz) + 0.5}

    def own_noise(self, settings, at):
        added = settings.at("adds", at)
        return None if added is None else added / (H * at.frequency_hz)


@kind
class Termination(Kind):
    """A matched load: S = 0, C = N(f, T); a film that tones warm (components.hot_films)."""

    name = "termination"
    also_called = ("load", "terminator")
    symbol = "termination"
    serves = "load"
    absorbs = True
    unchanged_when_warm = True
    summary = "A matched load at its stage."
    port_names = ("in",)
    route = ("in", None)
    states = ("ok", "open", "shorted")
    without = frozenset({"loads", "enter", "leave", "reversed", "extra_loss"})
    parameters = HOT
    example = "{id: T1, kind: termination, stage: plate}"

    def check(self, settings):
        """Yield what is missing of the law for a hot resistor."""
        yield from hot_problems(settings)

    def hot_law(self, settings):
        return stated_law(settings) or TYPICAL

    def scattering(self, settings, at):
        return {}
