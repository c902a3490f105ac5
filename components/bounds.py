"""The least and the most that a quantity of each dimension can be, and why.

A declaration that knows better narrows or widens them for its own parameter.  They refuse slips of
the pen and keep arithmetic away from overflow; none of them is a limit of what can be built.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Bounds:
    """The least and the most of a dimension, in its base unit."""

    least: float
    most: float
    why: str


BOUNDS = {
    "ratio": Bounds(
        0.0, 300.0,
        "a loss, zero or more; 1 kW is 264 dB above hf in a hertz at 6 GHz, and nothing weaker is "
        "ever seen",
    ),
    "frequency": Bounds(
        1.0, 1e13,
        "below a hertz nothing in a cryostat is a wave; above 10 THz 50 ohm lines are no lines, "
        "and hf / k is 480 K",
    ),
    "temperature": Bounds(
        1e-6, 1e4, "from the coldest nuclear demagnetisation stages to above every melting point"
    ),
    "length": Bounds(1e-9, 1e3, "from a few atoms, the thinnest plating, to a kilometre of cable"),
    "area": Bounds(1e-18, 1.0, "from a nanometre squared to a metre squared"),
    "power": Bounds(
        1e-30, 1e6,
        "from far below hf in a hertz, 4e-24 W at 6 GHz, to the mains of a laboratory",
    ),
    "noise power density": Bounds(
        1e-32, 1e-3,
        "from a nanokelvin, 1.4e-32 W/Hz, to 0 dBm/Hz, 7e19 K: more than any source of noise",
    ),
    "noise beside a tone": Bounds(
        -250.0, 0.0,
        "from far below kT over a watt, -204 dBc/Hz at 290 K, to noise as strong as the tone in a "
        "hertz",
    ),
    "attenuation": Bounds(
        1e-9, 1e4, "from superconducting coax at its best to what is absorber more than line"
    ),
    "time": Bounds(1e-15, 1e9, "from a femtosecond to the life of a laboratory, 30 years"),
    "rate": Bounds(1e-9, 1e15, "the inverse of a time"),
    "current": Bounds(1e-15, 1e4, "from a few electrons a millisecond to the largest magnets"),
    "voltage": Bounds(1e-15, 1e6, "from far below thermal noise in a hertz to a million volt"),
    "resistance": Bounds(1e-12, 1e12, "from a welded joint of copper to an open contact"),
    "capacitance": Bounds(1e-18, 1.0, "from a single-electron island to the largest buffers"),
    "resistivity": Bounds(
        1e-14, 1e-2, "from the purest metals at 4 K, some 1e-13 ohm m, to semimetals"
    ),
    "conductivity": Bounds(
        1e-12, 1e6, "from polymers at a few millikelvin to above pure copper at 10 K, 2e4 W/(m K)"
    ),
    "angle": Bounds(-36_000.0, 36_000.0, "a hundred turns either way, of phase unwrapped"),
    "torque": Bounds(1e-3, 1e3, "from the smallest screws to the largest flanges"),
    "mass": Bounds(1e-9, 1e6, "from a crumb to more than a building's crane lifts"),
    "fraction": Bounds(0.0, 1.0, "a part of a whole"),
}
"""Common practice where no source is named; a `number` means something else each time, so its
declaration has to say."""

MOST_NOISE_K = 1e10
"""Noise temperature: what a noise figure of 75 dB makes."""

MOST_NOISE_FIGURE_DB = 75.0
"""Above the deafest spectrum analyser without preamplifier, some 40 dB (common practice)."""

MOST_NOISE_RESISTANCE_OHM = 1e6

MOST_QUANTA = 1e9
"""Noise in quanta: 3e8 K at 6 GHz, a noise figure of 60 dB."""

LEAST_MISMATCH_DB = 1e-3
"""Least return loss, coupling: a port that sends back more than 0.99988 in amplitude is no port
but an end; `state: open`, `shorted` and `reflects` are."""
