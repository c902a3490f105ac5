"""Matched pads."""

from components.declaration import LOSS, Kind, kind
from components.parameters import Measure, Parameter, ParameterError


@kind
class Attenuator(Kind):
    """A matched, reciprocal pad: S21 = S12 = 10^(-loss/20).

    Tones that it absorbs may warm its resistors above its stage: Tn^m = T^m + (P/P0) T1^m, with
    P0 `hot_power`, T1 `hot_temperature`, m `hot_exponent`, P what it absorbs of all tones.  One
    temperature stands for all of its resistors.  Left out unless P0 and T1 are given.
    """

    name = "attenuator"
    also_called = ("pad",)
    symbol = "attenuator"
    absorbs = True
    unchanged_when_warm = True
    summary = "A matched pad that absorbs its loss at its stage."
    parameters = (
        Parameter("loss", LOSS, "loss from one port to the other", required=True),
        Parameter(
            "hot_power", Measure("power"),
            "absorbed power P0 that warms its resistors to hot_temperature on a stage at 0 K",
            example="1 uW",
        ),
        Parameter(
            "hot_temperature", Measure("temperature"),
            "noise temperature T1 that hot_power gives on a stage at 0 K", example="100 mK",
        ),
        Parameter(
            "hot_exponent", Measure("number", least=1.0, most=10.0),
            "m in Tn^m = T^m + (P/P0) T1^m", "5",
            source="electrons cooled by phonons: F. C. Wellstood, C. Urbina, J. Clarke, "
            "Phys. Rev. B 49, 5942 (1994), reference from memory",
        ),
    )
    example = "{id: A1, kind: attenuator, stage: plate, loss: 20 dB}"

    def check(self, settings):
        """Yield what is missing of the law for hot resistors."""
        law = ("hot_power", "hot_temperature")
        given = settings.first(*law, "hot_exponent")
        for name in law:
            if given is not None and not settings.given(name):
                yield ParameterError(
                    given, f"{given} is given, and {name} is not",
                    "give hot_power and hot_temperature, or neither",
                )

    def scattering(self, settings, at):
        through = settings.lets_through("loss", at)
        return {(0, 1): through, (1, 0): through}

    def has_hot_resistor(self, settings):
        return settings.given("hot_power")

    def hot_k(self, settings, *, temperature_k, absorbed_w):
        if not settings.given("hot_power"):
            return temperature_k
        part = absorbed_w / settings["hot_power"].value
        exponent = settings["hot_exponent"].value
        # Sizes in terms of the hotter one: a power of 10 of a few millikelvin would underflow.
        warm_k = settings["hot_temperature"].value * part ** (1 / exponent)
        top = max(warm_k, temperature_k)
        if top == 0:
            return 0.0
        return top * ((temperature_k / top) ** exponent + (warm_k / top) ** exponent) ** (
            1 / exponent
        )
