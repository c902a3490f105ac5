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
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chain.errors import LayoutError
from chain.network.assembly import phase_draws
from chain.network.dense import RESIDUAL
from chain.network.elimination import QUIET
from chain.network.emitted import arrived
from chain.network.reduced import together
from chain.network.situations import Situations, stages_of
from chain.network.stability import amplified_wave, loop_gain, oscillation_warning
from chain.network.varied import VariedNetwork, differs
from chain.network.waves import Block
from components.arrays import FloatLike
from components.nport import magnitude2

if TYPE_CHECKING:
    from chain.layout.layout import Layout, Signal
    from chain.layout.variants import Variant
    from chain.network.assembly import Choices
    from components.arrays import FloatArray
    from components.heating import Heated

BLOCK = 8192
"""Variants times phases times points that are solved at once: what fits a processor's cache."""

MOST_VALUES = 1_000_000
"""Variants times phases times points whose changed elements are built at once, for memory."""



@dataclass(frozen=True)
class VariantSolutions:
    """Gain and noise of one signal in every variant; arrays (variants, points), NaN by an error."""

    gain: np.ndarray | None
    """Power gain, averaged over unknown phases; None without a start."""
    noise: np.ndarray
    """Quanta at the end, averaged over unknown phases."""
    shares: Mapping[str, np.ndarray]
    """Each element's part of the noise, quanta at the end; empty where not asked for."""
    idler: Mapping[str, np.ndarray]
    """The part of each share that came through the idler."""
    errors: Mapping[int, LayoutError]
    """By the variant's number: why it has no solution."""
    warnings: Mapping[int, tuple[str, ...]]
    """By the variant's number: amplifiers that may oscillate."""
    unsolved: tuple[int, ...] = ()
    """Numbers of variants in which unknown phases matter: each has draws of its own."""


def solve_variants(
    layout: Layout, signal: Signal, frequency_hz: FloatArray, variants: Sequence[Variant],
    choices: Choices | None = None, *, heated: Sequence[Heated], shares: bool = True,
) -> VariantSolutions:
    """Return the VariantSolutions of a signal for `variants` (chain.layout.variants) of a layout.

    `heated` is what tones warm in every variant.  `choices` are the network's, without
    draws of its own.  A variant that cannot be has an
    error of its own; LayoutError is raised for what is wrong with the layout alone.
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
    result = _Results(signal, f, variants)
    for members in _groups(layout, ids, changed, variants):
        base = variants[members[0]].apply(layout)
        if phase_draws(base, ids) > 1:
            result.unsolved += [int(number) for number in members]
            continue
        at_once = max(1, MOST_VALUES // f.size)
        for some in np.array_split(members, -(-len(members) // at_once)):
            own = {key: situations.some(some) for key, situations in changed.items()}
            try:
                network = VariedNetwork(
                    base, signal.to_port[0], f, own, choices, numbers=some,
                    heated=heated[some[0]],
                )
            except LayoutError as error:
                result.errors |= {int(number): error for number in some}
                continue
            _solve(network, signal, some, result, shares)
    return result.solutions()


def _touched(layout, ids, variants, heated):
    """Return the ids of the elements that any of the variants changes, in layout order."""
    own = {key for variant in variants for key in variant.settings}
    stages = {stage for variant in variants for stage in variant.temperature_k}
    warm = {key for each in heated for key in each} if any(
        each != heated[0] for each in heated) else set()

    return [key for key in ids if key in own or key in warm
            or stages_of(layout.elements[key]) & stages]


def _groups(layout, ids, changed, variants):
    """Yield the numbers of variants that one network can stand for.

    They have the same paramps pumped by the same tones, and unknown phases matter in all of them or
    in none.
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
        phased = phase_draws(one, ids) > 1
        groups.setdefault((mark, phased), []).append(number)
    for numbers in groups.values():
        yield np.flatnonzero(np.isin(shape_of.reshape(-1), numbers))


class _Results:
    """Arrays that are filled group by group."""

    def __init__(self, signal, frequency_hz, variants):
        self.variants, self._f = variants, frequency_hz
        self._shape = len(variants), len(frequency_hz)
        self.gain = None if signal.from_port is None else self.empty()
        self.noise = self.empty()
        self.shares, self.idler, self.errors, self.warnings = {}, {}, {}, {}
        self.unsolved = []
        self.place = signal.place

    def empty(self):
        return np.full(self._shape, np.nan)

    def no_solution(self, numbers):
        """Note that variants have no finite solution."""
        for number in numbers:
            self.errors[int(number)] = LayoutError.at(
                self.place, f"{self.variants[number].name}: the waves have no finite solution",
                "look for a loop of which the gain is one",
            )

    def solutions(self):
        broken = list(self.errors)
        arrays = [self.noise, *self.shares.values(), *self.idler.values()]
        for array in arrays if self.gain is None else [self.gain, *arrays]:
            array[broken] = np.nan
        return VariantSolutions(
            self.gain, self.noise, self.shares, self.idler, self.errors,
            {number: tuple(said) for number, said in self.warnings.items()},
            tuple(self.unsolved),
        )


