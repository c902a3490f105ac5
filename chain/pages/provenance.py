"""Which layout a page is about: its files, their hash, the version that wrote it."""

import functools
import hashlib
import os

from chain.version import PACKAGE, VERSION
from components.touchstone import NamedFile


class Provenance:
    """The files behind a layout, named the same wherever the command is called."""

    def __init__(self, layout):
        self.layout = layout

    @functools.cached_property
    def _folder(self):
        return os.path.dirname(os.path.abspath(self.layout.path))

    def file_name(self, path):
        """Return a file's name relative to the layout's folder: the same wherever it is called."""
        return os.path.relpath(os.path.abspath(path), self._folder).replace(os.sep, "/")

    def said(self, text):
        """Return a message with the files in it named as on pages, without marks of code."""
        for path in sorted(self.layout.sources, key=len, reverse=True):
            text = text.replace(path, self.file_name(path))
        return text.replace(self._folder + os.sep, "").replace("`", "")

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
    def provenance(self):
        """What every page says at its top."""
        name = self.file_name(self.layout.path)
        changed = f", with --set {', '.join(self.layout.changes)}" if self.layout.changes else ""
        return f"{name}{changed} · SHA-256 {self.digest[:12]}… · {PACKAGE} {VERSION}"


def provenance_of(layout):
    """Return what a page says at its top: title, file, hash, version."""
    return f"{layout.title} · {Provenance(layout).provenance}"

