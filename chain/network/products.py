"""What differs between variants as a letter: waves as sums of products of such letters.

Where nothing that differs lies on a closed run of waves, no wave meets it twice, and what becomes
of a wave is a sum of products of entries that differ, each times a number that all variants have in
common.  Powers are sums of pairs of products; the means over unknown phases are taken of the common
numbers, once, and what is left for a variant is a product of a few numbers at each frequency.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.network.dense import RESIDUAL
from chain.network.elimination import QUIET, Factors, plan_for
from chain.network.variant_results import Solved
from chain.network.varied import VariedNetwork, differs
from components.arrays import ComplexLike
from components.nport import magnitude2

if TYPE_CHECKING:
    from chain.layout.layout import Signal
    from chain.network.waves import Wave

Product = tuple[int, ...]
"""Numbers of the letters that are multiplied, falling."""

MOST_PRODUCTS = 64
"""More different products than this are dearer than to solve anew."""


class Sum:
    """A sum of products, {product: what all variants have in common}, (draws, points) or less.

    It stands where an array stands in an elimination, which adds and multiplies.
    """

    __array_ufunc__ = None

    def __init__(self, terms: dict[Product, ComplexLike]) -> None:
        self.terms = terms

    def __add__(self, other: Any) -> Sum:
        found = dict(self.terms)
        for product, value in terms_of(other).items():
            found[product] = found[product] + value if product in found else value
        return Sum(found)

    def __mul__(self, other: Any) -> Sum:
        found: dict[Product, ComplexLike] = {}
        for first, value in self.terms.items():
            for second, factor in terms_of(other).items():
                product = tuple(sorted(first + second, reverse=True))
                term = value * factor
                found[product] = found[product] + term if product in found else term
        return Sum(found)

    __radd__, __rmul__ = __add__, __mul__


def terms_of(value: Any) -> dict[Product, ComplexLike]:
    """Return the terms of a Sum, or of what is the same in every variant."""
    return value.terms if isinstance(value, Sum) else {(): value}


class Letters:
    """The entries of a network that differ between variants, each with a letter."""

    def __init__(self, network: VariedNetwork) -> None:
        self._network = network
        self.entries: dict[tuple[int, int], Any] = dict(network.entries)
        self._values: list[tuple[str, Any]] = []
        for block in network.blocks:
            for (i, j), entry in block.nport.scattering.items():
                key, port, side = block.waves[j]
                source = network.index.get((*network.partner[key, port], side))
                if source is not None and differs(entry):
                    row = network.index[block.waves[i]]
                    self.entries[row, source] = Sum({(len(self._values),): 1.0})
                    self._values.append((block.id, np.asarray(entry)[:, 0]))

    @staticmethod
    def suit(network: VariedNetwork) -> bool:
        """Tell whether nothing that differs is on a closed run of waves, or turned by phases."""
        looped = network.looped()
        return not any(
            differs(entry) and (block.id in looped or np.shape(entry)[1] > 1)
            for block in network.blocks
            for entry in (*block.nport.scattering.values(), *block.nport.emission.values())
        )

    def of(self, some: Any) -> dict[Product, Any]:
        """Return a memory of the products in the variants `some`: see `product`."""
        found: dict[Product, Any] = {(): 1.0}
        for number, (key, values) in enumerate(self._values):
            found[number,] = values[self._network.changed[key].of[some]]
        return found


def product(known: dict[Product, Any], letters: Product) -> Any:
    """Return a product in variants, (variants, points) or 1.0; `known` are those worked out."""
    if letters not in known:
        known[letters] = product(known, letters[:-1]) * known[letters[-1:]]
    return known[letters]


class Form:
    """Re sum of x_i conj(x_j) C_ij: {(product, product): mean over phases, (points,)}."""

    def __init__(self, network: VariedNetwork) -> None:
        self._network = network
        self.pairs: dict[tuple[Product, Product], Any] = {}

    def add(self, first: Any, second: Any, entry: Any) -> None:
        """Add x_i conj(x_j) times an entry of C that is the same in every variant."""
        for one, a in terms_of(first).items():
            for other, b in terms_of(second).items():
                value = self._network.mean(a * np.conj(b) * entry)
                pair = one, other
                self.pairs[pair] = self.pairs[pair] + value if pair in self.pairs else value

    def of(self, known: dict[Product, Any], entry: Any = 1.0) -> Any:
        """Return the form times `entry` in variants, (variants, points) or (points,)."""
        total: Any = 0.0
        for (one, other), value in self.pairs.items():
            value = value * entry
            if one == other:
                total = total + magnitude2(product(known, one)) * np.real(value)
            else:
                both = product(known, one) * np.conj(product(known, other))
                total = total + np.real(both * value)
        return total


class ByProducts:
    """Solves for some of the variants at a time, by the products of what differs."""

    at_once = 256

    def __init__(self, network: VariedNetwork, signal: Signal, looped: Sequence[Wave]) -> None:
        self._network, self._letters = network, Letters(network)
        self._target = network.index[network.arriving(signal.to_port)]
        self._factors = self._factored(self._letters.entries)
        self._waves = self._factors.adjoint({self._target: 1.0})
        numbers = {wave: network.index[wave] for wave in looped}
        self._seen = {
            wave: self._factors.forward({number: 1.0})[number] for wave, number in numbers.items()
        }
        self._gain, start = None, signal.from_port
        if start is not None:
            self._gain = Form(network)
            passed = self._waves.get(network.index.get((*start, 1)), 0.0)
            self._gain.add(passed, passed, 1.0)

    @classmethod
    def of(
        cls, network: VariedNetwork, signal: Signal, looped: Sequence[Wave], variants: Any
    ) -> ByProducts | None:
        """Return the solver, or None where it does not suit the network or its `variants`."""
        if not Letters.suit(network):
            return None
        found = cls(network, signal, looped)
        different = {product for value in found._waves.values() for product in terms_of(value)}
        if len(different) > MOST_PRODUCTS:
            return None
        if network.active and max(map(found._misfit, variants[[0, -1]])) > RESIDUAL:
            return None
        return found

    def _factored(self, entries):
        network = self._network
        return Factors(plan_for(network._pattern, network._loops, self._target), entries)

    @QUIET
    def _misfit(self, variant):
        """Return the worst relative residual in one of the variants."""
        known = self._letters.of(np.array([variant]))

        def number(value):
            return sum(
                product(known, letters) * factor for letters, factor in terms_of(value).items()
            )

        factors = self._factored({
            key: number(entry) for key, entry in self._letters.entries.items()
        })
        found = {wave: number(value) for wave, value in self._waves.items()}
        return factors.misfit(found, {self._target: 1.0}, transposed=True)

    @functools.cached_property
    def _forms(self):
        """[(block, (form of the signal's waves, of what involves the idler's))]: what differs of
        the emission is left out of the forms, and has one of its own by its entry."""
        return [(block, *self._of_block(block)) for block in self._network.blocks]

    def _of_block(self, block):
        own, mixed, differing = Form(self._network), Form(self._network), []
        sidebands = block.nport.sidebands
        for (i, j), entry in block.nport.emission.items():
            first, second = (
                self._waves.get(self._network.index[block.waves[k]]) for k in (i, j)
            )
            if first is None or second is None:
                continue
            signal = sidebands[i] == sidebands[j] == 1
            twice = 1.0 if i == j else 2.0
            if differs(entry):
                alone = Form(self._network)
                alone.add(first, second, twice)
                differing.append((signal, alone, entry))
            else:
                (own if signal else mixed).add(first, second, twice * entry)
        return own, mixed, differing

    @QUIET
    def solve(self, some: Any) -> Solved:
        """Return the Solved of the variants `some`."""
        known = self._letters.of(some)
        gain = None if self._gain is None else self._gain.of(known)
        return Solved(gain, list(self._parts(some, known)), self._seen)

    def _parts(self, some, known):
        for block, own, mixed, differing in self._forms:
            whole, by_idler = own.of(known), mixed.of(known)
            for signal, alone, entry in differing:
                term = alone.of(known, entry[self._network.changed[block.id].of[some], 0])
                if signal:
                    whole = whole + term
                else:
                    by_idler = by_idler + term
            yield block.id, whole + by_idler, by_idler
