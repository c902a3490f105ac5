"""The responses of one element in many situations, asked at once where that may be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from chain.errors import LayoutError
from components.nport import NPort

FEWEST_AT_ONCE = 4
"""Fewer situations than this are asked one by one."""

SAME = 1e-12
"""Relative difference between a response asked with others and alone that is rounding."""


@dataclass(frozen=True)
class Responses:
    """NPorts of all situations as one: entries that differ have a first axis over situations."""

    nport: NPort
    errors: Mapping[int, LayoutError]
    """By number of the situation: what it cannot be."""


def responses(situations: Any, ask: Any) -> Responses:
    """Return the Responses of Situations.

    `ask(situation, vary)` returns an NPort, `vary` as Conditions take it, and raises LayoutError.
    Situations that differ in numbers alone are asked at once, on the draws' axis; that is believed
    where it agrees with asking some of them alone.
    """
    asked, start = _Asked(situations.one, ask), 0
    for alike in situations.alike:
        asked.about(alike, np.arange(start, start + len(alike.variants)))
        start += len(alike.variants)
    answers, errors = asked.answers, asked.errors
    if not answers:
        raise next(iter(errors.values()))
    ports, sidebands = answers[0][1].ports, answers[0][1].sidebands
    return Responses(
        NPort(ports, _stacked([(m, n.scattering) for m, n in answers], start),
              _stacked([(m, n.emission) for m, n in answers], start), sidebands), errors,
    )


class _Asked:
    """Answers of one element to its situations: [(numbers, NPort)], and errors by number."""

    def __init__(self, one, ask):
        self.one, self.ask = one, ask
        self.answers, self.errors = [], {}

    def about(self, alike, numbers):
        """Ask about situations, `numbers` being theirs."""
        inside = alike.within_bounds()
        outside = np.flatnonzero(~inside)
        for place in outside:
            self._alone(alike.variants[place], numbers[place])
        if len(outside):
            alike, numbers = alike.some(inside), numbers[inside]
        if len(numbers):
            self._at_once(alike, numbers)

    def _at_once(self, alike, numbers):
        together = None
        if len(numbers) >= FEWEST_AT_ONCE:
            try:
                together = self._together(alike)
            except LayoutError:
                # One of them cannot be: the halves that can are still asked at once.
                half = len(numbers) // 2
                for part in (slice(half), slice(half, None)):
                    self._at_once(alike.some(part), numbers[part])
                return
            except (TypeError, ValueError):
                together = None  # a kind that cannot be asked so
        if together is not None:
            self._note(numbers, together, alike.example.element)
            return
        for variant, number in zip(alike.variants, numbers, strict=True):
            self._alone(variant, number)

    def _alone(self, variant, number):
        situation = self.one(variant)
        try:
            self._note([number], self.ask(situation, {}), situation.element)
        except LayoutError as error:
            self.errors[int(number)] = error

    def _note(self, numbers, nport, element):
        if set(nport.ports) == set(element.ports):
            self.answers.append((numbers, nport))
            return
        self.errors |= {int(number): LayoutError.at(
            element.place, f"{element.id} has other ports with these values",
            "write a layout with other joints: a variant keeps them",
        ) for number in numbers}

    def _together(self, alike):
        """Return the NPort of situations asked at once, None where one asked alone differs."""
        telling = {0, len(alike.variants) - 1}
        vary, example = {}, self.one(alike.variants[0])
        for name, column in zip(alike.names, alike.numbers.T, strict=True):
            if name != "temperature" and not isinstance(name, tuple):
                vary[name] = lambda _, numbers=column[:, None, None]: numbers
            telling.add(int(np.argmax(np.abs(column - column[0]))))
        if not alike.one_place:
            example = _in_all_places(example, [self.one(variant) for variant in alike.variants])
            if example is None:
                return None
        together = self.ask(example, vary)
        for place in sorted(telling):
            alone = self.ask(self.one(alike.variants[place]), {})
            if not _agrees(together, place, alone):
                return None
        return together


def _in_all_places(example, each):
    """Return a situation with the temperatures of all of them, or None."""
    parts = {tuple(part for part, _ in one.anchors) for one in each}
    if len(parts) > 1:
        return None
    anchors = np.array([[kelvin for _, kelvin in one.anchors] for one in each])
    return replace(
        example, temperature_k=_one_or_all(np.array([one.temperature_k for one in each])),
        anchors=tuple(zip(parts.pop(), map(_one_or_all, anchors.T), strict=True)),
    )


def _one_or_all(numbers):
    return float(numbers[0]) if np.all(numbers == numbers[0]) else numbers[:, None, None]


def _agrees(together, place, alone):
    """Tell whether one of the situations asked together answers as it does alone."""
    if (together.ports, together.sidebands) != (alone.ports, alone.sidebands):
        return False
    for many, one in ((together.scattering, alone.scattering),
                      (together.emission, alone.emission)):
        for key in many.keys() | one.keys():
            entry = np.asarray(many.get(key, 0.0))
            mine = entry[place % len(entry)] if entry.ndim == 3 else entry
            its = one.get(key, 0.0)
            scale = max(np.max(np.abs(its)), np.max(np.abs(mine)))
            if not np.all(np.abs(mine - its) <= SAME * scale):
                return False
    return True


def _stacked(answers, count):
    """Return entries of all situations from [([numbers], entries)]: (situations, draws, points).

    An entry that is the same in all of them stays as it is, without their axis.
    """
    found = {}
    for key in dict.fromkeys(key for _, entries in answers for key in entries):
        each = [np.asarray(entries.get(key, 0.0)) for _, entries in answers]
        first = each[0]
        if first.ndim < 3 and all(
            entry is first or (entry.shape == first.shape and np.array_equal(entry, first))
            for entry in each
        ):
            found[key] = answers[0][1].get(key, 0.0)
            continue
        shape = np.broadcast_shapes((1, 1), *(entry.shape[-2:] for entry in each))
        whole = np.zeros((count, *shape), np.result_type(*each))
        for (members, _), entry in zip(answers, each, strict=True):
            whole[members] = entry
        found[key] = whole
    return found
