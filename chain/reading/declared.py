"""What a layout file holds besides elements: every key, declared once.

Elements' keys are declared by their kinds (components.declaration).  Reading, and whatever else
describes the file, works from both.
"""

from dataclasses import dataclass

from chain.layout.margins import MARGINS
from components.parameters import Choice, FrequencyRange, Measure, Parameter, Reference, Text, Whole

MAX_POINTS = 200_000
MAX_COPIES = 10_000
MAX_ELEMENTS = 200_000


@dataclass(frozen=True)
class Steps:
    """A mapping from rising quantities of one dimension to quantities of another."""

    along: str
    dimension: str
    fewest: int = 1
    above: bool = False
    """True where a value has to lie above zero."""
    from_zero: bool = False
    """True where the first point may lie at zero."""

    @property
    def where(self):
        """The Measure of what it runs along."""
        return Measure(self.along, zero=self.from_zero)

    @property
    def value(self):
        """The Measure of its values."""
        return Measure(self.dimension, zero=not self.above)


@dataclass(frozen=True)
class Group:
    """A mapping with keys of its own."""

    fields: tuple[Parameter, ...]


@dataclass(frozen=True)
class Rows:
    """A mapping from names to groups of these keys."""

    fields: tuple[Parameter, ...]


@dataclass(frozen=True)
class Either:
    """A mapping that is read as the first or the second, by whether it has the `key`."""

    key: str
    with_it: object
    without: object


@dataclass(frozen=True)
class Named:
    """A mapping from free names to quantities, or to text where there is no dimension."""

    dimension: str | None

    @property
    def value(self):
        """The Measure of its quantities; asked where there is a dimension."""
        return Measure(self.dimension or "", zero=True)


@dataclass(frozen=True)
class Constant:
    """A quantity that holds everywhere, or steps."""

    steps: Steps


@dataclass(frozen=True)
class End:
    """A port: `D1.out`, or `R1` where the element has one port."""


@dataclass(frozen=True)
class Arriving:
    """A mapping from one port to the power that has to arrive there."""


@dataclass(frozen=True)
class Raw:
    """What has a reader of its own."""


ARRIVING = Measure("power")


BAND = (
    Parameter("start", Measure("frequency"), "lowest frequency", required=True, example="4 GHz"),
    Parameter("stop", Measure("frequency"), "highest frequency", required=True, example="8 GHz"),
    Parameter(
        "points", Whole(1, MAX_POINTS), "number of frequencies, evenly spaced, ends counted", "201"
    ),
)

STAGE = (
    Parameter(
        "temperature", Measure("temperature", zero=True), "the stage's temperature", required=True
    ),
    Parameter(
        "cooling", Steps("temperature", "power"), "cooling power at temperatures",
        example="{3.5 K: 0.8 W, 4.2 K: 1.5 W}",
    ),
    Parameter("other", Named("power"), "other heat loads by name", example="{wires: 3 mW}"),
    Parameter("note", Text(), "anything a person should know"),
)

TONE = (
    Parameter(
        "into", End(), "the outside connector that it is sent into", required=True,
        example="S1",
    ),
    Parameter("frequency", Measure("frequency"), "its frequency, or a comb's lowest"),
    Parameter("band", FrequencyRange(), "a comb's ends, in place of frequency and spacing"),
    Parameter("power", Measure("power", zero=True), "power sent into the connector"),
    Parameter(
        "arriving", Arriving(), "a port and the power that has to arrive there",
        example="{X1.in: -30 dBm}",
    ),
    Parameter("count", Whole(1, 10_000), "number of equal tones in a comb", "1", example="8"),
    Parameter("spacing", Measure("frequency"), "distance of tones in a comb", example="100 MHz"),
    Parameter(
        "noise", Measure("noise beside a tone", over_frequency=True),
        "its generator's noise on either side over its power, or a table over the offset from it",
        example="-150 dBc/Hz",
    ),
    Parameter(
        "duty", Measure("fraction", least=1e-9),
        "part of the time in which it is on; its power and level are those while it is", "100 %",
        example="2 %",
    ),
    Parameter(
        "pulse", Measure("time"), "how long it is on at a time, where that is known",
        example="20 ns",
    ),
    Parameter("note", Text(), "anything a person should know"),
)

