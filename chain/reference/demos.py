"""The demos that come with the package, wherever it is installed."""

from __future__ import annotations

import importlib.metadata
from pathlib import Path

from chain.errors import LayoutError, Place
from chain.version import PACKAGE

FOLDER = "demo_chains"
ENDINGS = (".yaml", ".yml", ".csv", ".s2p", ".ipynb")
SCHEMA = "layout.schema.json"
"""What the first line of a demo names for editors; `chain demo` writes it beside them."""

_CLONE = Path(__file__).parents[2] / FOLDER


def demo_files() -> dict[str, bytes]:
    """Return {name: content} of every demo file, layouts first; raises LayoutError without any."""
    found = {path.name: path.read_bytes() for path in sorted(_paths(), key=_order)}
    if not found:
        raise LayoutError.at(
            Place("chain demo"), "this installation has no demos", f"install {PACKAGE} again"
        )
    return found


def _paths():
    """Return the paths of demo files: of a clone its folder's, else what the installation lists."""
    if _CLONE.is_dir():
        return [path for path in _CLONE.iterdir() if path.suffix in ENDINGS]
    try:
        listed = importlib.metadata.files(PACKAGE) or []
    except importlib.metadata.PackageNotFoundError:
        return []
    paths = (Path(str(file.locate())) for file in listed
             if file.parent.name == FOLDER and file.suffix in ENDINGS)
    return [path for path in paths if path.is_file()]


def _order(path):
    return ENDINGS.index(path.suffix), path.name


def about(content: bytes) -> str:
    """Return the title of a demo layout; an empty text where it has none."""
    for line in content.decode("utf-8").splitlines():
        if line.startswith("title:"):
            return line.partition(":")[2].strip()
    return ""
