"""Cautions before and while a cryostat is opened; common practice, no source, unless stated."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    pass

PRACTICE = "common practice, no source"

AUTHORITY = (
    "The cryostat maker's instructions, the local rules and qualified staff go before this sheet, "
    "which knows only what the layout says."
)

GENERAL = (
    ("cold", "Everything at room temperature before anything is opened: cold metal burns, and air "
     "freezes into cold joints. Helium and nitrogen gas take the place of air: heed the oxygen "
     "alarm, keep the room ventilated."),
    ("pressure", "Vacuum and gas as the maker says, relief valves free: liquid or ice shut in "
     "where it warms up bursts what holds it. Open no can under pressure or vacuum."),
    ("lifting", "Shields, cans and plates are heavy: two people or the hoist that the maker names, "
     "a support under the load before its last fastener, nobody below."),
    ("RF power", "Every generator, pump source and amplifier supply off and locked against "
     "switching on before a joint is opened; high power burns where a line is open."),
    ("magnets", "Magnet currents at zero and leads apart as the maker says."),
    ("light", "Lasers and fibre sources off and locked; never look into a fibre."),
    ("not listed", "Fibres, wires, gas lines and supports that the layout does not have come out "
     "by the maker's instructions; fibres and fine wires first of all."),
)
"""(subject, caution), printed on every sheet; common practice, no source."""

PUSH_ON = "small push-on connector: pull straight along its axis with the tool for it, never askew"
NUT = "hold both bodies still, turn the nut alone"
BUNDLE = "one of a bundle"


def bundle(count: int, warm: str, cold: str) -> str:
    """Return the caution about many cables between the same two stages."""
    return (f"{BUNDLE} of {count} between {warm} and {cold}: a bundle of coax is a spring, so "
            "support the load before the last one lets go")


MANY = 4
"""Cables between two stages from which on they are a bundle (common practice, no source)."""

CONTINUITY = ("continuity: the outer conductors are connected; centre to outer is no short, or "
              "reads the resistance of a pad, load or coupler in the path")
THROUGH = ("it conducts from end to end and nothing touches ground: wires with a meter, fibre as "
           "its maker says, nobody looking in")
