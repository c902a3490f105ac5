"""What layouts, elements and stages are called in text."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from chain.layout.layout import Layout
from chain.writing.foreign_text import one_line

if TYPE_CHECKING:
    from chain.layout.layout import Element

def title_of(layout: Layout) -> str:
    """Return what reports and figures call a layout, on one line: its title, else its path."""
    return one_line(layout.title or layout.path)


def called(layout: Layout, ids: Iterable[str]) -> str:
    """Return what elements are called together: `W1`, `V1-1 .. V1-12 (12 copies)`, `W1, W2`."""
    groups = {}
    for key in ids:
        groups.setdefault(layout.elements[key].declared_id, []).append(key)
    return ", ".join(
        keys[0] if len(keys) == 1 else f"{keys[0]} .. {keys[-1]} ({len(keys)} copies)"
        for keys in groups.values()
    )


def where_text(element: Element) -> str:
    """Return the stage or stages of an element as text names them."""
    if element.from_stage is None:
        return element.stage or "no stage"
    return f"{element.from_stage} to {element.to_stage}"
