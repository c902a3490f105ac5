"""Shares of copies that give about the same, as one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from components.arrays import FloatArray

Ids: TypeAlias = tuple[str, ...]
"""Ids of elements that are shown as one: equal copies, or a single one."""

_ALIKE = 0.1
"""Shares of copies that differ by less, relatively, are shown as one, added up."""


def together(layout: Layout, shares: Mapping[str, FloatArray]) -> dict[Ids, FloatArray]:
    """Return {ids: values}: what copies of an element give as one where they give the same."""
    found: dict[str, list[tuple[str, FloatArray]]] = {}
    for key, share in shares.items():
        found.setdefault(layout.elements[key].declared_id, []).append((key, share))
    merged: dict[Ids, FloatArray] = {}
    for copies in found.values():
        groups: list[list[tuple[str, FloatArray]]] = []
        for key, share in copies:
            group = next((g for g in groups if _alike(g[0][1], share)), None)
            if group is None:
                groups.append([(key, share)])
            else:
                group.append((key, share))
        for group in groups:
            merged[tuple(key for key, _ in group)] = np.sum([share for _, share in group], axis=0)
    return merged


def _alike(one, other):
    return np.allclose(one, other, rtol=_ALIKE, atol=0.0, equal_nan=True)
