"""Changes for one run, `KEY=VALUE`, made in the nodes before anything is read.

`KEY=` takes a key away.  What a change says is then checked like the file itself.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from chain.errors import Place
from chain.reading.names import written_end
from chain.reading.nodes import Mapping, Removed, Scalar, Sequence, compose
from chain.reading.problems import MistakeError
from chain.suggestions import choose, shown

if TYPE_CHECKING:
    from chain.reading.problems import Problems

_FORM = "write KEY=VALUE, like H1.state=dead or stages.mixing.temperature=20 mK"
_WORDS = ("format", "title", "self_heating", "note")
_ROWS = ("stages", "parts", "coax", "materials", "lines", "tones", "signals")
_PLAIN = ("band", "accept", "margins")
"""Sections whose keys have values, and no rows."""
_NEW = ("coax", "materials")
"""Sections in which a change can name a row that the layout does not have yet."""


def make_changes(root: Mapping, changes: Iterable[str], problems: Problems) -> None:
    """Change the layout's nodes in place; mistakes are noted."""
    elements = _elements(root) if changes else {}
    for change in changes:
        try:
            _Change(change, problems).make(root, elements)
        except MistakeError as mistake:
            problems.note(mistake)


def _elements(root):
    """Return (line name, node) of every element by its id."""
    found = {}
    lines = root.get("lines")
    for name, (_, node) in getattr(lines, "entries", {}).items():
        items = node.get("elements") if isinstance(node, Mapping) else node
        for item in getattr(items, "items", ()):
            id = item.get("id") if isinstance(item, Mapping) else None
            if isinstance(id, Scalar):
                found.setdefault(id.text, (name, item))
    return found


