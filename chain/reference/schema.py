"""The layout file as JSON Schema, so that an editor completes keys and marks mistakes.

Made from the declarations that reading works from (components.declaration, chain.reading.declared):
nothing about a key is said here a second time.  What only the layout as a whole can tell (whether
a stage or port exists, whether values fit together) is left to `chain check`.
"""

import json
import re

import yaml

import components.kinds  # noqa: F401  (registers every kind)
from chain.reading import declared
from chain.reference.declared_text import example_for, range_in_words, units_in_words
from chain.reference.schema_types import schema_of
from components.declaration import KINDS
from components.parameters import Measure, Overrides

DIALECT = "https://json-schema.org/draft/2020-12/schema"

_ID = "^[A-Za-z][A-Za-z0-9_]{0,59}$"


def layout_schema():
    """Return the JSON Schema (2020-12) of a layout file as a dict."""
    maker = _Maker()
    sections = {p.name: _described(p, maker.section(p)) for p in declared.LAYOUT}
    return {
        "$schema": DIALECT,
        "title": "Microwave lines of a cryostat",
        "type": "object",
        "properties": sections,
        "required": [p.name for p in declared.LAYOUT if p.required],
        "additionalProperties": False,
        "$defs": maker.definitions(),
    }


def schema_text():
    """Return the JSON Schema as the text of a file."""
    return json.dumps(layout_schema(), indent=1, ensure_ascii=False) + "\n"


class _Maker:
    """Makes the schemas of sections and kinds; types that they name are defined once."""

    def __init__(self):
        self._types = {}

    def definitions(self):
        """Return what the schema refers to, by name."""
        found = {
            "item": _item(), "part": _part(),
            "elements": {"type": "array", "items": _ref("item"), "minItems": 1},
            _slug("keys of any kind"): self._any_kind(),
        }
        for kind in KINDS.values():
            found[_slug(f"keys of {kind.name}")] = self._kind_keys(kind)
            found[_slug(f"kind {kind.name}")] = _kind(kind)
        return {**found, **self._types}

    def value(self, reads):
        """Return a reference to the schema of a declared type."""
        words: tuple[str, ...] = (units_in_words(reads), range_in_words(reads))
        if isinstance(reads, declared.Steps):
            words = reads.along, reads.dimension, str(reads.fewest)
        name = _slug(" ".join((type(reads).__name__, *words)))
        schema = schema_of(reads)
        if self._types.setdefault(name, schema) != schema:
            return schema
        return {"$ref": f"#/$defs/{name}"}

    # Sections

    def section(self, parameter):
        """Return the schema of a section's value."""
        if parameter.name == "lines":
            return self._lines()
        if parameter.name in _OWN_FORM:
            return _OWN_FORM[parameter.name]
        if isinstance(parameter.reads, declared.Rows):
            row = {**self.group(parameter.reads.fields), "type": ["object", "null"]}
            return {"type": ["object", "null"], "additionalProperties": row}
        return self._typed(parameter.reads)

    def group(self, fields):
        """Return the schema of a mapping with declared keys."""
        return {
            "type": "object",
            "properties": {p.name: _described(p, self._typed(p.reads)) for p in fields},
            "required": [p.name for p in fields if p.required],
            "additionalProperties": False,
        }

    def _typed(self, reads):
        """Return the schema of a type, groups and alternatives of them included."""
        if isinstance(reads, declared.Group):
            return self.group(reads.fields)
        if isinstance(reads, declared.Either):
            return {"anyOf": [self._typed(reads.with_it), self._typed(reads.without)]}
        return self.value(reads)

    def _lines(self):
        form = {
            "elements": _ref("elements"),
            "except": {
                "type": "object",
                "patternProperties": {"^[0-9]{1,9}$": {
                    "type": "object", "additionalProperties": _ref("keys of any kind"),
                }},
                "additionalProperties": False,
            },
        }
        keys = {
            p.name: _described(p, form[p.name] if p.name in form else self.value(p.reads))
            for p in declared.LINE
        }
        whole = {
            "type": "object", "properties": keys, "required": ["elements"],
            "additionalProperties": False,
        }
        line = {"if": {"type": "array"}, "then": _ref("elements"), "else": whole}
        return {"type": "object", "additionalProperties": line, "minProperties": 1}

    # Elements

    def _kind_keys(self, kind):
        """Return the schema of a mapping with a kind's keys, whatever is missing."""
        every = kind.declared()
        keys = {name: _described(p, self._element_value(p, every)) for name, p in every.items()}
        return {
            "type": "object",
            "description": kind.summary,
            "properties": {**_own_keys(), **keys},
            "additionalProperties": False,
        }

    def _element_value(self, parameter, every):
        if not isinstance(parameter.reads, Overrides):
            return self.value(parameter.reads)
        own = {name: self.value(p.reads) for name, p in every.items() if not p.fixed}
        return {"type": "object", "properties": own, "additionalProperties": False}

    def _any_kind(self):
        """Return the schema of an element of a part: its keys are some kind's."""
        forms = {}
        for kind in KINDS.values():
            every = kind.declared()
            for name, parameter in every.items():
                reads = parameter.reads
                schema = {"type": "object"} if isinstance(reads, Overrides) else self.value(reads)
                if schema not in forms.setdefault(name, []):
                    forms[name].append(schema)
        keys = {
            name: each[0] if len(each) == 1 else {"anyOf": each} for name, each in forms.items()
        }
        return {
            "type": "object", "properties": {**_own_keys(), **keys}, "additionalProperties": False,
        }