SIGNAL = (
    Parameter("from", End(), "the port by which the wave leaves an element", example="D1.out"),
    Parameter("to", End(), "the port at which the wave arrives", required=True, example="R1"),
    Parameter("band", Group(BAND), "frequencies of its own, in place of the layout's band",
              example="{start: 10 MHz, stop: 500 MHz, points: 50}"),
    Parameter("note", Text(), "anything a person should know"),
)

LINE = (
    Parameter("elements", Raw(), "the line's elements in order", required=True),
    Parameter("copies", Whole(1, MAX_COPIES), "number of equal lines", example="12"),
    Parameter(
        "except", Raw(), "copies that differ: number, element, keys",
        example="{7: {A1: {loss: 30 dB}}}",
    ),
    Parameter(
        "current", Measure("current"),
        "direct current at the end of its path; of a loom, in each of its wires", example="1 mA",
    ),
    Parameter("note", Text(), "anything a person should know"),
)

_PLATING = (
    Parameter(
        "material", Reference("material"), "metal of the layer", required=True,
        example="copper-rrr50",
    ),
    Parameter("thickness", Measure("length"), "its thickness", required=True, example="2 um"),
)

_CONDUCTOR = (
    Parameter("material", Reference("material"), "metal", example="stainless-304"),
    Parameter(
        "diameter", Measure("length"), "outside diameter, plating included", example="0.2 mm",
    ),
    Parameter("plating", Group(_PLATING), "layer on the side that carries the current"),
)

_DIELECTRIC = (
    Parameter("material", Reference("material"), "what fills the line", example="ptfe"),
    Parameter("diameter", Measure("length"), "outside diameter", example="0.66 mm"),
)

COAX = (  # parts and their keys may be left out where a catalogue row of the name has them
    Parameter("centre", Group(_CONDUCTOR), "centre conductor"),
    Parameter("dielectric", Group(_DIELECTRIC), "dielectric"),
    Parameter("outer", Group(_CONDUCTOR), "outer conductor"),
    Parameter(
        "loss", Steps("frequency", "attenuation"),
        "measured loss, fitted as a sqrt(f) + b f; worked out from the materials where not given",
        example="{1 GHz: 3 dB/m, 10 GHz: 10 dB/m}",
    ),
    Parameter(
        "loss_temperature", Measure("temperature", zero=True), "temperature of that measurement",
        "295 K",
    ),
    Parameter("note", Text(), "anything a person should know"),
)

_POWER_LAW = (
    Parameter(
        "coefficient", Measure("conductivity"), "a in k = a (T / 1 K)^n", required=True,
        example="0.05 W/(m K)",
    ),
    Parameter(
        "exponent", Measure("number", least=-0.99, most=10.0), "n", required=True,
        example="1.2",
    ),
    Parameter("from", Measure("temperature", zero=True), "where it begins to hold", required=True,
              example="0.1 K"),
    Parameter("to", Measure("temperature"), "where it ends", required=True, example="300 K"),
)

MATERIAL = (
    Parameter(
        "conductivity",
        Either(
            "coefficient", Group(_POWER_LAW), Steps("temperature", "conductivity", 2, above=True)
        ),
        "thermal conductivity: a table over temperature, or a power law",
    ),
    Parameter(
        "resistivity", Constant(Steps("temperature", "resistivity", 2, above=True, from_zero=True)),
        "electrical resistivity in the normal state: one value, or a table over temperature",
    ),
    Parameter(
        "critical_temperature", Measure("temperature"),
        "temperature below which it superconducts", example="9.2 K",
    ),
    Parameter(
        "contraction", Measure("fraction", least=-0.1, most=0.1), "shortening from 293 K to 4 K",
        example="0.3 %",
    ),
    Parameter(
        "permittivity", Measure("number", least=1.0, most=1000.0), "relative permittivity",
        example="2.05",
    ),
    Parameter(
        "loss_tangent", Measure("number", least=0.0, most=1.0), "of a dielectric",
        example="0.0002",
    ),
    Parameter("note", Text(), "anything a person should know"),
)

