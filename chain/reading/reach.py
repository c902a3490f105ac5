"""Folders below which a layout may name files: a stranger's layout reads nothing else."""

import os
from collections.abc import Iterable

from chain.errors import Place
from chain.reading.problems import MistakeError
from chain.suggestions import shown

STANDARD_INPUT = "-"
"""The path that stands for standard input."""

_STREAMS = frozenset([STANDARD_INPUT, "/dev/stdin", "/dev/fd/0", "/proc/self/fd/0"])


def is_standard_input(path: str) -> bool:
    """Tell whether a path means standard input."""
    return path in _STREAMS


class Reach:
    """What a layout at `path` may name: what lies below its folder, its repository, or `allow`."""

    def __init__(self, path: str, allow: Iterable[str] = ()):
        own = os.getcwd() if is_standard_input(path) else _root_of(os.path.dirname(path))
        self.folders = [os.path.realpath(folder) for folder in (own, *allow)]

    def check(self, path: str, place: Place, called: str) -> None:
        """Raise MistakeError where a file lies elsewhere, links followed; nothing is opened."""
        if place.file.startswith("--set "):
            return  # whoever runs it has written this himself
        real = os.path.realpath(path)
        if any(os.path.commonpath([folder, real]) == folder for folder in self.folders):
            return
        raise MistakeError(
            place,
            f"{called}: {shown(path)} lies outside {shown(self.folders[0])}, and is not read",
            f"move it there, or allow its folder: --allow {os.path.dirname(real) or '/'}",
        )


def _root_of(folder):
    """Return the repository's root that a folder is in, or the folder itself."""
    here = os.path.realpath(folder or ".")
    above = here
    while True:
        if os.path.lexists(os.path.join(above, ".git")):
            return above
        parent = os.path.dirname(above)
        if parent == above:
            return here
        above = parent
