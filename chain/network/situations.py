"""What one element is in each of many variants, and its responses to all of them at once."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from chain.errors import LayoutError
from components.nport import NPort
from components.parameters import Measure
from components.quantities import Quantity

FEWEST_AT_ONCE = 4
"""Fewer situations than this are asked one by one."""

SAME = 1e-12
"""Relative difference between a response asked with others and alone that is rounding."""

_OF_PLACE = frozenset({"temperature", "length"})
"""Parameters that change the temperature of an element, or of its anchors."""


@dataclass(frozen=True)
class Situation:
    """An element as some of the variants have it."""

    element: object
    """The Element with its values there."""
    temperature_k: float
    anchors: tuple[tuple[float, float], ...]

    @classmethod
    def of(cls, layout, key, variant, heated_k):
        """Return the situation of element `key` in a variant; `heated_k` is what tones warm."""
        element, values = layout.elements[key], variant.settings.get(key)
        if values:
            element = replace(element, settings=element.settings.with_values(**values))
        stages = {s: k for s, k in variant.temperature_k.items() if s in stages_of(element)}
        here = layout.with_temperatures(stages) if stages else layout
        return cls(element, heated_k.get(key) or here.temperature_k(element),
                   here.anchors(element))


def stages_of(element):
    """Return the stages that an element sits on, or touches."""
    return {element.stage, element.from_stage, element.to_stage, *(s for s, _ in element.via)}


@dataclass(frozen=True)
class Alike:
    """Situations of one element that differ in numbers alone."""

    example: Situation
    names: tuple[str, ...]
    """Parameters whose values differ."""
    numbers: np.ndarray
    """Their values in base units, (situations, names)."""
    one_place: bool
    """True where temperature and anchors are those of the example."""
    variants: np.ndarray
    """Number of a variant that has the situation, (situations,)."""

    def some(self, chosen):
        """Return those of some of the situations (numbers or a slice)."""
        return replace(self, numbers=self.numbers[chosen], variants=self.variants[chosen])

    def within_bounds(self):
        """Tell for every situation whether its numbers lie in the declared bounds."""
        good = np.ones(len(self.variants), bool)
        declared = self.example.element.kind.declared()
        for name, column in zip(self.names, self.numbers.T, strict=True):
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
    one: object
    """From the number of a variant to its Situation."""

    @classmethod
    def of_variants(cls, layout, key, variants, heated_k):
        """Return the situations of element `key`; `heated_k` is {id: K} for every variant."""
        stages = stages_of(layout.elements[key])

        def one(number):
            return Situation.of(layout, key, variants[number], heated_k[number])

        groups = {}
        for number, variant in enumerate(variants):
            values, mark = variant.settings.get(key), ()
            if values:
                mark = tuple([
                    (name, value.dimension if type(value) is Quantity else _word(value))
                    for name, value in values.items()
                ])
            if variant.temperature_k or heated_k[number]:
                mark += _of_place(variant, heated_k[number], stages, key)
            groups.setdefault(mark, []).append(number)
        alike, of, count = [], np.empty(len(variants), int), 0
        for members in groups.values():
            found, numbers = _alike(key, variants, np.array(members), one)
            of[members] = count + numbers
            count += len(found.variants)
            alike.append(found)
        return cls(tuple(alike), of, one)

    @property
    def shapes(self):
        """Number of each variant's Alike, (variants,): equal where only numbers differ."""
        return np.searchsorted(self._starts(), self.of, side="right") - 1

    @property
    def count(self):
        """How many situations there are."""
        return sum(len(alike.variants) for alike in self.alike)

    def _starts(self):
        sizes = [len(alike.variants) for alike in self.alike]
        return np.cumsum([0, *sizes[:-1]])

    def some(self, members):
        """Return those of some of the variants (numbers), situations that none has left out."""
        kept, of = np.unique(self.of[members], return_inverse=True)
        alike = []
        for start, one in zip(self._starts(), self.alike, strict=True):
            own = kept[(kept >= start) & (kept < start + len(one.variants))] - start
            if len(own):
                alike.append(one.some(own))
        return Situations(tuple(alike), of, self.one)


def _word(value):
    """Return what stands for a value that is no plain number."""
    # The variants hold the values, so their ids stay their own.
    return (type(value), value) if isinstance(value, str | bool | int) else id(value)


def _of_place(variant, heated_k, stages, key):
    """Return what tells apart situations of one element at different temperatures."""
    found = tuple((s, k) for s, k in variant.temperature_k.items() if s in stages)
    return (*found, heated_k.get(key))


def _alike(key, variants, members, one):
    """Return (the Alike of variants alike but for numbers, the number in it of each of them)."""
    values = variants[members[0]].settings.get(key, {})
    names = tuple(name for name, value in values.items() if type(value) is Quantity)
    numbers = np.array([
        [variants[member].settings[key][name].value for member in members] for name in names
    ]).reshape(len(names), len(members))
    differ = [place for place, row in enumerate(numbers) if np.any(row != row[0])]
    names, numbers = tuple(names[place] for place in differ), numbers[differ]
    if len(names) == 1:
        _, firsts, of = np.unique(numbers[0], return_index=True, return_inverse=True)
    elif names:
        _, firsts, of = np.unique(numbers, axis=1, return_index=True, return_inverse=True)
    else:
        firsts, of = np.array([0]), np.zeros(len(members), int)
    return Alike(
        one(members[firsts[0]]), names, numbers.T[firsts], not _OF_PLACE & set(names),
        members[firsts],
    ), of.reshape(-1)


@dataclass(frozen=True)
class Responses:
    """NPorts of all situations as one: entries that differ have a first axis over situations."""

    nport: NPort
    errors: Mapping[int, LayoutError]
    """By number of the situation: what it cannot be."""


def responses(situations, ask):
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
            if name != "temperature":
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
