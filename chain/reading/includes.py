"""A layout file and the files that it includes, as one set of sections."""

from __future__ import annotations

import os
from collections import abc
from dataclasses import dataclass, field

from chain.errors import Place
from chain.reading import declared
from chain.reading.files import read_bytes, text_of
from chain.reading.nodes import Mapping, Removed, Scalar, Sequence, compose
from chain.reading.problems import MistakeError
from chain.reading.values import folder_of, what_it_is
from chain.reading.values import text_of as scalar_text
from chain.suggestions import choose, nearest, shown

MAX_FILES = 100
_EVERY = [parameter.name for parameter in declared.LAYOUT]
_INCLUDED = (*declared.INCLUDED, "format", "note")
_EXAMPLE = "begin with `band: {start: 4 GHz, stop: 8 GHz}`, `stages:` and `lines:`"


@dataclass
class Files:
    """What was read: bytes by name, and the sections of all files together."""

    root: Mapping
    sources: dict = field(default_factory=dict)
    meant: set = field(default_factory=set)
    """Sections that unknown ones were probably meant to be."""

    def section(self, name):
        """Return the node of a section, or None."""
        node = self.root.get(name)
        return None if isinstance(node, Removed) else node


@dataclass(frozen=True)
class Held:
    """What was read before, and is not read again."""

    sources: abc.Mapping[str, bytes] = field(default_factory=dict)
    """Bytes of layout files by name."""
    data_files: abc.Mapping[tuple[str, bool], object] = field(default_factory=dict)
    """Touchstone files by path (NamedFile)."""


def read_files(path, problems, held, reach):
    """Return the Files of a layout; raises MistakeError where the layout itself is unreadable.

    What `held` (a Held) has is not read again, and what `reach` (a Reach) does not hold not at all.
    """
    sources = dict(held.sources)
    root = _root_of(path, path, sources, problems)
    meant = _check_keys(root, _EVERY, problems)
    waiting = _included(root, problems, (os.path.realpath(path),))
    seen = {os.path.realpath(path)}
    while waiting:
        node, name, above = waiting.pop(0)
        real = os.path.realpath(name)
        try:
            if real in above:
                raise MistakeError(
                    node.place, f"{name} includes itself, by way of what it includes",
                    "take one of the includes out",
                )
            if real in seen:
                continue
            reach.check(name, node.place, "include")
            if len(seen) >= MAX_FILES:
                raise MistakeError(
                    node.place, f"more than {MAX_FILES} files are included", "put some together"
                )
            seen.add(real)
            part = _root_of(name, name, sources, problems, node.place)
        except MistakeError as mistake:
            problems.note(mistake)
            continue
        _check_keys(part, _INCLUDED, problems)
        _merge(root, part, problems)
        waiting += _included(part, problems, (*above, real))
    return Files(root, sources, meant)


def _root_of(path, name, sources, problems, place=None):
    if name not in sources:
        sources[name] = read_bytes(path, place)
    data = sources[name]
    problems.know(name)
    root = compose(text_of(data, name), name, problems)
    if root is None:
        raise MistakeError(Place(name), "the file is empty", _EXAMPLE)
    if not isinstance(root, Mapping):
        raise MistakeError(root.place, f"the file {what_it_is(root)} and no layout", _EXAMPLE)
    return root


def _check_keys(root, known, problems):
    """Note unknown keys; return those that they were probably meant to be."""
    meant = set()
    for text, (key, _) in root.entries.items():
        if text in known:
            continue
        if text in _EVERY:
            problems.add(
                key.place, f"an included file has no {text}",
                f"keep {text} in the layout; included files hold {', '.join(declared.INCLUDED)}",
            )
        else:
            problems.add(key.place, f"unknown key {shown(text)}", choose(text, known, "keys"))
            meant.add(nearest(text, known))
    return meant


def _included(root, problems, above):
    """Return (node, file name, files above) for each file that a root includes."""
    node = root.get("include")
    if node is None or (isinstance(node, Scalar) and node.empty):
        return []
    files = []
    for item in node.items if isinstance(node, Sequence) else [node]:
        try:
            text = scalar_text(item, "include", "list files, like [parts.yaml]")
            files.append((item, os.path.normpath(os.path.join(folder_of(item), text)), above))
        except MistakeError as mistake:
            problems.note(mistake)
    return files


def _merge(root, part, problems):
    """Add an included file's sections; a name belongs to one file."""
    for section in declared.INCLUDED[1:]:
        node = part.get(section)
        if node is None:
            continue
        own = root.get(section)
        if not isinstance(node, Mapping) or not isinstance(own, Mapping):
            if own is None or (isinstance(own, Scalar) and own.empty):
                root.entries[section] = part.entries[section]
            elif not isinstance(node, Scalar) or not node.empty:
                _not_both(node, section, problems)
            continue
        _merge_rows(own, node, section, root, problems)


def _not_both(node, section, problems):
    if not isinstance(node, Mapping):
        problems.add(node.place, f"{section} {what_it_is(node)}", "write names, each a mapping")


def _merge_rows(own, node, section, root, problems):
    """Put an included file's rows before the layout's own, which stand in its `own` mapping."""
    rows = dict(node.entries)
    for name, entry in own.entries.items():
        other = rows.setdefault(name, entry)
        if other is not entry:
            first, again = sorted((entry[0], other[0]), key=lambda key: key.file != root.file)
            problems.add(
                again.place, f"{shown(name)} in {section} is given twice, first at {first.place}",
                "keep one of them, or choose another name",
            )
    merged = Mapping(own.file, own.line, own.column, rows)
    root.entries[section] = (root.entries[section][0], merged)
