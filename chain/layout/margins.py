"""Every margin of advice, declared once; a layout or the command line changes them."""



from chain.layout.layout import Layout
from components.bounds import MOST_QUANTA
from components.parameters import Measure, Parameter
from components.quantities import Quantity, parse

PRACTICE = "common practice, no source"

_PART = Measure("fraction", least=0.0, most=10.0)
_QUANTA = Measure("number", least=0.0, most=MOST_QUANTA)
_DECIBELS = Measure("ratio")

MARGINS = (
    Parameter(
        "isolation", _DECIBELS,
        "least loss from an amplifier's input back to the device or paramp before it", "15 dB",
        source=PRACTICE,
    ),
    Parameter(
        "compression", _DECIBELS,
        "least distance of all tones together from an amplifier's compression point", "10 dB",
        source=PRACTICE,
    ),
    Parameter(
        "dumped", _PART,
        "most that one element may absorb of a tone, as a fraction of its stage's cooling power",
        "20 %",
        source=PRACTICE,
    ),
    Parameter(
        "share", _PART,
        "part of the system noise below which no share is remarked on, whatever its quanta",
        "5 %", source=PRACTICE,
    ),
    Parameter(
        "coax", _QUANTA, "most system noise, in quanta, that the loss of one coax may cost", "0.1",
        source=PRACTICE,
    ),
    Parameter(
        "part", _DECIBELS,
        "most that one passive part other than coax may lose of a received signal, where that "
        "costs more noise than coax may", "2 dB", source=PRACTICE,
    ),
    Parameter(
        "behind", _QUANTA,
        "most system noise, in quanta, that what stands behind a paramp may add", "0.5",
        source="common practice, no source: the half quantum that the paramp adds itself",
    ),
    Parameter(
        "own_photons", _PART,
        "most photons at a device above those of its own stage, as a part of them, where that is "
        "more than `photons`", "50 %", source=PRACTICE,
    ),
    Parameter(
        "photons", _QUANTA,
        "most photons that may arrive at a port of a device above those of its own stage", "0.01",
        source="common practice: S. Krinner et al., EPJ Quantum Technology 6:2 (2019) aim at 0.001 "
        "for qubits (second-hand)",
    ),
    Parameter(
        "side_port_noise", _QUANTA,
        "most system noise, in quanta, that may come in by lines other than the signal's", "0.1",
        source=PRACTICE,
    ),
    Parameter(
        "load", _QUANTA,
        "most noise, in quanta, that a load may give where a colder stage could cool it", "0.05",
        source=PRACTICE,
    ),
    Parameter(
        "cooling", _PART, "least part of a stage's cooling power that has to stay free", "20 %",
        source=PRACTICE,
    ),
    Parameter(
        "idler", _QUANTA, "most noise, in quanta, by which a paramp's idler band may be the warmer",
        "0.05", source=PRACTICE,
    ),
    Parameter(
        "idler_loss", _DECIBELS,
        "most by which the path to a paramp may attenuate its idler band less than its signal band",
        "3 dB", source=PRACTICE,
    ),
    Parameter(
        "pump_lost", _DECIBELS,
        "by how much weaker a pump counts as lost, its paramp as off", "20 dB", source=PRACTICE,
    ),
    Parameter(
        "pump_level", _DECIBELS,
        "how far the level of a pump may be off for the stated gain to hold", "0.5 dB",
        source="common practice, no source: gain hangs on the pump steeply",
    ),
    Parameter(
        "replaced", _PART,
        "most by which a part in another's place may raise a system noise, or what coax may cost "
        "where that is more; photons that are over their margin too", "5 %", source=PRACTICE,
    ),
    Parameter(
        "generator", Measure("power"),
        "most that a tone may take at a connector that states no max_output", "10 W",
        source="common practice, no source: microwave amplifiers of a laboratory give 1 to 10 W",
    ),
    Parameter(
        "rating", _DECIBELS, "least distance of tones and noise from what parts are rated for",
        "3 dB", source=PRACTICE,
    ),
    Parameter(
        "length", Measure("length", least=0.0, zero=True),
        "longest cable between two stages that is believed", "3 m",
        source="common practice, no source: a cryostat is a man's height",
    ),
    Parameter(
        "clamp", _PART,
        "most by which a clamped body may shrink more than its screws, 293 to 4 K", "0.01 %",
        source="uncertainty of the contractions in the catalogue",
    ),
)
"""Every margin: its name, its unit, what it bounds, its value by default."""

BY_NAME = {margin.name: margin for margin in MARGINS}


def default(name: str) -> Quantity:
    """Return the Quantity that a margin has by default."""
    declared = BY_NAME[name]
    return parse(declared.default or "", declared.reads.dimension)


def margins_of(layout: Layout) -> dict[str, Quantity]:
    """Return every margin by name: the layout's, else the default.

    Whatever judges a layout asks here, so that a margin changed once is changed everywhere.
    """
    return {name: layout.margins.get(name) or default(name) for name in BY_NAME}


def margin(layout: Layout, name: str) -> float:
    """Return one margin of a layout in its base unit: part, quanta or decibels."""
    return margins_of(layout)[name].value
