"""Cautions before and while a cryostat is opened; common practice, no source, unless stated."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from chain.layout.layout import Layout

PRACTICE = "common practice, no source"

AUTHORITY = (
    "The maker's instructions, the local rules and qualified staff go before this sheet, which "
    "knows only what the layout says."
)

COLD_K = 273.0
"""A stage below this stands in a vacuum that something cold keeps up."""

DILUTION_K = 0.25
"""Below this a mixture of helium isotopes or a magnet cools (common practice, no source)."""


def general(layout: Layout) -> tuple[tuple[str, str], ...]:
    """Return (subject, caution) of what this layout has, in the order in which they are heeded."""
    coldest_k = min((stage.temperature_k for stage in layout.stages.values()), default=COLD_K)
    elements = layout.elements.values()
    driven = layout.tones or any(one.kind.harmed_by_meter(one.settings) for one in elements)
    asked = (
        (coldest_k < DILUTION_K, "mixture",
         "Where a mixture cools: all of it back in its tank by the maker's procedure, its pumps "
         "off and its valves shut, before anything is warmed or opened. A magnet that cools: at "
         "zero current."),
        (coldest_k < COLD_K, "cold",
         "Everything at room temperature before anything is opened: cold metal burns, and air "
         "freezes into cold joints. Helium and nitrogen gas take the place of air: heed the oxygen "
         "alarm, keep the room ventilated."),
        (coldest_k < COLD_K, "pressure",
         "Vacuum and gas as the maker says, relief valves free: liquid or ice shut in where it "
         "warms up bursts what holds it. Open no can under pressure or vacuum."),
        (coldest_k < COLD_K, "lifting",
         "Shields, cans and plates are heavy: two people or the hoist that the maker names, a "
         "support under the load before its last fastener, nobody below."),
        (driven, "RF power",
         "Every generator, pump source and amplifier supply off and locked against switching on "
         "before a joint is opened; high power burns where a line is open."),
        (any(one.kind.carries_light for one in elements), "light",
         "Lasers and fibre sources off and locked; never look into a fibre."),
        (True, "not listed",
         "What the layout does not have (magnets and their leads, fibres, wires, gas lines, "
         "supports) comes out by its maker's instructions; what is finest first of all."),
    )
    return tuple((about, text) for has, about, text in asked if has)


PUSH_ON = "small push-on connector: pull straight along its axis with the tool for it, never askew"
NUT = "hold both bodies still, turn the nut alone"
BUNDLE = "one of a bundle"


def bundle(count: int, warm: str, cold: str) -> str:
    """Return the caution about many cables between the same two stages."""
    return (f"{BUNDLE} of {count} between {warm} and {cold}: a bundle of coax is a spring, so "
            "support the load before the last one lets go")


MANY = 4
"""Cables between two stages from which on they are a bundle (common practice, no source)."""

_SHORT = ("centre to outer is no short, or reads the resistance of a pad, load or coupler in the "
          "path")
CONTINUITY = f"continuity: the outer conductors are connected; {_SHORT}"
BEFORE = ("continuity before the joint is made, at the end that leads to nothing a meter harms: "
          f"{_SHORT}; afterwards no meter")
NO_METER = ("no meter on a centre conductor, whose current destroys a transistor's input or a "
            "junction: gap, thread and seat by eye, outer conductors alone from body to body")
SEATED = "it sits flat on clean bare faces, its screws tight as its maker says"
THROUGH = ("it conducts from end to end and nothing touches ground: wires with a meter while "
           "unplugged at both ends, fibre as its maker says, nobody looking in")


def analyser(harmed: str) -> str:
    """Return what goes before an analyser is connected to a line with elements that it can harm."""
    return f"before that discharge the analyser, lowest power: it leads to {harmed}"
