"""What stands beside a symbol: id, the values that matter, a state that is not ok."""

import re

from chain.drawing.svg import wrap
from chain.writing.value_text import given, value_text
from components.parameters import Choice, Measure, Reference

ID_SIZE, VALUE_SIZE, PORT_SIZE = 11, 10, 9
LEADING = 12
LABEL_WIDTH = 96
"""Widest label, pixels; longer text is wrapped."""

_VALUE_LINES = 3
_TOLERANCE = re.compile(r" *(?:\+/-|±)")


def values_beside(element):
    """Return the texts of the values that stand beside an element's symbol."""
    kind, settings = element.kind, element.settings
    names = [name for name in kind.beside if settings.given(name)]
    if not kind.beside:
        names = [p.name for p in kind.parameters if settings.given(p.name) and _counts(p.reads)]
        # What something is made of says most, so it comes first.
        named = kind.declared()
        names = sorted(names, key=lambda name: not isinstance(named[name].reads, Reference))[:2]
    shown, units = [], set()
    for name in names:
        value = settings.values[name]
        unit = getattr(value, "dimension", None)
        text = _TOLERANCE.split(value_text(value))[0]
        shown.append(f"{name.replace('_', ' ')} {text}" if unit and unit in units else text)
        units.add(unit)
    if settings["state"] != "ok":
        shown.insert(0, str(settings["state"]).upper())
    if settings["temperature"] is not None:
        shown.append(f"at {value_text(settings['temperature'])}")
    return shown


def _counts(reads):
    if isinstance(reads, Reference):
        return reads.to in ("coax", "material")
    return isinstance(reads, Measure | Choice)


def label_lines(element, shown_id, also=()):
    """Return [(text, size, bold)]: the id, then the values, wrapped to LABEL_WIDTH."""
    lines = [(text, ID_SIZE, True) for text in
             wrap(shown_id, LABEL_WIDTH, ID_SIZE, most=2, bold=True)]
    values = wrap(", ".join([*values_beside(element), *also]), LABEL_WIDTH, VALUE_SIZE,
                  most=_VALUE_LINES)
    return lines + [(text, VALUE_SIZE, False) for text in values]


def element_title(layout, element, shown_id):
    """Return the full words on an element, for its <title>."""
    where = element.stage or (
        f"{element.from_stage} to {element.to_stage}" if element.from_stage else "its own"
    )
    said = [f"{shown_id}: {element.kind.name} at {where}"]
    said += [f"{name.replace('_', ' ')} {text}" for name, text in given(element)]
    return ", ".join(said)
