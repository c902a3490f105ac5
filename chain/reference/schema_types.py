"""The schema of each type that a declaration can name."""

from __future__ import annotations

import re
from typing import Any

from chain.reading import declared
from components import catalogue
from components.parameters import (
    Choice,
    Clamped,
    Cost,
    DataFile,
    Distances,
    Flag,
    FrequencyRange,
    Measure,
    PerPort,
    Phases,
    PortList,
    PortName,
    Reference,
    Text,
    Whole,
)
from components.quantities import UNITS

_MAKERS = {}

_NUMBER = r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?"

_TEXT = {"type": ["string", "number", "boolean"]}
"""Any scalar is text where text is wanted."""

_PORT = {"type": ["string", "integer"]}


def schema_of(reads):
    """Return the JSON Schema of what a declared type reads."""
    return _MAKERS[type(reads)](reads)


def _maker(cls):
    def register(function):
        _MAKERS[cls] = function
        return function

    return register


def quantity_pattern(dimension):
    """Return the regular expression of a quantity as text: number, unit, perhaps a tolerance."""
    units = "|".join(sorted(map(_unit, UNITS[dimension]), key=len, reverse=True))
    return rf"^\s*{_NUMBER}\s*({units})\s*((\+/-|±)\s*{_NUMBER}\s*({units}|dB|%)?(\s+max)?\s*)?$"


def _unit(unit):
    """Return a unit as a regular expression, in each way it is read."""
    return re.escape(unit).replace("u", "[uµμ]").replace("ohm", "(ohm|Ω)").replace(
        r"\^2", r"(\^2|²)").replace(r"\ ", r"\s*")


def _quantity(dimension, least=None, most=None):
    text = {"type": "string", "pattern": quantity_pattern(dimension)}
    if "" not in UNITS[dimension]:
        return text
    number = {"type": "number"}
    if least is not None:
        number["minimum"] = least
    if most is not None:
        number["maximum"] = most
    return {"anyOf": [number, text]}


@_maker(Measure)
def _measure(reads):
    one = _quantity(reads.dimension, reads.lowest, reads.most)
    if not reads.over_frequency:
        return one
    table: dict[str, Any] = {
        "type": "object",
        "properties": {
            "outside": {"const": "hold", "description": "the end points hold beyond the ends"},
            "tolerance": {**_TEXT, "description": "one offset common to all points"},
        },
        "patternProperties": {quantity_pattern("frequency"): one},
        "additionalProperties": False,
        "minProperties": 1,
        "description": "values over frequency, linear in between: {4 GHz: ..., 8 GHz: ...}",
    }
    if reads.over_level:
        table["patternProperties"][quantity_pattern("power")] = one
        table["description"] += "; or over the pump's level: {-30 dBm: ..., -27 dBm: ...}"
    return {"if": {"type": "object"}, "then": table, "else": one}


@_maker(Whole)
def _whole(reads):
    number = {"type": "integer", "minimum": reads.least, "maximum": reads.most}
    return {"anyOf": [number, {"type": "string", "pattern": r"^[+-]?[0-9]{1,18}$"}]}


@_maker(Choice)
def _choice(reads):
    return {"enum": list(reads.options)}


@_maker(Flag)
def _flag(reads):
    return {"enum": [True, False, "true", "false"]}


@_maker(Text)
def _text(reads):
    return dict(_TEXT)


@_maker(Cost)
def _cost(reads):
    return {"type": "string", "pattern": r"^[0-9]+(\.[0-9]+)?\s*([A-Za-z]{2,4}|[€$£¥])$"}


@_maker(Reference)
def _reference(reads):
    rows = {"coax": catalogue.coax, "material": catalogue.materials}.get(reads.to)
    if rows is None:
        return {"type": "string"}
    # Others can be defined in the layout; these are there without.
    return {"type": "string", "anyOf": [{"enum": sorted(rows())}, {}]}


@_maker(PortName)
def _port_name(reads):
    return dict(_PORT)


@_maker(PortList)
def _port_list(reads):
    return {"anyOf": [_PORT, {"type": "array", "items": _PORT, "uniqueItems": True}]}


@_maker(PerPort)
def _per_port(reads):
    return {"type": "object", "additionalProperties": _TEXT}


@_maker(Phases)
def _phases(reads):
    return {"type": "object", "additionalProperties": _quantity("angle")}


@_maker(Clamped)
def _clamped(reads):
    metal = {"type": "string", "anyOf": [{"enum": sorted(catalogue.materials())}, {}]}
    return {
        "type": "object", "properties": {"body": metal, "screws": metal},
        "required": ["body", "screws"], "additionalProperties": False,
    }


@_maker(Distances)
def _distances(reads):
    return {"type": "object", "additionalProperties": _quantity("length")}


@_maker(FrequencyRange)
def _frequency_range(reads):
    ends = {"start": _quantity("frequency"), "stop": _quantity("frequency")}
    return {
        "type": "object", "properties": ends, "required": list(ends), "additionalProperties": False,
    }


@_maker(DataFile)
def _data_file(reads):
    whole = {
        "type": "object",
        "properties": {"file": {"type": "string"}, "outside": {"const": "hold"}},
        "required": ["file"],
        "additionalProperties": False,
    }
    return {"if": {"type": "object"}, "then": whole, "else": {"type": "string"}}


# -- what sections hold -------------------------------------------------------------------------


@_maker(declared.Steps)
def _steps(reads):
    return {
        "type": "object",
        "patternProperties": {quantity_pattern(reads.along): _quantity(reads.dimension)},
        "additionalProperties": False,
        "minProperties": reads.fewest,
    }


@_maker(declared.Constant)
def _constant(reads):
    one = _quantity(reads.steps.dimension)
    return {"if": {"type": "object"}, "then": _steps(reads.steps), "else": one}


@_maker(declared.Named)
def _named(reads):
    one = dict(_TEXT) if reads.dimension is None else _quantity(reads.dimension)
    return {"type": "object", "additionalProperties": one}


@_maker(declared.End)
def _end(reads):
    return {"type": "string", "pattern": r"^[A-Za-z][A-Za-z0-9_]*(-[0-9]{1,9})?(\..+)?$"}


@_maker(declared.Arriving)
def _arriving(reads):
    return {
        "type": "object", "patternProperties": {_end(reads)["pattern"]: _quantity("power")},
        "additionalProperties": False, "minProperties": 1, "maxProperties": 1,
    }
