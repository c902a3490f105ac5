"""Thermal straps between stages, meant or not: heat without microwaves."""

import math

from components.declaration import Caution, kind
from components.heat_path import HeatPath
from components.parameters import Measure, Parameter, ParameterError, Reference, Whole
from components.strands import BUNDLE, Bundle


@kind
class Strap(Bundle):
    """A piece of one solid that joins stages: a braid, a foil, a rod, a support.

    It conducts count times area times the integral of its conductivity over its length.  What its
    two joints resist is left out: at a few millikelvin they may resist more than the strap.
    """

    name = "strap"
    also_called = ("braid", "thermal-link", "support", "heat-strap")
    symbol = "loom"
    bare = True
    summary = "A solid between stages that conducts heat: strap, braid, support."
    parameters = (
        *BUNDLE,
        Parameter(
            "material", Reference("material"), "what it is of: catalogue row or own", required=True,
        ),
        Parameter("area", Measure("area"), "cross-section of one", example="4 mm^2"),
        Parameter(
            "diameter", Measure("length"), "diameter of a round one, in place of its area",
            example="3 mm",
        ),
        Parameter("count", Whole(1, 100_000), "how many equal ones, side by side", "1"),
    )
    example = (
        "{id: B1, kind: strap, from: plate, to: mixing, length: 0.15 m, area: 4 mm^2, "
        "material: copper-rrr50}"
    )

    def check(self, settings):
        """Yield a cross-section that is missing or given twice."""
        given = [name for name in ("area", "diameter") if settings.given(name)]
        if not given:
            yield ParameterError("area", "its cross-section is not given", "give area or diameter")
        if len(given) > 1:
            yield ParameterError("diameter", "area and diameter are both given", "keep one")
        yield from super().check(settings)

    def fragility(self, settings):
        return 3

    def handling(self, settings):
        return (Caution("what it joins is no longer cooled, or hangs no longer, once it is open: "
                        "support both sides first; bare contact faces stay clean and untouched"),)

    def heat_path(self, settings):
        """Return the HeatPath of all of them."""
        if settings.given("area"):
            area_m2 = settings["area"].value
        else:
            area_m2 = round_area_m2(settings["diameter"].value)
        return HeatPath(settings["material"], settings["count"] * area_m2, "material")


def round_area_m2(diameter_m):
    """Return the cross-section (m^2) of a round rod or wire."""
    return math.pi / 4 * diameter_m**2
