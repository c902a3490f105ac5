"""Changes written into a copy of a layout's own text, its comments and order kept.

What `--set` takes is written where the text says it: a value in place of the old one, a new key
behind the last one of its mapping, a key taken away with its value.  Refused is what stands in an
included file or in a part, which other elements share, and one copy out of several.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

import yaml

from chain.errors import LayoutError, Place
from chain.reading.files import text_of
from chain.reading.includes import Held
from chain.reading.load import read_again
from chain.suggestions import choose, shown

if TYPE_CHECKING:
    from chain.layout.layout import Layout

_WORDS = re.compile(r"(?i:true|false|yes|no|on|off|null|~|y|n|)")
_PLAIN = re.compile(r"[A-Za-z0-9+.(\-/ ^*%_]+")
_STARTS = "-?:,[]{}#&*!|>'\"%@`"

ROWS = ("stages", "tones", "signals")
"""Sections whose rows are changed by name; other keys that are written are elements'."""


def text_with_changes(layout: Layout, changes: Iterable[str]) -> str:
    """Return the text of a layout's own file with changes (`KEY=VALUE`) written into it.

    What comes out is read again before it is returned.  Raises LayoutError where a change does not
    stand in the file itself, or the text cannot take it.
    """
    name, data = next(iter(layout.sources.items()))
    text = text_of(data, name)
    for change in changes:
        text = _Writer(name, text, layout, change).written()
    held = Held({**layout.sources, name: text.encode()}, layout.data_files)
    read_again(layout, held)
    return text


class _Writer:
    """One change of a text."""

    def __init__(self, name, text, layout, change):
        self.name, self.text, self.layout = name, text, layout
        key, _, value = change.partition("=")
        self.key, self.value = key.strip(), value.strip()
        self.root = yaml.compose(text, Loader=yaml.SafeLoader)

    def written(self):
        mapping, path = self._found()
        for step in path[:-1]:
            inner = _value(mapping, step)
            if not isinstance(inner, yaml.MappingNode):
                raise self._refused(f"{step} is no mapping of its own in the file")
            mapping = inner
        return self._put(mapping, path[-1])

    def _refused(self, why, instead="write it there by hand"):
        return LayoutError.at(Place("--write"), f"{self.key} cannot be written: {why}", instead)

    def _found(self):
        """Return (the mapping in which the change is made, the keys from there)."""
        first, _, rest = self.key.partition(".")
        if first in ROWS:
            section = _value(self.root, first)
            for name in sorted(_keys(section), key=len, reverse=True):
                if rest.startswith(f"{name}."):
                    row = _value(section, name)
                    if isinstance(row, yaml.MappingNode):
                        return row, rest[len(name) + 1:].split(".")
            raise self._refused(f"{rest.partition('.')[0]} stands in no {first} of this file",
                                self._included())
        if "-" in first:
            raise self._refused("it is of one copy of a line",
                                "write it under `except:` of that line by hand")
        element = self._element(first)
        if element is None:
            raise self._refused("its line is not in this file", self._included())
        path = rest.split(".")
        part = _value(element, "part")
        shared = _value(_value(self.root, "parts"), part.value) if part is not None else None
        if part is not None and path[0] not in _keys(element) and (
            shared is None or path[0] in _keys(shared)
        ):
            raise self._refused(f"{path[0]} comes from the part {shown(part.value)}, which other "
                                "elements may share", "change the part, or give the element the "
                                "key by hand")
        return element, path

    def _included(self):
        others = list(self.layout.sources)[1:]
        return choose(self.key, others, "files") if others else "name what is in the file"

    def _element(self, key):
        lines = _value(self.root, "lines")
        for _, line in getattr(lines, "value", ()):
            items = _value(line, "elements") if isinstance(line, yaml.MappingNode) else line
            for item in getattr(items, "value", ()):
                found = _value(item, "id")
                if found is not None and found.value == key:
                    return item
        return None

    def _put(self, mapping, key):
        pairs = {name.value: (name, value) for name, value in mapping.value}
        if key in pairs:
            name, value = pairs[key]
            if not self.value:
                return self._without(mapping, name, value)
            if not isinstance(value, yaml.ScalarNode) and not value.flow_style:
                raise self._refused("its old value goes over several lines")
            return self._spliced(value.start_mark.index, value.end_mark.index, self._new())
        if not self.value:
            raise self._refused("the file does not have it")
        return self._added(mapping, key)

    def _added(self, mapping, key):
        entry = f"{key}: {self._new()}"
        if mapping.flow_style:
            if not mapping.value:
                at = mapping.start_mark.index + 1
                return self._spliced(at, at, entry)
            at = mapping.value[-1][1].end_mark.index
            return self._spliced(at, at, f", {entry}")
        for name, value in reversed(mapping.value):
            same_line = value.start_mark.line == value.end_mark.line
            if same_line and (isinstance(value, yaml.ScalarNode) or value.flow_style):
                end = self.text.find("\n", value.end_mark.index)
                end = len(self.text) if end < 0 else end
                return self._spliced(end, end, f"\n{' ' * name.start_mark.column}{entry}")
        raise self._refused("its mapping has no line behind which it could stand")

    def _without(self, mapping, name, value):
        start, end = name.start_mark.index, value.end_mark.index
        if mapping.flow_style:
            after = re.compile(r"\s*,\s*").match(self.text, end)
            if after:
                return self._spliced(start, after.end(), "")
            before = re.compile(r",\s*$").search(self.text, 0, start)
            return self._spliced(before.start() if before else start, end, "")
        line = self.text.rfind("\n", 0, start) + 1
        if self.text[line:start].strip() or value.start_mark.line != name.start_mark.line:
            raise self._refused("it does not stand on a line of its own")
        stop = self.text.find("\n", end)
        return self._spliced(line, len(self.text) if stop < 0 else stop + 1, "")

    def _new(self):
        """Return the value as YAML takes it, in quotes where it has to be."""
        value = self.value
        if value[0] in "{[" or (value[0] == value[-1] and value[0] in "'\"" and len(value) > 1):
            return value
        if _WORDS.fullmatch(value) or value[0] in _STARTS.replace("-", "") or (
            not _PLAIN.fullmatch(value)
        ):
            return "'" + value.replace("'", "''") + "'"
        return value

    def _spliced(self, start, end, new):
        return self.text[:start] + new + self.text[end:]


def _value(node, key):
    for name, value in getattr(node, "value", ()) if isinstance(node, yaml.MappingNode) else ():
        if name.value == key:
            return value
    return None


def _keys(node):
    return [name.value for name, _ in node.value] if isinstance(node, yaml.MappingNode) else []
