"""Filters by their prototype."""

from components import ladder
from components.declaration import LOSS, Kind, kind
from components.nport import bosma, evenly_lossy
from components.parameters import Choice, Flag, Measure, Parameter, ParameterError, Whole
from components.phases import planes

_FREQUENCY = Measure("frequency")

_PLACED_BY = {
    "low-pass": ("cutoff",), "high-pass": ("cutoff",),
    "band-pass": ("centre", "bandwidth"), "band-stop": ("centre", "bandwidth"),
}
"""What says where each shape lies in frequency."""


@kind
class Filter(Kind):
    """A filter that scatters as its lossless ladder prototype does, phase included.

    What it does not pass it reflects, unless `absorptive`: then both ports are matched and the rest
    is absorbed at its stage.  The insertion loss is an even factor on all of S, which keeps it
    passive.  Prototype and frequency maps: components.ladder, after G. L. Matthaei, L. Young and
    E. M. T. Jones, Microwave Filters, Impedance-Matching Networks, and Coupling Structures (1964),
    sec. 4.05 and 8.02 (from memory).
    """

    name = "filter"
    symbol = "filter"
    summary = "A filter of given shape and order; reflects what it does not pass, or absorbs it."
    noise = (
        "Emits as a passive part at its temperature: by its insertion loss where it reflects, in "
        "the stop band as a load where it is absorptive."
    )
    parameters = (
        Parameter(
            "shape", Choice(tuple(_PLACED_BY)), "which frequencies pass; asked for without data"
        ),
        Parameter(
            "response", Choice(("butterworth", "chebyshev")),
            "maximally flat, or equal ripple", "butterworth",
        ),
        Parameter(
            "order", Whole(1, ladder.MAX_ORDER),
            "number of resonators or ladder elements; asked for without data",
        ),
        Parameter(
            "ripple", Measure("ratio", least=1e-4, most=10.0),
            "Chebyshev: loss at the ripple's bottom, and at the edges",
        ),
        Parameter(
            "cutoff", _FREQUENCY,
            "low-pass, high-pass: edge of the band, 3.01 dB down (Butterworth) or at the ripple",
        ),
        Parameter(
            "centre", _FREQUENCY, "band-pass, band-stop: geometric mean of the band's edges"
        ),
        Parameter(
            "bandwidth", _FREQUENCY, "band-pass, band-stop: distance of the edges, as at `cutoff`"
        ),
        Parameter("insertion_loss", LOSS, "dissipated besides, at every frequency", "0 dB"),
        Parameter("absorptive", Flag(), "matched: absorbs what it does not pass", "false"),
    )
    example = (
        "{id: F1, kind: filter, stage: mixing, shape: band-pass, response: chebyshev, "
        "ripple: 0.1 dB, order: 5, centre: 6 GHz, bandwidth: 2 GHz, insertion_loss: 0.3 dB}"
    )

    def passes_dc(self, settings, enter, leave):
        return settings["shape"] in (None, "low-pass", "band-stop")

    def check(self, settings):
        """Yield what is missing, or does not go with the shape."""
        if settings.given("data"):
            return
        shape = settings["shape"]
        for name in ("shape", "order"):
            if settings[name] is None:
                yield ParameterError(name, f"the filter has no {name}", f"give {name}, or data")
        if shape is not None:
            yield from _misplaced(settings, shape)
        if settings["response"] == "chebyshev" and not settings.given("ripple"):
            yield ParameterError("ripple", "a Chebyshev filter needs its ripple", "give ripple")
        if settings["response"] == "butterworth" and settings.given("ripple"):
            yield ParameterError(
                "ripple", "a Butterworth filter has no ripple",
                "take it out, or write `response: chebyshev`",
            )

    def phases(self, settings):
        return () if settings["absorptive"] else planes("shape", "in", "out")

    def scattering(self, settings, at):
        kept = settings.lets_through("insertion_loss", at)
        s11, s21, s22 = ladder.scattering(_elements(settings, at), _position(settings, at))
        s = {(0, 1): kept * s21, (1, 0): kept * s21}
        if not settings["absorptive"]:
            s |= {(0, 0): kept * s11, (1, 1): kept * s22}
        return s

    def emission(self, settings, at, scattering):
        if settings["absorptive"]:
            return bosma(scattering, 2, at.emitted)
        return evenly_lossy(2, settings.lets_through("insertion_loss", at), at.emitted)


def _misplaced(settings, shape):
    wanted = _PLACED_BY[shape]
    for name in wanted:
        if not settings.given(name):
            yield ParameterError(name, f"a {shape} filter needs its {name}", f"give {name}")
    for name in ("cutoff", "centre", "bandwidth"):
        if settings.given(name) and name not in wanted:
            yield ParameterError(
                name, f"a {shape} filter has no {name}", f"give {' and '.join(wanted)} alone"
            )


def _elements(settings, at):
    if settings["response"] == "butterworth":
        return ladder.butterworth_elements(settings["order"])
    return ladder.chebyshev_elements(settings["order"], ripple_db=settings.at("ripple", at))


def _position(settings, at):
    """Return the normalised frequencies of the filter's prototype."""
    shape, f = settings["shape"], at.frequency_hz
    if shape in ("low-pass", "high-pass"):
        place = ladder.low_pass if shape == "low-pass" else ladder.high_pass
        return place(f, cutoff_hz=settings.at("cutoff", at))
    band = ladder.band_pass if shape == "band-pass" else ladder.band_stop
    return band(
        f, centre_hz=settings.at("centre", at), bandwidth_hz=settings.at("bandwidth", at)
    )