def _slug(words):
    """Return a name that can stand in a reference."""
    return re.sub(r"[^A-Za-z0-9]+", "-", words).strip("-")


def _ref(words):
    return {"$ref": f"#/$defs/{_slug(words)}"}


def _described(parameter, schema):
    """Return a parameter's schema with what an editor shows beside it."""
    facts = [units_in_words(parameter.reads), range_in_words(parameter.reads)]
    said = f"{parameter.meaning} [{'; '.join(fact for fact in facts if fact)}]"
    if parameter.default is not None:
        said += f", default {parameter.default}"
    if parameter.source:
        said += f" ({parameter.source})"
    found = {"description": said, **schema}
    example = parameter.default or example_for(parameter)
    if example is not None and example[:1] not in "{[" and "\n" not in example:
        found["examples"] = [example]
    return found


def _item():
    """Return the schema of an item of a line: a join, an element of a kind, or of a part."""
    return {
        "type": "object",
        "if": {"required": ["join"]},
        "then": {
            "properties": {"join": {**schema_of(declared.End()), "description":
                                    "free port of another line's element that this end joins"}},
            "additionalProperties": False,
        },
        "else": {
            "required": ["id"],
            "properties": {"kind": _kind_word()},
            "if": {"required": ["kind"]},
            "then": {"allOf": [_when(kind, f"kind {kind.name}") for kind in KINDS.values()]},
            "else": {"required": ["part"], **_ref("keys of any kind")},
        },
    }


def _part():
    """Return the schema of a part: keys of its kind, none of them missed."""
    return {
        "type": "object",
        "required": ["kind"],
        "properties": {"kind": _kind_word()},
        "allOf": [_when(kind, f"keys of {kind.name}") for kind in KINDS.values()],
    }


def _kind_word():
    return {"enum": sorted(KINDS), "description": "what it is; chain kinds lists them"}


def _when(kind, definition):
    return {
        "if": {"properties": {"kind": {"const": kind.name}}, "required": ["kind"]},
        "then": _ref(definition),
    }


def _own_keys():
    """Return the schemas of what stands beside an element's parameters."""
    return {
        "id": {"type": "string", "pattern": _ID, "description": "its name, unique in the layout"},
        "kind": _kind_word(),
        "part": {"type": "string", "description": "a part of `parts:`, whose keys it takes"},
    }


def _kind(kind):
    """Return the schema of an element of a kind: its keys, and those that have to be there."""
    needed = [p for p in kind.declared().values() if p.required]
    by_file = [p.name for p in needed if kind.passive and isinstance(p.reads, Measure)]
    rest = [p.name for p in needed if p.name not in by_file]
    found = {
        **_ref(f"keys of {kind.name}"), "required": ["id", "kind", *rest],
        # What editors offer for a whole element.
        "examples": [yaml.load(kind.example, Loader=yaml.BaseLoader)],
    }
    conditions = []
    if by_file and "data" in kind.declared():
        # A file stands in place of what would have to be said of a passive part's scattering.
        conditions.append({"anyOf": [{"required": ["data"]}, {"required": by_file}]})
    elif by_file:
        found["required"] += by_file
    if kind.spans_stages:
        anchors = (["from", "to"], ["stage"], ["temperature"])
        conditions.append({"anyOf": [{"required": keys} for keys in anchors]})
    elif "stage" in kind.declared():
        conditions.append({"anyOf": [{"required": [key]} for key in ("stage", "temperature")]})
    return {**found, "allOf": conditions} if conditions else found


_OWN_FORM = {
    "parts": {"type": ["object", "null"], "additionalProperties": _ref("part")},
    "include": {
        "anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}},
                  {"type": "null"}],
    },
}
"""Sections whose reader is not one of a declared type."""
