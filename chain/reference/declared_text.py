"""What a declared parameter reads, in words: its unit, how it is written, its range."""

import functools
import re

import components.kinds  # noqa: F401  (registers every kind)
from chain.reading.values import like
from components.declaration import KINDS
from components.parameters import (
    Choice,
    Clamped,
    DataFile,
    Distances,
    FrequencyRange,
    Measure,
    Overrides,
    PerPort,
    Phases,
    Reference,
    Text,
    Whole,
)
from components.quantities import UNITS, written

_FORMS = {
    Distances: "{still: 0.2 m}",
    FrequencyRange: "{start: 4 GHz, stop: 8 GHz}",
    PerPort: "{in: SMA male}",
    Phases: "{isolation: 30 deg}",
    Clamped: "{body: copper, screws: brass}",
    Overrides: "{loss: 1 dB}",
    DataFile: "file.s2p",
}


def units_in_words(reads):
    """Return the units that a quantity takes, or what else stands there, in few words."""
    if isinstance(reads, Measure):
        units = ", ".join(unit for unit in UNITS[reads.dimension] if unit) or "a number"
        return f"{units}; table" if reads.over_frequency else units
    if isinstance(reads, Whole):
        return "a whole number"
    if isinstance(reads, Choice):
        return "a word"
    if isinstance(reads, Reference):
        return f"a {reads.to}"
    return {
        "Flag": "true, false", "Text": "text", "Cost": "amount and currency",
        "PortName": "a port", "PortList": "ports", "PerPort": "ports and text",
        "Distances": "stages and distances", "FrequencyRange": "start and stop",
        "DataFile": "a file", "Overrides": "parameters and values", "Clamped": "two materials",
        "Phases": "parameters and angles",
    }.get(type(reads).__name__, type(reads).__name__.lower())


def form_of(reads):
    """Return how a value is written, as an example; None where it is a name of the layout's own."""
    return _FORMS.get(type(reads)) or like(reads)


def example_for(parameter):
    """Return how a parameter may be written; None where it is a name of the layout's own.

    Its own example goes before that of a kind whose example line has it, before the form alone.
    """
    if parameter.example:
        return parameter.example
    if isinstance(parameter.reads, Text):
        return None
    shown = _of_kinds().get((parameter.name, type(parameter.reads)))
    return shown or form_of(parameter.reads)


@functools.cache
def _of_kinds():
    """Return {(parameter, type): value} of the quantities and numbers of kinds' example lines."""
    found = {}
    for kind in KINDS.values():
        for name, value in re.findall(r"(\w+): ([^,{}\[\]]+)", kind.example):
            declared = kind.declared().get(name)
            if declared is not None and isinstance(declared.reads, Measure | Whole):
                found.setdefault((name, type(declared.reads)), value.strip())
    return found


def range_in_words(reads):
    """Return what values can be, or an empty text where any can."""
    if isinstance(reads, Choice):
        return ", ".join(reads.options)
    if isinstance(reads, Whole):
        return f"{reads.least} to {reads.most}"
    if not isinstance(reads, Measure):
        return ""
    least, most = (written(end, reads.dimension) for end in (reads.least, reads.most))
    return f"0, or {least} to {most}" if reads.zero else f"{least} to {most}"