LAYOUT = (
    Parameter("format", Whole(1, 1), "version of this form", "1"),
    Parameter(
        "title", Text(), "what the layout is; the file's name where not given",
        example="Haloscope receiver",
    ),
    Parameter(
        "band", Group(BAND), "the frequencies of interest", required=True,
        example="{start: 4 GHz, stop: 8 GHz, points: 201}",
    ),
    Parameter(
        "include", Raw(), "files with parts, coax, materials, stages",
        example="[parts.yaml]",
    ),
    Parameter(
        "stages", Rows(STAGE), "temperature stages, warm to cold",
        example=(
            "room:   {temperature: 295 K}\n"
            "plate:  {temperature: 3.8 K, cooling: {3.5 K: 0.8 W, 4.2 K: 1.5 W}}\n"
            "mixing: {temperature: 15 mK, cooling: {10 mK: 2 uW, 20 mK: 15 uW, 100 mK: 450 uW}}"
        ),
    ),
    Parameter(
        "parts", Raw(), "elements to be taken by `part:`",
        example="first-amplifier: {kind: amplifier, gain: 36 dB, noise_temperature: 2.2 K}",
    ),
    Parameter(
        "coax", Rows(COAX), "own coax, or changes to the catalogue's",
        example=(
            "ours:\n"
            "  centre:     {material: stainless-304, diameter: 0.2 mm}\n"
            "  dielectric: {material: ptfe, diameter: 0.66 mm}\n"
            "  outer:      {material: stainless-304, diameter: 0.86 mm}\n"
            "  loss:       {1 GHz: 3 dB/m, 10 GHz: 10 dB/m}\n"
            "cupronickel-2.19: {loss: {5 GHz: 4.1 dB/m}}   # keys beside replace, the rest stays"
        ),
    ),
    Parameter(
        "materials", Rows(MATERIAL), "own materials, or changes to the catalogue's",
        example=(
            "mine:\n"
            "  conductivity: {coefficient: 0.05 W/(m K), exponent: 1.2, from: 0.1 K, to: 300 K}\n"
            "  resistivity: 49 uohm cm"
        ),
    ),
    Parameter(
        "lines", Raw(), "rows of elements", required=True,
        example=(
            "receive:\n"
            "  - {id: D1, kind: device, stage: mixing}\n"
            "  - {id: W1, kind: cable, from: mixing, to: plate, length: 0.5 m, coax: ours}\n"
            "  - {id: H1, part: first-amplifier, stage: plate}\n"
            "  - {id: C1, kind: coupler, stage: room, coupling: 20 dB, loads: [isolated]}\n"
            "  - {id: R1, kind: port, stage: room}\n"
            "drive:                       # twelve equal lines, A1-1 to A1-12, one different\n"
            "  copies: 12\n"
            "  except: {7: {A1: {loss: 30 dB}}}\n"
            "  elements:\n"
            "    - {id: S1, kind: port, stage: room}\n"
            "    - {id: A1, kind: attenuator, stage: plate, loss: 20 dB}\n"
            "    - {id: Q1, kind: device, stage: mixing, reflects: true}\n"
            "monitor:\n"
            "  - {join: C1.coupled}       # an end of this line at a free port of another\n"
            "  - {id: T1, kind: termination, stage: room}\n"
            "source:\n"
            "  - {join: D1.in}\n"
            "  - {id: T2, kind: termination, stage: mixing}"
        ),
    ),
    Parameter(
        "tones", Rows(TONE), "continuous waves sent into outside connectors",
        example="drive: {into: S1, frequency: 5 GHz, arriving: {Q1.in: -110 dBm}}",
    ),
    Parameter(
        "self_heating", Choice(("on", "off")),
        "off to leave every part and cable at its stage's temperature, whatever tones it absorbs",
        "on", example="off",
    ),
    Parameter(
        "signals", Rows(SIGNAL), "what is observed: from one port to another",
        example=(
            "receive: {from: D1.out, to: R1}   # from the wave leaving D1 to that arriving at R1\n"
            "drive:   {from: S1, to: Q1.in}"
        ),
    ),
    Parameter(
        "accept", Named(None), "findings that are accepted: code (or code.id) and why",
        example="{no-isolation.H1: an isolator comes with the next cool-down}",
    ),
    Parameter(
        "margins", Group(MARGINS), "how far advice goes, where not as usual",
        example="{isolation: 12 dB, photons: 0.001}",
    ),
    Parameter("note", Text(), "anything a person should know"),
)

INCLUDED = ("include", "parts", "coax", "materials", "stages")
"""Sections that an included file may hold, besides its format and note."""


def by_name(fields):
    """Return declared parameters by their names."""
    return {parameter.name: parameter for parameter in fields}
