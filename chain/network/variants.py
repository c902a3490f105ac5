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
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError
from chain.network.assembly import Network, phase_draws, scattering_network
from chain.network.at_once import parts_of_band
from chain.network.dense import RESIDUAL
from chain.network.elimination import QUIET
from chain.network.emitted import arrived
from chain.network.reduced import together
from chain.network.situations import Situations, stages_of
from chain.network.stability import amplified_wave, judged
from chain.network.varied import VariedNetwork, differs
from chain.network.waves import Block
from components.arrays import FloatLike
from components.nport import magnitude2
from components.phases import unknown_reflections

if TYPE_CHECKING:
    from chain.layout.layout import Layout, Signal
    from chain.layout.variants import Variant
    from chain.network.assembly import Choices
    from components.arrays import FloatArray

BLOCK = 8192
"""Variants times phases times points that are solved at once: what fits a processor's cache."""

MOST_VALUES = 1_000_000
"""Variants times phases times points whose changed elements are built at once, for memory."""

POINTS = 4096
"""Frequencies that are solved at once where no phase is unknown."""

FEWEST_TOGETHER = 3
"""Fewer variants than this with the same draws of unknown phases are left to solve alone."""


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
    """Numbers of variants of which each has draws of its own of unknown phases."""


def solve_variants(
    layout: Layout, signal: Signal, frequency_hz: FloatArray, variants: Sequence[Variant],
    choices: Choices | None = None, *, heated_k: Any, shares: bool = True,
) -> VariantSolutions:
    """Return the VariantSolutions of a signal for `variants` (chain.layout.variants) of a layout.

    `heated_k` is what tones warm, {id: K} for every variant.  `choices` are the network's, without
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
        key: Situations.of_variants(layout_of, layout.elements[key], variants, heated_k)
        for key in _touched(layout, ids, variants, heated_k)
    }
    result = _Results(signal, f, variants)
    for members, phased in _groups(layout, ids, changed, variants, f, choices):
        if phased is None:
            result.unsolved += [int(number) for number in members]
            continue
        group = _Group(layout, variants, changed, choices, heated_k, phased)
        for some in group.with_the_same_draws(members, ids, f):
            if phased and len(some) < FEWEST_TOGETHER:
                result.unsolved += [int(number) for number in some]
            else:
                group.solve(signal, some, result, shares)
    return result.solutions()


@dataclass(frozen=True)
class _Group:
    """How variants are solved that one network can stand for."""

    layout: Layout
    variants: Sequence[Variant]
    changed: Mapping[str, Situations]
    choices: Choices | None
    heated_k: Any
    phased: bool
    """True where unknown phases matter."""

    def with_the_same_draws(self, members, ids, f):
        """Return the numbers `members` parted into those that draw unknown phases alike.

        Draws follow the loops that phases close, so they are alike where every element on a closed
        run of waves is the same; elements that reflect by `return_loss` hold such runs inside.
        """
        if not self.phased:
            return [members]
        one = self.variants[members[0]].apply(self.layout)
        looped = scattering_network(one, ids[0], f[:1], self.choices).looped()
        each = np.array([
            situations.of[members] for key, situations in self.changed.items() if key in looped
            or unknown_reflections(one.elements[key].kind, one.elements[key].settings)
        ])
        if not each.size:
            return [members]
        _, of = np.unique(each, axis=1, return_inverse=True)
        order = np.argsort(of.reshape(-1), kind="stable")
        return np.split(members[order], np.flatnonzero(np.diff(of.reshape(-1)[order])) + 1)

    def solve(self, signal, members, result, shares):
        """Fill the results of the variants `members`, which draw unknown phases alike."""
        while len(members):
            try:
                self._solve(signal, members, result, shares)
            except LayoutError as error:
                # With phases it may be of the one alone that they were drawn for.
                wrong = members[:1] if self.phased else members
                result.errors |= {int(number): error for number in wrong}
                members = members[len(wrong):]
            else:
                return

    def _solve(self, signal, members, result, shares):
        base = self.variants[members[0]].apply(self.layout)
        heated_k, start = self.heated_k[members[0]], signal.to_port[0]
        f, like = result.frequency_hz, None
        parts = np.array_split(f, -(-f.size // POINTS))
        if self.phased:
            parts = parts_of_band(base, base.connected(start), f)
        stops = np.cumsum([part.size for part in parts])
        for part, stop in zip(parts, stops, strict=True):
            result.columns = slice(int(stop) - part.size, int(stop))
            if self.phased:
                like = Network(base, start, part, self.choices, heated_k=heated_k)
            draws = 1 if like is None else like.draws
            at_once = max(1, MOST_VALUES // (draws * part.size))
            for some in np.array_split(members, -(-len(members) // at_once)):
                own = {key: each.some(some) for key, each in self.changed.items()}
                network = VariedNetwork(
                    base, start, part, own, self.choices, numbers=some, heated_k=heated_k,
                    like=like,
                )
                _solve(network, signal, some, result, shares)


def _touched(layout, ids, variants, heated_k):
    """Return the ids of the elements that any of the variants changes, in layout order."""
    own = {key for variant in variants for key in variant.settings}
    stages = {stage for variant in variants for stage in variant.temperature_k}
    heated = {key for each in heated_k for key in each} if any(
        each != heated_k[0] for each in heated_k) else set()

    return [key for key in ids if key in own or key in heated
            or stages_of(layout.elements[key]) & stages]


def _groups(layout, ids, changed, variants, f, choices):
    """Yield (numbers of variants that one network can stand for, whether unknown phases matter).

    They have the same paramps pumped by the same tones; where unknown phases matter they differ in
    numbers alone.  The latter is None where the first of those cannot be, and does not say.
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
        phased = _phases_matter(one, ids, f, choices)
        alone = None if phased is False else number
        groups.setdefault((mark, alone, phased), []).append(number)
    for (_, _, phased), numbers in groups.items():
        yield np.flatnonzero(np.isin(shape_of.reshape(-1), numbers)), phased


