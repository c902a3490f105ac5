"""What pages say of a layout, each thing worked out once; what cannot be is said in its place."""

import functools
import hashlib
import importlib.metadata
import os
import re

from chain.equal_lines import equal_lines
from chain.errors import LayoutError
from components.touchstone import NamedFile

PACKAGE = "cryogenic-chain"


class Unknown:
    """An answer that cannot be worked out, with the reason."""

    def __init__(self, why):
        self.why = why


class Facts:
    """A layout with its answers, its names on pages, its files."""

    def __init__(self, layout):
        self.layout = layout
        self.groups = equal_lines(layout)
        self.group_of = {name: group for group in self.groups for name in group.lines}
        self.page_of = self._page_names()
        self._budgets = {}

    # -- names ----------------------------------------------------------------------------------

    def _page_names(self):
        """Return {line of a group: the name of its page}; names differ in more than their case."""
        taken, found = set(), {}
        for group in self.groups:
            stem = re.sub(r"[^a-z0-9]+", "-", group.name.lower()).strip("-") or "x"
            name, number = f"line-{stem}", 2
            while name in taken:
                name, number = f"line-{stem}-{number}", number + 1
            taken.add(name)
            found[group.first] = name
        return found

    def page(self, line):
        """Return the name of the page on which a line is described."""
        return self.page_of[self.group_of[line].first]

    def id_text(self, key):
        """Return an element's id as it stands for all equal copies."""
        return self.group_of[self.layout.elements[key].line].id_text(key)

    # -- files ----------------------------------------------------------------------------------

    @functools.cached_property
    def _folder(self):
        return os.path.dirname(os.path.abspath(self.layout.path))

    def file_name(self, path):
        """Return a file's name relative to the layout's folder: the same wherever it is called."""
        return os.path.relpath(os.path.abspath(path), self._folder).replace(os.sep, "/")

    def said(self, text):
        """Return a message with the files in it named as on pages."""
        for path in sorted(self.layout.sources, key=len, reverse=True):
            text = text.replace(path, self.file_name(path))
        return text.replace(self._folder + os.sep, "")

    @functools.cached_property
    def files(self):
        """[(name, SHA-256)] of every file behind the layout, data files too."""
        found = {self.file_name(path): data for path, data in self.layout.sources.items()}
        for element in self.layout.elements.values():
            for value in element.settings.values.values():
                if isinstance(value, NamedFile) and self.file_name(value.path) not in found:
                    with open(value.path, "rb") as file:
                        found[self.file_name(value.path)] = file.read()
        return [(name, hashlib.sha256(data).hexdigest()) for name, data in found.items()]

    @functools.cached_property
    def digest(self):
        """SHA-256 over the names and hashes of all files, and the changes made for this run."""
        lines = [f"{digest}  {name}" for name, digest in self.files]
        lines += [f"--set {change}" for change in self.layout.changes]
        return hashlib.sha256("\n".join(lines).encode("utf-8", "replace")).hexdigest()

    @functools.cached_property
    def standing(self):
        """What every page says at its top."""
        name = self.file_name(self.layout.path)
        changed = f", with --set {', '.join(self.layout.changes)}" if self.layout.changes else ""
        return f"{name}{changed} · SHA-256 {self.digest[:12]}… · {PACKAGE} {version()}"

    # -- answers --------------------------------------------------------------------------------

    def _attempt(self, function):
        try:
            return function()
        except LayoutError as error:
            return Unknown(self.said(str(error)))

    def budget(self, signal):
        """Return the Budget of a signal, or an Unknown."""
        if signal not in self._budgets:
            self._budgets[signal] = self._attempt(lambda: self.layout.budget(signal))
        return self._budgets[signal]

    @functools.cached_property
    def power(self):
        """The Power of all tones, or an Unknown."""
        return self._attempt(self.layout.power)

    @functools.cached_property
    def heat(self):
        """The Heat, or an Unknown."""
        return self._attempt(self.layout.heat)

    @functools.cached_property
    def advice(self):
        """The Advice."""
        return self.layout.check()

    @functools.cached_property
    def ways(self):
        """Ids on the way of each signal, by its name; signals of equal copies once."""
        found = {}
        for name, signal in self.layout.signals.items():
            ends = [port[0] for port in (signal.from_port, signal.to_port) if port is not None]
            lines = {self.layout.elements[key].line for key in ends}
            if all(self.group_of[line].first == line for line in lines):
                found[name] = self.layout.way(signal) if len(ends) == 2 else ends
        return found

    def signals_of(self, group):
        """Return the names of the signals that pass a line."""
        own = set(self.layout.lines[group.first].elements)
        return [name for name, ids in self.ways.items() if own & set(ids)]


def version():
    """Return the version of the installed package."""
    try:
        return importlib.metadata.version(PACKAGE)
    except importlib.metadata.PackageNotFoundError:
        return "of unknown version"
