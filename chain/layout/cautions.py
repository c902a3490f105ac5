"""Cautions of elements about the conditions they are used under, equal ones once."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from chain.layout.naming import called, where_text
from components.arrays import FloatArray
from components.conditions import Conditions
from components.declaration import Kind

if TYPE_CHECKING:
    from chain.layout.layout import Layout

_SILENT = Kind.cautions


def cautions(
    layout: Layout, ids: Iterable[str] | None = None, *, frequency_hz: FloatArray | None = None,
    bands: bool = True,
) -> list[str]:
    """Return a sentence for every caution of elements (`ids`, or all), each with its stages.

    At frequencies (Hz, shape (points,)), or over the band; without `bands` nothing is said of parts
    that are used outside theirs.  Copies of one element that say the
    same say it together.
    """
    f = layout.band.frequency_hz if frequency_hz is None else frequency_hz
    said = {}
    for key in layout.elements if ids is None else ids:
        element = layout.elements[key]
        for sentence in _sentences(layout, element, f, bands):
            said.setdefault((where_text(element), sentence), []).append(key)
    return [
        f"{called(layout, keys)} ({stages}): {sentence}"
        for (stages, sentence), keys in said.items()
    ]


def _sentences(layout, element, f, bands):
    if type(element.kind).cautions is not _SILENT:
        at = Conditions(f, layout.temperature_k(element), layout.anchors(element))
        yield from element.kind.cautions(element.settings, at)
    band = element.settings.values.get("band")
    if bands and band is not None and (f.min() < band[0] or f.max() > band[1]):
        taken = f"from {f.min() / 1e9:g} to {f.max() / 1e9:g} GHz"
        if f.min() == f.max():
            taken = f"at {f.min() / 1e9:g} GHz"
        yield (
            f"its values are believed from {band[0] / 1e9:g} to {band[1] / 1e9:g} GHz, and are "
            f"taken {taken}"
        )
