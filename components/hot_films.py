"""Absorbers that are warmer than their stage while they absorb tones."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from components.parameters import Measure, Parameter, ParameterError

if TYPE_CHECKING:
    from components.settings import Settings

EITHER_WAY = 10.0
"""How far, as a factor, an assumed power of a film may be off, either way: our assumption."""


GAMMA_OVER_5_SIGMA = 97.7 / (5 * 2.4e9)
"""Heat capacity of a film's electrons over five times their coupling, s K^3: 97.7 J/(m^3 K^2) of
copper (free electrons, from memory) and Sigma 2.4e9 W/(m^3 K^5) (Wellstood, Urbina, Clarke 1994,
abstract)."""


def electron_time_s(temperature_k: float) -> float:
    """Return the time (s) in which a film's electrons follow a tone: 8 us at 100 mK, 1 ms at 20 mK.

    gamma/(5 Sigma T^3), the fifth-power law linearised at the temperature.
    """
    return GAMMA_OVER_5_SIGMA / temperature_k**3


@dataclass(frozen=True)
class HotLaw:
    """Tn^m = T^m + (P/P0) T1^m: the noise temperature of an absorber on a stage at T, absorbing P.

    With m = 5 these are electrons that phonons cool, P0/T1^5 = Sigma V the coupling times the
    film's volume: T = (P/(Sigma V) + T0^5)^(1/5) (F. C. Wellstood, C. Urbina, J. Clarke, Phys.
    Rev. B 49, 5942 (1994)).
    """

    power_w: float
    """P0, watt."""
    kelvin: float
    """T1, kelvin."""
    exponent: float
    """m."""
    assumed: bool = False
    """True where the layout does not give it."""

    def temperature_k(
        self, *, stage_k: float, absorbed_w: float, factor: float = 1.0
    ) -> float:
        """Return Tn (K) on a stage at `stage_k` (K), P0 times a factor."""
        # Sizes in terms of the hotter one: a power of 10 of a few millikelvin would underflow.
        warm_k = self.kelvin * (absorbed_w / (self.power_w * factor)) ** (1 / self.exponent)
        top = max(warm_k, stage_k)
        if top == 0:
            return 0.0
        return top * (
            (stage_k / top) ** self.exponent + (warm_k / top) ** self.exponent
        ) ** (1 / self.exponent)


TYPICAL = HotLaw(2e-4, 1.0, 5.0, assumed=True)
"""A resistive film of which nothing is known: Sigma V = 2e-4 W/K^5.

Sigma (2.4 +- 0.6)e9 W/(m^3 K^5) of gold with copper (Wellstood, Urbina, Clarke 1994, abstract);
the volume of 1e-13 m^3 is our assumption.  62 pW take 20 mK to 50 mK, 1 nW to 87 mK.
"""

HOT = (
    Parameter(
        "hot_power", Measure("power"),
        "absorbed power P0 that warms it to hot_temperature on a stage at 0 K",
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
"""Parameters of what absorbs tones: a measured power and the temperature that it gives."""


def hot_problems(settings: Settings) -> Iterator[ParameterError]:
    """Yield what is missing of a stated law."""
    law = ("hot_power", "hot_temperature")
    given = settings.first(*law, "hot_exponent")
    for name in law:
        if given is not None and not settings.given(name):
            yield ParameterError(
                given, f"{given} is given, and {name} is not",
                "give hot_power and hot_temperature, or neither",
            )


def stated_law(settings: Settings) -> HotLaw | None:
    """Return the HotLaw that the layout gives, or None."""
    if not settings.given("hot_power"):
        return None
    return HotLaw(
        settings["hot_power"].value, settings["hot_temperature"].value,
        settings["hot_exponent"].value,
    )
