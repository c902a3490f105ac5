"""One network of which a few elements are many things at once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import reported
from chain.network.assembly import Network
from chain.network.reduced import Reduced
from chain.network.responses import responses
from chain.network.waves import Block, Wave
from components import response
from components.nport import NPort

if TYPE_CHECKING:
    from chain.errors import LayoutError
    from chain.layout.layout import Element


class VariedNetwork(Network):
    """A Network of which some elements have many situations, on the first axis of their entries.

    `changed` is {id: Situations}.  Entries that differ have the shape (situations, draws, points);
    everything else is as in the layout.
    """

    def __init__(self, layout, start, frequency_hz, changed, choices=None, *, numbers, heated):
        self.changed = changed
        self.numbers = numbers
        """Numbers of its variants among all of them."""
        self.failed = {}
        """{id: {number of a situation: LayoutError}}"""
        super().__init__(layout, start, frequency_hz, choices, heated=heated)
        self.active = any(self.may_amplify(key).any() for key in self.ids)

    def settings(self, element: Element) -> Any:
        """Return an element's settings; those of a changed one are what its variants say."""
        return element.settings if element.id in self.changed else super().settings(element)

    def _turn(self):
        """Nothing: where unknown phases matter, variants are not solved together."""

    def may_amplify(self, key: str) -> np.ndarray:
        """Tell for every variant whether an element amplifies in it; shape (variants,) or (1,)."""
        if key not in self.changed:
            return np.array([self.amplifies(self.layout.elements[key])])
        situations = self.changed[key]
        each = np.array([self.amplifies(alike.example.element) for alike in situations.alike])
        return each[situations.shapes]

    def _respond(self, element, *, idler=False):
        if element.id not in self.changed:
            return super()._respond(element, idler=idler)
        f, side = (self.idler_hz, -1) if idler else (self.frequency_hz, 1)

        def ask(situation, vary):
            kind, settings = situation.element.kind, self.settings(situation.element)
            at = self._conditions_of(situation, f, vary, side)
            with reported(situation.element):
                if self.choices.at_pump and kind.pumps(settings):
                    return response.respond_to_pump(kind, settings, at)
                return response.respond(kind, settings, at)

        nport = self._all(element.id, ask)
        return nport.conjugate() if idler else nport

    def _respond_pumped(self, element):
        if element.id not in self.changed:
            return super()._respond_pumped(element)

        def ask(situation, vary):
            at = self._conditions_of(situation, self.frequency_hz, vary)
            with reported(situation.element):
                return response.respond_with_idler(
                    situation.element.kind, self.settings(situation.element), at,
                    self._conditions_of(situation, self.idler_hz, vary, -1),
                )

        return self._all(element.id, ask)

    def _all(self, key, ask):
        answered = responses(self.changed[key], ask)
        self.failed.setdefault(key, {}).update(answered.errors)
        return answered.nport

    def _conditions_of(self, situation, f, vary, side=1):
        at = self.conditions(situation.element, f, side)
        at = replace(at, temperature_k=situation.temperature_k, anchors=situation.anchors,
                     heating=situation.heating)
        return replace(at, vary=vary) if vary else at

    def errors(self) -> dict[int, LayoutError]:
        """Return {number of a variant: LayoutError} of those with an element that cannot be."""
        found = {}
        for key, errors in self.failed.items():
            for situation, error in errors.items():
                for number in np.flatnonzero(self.changed[key].of == situation):
                    found.setdefault(int(number), error)
        return found

    def reduced(self, others: Iterable[Wave], *, whole: bool = False) -> Reduced:
        """Return the Reduced network that keeps what differs, and the waves `others`.

        Nothing is eliminated where that is most of it, or by `whole`.
        """
        rows = {row for (row, _), entry in self.entries.items() if differs(entry)}
        columns = {column for row, column in self.entries if row in rows}
        kept = rows | columns | {self.index[wave] for wave in others}
        if whole or 2 * len(kept) > len(self.index):
            kept = set(self.index.values())
        return Reduced(self._pattern, self._loops, frozenset(kept), self.entries)

    def by_wave(self, found: Any) -> Any:
        """Return {wave: array} of a solution {number: array}."""
        return {self._names[number]: value for number, value in found.items()}

    def added_at(self, key: str, numbers: Any) -> Any:
        """Return the quanta that a receiver adds by itself in variants, or None.

        Shape (variants, points) or (points,).
        """
        if key not in self.changed:
            element = self.layout.elements[key]
            at = self.conditions(element, self.frequency_hz)
            return element.kind.own_noise(element.settings, at)
        situations, zero = self.changed[key], np.zeros(len(self.frequency_hz))
        members, of = np.unique(situations.of[numbers], return_inverse=True)
        added = []
        for number in members:
            one = situations.one(self.numbers[np.flatnonzero(situations.of == number)[0]])
            own = one.element.kind.own_noise(
                one.element.settings, self._conditions_of(one, self.frequency_hz, {}))
            added.append(zero if own is None else zero + own)
        return np.array(added)[of]

    def of_some(self, numbers: Any) -> Any:
        """Return (blocks, entries) with the variants `numbers` on the first axis."""
        blocks, entries = [], dict(self.entries)
        for block in self.blocks:
            situations = self.changed.get(block.id)
            if situations is None:
                blocks.append(block)
                continue
            of, own = situations.of[numbers], block.nport
            scattering, emission = (
                {key: np.asarray(entry)[of] if differs(entry) else entry
                 for key, entry in part.items()}
                for part in (own.scattering, own.emission)
            )
            blocks.append(Block(
                block.id, NPort(own.ports, scattering, emission, own.sidebands), block.waves
            ))
            for (i, j), entry in scattering.items():
                if differs(own.scattering[i, j]):
                    key, port, side = block.waves[j]
                    source = self.index.get((*self.partner[key, port], side))
                    if source is not None:
                        entries[self.index[block.waves[i]], source] = entry
        return blocks, entries


def differs(entry: Any) -> bool:
    """Tell whether an entry has an axis over situations, or variants."""
    return np.ndim(entry) == 3
