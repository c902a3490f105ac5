"""Optical fibres: in the layout for the hands that build it, outside the microwave network."""

import math

from components.declaration import Caution, kind
from components.heat_path import HeatPath
from components.parameters import Measure, Parameter, Reference, Whole
from components.strands import BUNDLE, Bundle


@kind
class Fibre(Bundle):
    """Optical fibres side by side, which take no part in the microwave network.

    What they conduct is known where `material` says what they are of: glass alone counts, coats and
    jackets are left out; light that a stage absorbs is the stage's `other` load.
    """

    name = "fibre"
    symbol = "fibre"
    carries_light = True
    summary = "Optical fibres: no microwave ports; conduct heat where their material is given."
    parameters = (
        *BUNDLE,
        Parameter("count", Whole(1, 10_000), "number of fibres", "1"),
        Parameter("material", Reference("material"), "what conducts: catalogue row or own"),
        Parameter(
            "diameter", Measure("length"), "diameter of the glass",
            "0.125 mm", source="ITU-T G.652, cladding diameter, from memory",
        ),
    )
    example = "{id: O1, kind: fibre, from: room, to: plate, length: 1.5 m}"

    def fragility(self, settings):
        return 5

    def handling(self, settings):
        return (Caution("fibre bears pull along itself and no kink: keep every bend wider than its "
                        "maker says, cap both ends at once, light off, never look into an end"),)

    def heat_path(self, settings):
        """Return the HeatPath of its glass, or None where its material is not given."""
        if not settings.given("material"):
            return None
        area_m2 = settings["count"] * math.pi / 4 * settings["diameter"].value ** 2
        return HeatPath(settings["material"], area_m2, "material")
