"""Variants solved by the waves that differ: all others are eliminated once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.network.dense import RESIDUAL
from chain.network.elimination import QUIET
from chain.network.emitted import arrived
from chain.network.reduced import together
from chain.network.stability import amplified_wave, loops
from chain.network.variant_results import Solved
from chain.network.varied import VariedNetwork, differs
from chain.network.waves import Block
from components.nport import magnitude2

if TYPE_CHECKING:
    from chain.layout.layout import Signal
    from chain.network.waves import Wave

BLOCK = 8192
"""Variants times phases times points that are solved at once: what fits a processor's cache."""


class Reducing:
    """Solves for some of the variants at a time, all that they have in common eliminated once."""

    def __init__(
        self, network: VariedNetwork, signal: Signal, looped: Sequence[Wave], *, shares: bool
    ) -> None:
        self._signal, self._at_once = signal, BLOCK // (network.draws * len(network.frequency_hz))
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
        wanted: set[Any] = {
            wave for block in network.blocks if _varies(block) for wave in block.waves
        }
        if signal.from_port is not None:
            wanted.add((*signal.from_port, 1))
        wanted = {network.index[wave] for wave in wanted}
        return Block("", nport, waves), {
            wave: form for wave, form in forms.items() if wave in wanted
        }

    @property
    def at_once(self) -> int:
        """How many variants are best solved at once."""
        return max(1, self._at_once)

    @QUIET
    def solve(self, some: Any, *, thoroughly: bool = False) -> Solved:
        """Return the Solved of the variants `some`.

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
        transfers = network.by_wave(found)
        gain = None
        if self._signal.from_port is not None:
            gain = _mean(network, magnitude2(transfers.get((*self._signal.from_port, 1), 0.0)))
        return Solved(gain, list(self._parts(blocks, transfers)), seen)

    def _parts(self, blocks, transfers):
        for block in blocks:
            own = arrived(block, transfers)
            yield block.id, _mean(self._network, own.whole), _mean(self._network, own.idler)


def solved_alone(network: VariedNetwork, signal: Signal) -> Solved:
    """Return the Solved of the one variant that a network is."""
    transfers, gain = network.adjoint(network.arriving(signal.to_port)), None
    if signal.from_port is not None:
        gain = network.mean(magnitude2(transfers.get((*signal.from_port, 1), 0.0)))
    parts = []
    for block in network.blocks:
        own = arrived(block, transfers)
        parts.append((block.id, network.mean(own.whole), network.mean(own.idler)))
    loops_of = loops(network) if network.active else ()
    return Solved(gain, parts, {
        amplified_wave(network, key): 1.0 / (1.0 - loop) for key, loop in loops_of
    })


def _varies(block):
    return any(differs(entry) for entry in block.nport.emission.values())


def _mean(network, values):
    """Return the mean over phases, shape (variants, points) or (points,)."""
    if np.ndim(values) < 3:
        return network.mean(values)
    if values.shape[1] == 1:
        return values[:, 0]
    weights = None if network.phases is None else network.phases.weights
    return (values if weights is None else values * weights).mean(axis=1)
