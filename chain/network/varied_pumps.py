"""What the paramps of many variants are given of their pumps."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError
from chain.layout.layout import Signal
from chain.layout.margins import margin
from chain.network.assembly import Choices, network_of_tone
from chain.network.pumps import (
    arriving_w,
    gain_table,
    is_lost,
    stated_w,
    transfers,
    usual_sent_w,
)
from chain.network.variants import solve_variants
from components.quantities import watt_to_dbm

if TYPE_CHECKING:
    from chain.layout.layout import Element, Layout, Tone
    from chain.layout.variants import Variant
    from components.arrays import FloatArray

FEWEST_TOGETHER = 64
"""Fewer variants than this are asked one by one what arrives of their pumps."""


def pumped_variants(
    layout: Layout, variants: Sequence[Variant], ids: Iterable[str]
) -> tuple[Sequence[Variant], dict[int, LayoutError]]:
    """Return the variants with each paramp as the pump that arrives leaves it, and their errors.

    Off where the pump is lost, with the gain at its level where that is a table: by
    `chain.network.pumps`, for all variants together.  `ids` are the elements of one network.
    """
    arriving = _Arriving(layout, variants)
    values: list[dict[str, dict[str, object]]] = [{} for _ in variants]
    for key in ids:
        for element, numbers in _as_varied(layout.elements[key], variants):
            if element.kind.pumps(element.settings) and arriving.is_wired(element):
                for number, own in arriving.changes(element, numbers):
                    values[number][key] = own
    if not any(any(own.values()) for own in values):
        return variants, arriving.errors
    # Named in every variant, so that nobody asks again, of the variants, what arrives.
    return [
        replace(variant, settings={**variant.settings, **{
            key: {**variant.settings.get(key, {}), **changes} for key, changes in own.items()
        }}) if own else variant
        for variant, own in zip(variants, values, strict=True)
    ], arriving.errors


def _as_varied(element, variants):
    """Return [(the element with its values, numbers of the variants that have it so)]."""
    groups = {}
    if "pump" not in element.kind.declared():
        return []
    for number, variant in enumerate(variants):
        own = variant.settings.get(element.id) or {}
        # The variants hold the values, so their ids stay their own.
        mark = tuple([(name, value if isinstance(value, str) else id(value))
                      for name, value in own.items()])
        groups.setdefault(mark, (own, []))[1].append(number)
    return [
        (replace(element, settings=element.settings.with_values(**own)) if own else element,
         np.array(numbers))
        for own, numbers in groups.values()
    ]


class _Arriving:
    """How much of its pump arrives at a paramp in each variant."""

    def __init__(self, layout, variants):
        self.layout, self.variants = layout, variants
        self.written = layout.written or layout
        self.errors: dict[int, LayoutError] = {}
        self._reached: dict[Any, FloatArray] = {}
        self._transfers: dict[str, list] = {}

    def is_wired(self, element: Element) -> bool:
        """Tell whether the layout brings its pump to a paramp."""
        tone = self.layout.tones.get(element.settings["pump"])
        return tone is not None and element.id in self.layout.connected(tone.into)

    def changes(self, element, numbers):
        """Yield (number of a variant, what its pump changes of the paramp's values)."""
        tone = self.layout.tones[element.settings["pump"]]
        usual_w = usual_sent_w(self.written, tone.name, network_of_tone)
        level_w = np.broadcast_to(arriving_w(
            self.layout, element, tone, lambda port: self._part(tone, port, numbers), usual_w
        ), numbers.shape)
        stated = stated_w(element, self.written, network_of_tone)
        level_dbm = watt_to_dbm(level_w)
        stated_dbm = level_dbm if stated is None else watt_to_dbm(stated)
        stated_dbm = np.where(np.isneginf(stated_dbm), np.nan, stated_dbm)
        name, table = gain_table(element.settings)
        lost = is_lost(level_dbm, stated_dbm, table, margin(self.layout, "pump_lost"))
        for number, level, off in zip(numbers.tolist(), level_dbm, lost, strict=True):
            if off:
                yield number, {"state": "off"}
            elif table is not None and name is not None and np.isfinite(level):
                yield number, {name: table.at_level(float(level))}
            else:
                yield number, {}

    def _part(self, tone, port, numbers):
        """Return the part of a tone's power that arrives at a port in the variants `numbers`."""
        key = tone.name, port
        if key not in self._reached:
            self._reached[key] = self._solved(tone, port)
        return self._reached[key][numbers]

    def _solved(self, tone: Tone, port: Any) -> FloatArray:
        if len(self.variants) < FEWEST_TOGETHER:
            return self._one_by_one(tone, port)
        first = self.layout.elements[tone.into].ports[0]
        signal = Signal(tone.name, (tone.into, first), port, tone.place)
        solved = solve_variants(
            self.layout, signal, np.array(tone.lines_hz), self.variants,
            Choices(at_pump=True), heated=({},) * len(self.variants), shares=False,
        )
        self.errors |= solved.errors
        assert solved.gain is not None
        return solved.gain.mean(axis=1)

    def _one_by_one(self, tone, port):
        """Return the same by a network for each variant, which tells all ports at once."""
        if tone.name not in self._transfers:
            self._transfers[tone.name] = [self._reaching(number, tone)
                                          for number in range(len(self.variants))]
        return np.array([reached(port) for reached in self._transfers[tone.name]])

    def _reaching(self, number, tone):
        try:
            one = self.variants[number].apply(self.layout)
            return transfers(one, tone, network_of_tone)
        except LayoutError as error:
            self.errors[number] = error
            return lambda port: np.nan
