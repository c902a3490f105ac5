"""What noise of an emitter arrives at a wave, and which part of it comes by the signal's start."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from components.nport import magnitude2

if TYPE_CHECKING:
    from components.arrays import FloatLike


def quadratic(hermitian: Any, waves: Any, transfers: Any, others: Any = None) -> Any:
    """Return x H y^H + y H x^H over two for a Hermitian H kept as its upper entries.

    `transfers` {wave: x}, `others` {wave: y}, or x again; waves that are not there count nothing.
    Shape (draws, points) or less.
    """
    total = 0.0
    for (i, j), entry in hermitian.items():
        total = total + _term(entry, waves[i], waves[j], transfers, others or transfers, i == j)
    return total


def _term(entry, first, second, x, y, diagonal):
    x1, x2, y1, y2 = x.get(first), x.get(second), y.get(first), y.get(second)
    if diagonal:
        if x1 is None or y1 is None:
            return 0.0
        return (magnitude2(x1) if x is y else (x1 * np.conj(y1)).real) * np.real(entry)
    term = 0.0
    if x1 is not None and y2 is not None:
        term = (x1 * np.conj(y2) * entry).real
    if x is y:
        return 2.0 * term
    if y1 is not None and x2 is not None:
        term = term + (y1 * np.conj(x2) * entry).real
    return term


@dataclass(frozen=True)
class Through:
    """How noise comes to the end `end` by the wave `start` and past it.

    With the network cut at the start, an emitter sends u into that wave and v past it to the end; g
    is the gain of a unit added to the wave, and the whole transfer is g u + v.  What the cut faces
    would emit is nobody's.  Only waves at the signal are parted: idlers' are not cut, and all that
    they bring is added.
    """

    by: dict
    """{wave: g u}."""
    past: dict
    """{wave: v}."""

    @classmethod
    def of(cls, network: Any, start: Any, end: Any, transfers: Any) -> Any:
        """Return it; a second solution is made only where a wave goes both ways."""
        direct, fed = network.reaching(end, without=start), network.reaching(start)
        by, past, seen = {}, {}, None
        for wave, transfer in transfers.items():
            if wave[2] < 0 or wave not in fed:
                past[wave] = transfer
            elif wave not in direct:
                by[wave] = transfer
            else:
                if seen is None:
                    seen = network.adjoint(start)
                    gain = transfers[start] / seen[start]
                by[wave] = gain * seen[wave] if wave in seen else 0.0 * gain
                past[wave] = transfer - by[wave]
        return cls(by, past)


@dataclass(frozen=True)
class Arrived:
    """What one block's emission gives an observed wave, quanta, shape (draws, points) or less."""

    whole: FloatLike
    idler: FloatLike
    """What involves an idler wave of the block."""
    incoming: FloatLike = 0.0
    """|g u|^2: what comes by the start at the signal frequency."""
    interference: FloatLike = 0.0
    """2 Re(g u v*): between that and what comes past the start; it can be negative."""


def arrived(block: Any, transfers: Any, through: Any = None) -> Arrived:
    """Return the Arrived of a block; `transfers` are those of the network's adjoint there.

    The one place where noise of emitters is summed: x C x^H.
    """
    sidebands, own, mixed = block.nport.sidebands, {}, {}
    for (i, j), entry in block.nport.emission.items():
        (own if sidebands[i] == sidebands[j] == 1 else mixed)[i, j] = entry
    idler = quadratic(mixed, block.waves, transfers) if mixed else 0.0
    signal = quadratic(own, block.waves, transfers)
    whole = signal + idler if mixed else signal
    if through is None or not any(wave in through.by for wave in block.waves):
        return Arrived(whole, idler)
    if not any(wave in through.past for wave in block.waves):
        return Arrived(whole, idler, signal)
    return Arrived(
        whole, idler, quadratic(own, block.waves, through.by),
        2.0 * quadratic(own, block.waves, through.by, through.past),
    )


def commutators(network: Any, wave: Any) -> Any:
    """Return each block's part of the commutator of an observed wave, in the order of the blocks.

    x (I - S S^H + M M^H) x^H, negative for what an idler brings; together one at a matched outside
    port.  Half of it is the vacuum of the wave, which no cold load takes away; what is above is
    photons.  Unchecked: a solution that is off misses the law, which is what laws ask.
    """
    known = network.commutators_of
    if wave not in known:
        transfers = network.adjoint(wave, checked=False)
        known[wave] = [commutator(block, transfers) for block in network.blocks]
    return known[wave]


def commutator(block: Any, transfers: Any, noise: Any = None) -> Any:
    """Return a block's part of a commutator: x (J - S J S^H) x^H.

    `noise` is what the block's emission gives there where that is known: of a part at one
    temperature N times the same number, negative for waves at the idler.
    """
    nport = block.nport
    if noise is None or nport.emitted is None:
        return quadratic(nport.lossiness, block.waves, transfers)
    return nport.sidebands[0] * noise / nport.emitted
