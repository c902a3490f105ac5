"""What one element is in each of many variants."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from components.heating import UNHEATED, Heated, Heating
from components.parameters import Measure
from components.quantities import Quantity

if TYPE_CHECKING:
    from collections.abc import Callable

    from chain.layout.layout import Element, Layout
    from chain.layout.variants import Variant

_OF_PLACE = frozenset({"temperature", "length"})
"""Parameters that change the temperature of an element, or of its anchors."""


@dataclass(frozen=True)
class Situation:
    """An element as some of the variants have it."""

    element: Element
    """The Element with its values there."""
    temperature_k: float
    anchors: tuple[tuple[float, float], ...]
    heating: Heating = UNHEATED

    @classmethod
    def of(cls, layout: Layout, element: Element, values: Any, heated: Heated) -> Any:
        """Return the situation of an element with other `values`, its stages as `layout` has them.

        `heated` is what tones warm.
        """
        if values:
            element = replace(element, settings=element.settings.with_values(**values))
        heating = heated.get(element.id, UNHEATED)
        return cls(element, heating.part_k or layout.temperature_k(element),
                   layout.anchors(element), heating)


def stages_of(element: Element) -> set[str | None]:
    """Return the stages that an element sits on, or touches."""
    return {element.stage, element.from_stage, element.to_stage, *(s for s, _ in element.via)}


@dataclass(frozen=True)
class Alike:
    """Situations of one element that differ in numbers alone."""

    example: Situation
    names: tuple[str | tuple[str, ...], ...]
    """Parameters whose values differ; a tuple for temperatures that are no parameters."""
    numbers: np.ndarray
    """Their values in base units, (situations, names)."""
    one_place: bool
    """True where temperature and anchors are those of the example."""
    variants: np.ndarray
    """Number of a variant that has the situation, (situations,)."""

    def some(self, chosen: Any) -> Alike:
        """Return those of some of the situations (numbers or a slice)."""
        return replace(self, numbers=self.numbers[chosen], variants=self.variants[chosen])

    def within_bounds(self) -> np.ndarray:
        """Tell for every situation whether its numbers lie in the declared bounds."""
        good = np.ones(len(self.variants), bool)
        declared = self.example.element.kind.declared()
        for name, column in zip(self.names, self.numbers.T, strict=True):
            if isinstance(name, tuple):
                continue
            reads = declared[name].reads
            if not isinstance(reads, Measure):
                good[:] = False
                continue
            if reads.least is not None:
                good &= column >= reads.least
            if reads.most is not None:
                good &= column <= reads.most
        return good


@dataclass(frozen=True)
class Situations:
    """The different situations of one element, and which of them each variant has."""

    alike: tuple[Alike, ...]
    """Situations are numbered through them in order."""
    of: np.ndarray
    """Number of the situation of every variant, shape (variants,)."""
    one: Callable[[int], Situation]
    """From the number of a variant to its Situation."""

    @classmethod
    def of_variants(
        cls, layout_of: Any, element: Element, variants: Sequence[Variant],
        heated: Sequence[Heated],
    ) -> Any:
        """Return the situations of an element of the layout in `variants`.

        `layout_of` gives the layout with the stages of a variant by its number; `heated` is what
        tones warm in every variant.
        """
        def one(number):
            values = variants[number].settings.get(element.id)
            return Situation.of(layout_of(number), element, values, heated[number])

        alike, of, count = [], np.empty(len(variants), int), 0
        for (_, places), members in _groups(element, variants, heated).items():
            found, numbers = _alike(
                element.id, variants, heated, np.array(members), places, one)
            of[members] = count + numbers
            count += len(found.variants)
            alike.append(found)
        return cls(tuple(alike), of, one)

    @property
    def shapes(self) -> Any:
        """Number of each variant's Alike, (variants,): equal where only numbers differ."""
        return np.searchsorted(self._starts(), self.of, side="right") - 1

    @property
    def count(self) -> int:
        """How many situations there are."""
        return sum(len(alike.variants) for alike in self.alike)

    def _starts(self):
        sizes = [len(alike.variants) for alike in self.alike]
        return np.cumsum([0, *sizes[:-1]])

    def some(self, members: Any) -> Situations:
        """Return those of some of the variants (numbers), situations that none has left out."""
        wanted = np.zeros(self.count, bool)
        wanted[self.of[members]] = True
        kept, of = np.flatnonzero(wanted), (np.cumsum(wanted) - 1)[self.of[members]]
        alike = []
        for start, one in zip(self._starts(), self.alike, strict=True):
            own = kept[(kept >= start) & (kept < start + len(one.variants))] - start
            if len(own):
                alike.append(one.some(own))
        return Situations(tuple(alike), of, self.one)


def _groups(element, variants, heated):
    """Return {(what values have in common but for numbers, _places): [numbers of the variants]}."""
    key, stages, groups = element.id, stages_of(element), {}
    placed = any(heated) or any(variant.temperature_k for variant in variants)
    for number, variant in enumerate(variants):
        mark: Any = ()
        values = variant.settings.get(key)
        if values and len(values) == 1:  # by far the most: a tuple less to make
            ((name, value),) = values.items()
            mark = (name, value.dimension if type(value) is Quantity else _word(value))
        elif values:
            mark = tuple([
                (name, value.dimension if type(value) is Quantity else _word(value))
                for name, value in values.items()
            ])
        mark = mark, _places(variant, heated[number], stages, key) if placed else ()
        members = groups.get(mark)
        if members is None:
            members = groups[mark] = []
        members.append(number)
    return groups


def _word(value):
    """Return what stands for a value that is no plain number."""
    # The variants hold the values, so their ids stay their own.
    return (type(value), value) if isinstance(value, str | bool | int) else id(value)


def _places(variant, heated, stages, key):
    """Return the names of the temperatures of an element that a variant sets."""
    found = tuple([("stage", stage) for stage in variant.temperature_k if stage in stages])
    heating = heated.get(key)
    if heating is None:
        return found
    if heating.loads_k or heating.along is not None:
        return (*found, heating)  # no number: situations of their own
    return (*found, ("heated",))


def _alike(key, variants, heated, members, places, one):
    """Return (the Alike of variants alike but for numbers, the number in it of each of them)."""
    values = variants[members[0]].settings.get(key, {})
    names = tuple(name for name, value in values.items() if type(value) is Quantity)
    rows = [[variants[member].settings[key][name].value for member in members] for name in names]
    places = tuple([place for place in places if not isinstance(place, Heating)])
    for kind, *stage in places:
        rows.append([
            heated[member][key].part_k if kind == "heated"
            else variants[member].temperature_k[stage[0]] for member in members
        ])
    names += places
    numbers = np.array(rows, float).reshape(len(names), len(members))
    differ = [place for place, row in enumerate(numbers) if np.any(row != row[0])]
    names, numbers = tuple(names[place] for place in differ), numbers[differ]
    if len(names) == 1:
        _, firsts, of = np.unique(numbers[0], return_index=True, return_inverse=True)
    elif names:
        _, firsts, of = np.unique(numbers, axis=1, return_index=True, return_inverse=True)
    else:
        firsts, of = np.array([0]), np.zeros(len(members), int)
    return Alike(
        one(members[firsts[0]]), names, numbers.T[firsts],
        not any(isinstance(name, tuple) or name in _OF_PLACE for name in names),
        members[firsts],
    ), of.reshape(-1)