class _Solver:
    """The adjoint solution at the signal's end for some of the variants at a time."""

    def __init__(self, network, signal, looped, shares):
        end = network.arriving(signal.to_port)
        self._network, self._looped, self._target = network, looped, network.index[end]
        self._reduced = network.reduced([*looped, end])
        if network.active and self._reduced.misfit() > RESIDUAL:
            # The unchanged part alone cannot be solved in this order: all of it each time.
            self._reduced = network.reduced([end], whole=True)
        self._rest = None if shares else self._of_rest(signal)

    def _of_rest(self, signal):
        """Return (what blocks that are all alike emit as one, {wave: its form in kept ones})."""
        network, forms = self._network, self._reduced.forms()
        names = tuple(network.index)
        alike = [block for block in network.blocks if not _varies(block)]
        nport, waves = together(alike, forms, names)
        wanted = {wave for block in network.blocks if _varies(block) for wave in block.waves}
        if signal.from_port is not None:
            wanted.add((*signal.from_port, 1))
        wanted = {network.index[wave] for wave in wanted}
        return Block("", nport, waves), {
            wave: form for wave, form in forms.items() if wave in wanted
        }

    @QUIET
    def solve(self, some, *, thoroughly=False):
        """Return (blocks, {wave: transfer}, {amplifier's wave: what a unit makes of itself}).

        `thoroughly` solves anew, densely, where the solution misses the equations; so does a
        network that amplifies.  NaN where there is none.
        """
        network, reduced = self._network, self._reduced
        blocks, entries = network.of_some(some)
        factors = reduced.factors(entries, self._target)
        source = {reduced.number(self._target): 1.0}
        if thoroughly or network.active:
            found, _ = factors.solve(source, transposed=True)
        else:
            found = factors.adjoint(source)
        found = reduced.by_wave(found)
        if self._rest is None:
            reduced.add_eliminated(found)
        else:
            rest, forms = self._rest
            blocks = [rest, *(block for block in blocks if _varies(block))]
            for wave, form in forms.items():
                found[wave] = sum(
                    part * found[kept] for kept, part in form.items() if kept in found
                )
        seen = {}
        for wave in self._looped:
            number = reduced.number(network.index[wave])
            seen[wave] = factors.forward({number: 1.0})[number]
        return blocks, network.by_wave(found), seen


def _varies(block):
    return any(differs(entry) for entry in block.nport.emission.values())


def _solve(network, signal, numbers, result, shares):
    """Fill the results of the variants `numbers`, which are all that the network has."""
    broken = network.errors()
    result.errors |= {int(numbers[place]): error for place, error in broken.items()}
    good = np.array([place for place in range(len(numbers)) if place not in broken], int)
    looped = [
        wave for key in network.ids if network.may_amplify(key).any()
        and network.returns(wave := amplified_wave(network, key))
    ]
    solver = _Solver(network, signal, looped, shares)
    size = max(1, BLOCK // (network.draws * len(network.frequency_hz)))
    for some in np.array_split(good, -(-len(good) // size)) if len(good) else ():
        left = _fill(network, signal, some, numbers[some], solver.solve(some), result, shares)
        if len(left):
            solved = solver.solve(left, thoroughly=True)
            left = _fill(network, signal, left, numbers[left], solved, result, shares)
            result.no_solution(numbers[left])


@QUIET
def _fill(network, signal, some, numbers, solved, result, shares):
    """Write gain, noise and shares of the variants `some` of a network to their `numbers`.

    Return those without a finite solution.
    """
    blocks, transfers, seen = solved
    total: FloatLike = 0.0
    for array in (*result.shares.values(), *result.idler.values()):
        array[numbers] = 0.0
    for block in blocks:
        own = arrived(block, transfers)
        noise, by_idler = own.whole, own.idler
        total = total + noise
        if shares:
            _add(result, result.shares, block.id, numbers, _mean(network, noise))
            if network.idler_hz is not None:
                _add(result, result.idler, block.id, numbers, _mean(network, by_idler))
    result.noise[numbers] = _mean(network, total)
    added = network.added_at(signal.to_port[0], some)
    if added is not None:
        result.noise[numbers] += added
        if shares:
            _add(result, result.shares, signal.to_port[0], numbers, added)
    finite = np.isfinite(result.noise[numbers]).all(axis=1)
    if result.gain is not None:
        gain = magnitude2(transfers.get((*signal.from_port, 1), 0.0))
        result.gain[numbers] = _mean(network, gain)
        finite &= np.isfinite(result.gain[numbers]).all(axis=1)
    for wave, unit in seen.items():
        _warn(network, wave[0], loop_gain(unit), some, numbers, result)
    return some[~finite]


def _add(result, arrays, key, numbers, values):
    """Add an element's noise to its array; a wave of another block may have been there."""
    if key not in arrays:
        arrays[key] = np.zeros_like(result.noise)
    arrays[key][numbers] += values


def _mean(network, values):
    """Return the mean over phases, shape (variants, points) or (points,)."""
    if np.ndim(values) == 3:
        return values[:, 0] if values.shape[1] == 1 else values.mean(axis=1)
    shape = network.draws, len(network.frequency_hz)
    return np.broadcast_to(values, shape).mean(axis=0)


def _warn(network, key, loop, some, numbers, result):
    """Note which variants may oscillate around an amplifier that amplifies in them."""
    reaches = np.max(loop, axis=(1, 2)) >= 1.0 if np.ndim(loop) == 3 else np.any(loop >= 1.0)
    amplifies = network.may_amplify(key)
    amplifies = amplifies[some] if len(amplifies) > 1 else amplifies
    for place in np.flatnonzero(np.broadcast_to(reaches & amplifies, len(some))):
        own = loop[place] if np.ndim(loop) == 3 else loop
        said = oscillation_warning(key, own, network.frequency_hz)
        kept = result.warnings.setdefault(int(numbers[place]), [])
        kept += [text for text in said if text not in kept]
