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
    Parameter("start", Measure("frequency"), "lowest frequency", required=True),
    Parameter("stop", Measure("frequency"), "highest frequency", required=True),
    Parameter(
        "points", Whole(1, MAX_POINTS), "number of frequencies, evenly spaced, ends counted", "201"
    ),
)

STAGE = (
    Parameter(
        "temperature", Measure("temperature", zero=True), "the stage's temperature", required=True
    ),
    Parameter(
        "cooling", Steps("temperature", "power"), "cooling power at temperatures"
    ),
    Parameter("other", Named("power"), "other heat loads by name"),
    Parameter("note", Text(), "anything a person should know"),
)

TONE = (
    Parameter("into", End(), "the outside connector that it is sent into", required=True),
    Parameter("frequency", Measure("frequency"), "its frequency, or a comb's lowest"),
    Parameter("band", FrequencyRange(), "a comb's ends, in place of frequency and spacing"),
    Parameter("power", Measure("power", zero=True), "power sent into the connector"),
    Parameter("arriving", Arriving(), "a port and the power that has to arrive there"),
    Parameter("count", Whole(1, 10_000), "number of equal tones in a comb", "1"),
    Parameter("spacing", Measure("frequency"), "distance of tones in a comb"),
    Parameter("note", Text(), "anything a person should know"),
)

SIGNAL = (
    Parameter("from", End(), "the port by which the wave leaves an element"),
    Parameter("to", End(), "the port at which the wave arrives", required=True),
    Parameter("note", Text(), "anything a person should know"),
)

LINE = (
    Parameter("elements", Raw(), "the line's elements in order", required=True),
    Parameter("copies", Whole(1, MAX_COPIES), "number of equal lines"),
    Parameter("except", Raw(), "copies that differ: number, element, keys"),
    Parameter("note", Text(), "anything a person should know"),
)

_PLATING = (
    Parameter("material", Reference("material"), "metal of the layer", required=True),
    Parameter("thickness", Measure("length"), "its thickness", required=True),
)

_CONDUCTOR = (
    Parameter("material", Reference("material"), "metal"),
    Parameter(
        "diameter", Measure("length"), "outside diameter, plating included"
    ),
    Parameter("plating", Group(_PLATING), "layer on the side that carries the current"),
)

_DIELECTRIC = (
    Parameter("material", Reference("material"), "what fills the line"),
    Parameter("diameter", Measure("length"), "outside diameter"),
)

COAX = (  # parts and their keys may be left out where a catalogue row of the name has them
    Parameter("centre", Group(_CONDUCTOR), "centre conductor"),
    Parameter("dielectric", Group(_DIELECTRIC), "dielectric"),
    Parameter("outer", Group(_CONDUCTOR), "outer conductor"),
    Parameter(
        "loss", Steps("frequency", "attenuation"),
        "measured loss, fitted as a sqrt(f) + b f; worked out from the materials where not given",
    ),
    Parameter(
        "loss_temperature", Measure("temperature", zero=True), "temperature of that measurement",
        "295 K",
    ),
    Parameter("note", Text(), "anything a person should know"),
)

_POWER_LAW = (
    Parameter(
        "coefficient", Measure("conductivity"), "a in k = a (T / 1 K)^n", required=True
    ),
    Parameter("exponent", Measure("number", least=-0.99, most=10.0), "n", required=True),
    Parameter("from", Measure("temperature", zero=True), "where it begins to hold", required=True),
    Parameter("to", Measure("temperature"), "where it ends", required=True),
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
        "temperature below which it superconducts",
    ),
    Parameter(
        "contraction", Measure("fraction", least=-0.1, most=0.1), "shortening from 293 K to 4 K"
    ),
    Parameter("permittivity", Measure("number", least=1.0, most=1000.0), "relative permittivity"),
    Parameter("loss_tangent", Measure("number", least=0.0, most=1.0), "of a dielectric"),
    Parameter("note", Text(), "anything a person should know"),
)

LAYOUT = (
    Parameter("format", Whole(1, 1), "version of this form", "1"),
    Parameter("title", Text(), "what the layout is; the file's name where not given"),
    Parameter("band", Group(BAND), "the frequencies of interest", required=True),
    Parameter("include", Raw(), "files with parts, coax, materials, stages"),
    Parameter("stages", Rows(STAGE), "temperature stages, warm to cold"),
    Parameter("parts", Raw(), "elements to be taken by `part:`"),
    Parameter("coax", Rows(COAX), "own coax, or changes to the catalogue's"),
    Parameter("materials", Rows(MATERIAL), "own materials, or changes to the catalogue's"),
    Parameter("lines", Raw(), "rows of elements", required=True),
    Parameter("tones", Rows(TONE), "continuous waves sent into outside connectors"),
    Parameter(
        "self_heating", Choice(("on", "off")),
        "off to leave every part and cable at its stage's temperature, whatever tones it absorbs",
        "on",
    ),
    Parameter("signals", Rows(SIGNAL), "what is observed: from one port to another"),
    Parameter("accept", Named(None), "findings that are accepted: code (or code.id) and why"),
    Parameter("margins", Group(MARGINS), "how far advice goes, where not as usual"),
    Parameter("note", Text(), "anything a person should know"),
)

INCLUDED = ("include", "parts", "coax", "materials", "stages")
"""Sections that an included file may hold, besides its format and note."""


def by_name(fields):
    """Return declared parameters by their names."""
    return {parameter.name: parameter for parameter in fields}
