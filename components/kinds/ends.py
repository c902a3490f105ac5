"""Where lines end: outside connectors and matched loads."""

from components.constants import Z0, H
from components.declaration import Caution, Kind, kind
from components.direct_current import Passage
from components.hot_films import HOT, TYPICAL, hot_problems, stated_law
from components.parameters import Measure, Parameter, ParameterError


@kind
class Port(Kind):
    """An outside connector; S = 0, seen from the line it is a matched source and receiver."""

    name = "port"
    also_called = ("connector", "source", "input", "output")
    symbol = "port"
    unchanged_when_warm = True
    summary = "An outside connector: a matched source of noise and tones, and a receiver."
    noise = (
        "Emits as a load at its temperature, or `emits`, and beside tones what their `noise` says; "
        "what arrives gets `adds` on top."
    )
    port_names = ("port",)
    route = ("port", None)
    states = ("ok", "open", "shorted")
    outside = True
    without = frozenset({"loads", "enter", "leave", "reversed", "extra_loss", "connector_loss"})
    parameters = (
        Parameter(
            "emits", Measure("noise power density", over_frequency=True, zero=True),
            "noise sent into the line above the vacuum, in place of a load at its temperature",
        ),
        Parameter(
            "adds", Measure("noise power density", over_frequency=True, zero=True),
            "noise of the receiver behind the connector, counted where the signal arrives",
        ),
        Parameter(
            "max_output", Measure("power"),
            "rating: the most that the generator behind the connector gives", fixed=True,
        ),
        Parameter(
            "full_scale", Measure("power"),
            "rating: the largest sine that the receiver or digitiser takes", fixed=True,
        ),
        Parameter(
            "effective_bits", Measure("number", least=1.0, most=32.0),
            "effective number of bits of a digitiser, in place of `adds`; with full_scale",
            fixed=True,
        ),
        Parameter(
            "sample_rate", Measure("frequency"),
            "samples a second of a digitiser: its noise is spread over half of that", fixed=True,
        ),
    )
    example = "{id: S1, kind: port, stage: room}"

    def check(self, settings):
        """Yield what a digitiser's noise lacks, or has twice."""
        if not settings.given("effective_bits"):
            return
        for name in ("full_scale", "sample_rate"):
            if not settings.given(name):
                yield ParameterError(
                    "effective_bits", f"effective_bits is given, and {name} is not",
                    "give full_scale and sample_rate, or the noise as `adds`",
                )
        if settings.given("adds"):
            yield ParameterError(
                "adds", "the receiver's noise is given by adds and by effective_bits", "keep one"
            )

    def fragility(self, settings):
        return 1

    def handling(self, settings):
        return (Caution("it is often a vacuum feedthrough: hold its body against turning"),)

    def direct_current(self, settings, enter):
        return Passage(None)

    def scattering(self, settings, at):
        return {}

    def emission(self, settings, at, scattering):
        stated = settings.at("emits", at)
        if at.uniform_k is not None:
            return {(0, 0): at.emitted}
        # A stated power density is what a receiver would read, so the vacuum comes on top.
        floor = at.emitted if stated is None else stated / (H * at.frequency_hz) + 0.5
        beside = sum(generator.quanta(at.frequency_hz) for generator in at.generators)
        return {(0, 0): floor + beside}

    def own_noise(self, settings, at):
        added = settings.at("adds", at)
        if settings.given("effective_bits"):
            added = digitiser_noise_w_hz(
                full_scale_w=settings["full_scale"].value,
                effective_bits=settings["effective_bits"].value,
                sample_rate_hz=settings["sample_rate"].value,
            )
        return None if added is None else added / (H * at.frequency_hz)


def digitiser_noise_w_hz(
    *, full_scale_w: float, effective_bits: float, sample_rate_hz: float
) -> float:
    """Return the noise of a digitiser (W/Hz) from its effective number of bits.

    Noise and distortion lie 6.02 dB a bit + 1.76 dB below a full-scale sine (exactly 3/2 x 4^bits)
    and are spread evenly over half the sample rate (definition of the effective number of bits,
    IEEE 1057 form, read second-hand).
    """
    return full_scale_w / (1.5 * 4.0**effective_bits) / (sample_rate_hz / 2.0)


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
    without = frozenset({"loads", "enter", "leave", "reversed", "extra_loss", "connector_loss"})
    parameters = HOT
    example = "{id: T1, kind: termination, stage: plate}"

    def check(self, settings):
        """Yield what is missing of the law for a hot resistor."""
        yield from hot_problems(settings)

    def hot_law(self, settings):
        return stated_law(settings) or TYPICAL

    def direct_current(self, settings, enter):
        return Passage(None, Z0)

    def scattering(self, settings, at):
        return {}
