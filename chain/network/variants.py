"""Many variants of one network solved together: few elements changed, the rest solved once.

What a variant changes stands in the rows of its elements.  All other waves are eliminated once;
what is left are the waves that leave the changed elements and those that arrive at them, a system
as small as the rank of the change, solved for all variants on the first axis of the arrays.  It
is the Schur complement of the unchanged part (the low-rank update of M. A. Woodbury, Inverting
modified matrices, 1950, from memory, without its differences of nearly equal numbers, so a path
that a variant breaks is broken exactly).  Where most of the network changes it is all of it.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chain.errors import LayoutError
from chain.network.assembly import (
    Choices,
    Network,
    has_unknown_phases,
    scattering_network,
)
from chain.network.at_once import parts_of_band
from chain.network.generators import generators_of
from chain.network.products import ByProducts
from chain.network.reducing import Reducing, solved_alone
from chain.network.situations import Situations, stages_of
from chain.network.stability import amplified_wave
from chain.network.variant_results import Results, VariantSolutions
from chain.network.varied import VariedNetwork
from components.phases import unknown_reflections

if TYPE_CHECKING:
    from chain.layout.layout import Layout, Signal
    from chain.layout.variants import Variant
    from components.arrays import FloatArray
    from components.heating import Heated

MOST_VALUES = 1_000_000
"""Variants times phases times points whose changed elements are built at once, for memory."""

POINTS = 4096
"""Frequencies that are solved at once where no phase is unknown."""

FEWEST_TOGETHER = 3
"""Fewer variants than this with the same draws of unknown phases are left to solve alone."""


def solve_variants(
    layout: Layout, signal: Signal, frequency_hz: FloatArray, variants: Sequence[Variant],
    choices: Choices | None = None, *, heated: Sequence[Heated], shares: bool = True,
) -> VariantSolutions:
    """Return the VariantSolutions of a signal for `variants` (chain.layout.variants) of a layout.

    `heated` is what tones warm in every variant.  `choices` are the network's, without
    draws of its own.  A variant that cannot be has an error of its own; LayoutError is raised for
    what is wrong with the layout alone.
    """
    f = np.asarray(frequency_hz, float)
    ids = layout.connected(signal.to_port[0])

    @functools.cache
    def layout_of(number):
        stages = variants[number].temperature_k
        return layout.with_temperatures(stages) if stages else layout

    changed = {
        key: Situations.of_variants(layout_of, layout.elements[key], variants, heated)
        for key in _touched(layout, ids, variants, heated)
    }
    choices = replace(choices or Choices(), settled=True)
    result = Results(signal, f, variants)
    if not choices.at_pump and any(tone.into in ids for tone in layout.noisy_tones):
        # What generators send follows from what arrives of their tones in each variant.
        for number in range(len(variants)):
            phased = _Phased.of(variants[number].apply(layout), ids, choices)
            alone = _Group(layout, variants, changed, choices, heated, phased)
            alone.solve_alone(signal, number, result, shares)
        return result.solutions()
    for members, phased in _groups(layout, ids, changed, variants, choices):
        group = _Group(layout, variants, changed, choices, heated, phased)
        for some in [members] if phased is None else phased.with_the_same_draws(members, changed):
            if phased is not None and len(some) < FEWEST_TOGETHER:
                for number in some:
                    group.solve_alone(signal, int(number), result, shares)
            else:
                group.solve(signal, some, result, shares)
    return result.solutions()


@dataclass(frozen=True)
class _Phased:
    """What is known of variants in which unknown phases matter, and which differ in numbers."""

    draws: int | None
    """How many draws; None where the one asked cannot be, and does not say."""
    looped: frozenset[str]
    """Elements on closed runs of waves; those that reflect by `return_loss` hold one inside."""

    @classmethod
    def of(cls, layout, ids, choices):
        """Return it for one of the variants; None where no unknown phase matters."""
        if not has_unknown_phases(layout, ids):
            return None
        f = layout.band.frequency_hz
        some = f[sorted({0, f.size // 2, f.size - 1})]
        try:
            network = scattering_network(layout, ids[0], some, choices)
        except LayoutError:
            return cls(None, frozenset(ids))
        if network.draws == 1:
            return None
        reflecting = {
            key for key in ids
            if unknown_reflections(layout.elements[key].kind, layout.elements[key].settings)
        }
        return cls(network.draws, frozenset(network.looped() | reflecting))

    def with_the_same_draws(self, members, changed):
        """Return the numbers `members` parted into those that draw unknown phases alike.

        Draws follow the loops that phases close, so they are alike where every element on a closed
        run of waves is the same.
        """
        each = np.array([
            situations.of[members] for key, situations in changed.items() if key in self.looped
        ])
        if not each.size:
            return [members]
        _, of = np.unique(each, axis=1, return_inverse=True)
        order = np.argsort(of.reshape(-1), kind="stable")
        return np.split(members[order], np.flatnonzero(np.diff(of.reshape(-1)[order])) + 1)


@dataclass(frozen=True)
class _Group:
    """How variants are solved that one network can stand for."""

    layout: Layout
    variants: Sequence[Variant]
    changed: Mapping[str, Situations]
    choices: Choices
    heated: Sequence[Heated]
    phased: _Phased | None
    """None where no unknown phase matters."""

    def solve(self, signal, members, result, shares):
        """Fill the results of the variants `members`, which draw unknown phases alike."""
        while len(members):
            try:
                self._solve(signal, members, result, shares)
            except LayoutError as error:
                # With phases it may be of the one alone that they were drawn for.
                wrong = members if self.phased is None else members[:1]
                result.errors |= {int(number): error for number in wrong}
                members = members[len(wrong):]
            else:
                return

    def _solve(self, signal, members, result, shares):
        base, start = self.variants[members[0]].apply(self.layout), signal.to_port[0]
        heated, like = self.heated[members[0]], None
        for part in self._parts(base, start, result):
            if self.phased is not None:
                like = Network(base, start, part, self.choices, heated=heated)
            draws = 1 if like is None else like.draws
            at_once = max(1, MOST_VALUES // (draws * part.size))
            for some in np.array_split(members, -(-len(members) // at_once)):
                own = {key: each.some(some) for key, each in self.changed.items()}
                network = VariedNetwork(
                    base, start, part, own, self.choices, numbers=some, heated=heated,
                    like=like,
                )
                _solve(network, signal, some, result, shares)

    def solve_alone(self, signal, number, result, shares):
        """Fill the results of one variant, with draws of its own."""
        one, start = self.variants[number].apply(self.layout), signal.to_port[0]
        try:
            for part in self._parts(one, start, result):
                network = VariedNetwork(
                    one, start, part, {}, self.choices, numbers=np.array([number]),
                    heated=self.heated[number],
                    generators={} if self.choices.at_pump else generators_of(one),
                )
                result.fill(
                    network, np.array([0]), np.array([number]), solved_alone(network, signal),
                    shares=shares,
                )
        except LayoutError as error:
            result.errors[number] = error

    def _parts(self, layout, start, result):
        """Yield the frequencies that are solved at once, those as a budget would part them."""
        f = result.frequency_hz
        parts = np.array_split(f, -(-f.size // POINTS))
        if self.phased is not None:
            parts = parts_of_band(layout, layout.connected(start), f, self.phased.draws)
        stops = np.cumsum([part.size for part in parts])
        for part, stop in zip(parts, stops, strict=True):
            result.columns = slice(int(stop) - part.size, int(stop))
            yield part


def _touched(layout, ids, variants, heated):
    """Return the ids of the elements that any of the variants changes, in layout order."""
    own = {key for variant in variants for key in variant.settings}
    stages = {stage for variant in variants for stage in variant.temperature_k}
    warm = {key for each in heated for key in each} if any(
        each != heated[0] for each in heated) else set()

    return [key for key in ids if key in own or key in warm
            or stages_of(layout.elements[key]) & stages]


def _groups(layout, ids, changed, variants, choices):
    """Yield (numbers of variants that one network can stand for, their _Phased or None).

    They have the same paramps pumped by the same tones; where unknown phases matter they differ in
    numbers alone.
    """
    shapes = np.array([situations.shapes for situations in changed.values()], int)
    shapes = shapes.reshape(len(changed), len(variants))
    _, firsts, shape_of = np.unique(shapes, axis=1, return_index=True, return_inverse=True)
    groups = {}
    for number, first in enumerate(firsts):
        one = variants[first].apply(layout)
        pumped = [one.elements[key] for key in ids]
        mark = tuple(
            (e.id, e.settings["pump"], e.settings["mixing"])
            for e in pumped if e.kind.pumps(e.settings)
        )
        phased = _Phased.of(one, ids, choices)
        alone = None if phased is None else number
        groups.setdefault((mark, alone), (phased, []))[1].append(number)
    for phased, numbers in groups.values():
        yield np.flatnonzero(np.isin(shape_of.reshape(-1), numbers)), phased


def _solve(network, signal, numbers, result, shares):
    """Fill the results of the variants `numbers`, which are all that the network has."""
    broken = network.errors()
    result.errors |= {int(numbers[place]): error for place, error in broken.items()}
    good = np.array([place for place in range(len(numbers)) if place not in broken], int)
    if not len(good):
        return
    looped = [
        wave for key in network.ids if network.may_amplify(key).any()
        and network.returns(wave := amplified_wave(network, key))
    ]
    left = good
    by_products = ByProducts.of(network, signal, looped, good)
    if by_products is not None:
        left = _fill(by_products, network, good, numbers, result, shares)
    if len(left):
        reducing = Reducing(network, signal, looped, shares=shares)
        left = _fill(reducing, network, left, numbers, result, shares)
        left = _fill(reducing, network, left, numbers, result, shares, thoroughly=True)
    result.no_solution(numbers[left])


def _fill(solver, network, some, numbers, result, shares, **how):
    """Solve the variants `some` of a network; return those without a finite solution."""
    if not len(some):
        return some
    return np.concatenate([
        result.fill(network, part, numbers[part], solver.solve(part, **how), shares=shares)
        for part in np.array_split(some, -(-len(some) // solver.at_once))
    ])