class _Change:
    """One change, and the file name that stands for it in messages."""

    def __init__(self, text, problems):
        self.key, equals, self.value = text.partition("=")
        self.key, self.value = self.key.strip(), self.value.strip()
        self.file = f"--set {text if len(text) <= 60 else text[:57] + '...'}"
        problems.know(self.file)
        self._problems = problems
        self._at = len(text.partition("=")[0]) + 2
        if not equals or not self.key:
            raise MistakeError(self.place, f"{shown(text)} is no change", _FORM)

    @property
    def place(self):
        """Where the change begins."""
        return Place(self.file)

    def node(self):
        """Return the value as a node; one that begins with a bracket or quote is read as YAML."""
        if not self.value:
            return Removed(self.file, 1, self._at)
        if self.value[0] in "[{\"'":
            # Spaces in front put the nodes into the columns that the value has in the change.
            node = compose(" " * (self._at - 1) + self.value, self.file, self._problems)
            if node is not None:
                return node
        return Scalar(self.file, 1, self._at, self.value)

    def entry(self, key):
        """Return an entry of a mapping: the key, and the change's value."""
        return Scalar(self.file, 1, 1, key), self.node()

    def make(self, root, elements):
        """Make the change."""
        first, _, rest = self.key.partition(".")
        if first in _WORDS and not rest:
            root.entries[first] = self.entry(first)
        elif first in _ROWS or first in _PLAIN:
            self._in_section(root, first, rest)
        elif first == "include":
            raise MistakeError(self.place, "include cannot be changed for one run", "edit the file")
        else:
            self._in_element(root, first, rest, elements)

    # -- sections -------------------------------------------------------------------------------

    def _in_section(self, root, section, rest):
        if not rest:
            raise MistakeError(
                self.place, f"{self.key} is a whole section", f"name one of its keys: {_FORM}"
            )
        node = root.get(section)
        if not isinstance(node, Mapping):
            if node is not None and not (isinstance(node, Scalar) and node.empty):
                return  # The section itself is wrong, which is noted when it is read.
            node = Mapping(self.file, 1, 1)
            root.entries[section] = (Scalar(self.file, 1, 1, section), node)
        if section in _PLAIN:
            self._put(node, rest, section)
        else:
            self._in_row(node, section, rest)

    def _in_row(self, node, section, rest):
        name, key = _split(node, rest)
        if name is None:
            name, key = self._new_row(node, section, rest)
        if not key:
            self._whole_row(node, section, name)
            return
        if section == "lines" and isinstance(node.get(name), Sequence):
            self._as_mapping(node, name)
        if isinstance(node.get(name), Mapping):
            self._deep(self._inside(node, name), key, f"{section}.{name}")

    def _new_row(self, node, section, rest):
        if section not in _NEW:
            raise MistakeError(
                self.place, f"there is no {rest.partition('.')[0]!r} in {section}",
                choose(rest.partition(".")[0], node.entries, section),
            )
        known = _catalogued(section)
        name, key = _split(known, rest)
        if name is None:
            raise MistakeError(
                self.place, f"there is no {section} {rest!r}",
                choose(rest, [*node.entries, *known.entries], section),
            )
        node.entries[name] = (Scalar(self.file, 1, 1, name), Mapping(self.file, 1, 1))
        return name, key

    def _whole_row(self, node, section, name):
        if self.value:
            node.entries[name] = (node.entries[name][0], self.node())
        else:
            del node.entries[name]

    def _as_mapping(self, node, name):
        """Return a line that was a list as a mapping, so that it can have other keys."""
        key, items = node.entries[name]
        row = Mapping(items.file, items.line, items.column)
        row.entries["elements"] = (key, items)
        node.entries[name] = (key, row)

    def _inside(self, mapping, key):
        """Return the mapping at a key, made anew: an alias may show the old one elsewhere too."""
        entry = mapping.entries.get(key)
        if entry is not None and isinstance(entry[1], Mapping):
            old = entry[1]
            new = Mapping(old.file, old.line, old.column, old.entries)
        else:
            new = Mapping(self.file, 1, 1)
        mapping.entries[key] = (entry[0] if entry else Scalar(self.file, 1, 1, key), new)
        return new

    def _deep(self, row, path, called):
        """Put the value at a path of keys; below the first, a key that is not there is new."""
        name, rest = _split(row, path)
        if name is None:
            name, _, rest = path.partition(".")
        if not rest:
            self._put(row, name, called)
            return
        inner = self._inside(row, name)
        deeper, beyond = _split(inner, rest)
        if deeper is not None and beyond and isinstance(inner.get(deeper), Mapping):
            self._deep(self._inside(inner, deeper), beyond, f"{called}.{name}.{deeper}")
        else:
            self._put(inner, rest, f"{called}.{name}")

    def _put(self, mapping, key, called):
        if not self.value and key not in mapping.entries:
            raise MistakeError(
                self.place, f"{called} has no {shown(key)} to take away",
                choose(key, mapping.entries, "keys"),
            )
        mapping.entries[key] = self.entry(key)

    # -- elements -------------------------------------------------------------------------------

    def _in_element(self, root, first, rest, elements):
        end = written_end(Scalar(self.file, 1, 1, first))
        if end.id not in elements:
            known = [*elements, *_WORDS, *_PLAIN, *_ROWS]
            raise MistakeError(
                self.place, f"there is no element or section {shown(first)}",
                choose(first, known, "elements and sections"),
            )
        if not rest:
            raise MistakeError(
                self.place, f"{first} is an element, and no key of it is named",
                f"write {first}.KEY=VALUE, like {first}.state=bypassed to take it out",
            )
        if rest == "id" or rest.startswith("id."):
            raise MistakeError(self.place, "an id cannot be changed for one run", "edit the file")
        line, node = elements[end.id]
        if end.number is not None:
            node = self._exception(root, line, end)
        whole = self._with_part(root, elements[end.id][1])
        if not self.value and "." not in rest and rest not in whole.entries:
            raise MistakeError(
                self.place, f"{first} has no {shown(rest)} to take away",
                choose(rest, [key for key in whole.entries if key != "id"], "keys"),
            )
        if not self.value and "." not in rest:
            node.entries[rest] = self.entry(rest)
        else:
            self._with_inner(node, whole, rest)
            self._deep(node, rest, first)

    @staticmethod
    def _with_part(root, node):
        """Return an element's keys with its part's below them."""
        part = node.get("part")
        parts = root.get("parts")
        found = parts.get(part.text) if isinstance(part, Scalar) and parts is not None else None
        return node.over(found) if isinstance(found, Mapping) else node

    @staticmethod
    def _with_inner(node, whole, path):
        """Let an element have a mapping of its own that it has from its part."""
        name, _, rest = path.partition(".")
        inner = whole.get(name)
        if rest and name not in node.entries and isinstance(inner, Mapping):
            node.entries[name] = whole.entries[name]

    def _exception(self, root, line, end):
        """Return the mapping that holds what one copy has of its own."""
        lines = root.get("lines")
        if isinstance(lines.get(line), Sequence):
            self._as_mapping(lines, line)
        inner = lines
        for key in (line, "except", str(end.number), end.id):
            inner = self._inside(inner, key)
        return inner


def _split(mapping, path):
    """Return (key, rest) for the longest key of a mapping that begins a path, or (None, path)."""
    fitting = [
        key for key in getattr(mapping, "entries", ())
        if path == key or path.startswith(f"{key}.")
    ]
    if not fitting:
        return None, path
    key = max(fitting, key=len)
    return key, path[len(key) + 1 :]


def _catalogued(section):
    """Return the catalogue's names of a section as a mapping's keys."""
    from components import catalogue

    rows = {"coax": catalogue.coax, "materials": catalogue.materials}[section]()
    return Mapping("", 1, 1, {name: None for name in rows})
