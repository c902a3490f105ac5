"""Looms of wires for direct current: heat without microwaves."""

import functools
import math
from dataclasses import replace

import numpy as np

from components.declaration import Caution, kind
from components.direct_current import resistance_along, temperatures_at_nodes
from components.heat_path import HeatPath
from components.materials import MissingProperty, OutsideRange
from components.parameters import Measure, Parameter, ParameterError, Reference, Whole
from components.strands import BUNDLE, Bundle


@kind
class Loom(Bundle):
    """Wires side by side that conduct heat and take no part in the microwave network.

    Insulation and jackets are left out: of a 0.13 mm phosphor bronze wire, 25 um of polyimide
    round it conduct up to 3 % as much.  A current along its line flows in every wire, half of them
    the way there and half of them the way back.
    """

    name = "loom"
    also_called = ("wires", "twisted-pairs", "dc-lines")
    symbol = "loom"
    summary = "A loom of equal wires for direct current: conducts heat, has no microwave ports."
    parameters = (
        *BUNDLE,
        Parameter("count", Whole(1, 100_000), "number of wires", required=True),
        Parameter(
            "material", Reference("material"), "what the wires are of: catalogue row or own",
            required=True,
        ),
        Parameter("diameter", Measure("length"), "diameter of a bare wire", example="0.13 mm"),
        Parameter(
            "gauge", Whole(0, 56), "American wire gauge of a bare wire, in place of its diameter",
            source="ASTM B258: 0.127 mm x 92^((36 - gauge)/39), from memory",
        ),
        Parameter(
            "critical_current", Measure("current"),
            "most direct current that a superconducting wire carries", fixed=True,
        ),
    )
    example = (
        "{id: L1, kind: loom, from: room, to: plate, via: {shield: 0.3 m}, length: 0.8 m, "
        "count: 24, material: phosphor-bronze, gauge: 36}"
    )

    def check(self, settings):
        """Yield what is missing or given twice."""
        if not settings.first("diameter", "gauge"):
            yield ParameterError(
                "diameter", "the thickness of its wires is not given", "give diameter or gauge"
            )
        if settings.given("diameter") and settings.given("gauge"):
            yield ParameterError("gauge", "diameter and gauge are both given", "keep one")
        yield from super().check(settings)

    def fragility(self, settings):
        return 4

    def handling(self, settings):
        return (Caution("fine wires: pull at the plug, never at the wires, and note which way it "
                        "was in"),)

    def heat_path(self, settings):
        """Return the HeatPath of all its wires."""
        return HeatPath(settings["material"], settings["count"] * _area_m2(settings), "material")

    def resistance(self, settings, at):
        """Return the Resistance of all its wires, the same current in each of them."""
        material, anchors = settings["material"], at.anchors
        between = functools.partial(_temperatures, material)
        try:
            one = resistance_along(
                temperatures_at_nodes(anchors, between), np.diff([part for part, _ in anchors]),
                settings["length"].value, [[(material, _area_m2(settings))]],
                [kelvin for _, kelvin in anchors],
            )
        except (OutsideRange, MissingProperty) as error:
            raise ParameterError(
                "material", str(error), "name another material, or one with data there"
            ) from error
        count = settings["count"]
        return replace(one, at_anchors_ohm=tuple(count * ohm for ohm in one.at_anchors_ohm))


def _area_m2(settings):
    """Return the cross-section of one wire, m^2."""
    if settings.given("gauge"):
        diameter_m = gauge_diameter_m(settings["gauge"])
    else:
        diameter_m = settings["diameter"].value
    return math.pi / 4 * diameter_m**2


def _temperatures(material, start_k, end_k, position):
    if start_k == end_k:
        return start_k
    start, end = (material.theta(temperature_k=kelvin) for kelvin in (start_k, end_k))
    return material.temperature_at(theta_w_per_m=start + (end - start) * position)


def gauge_diameter_m(gauge):
    """Return the diameter (m) of a wire of an American gauge (ASTM B258, from memory)."""
    return 0.127e-3 * 92 ** ((36 - gauge) / 39)
