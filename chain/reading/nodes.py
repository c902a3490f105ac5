"""A YAML file as a tree of nodes that know where they stand; every scalar stays text.

Built from the parser's events, without recursion, so that neither a deep file nor one whose
aliases multiply can do more than be refused.
"""

from __future__ import annotations

import yaml

from chain.errors import Place
from chain.reading.problems import MistakeError
from chain.reading.syntax import DEEPEST, explain, too_deep
from chain.suggestions import shown

PARSER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

MAX_NODES = 500_000
"""Keys, values and lists together, aliases counted as often as they are used."""


class Node:
    """Something in the file, with the place where it starts."""

    __slots__ = ("column", "file", "height", "line", "size")
    word = "nothing"

    def __init__(self, file, line, column):
        self.file, self.line, self.column = file, line, column
        self.size = self.height = 1

    @property
    def place(self):
        """Where it starts."""
        return Place(self.file, self.line, self.column)


class Scalar(Node):
    """A single text; `plain` where it stands without quotes."""

    __slots__ = ("plain", "text")
    word = "a text"

    def __init__(self, file, line, column, text, plain=True):
        super().__init__(file, line, column)
        self.text, self.plain = text, plain

    @property
    def empty(self):
        """True where a key has no value at all."""
        return self.plain and not self.text


class Sequence(Node):
    """A list of nodes."""

    __slots__ = ("items",)
    word = "a list"

    def __init__(self, file, line, column, items=()):
        super().__init__(file, line, column)
        self.items = list(items)


class Mapping(Node):
    """Keys and values: `entries` holds text -> (key node, value node), in file order."""

    __slots__ = ("entries",)
    word = "a mapping"

    def __init__(self, file, line, column, entries=()):
        super().__init__(file, line, column)
        self.entries = dict(entries)

    def get(self, key):
        """Return the value of a key, or None."""
        entry = self.entries.get(key)
        return None if entry is None else entry[1]

    def over(self, below):
        """Return a mapping of both, this one's values before those of `below`."""
        return Mapping(self.file, self.line, self.column, {**below.entries, **self.entries})


class Removed(Node):
    """The value of a key that was taken away for one run."""

    __slots__ = ()


def compose(text, file, problems):
    """Return the root node of YAML `text`, None where there is none; raises MistakeError.

    Keys given twice are noted in `problems`, and the first of them kept.
    """
    composer = _Composer(file, problems)
    try:
        for event in yaml.parse(text, Loader=PARSER):
            composer.take(event)
    except yaml.MarkedYAMLError as error:
        raise explain(error, text, file) from error
    except yaml.YAMLError as error:
        what = f"the file is not YAML ({error})"
        raise MistakeError(Place(file), what, "repair or replace it") from error
    return composer.root


class _Composer:
    def __init__(self, file, problems):
        self.file, self.problems = file, problems
        self.root = None
        self._open, self._keys, self._anchors, self._names = [], [], {}, []
        self._documents = self._nodes = 0
        self._handlers = {
            yaml.ScalarEvent: self._scalar,
            yaml.SequenceStartEvent: self._start_sequence,
            yaml.MappingStartEvent: self._start_mapping,
            yaml.SequenceEndEvent: self._end,
            yaml.MappingEndEvent: self._end,
            yaml.AliasEvent: self._alias,
            yaml.DocumentStartEvent: self._document,
        }

    def take(self, event):
        handler = self._handlers.get(type(event))
        if handler:
            handler(event)

    def _place(self, event):
        mark = event.start_mark
        return Place(self.file, mark.line + 1, mark.column + 1)

    def _where(self, event) -> tuple[str, int, int]:
        if event.tag is not None and event.tag != "!":
            raise MistakeError(
                self._place(event), f"the tag {shown(event.tag)} is not read here",
                "take it out: what a value is follows from its key",
            )
        mark = event.start_mark
        return self.file, mark.line + 1, mark.column + 1

    def _document(self, event):
        self._documents += 1
        if self._documents > 1:
            raise MistakeError(
                self._place(event), "a second document starts here", "keep one document in a file"
            )

    def _scalar(self, event):
        node = Scalar(*self._where(event), event.value, event.implicit[0])
        if event.anchor is not None:
            self._anchors[event.anchor] = node
        self._put(node)

    def _start_sequence(self, event):
        self._start(Sequence(*self._where(event)), event)

    def _start_mapping(self, event):
        self._start(Mapping(*self._where(event)), event)

    def _start(self, node, event):
        if len(self._open) >= DEEPEST:
            raise too_deep(node.place)
        if self._open and isinstance(self._open[-1], Mapping) and self._keys[-1] is None:
            raise MistakeError(node.place, f"{node.word} stands as a key", "a key is a single text")
        if event.anchor is not None:
            self._anchors[event.anchor] = None
        self._open.append(node)
        self._keys.append(None)
        self._names.append(event.anchor)

    def _end(self, event):
        node = self._open.pop()
        self._keys.pop()
        anchor = self._names.pop()
        if anchor is not None:
            self._anchors[anchor] = node
        self._put(node)

    def _alias(self, event):
        place, name = self._place(event), event.anchor
        if name not in self._anchors:
            raise MistakeError(
                place, f"nothing is named &{name} before *{name}", f"write &{name} where it starts"
            )
        node = self._anchors[name]
        if node is None:
            raise MistakeError(place, f"*{name} stands inside of what it names", "take it out")
        if len(self._open) + node.height > DEEPEST:
            raise too_deep(place)
        self._put(node, place)

    def _put(self, node, place=None):
        """Add a finished node to the one it stands in."""
        if not self._open:
            self.root = node
            return
        inside = self._open[-1]
        inside.height = max(inside.height, node.height + 1)
        inside.size += node.size
        if inside.size > MAX_NODES:
            raise MistakeError(
                place or node.place, f"the file has more than {MAX_NODES:,} values",
                "use `copies` for equal lines, and fewer aliases",
            )
        if isinstance(inside, Sequence):
            inside.items.append(node)
        elif self._keys[-1] is None:
            self._keys[-1] = _as_key(node, place)
        else:
            self._enter(inside, self._keys[-1], node)
            self._keys[-1] = None

    def _enter(self, mapping, key, node):
        before = mapping.entries.setdefault(key.text, (key, node))
        if before[0] is not key:
            first = before[0]
            self.problems.add(
                key.place, f"the key {shown(key.text)} is given twice",
                f"keep one of them; the first is on line {first.line}, column {first.column}",
            )


def _as_key(node, place):
    if not isinstance(node, Scalar):
        place = place or node.place
        raise MistakeError(place, f"{node.word} stands as a key", "a key is a single text")
    if node.text == "<<" and node.plain:
        raise MistakeError(
            node.place, "merging with << is not read", "use `parts:`, whose keys can be overridden"
        )
    if not node.text:
        raise MistakeError(node.place, "a key without a name", "write a name before the ':'")
    return node