def _phases_matter(layout, ids, f, choices):
    """Tell whether unknown phases matter; None where the layout cannot be."""
    try:
        if choices is None:
            return phase_draws(layout, ids) > 1
        return scattering_network(layout, ids[0], f[:1], choices).draws > 1
    except LayoutError:
        return None


class _Results:
    """Arrays that are filled group by group."""

    def __init__(self, signal, frequency_hz, variants):
        self.variants, self.frequency_hz = variants, frequency_hz
        self.columns = slice(0, len(frequency_hz))
        """Where among all frequencies those stand that are being solved."""
        self._shape = len(variants), len(frequency_hz)
        self.gain = None if signal.from_port is None else self.empty()
        self.noise = self.empty()
        self.shares, self.idler, self.errors, self.warnings = {}, {}, {}, {}
        self.unsolved = []
        self.place = signal.place

    def empty(self):
        return np.full(self._shape, np.nan)

    def unknown(self, number, where):
        """Note that a variant has no mean over phases at some of the points being solved."""
        for array in (self.noise, self.gain, *self.shares.values(), *self.idler.values()):
            if array is not None:
                array[number, self.columns][where] = np.nan

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
    here = numbers[:, None], np.arange(result.columns.start, result.columns.stop)
    total: FloatLike = 0.0
    for array in (*result.shares.values(), *result.idler.values()):
        array[here] = 0.0
    for block in blocks:
        own = arrived(block, transfers)
        noise, by_idler = own.whole, own.idler
        total = total + noise
        if shares:
            _add(result, result.shares, block.id, here, _mean(network, noise))
            if network.idler_hz is not None:
                _add(result, result.idler, block.id, here, _mean(network, by_idler))
    result.noise[here] = _mean(network, total)
    added = network.added_at(signal.to_port[0], some)
    if added is not None:
        result.noise[here] += added
        if shares:
            _add(result, result.shares, signal.to_port[0], here, added)
    finite = np.isfinite(result.noise[here]).all(axis=1)
    if result.gain is not None:
        gain = magnitude2(transfers.get((*signal.from_port, 1), 0.0))
        result.gain[here] = _mean(network, gain)
        finite &= np.isfinite(result.gain[here]).all(axis=1)
    for wave, unit in seen.items():
        _warn(network, wave[0], 1.0 - 1.0 / unit, some, numbers, result)
    return some[~finite]


def _add(result, arrays, key, here, values):
    """Add an element's noise to its array; a wave of another block may have been there."""
    if key not in arrays:
        arrays[key] = np.zeros_like(result.noise)
    arrays[key][here] += values


def _mean(network, values):
    """Return the mean over phases, shape (variants, points) or (points,)."""
    if np.ndim(values) < 3:
        return network.mean(values)
    if values.shape[1] == 1:
        return values[:, 0]
    weights = None if network.phases is None else network.phases.weights
    return (values if weights is None else values * weights).mean(axis=1)


def _warn(network, key, loop, some, numbers, result):
    """Note which variants may oscillate around an amplifier that amplifies in them."""
    each = np.max(np.abs(loop), axis=(1, 2)) if np.ndim(loop) == 3 else np.max(np.abs(loop))
    amplifies = network.may_amplify(key)
    amplifies = amplifies[some] if len(amplifies) > 1 else amplifies
    for place in np.flatnonzero(np.broadcast_to((each >= 1.0) & amplifies, len(some))):
        own = loop[place] if np.ndim(loop) == 3 else loop
        reached, said = judged(key, own, network.frequency_hz, phased=network.phases is not None)
        number = int(numbers[place])
        result.unknown(number, reached)
        kept = result.warnings.setdefault(number, [])
        kept += [text for text in said if text not in kept]
