"""Transistor amplifiers."""

import numpy as np

from components.active import ACCEPTED_NOISE, FOUR, NOISE, active_two_port, noise_problems
from components.bounds import MOST_NOISE_K
from components.declaration import GAIN, LOSS, Caution, Kind, kind
from components.faults import LESS_GAIN, MORE_GAIN, in_state, noisier, shifted
from components.nport import NPort
from components.parameters import Measure, Parameter, ParameterError
from components.phases import backward, reflection_phase
from components.quantities import power_ratio

LEVELS = (
    Parameter(
        "p1db_out", Measure("power"), "output level at which the gain has dropped by 1 dB",
        example="-10 dBm",
    ),
    Parameter("p1db_in", Measure("power"), "the same as a level at the input", example="-45 dBm"),
)
UNPOWERED_DB = 15.0, 40.0
"""Loss of an amplifier without bias, either way: least and most (common practice, no source)."""


@kind
class Amplifier(Kind):
    """A transistor amplifier: S21 = sqrt(gain), S12 = 0 or the reverse isolation.

    Its output carries gain times the added quanta kT/hf; toward its source it emits thermally at
    its stage, or at `input_emission`.  The four noise parameters, given or in its file, say both
    and how they correlate (components.noise_parameters).  The bound C +- (I - S S^H)/2 >= 0 holds
    always: added noise below (1 - 1/gain)/2 is refused (C. M. Caves, Phys. Rev. D 26, 1817, 1982,
    eq. for phase-preserving amplifiers).  Without bias it is a passive two-port at its stage.
    """

    name = "amplifier"
    also_called = ("lna", "hemt", "amp")
    symbol = "amplifier"
    serves = "gain"
    usual = {"gain": "35 dB", "noise_temperature": "3 K", "bias": "10 mW"}
    summary = "A transistor amplifier with gain and noise; dead, a lossy two-port at its stage."
    noise = (
        "Adds kT/hf quanta at its input; toward its source it emits as a load at its stage, or "
        "what its noise parameters say, correlated with what it adds."
    )
    states = ("ok", "off", "dead", "bypassed", "open", "shorted")
    passive = False
    parameters = (
        Parameter(
            "gain", GAIN, "power gain in 50 ohm"
        ),
        *NOISE,
        Parameter(
            "input_emission", Measure("temperature", most=MOST_NOISE_K, zero=True),
            "temperature of what it emits toward its source, in place of its stage's",
            example="4 K",
        ),
        Parameter(
            "reverse_isolation", LOSS, "loss from output to input; infinite where not given"
        ),
        *LEVELS,
        Parameter(
            "ip3_out", Measure("power"), "third-order intercept at the output", example="0 dBm"
        ),
        Parameter("bias", Measure("power", zero=True), "power that it dissipates", "0 W"),
        Parameter(
            "unpowered_loss", LOSS,
            "loss in both directions without bias; 15 to 40 dB where not given", "25 dB",
            source="common practice, no source",
        ),
    )
    example = (
        "{id: H1, kind: amplifier, stage: plate, gain: 36 dB, noise_temperature: 2.2 K, "
        "bias: 9 mW}"
    )

    def known_warm(self, settings):
        """Without `warm:` it is unbiased then, and its loss without bias is known."""
        return True

    def amplifies(self, settings):
        return settings["state"] == "ok"

    def assumed(self, settings):
        """Return the loss without bias, where it has none and nobody gave it."""
        unpowered = settings["state"] in ("off", "dead") and not settings.given("data")
        if not unpowered or settings.given("unpowered_loss"):
            return {}
        return {"unpowered_loss": UNPOWERED_DB}

    def holds_reflections(self, settings):
        """In working order gain and noise are 50 ohm values with the reflections in place."""
        return settings["state"] == "ok"

    def phases(self, settings):
        leaks = settings["state"] == "ok" and settings.given("reverse_isolation")
        return backward("reverse_isolation") if leaks else ()

    def check(self, settings):
        """Yield what is missing or given twice."""
        if not settings.given("gain") and not settings.given("data"):
            yield ParameterError("gain", "the amplifier has no gain", "give gain, or data")
        if not settings.first("data", *(parameter.name for parameter in NOISE)):
            yield ParameterError(
                "noise_temperature", "the amplifier's noise is not given", ACCEPTED_NOISE
            )
        yield from noise_problems(settings)
        if settings.given("input_emission") and settings.first(*FOUR):
            yield ParameterError(
                "input_emission", "the noise parameters say what it emits toward its source",
                "take input_emission out",
            )

    def faults(self, settings):
        found = [in_state("dead", 3.0)]
        if settings.given("gain"):
            found += [shifted("gain", -1, 2.0, "less gain", LESS_GAIN),
                      shifted("gain", 1, 0.5, "more gain", MORE_GAIN)]
        name = settings.first("noise_temperature", "noise_figure", *FOUR[:2])
        return (*found, *([noisier(name, 2.0)] if name is not None else []))

    def handling(self, settings):
        return (Caution("switch its bias off at the supply and wait before a connector is touched; "
                        "static charge destroys it: earth yourself, the tool and the cable first"),)

    def dissipates(self, settings):
        if settings["state"] != "ok":
            return 0.0
        return settings["bias"].value

    def respond(self, settings, at):
        if settings["state"] in ("off", "dead"):
            return self._unpowered(settings, at)
        s = {(1, 0): np.sqrt(power_ratio(settings.at("gain", at)))}
        back = settings.lets_through("reverse_isolation", at)
        if back is not None:
            s[0, 1] = back
        reflection = settings.lets_through("return_loss", at)
        if reflection is not None:
            s[0, 0] = reflection * reflection_phase(settings, at, "in")
            s[1, 1] = reflection * reflection_phase(settings, at, "out")
        return active_two_port(settings, at, s)

    @staticmethod
    def _unpowered(settings, at):
        through = settings.lets_through("unpowered_loss", at)
        s = {(0, 1): through, (1, 0): through}
        return NPort.thermal(("in", "out"), s, at.emitted)
