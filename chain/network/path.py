"""The path of a wave from one port to another: the one of least loss."""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from components.nport import magnitude2

if TYPE_CHECKING:
    from chain.layout.layout import Port
    from chain.network.assembly import Network

BLOCKED_DB = 300.0
"""Loss counted where an element lets waves pass only in the opposite direction: a last resort."""


@dataclass(frozen=True)
class Hop:
    """One element on a path."""

    id: str
    enter: str
    leave: str
    gain: float
    """Mean power gain from the port entered to the port left; 0 where nothing passes."""
    back: float
    """The same in the opposite direction."""


def least_loss_path(network: Network, start: Port, end: Port) -> tuple[Hop, ...]:
    """Return the Hops from the wave that leaves port `start` to the wave that arrives at `end`.

    The path of least loss; an element is passed against its sense where there is no other.
    Empty where no joints lead there (or where the two ports are joined).
    """
    begin = network.partner[start]
    best, heap = {begin: 0.0}, [(0.0, begin)]
    came: dict[Port, tuple[Port, Hop] | None] = {begin: None}
    passed = _passages(network)
    while heap:
        cost, port = heapq.heappop(heap)
        if port == end:
            return _back(came, port)
        if cost > best[port]:
            continue
        for hop, loss in passed.get(port, ()):
            target = network.partner.get((hop.id, hop.leave))
            if target is not None and cost + loss < best.get(target, np.inf):
                best[target], came[target] = cost + loss, (port, hop)
                heapq.heappush(heap, (cost + loss, target))
    return ()


def _back(came, port):
    hops = []
    while came[port] is not None:
        port, hop = came[port]
        hops.append(hop)
    return tuple(reversed(hops))


def _passages(network):
    """Return {(id, port entered): [(Hop, loss in dB that it counts)]} at the signal."""
    found = {}
    for block in network.blocks:
        gains = {}
        for (i, j), entry in block.nport.scattering.items():
            if block.nport.sidebands[i] == block.nport.sidebands[j] == 1:
                gains[block.nport.ports[j], block.nport.ports[i]] = float(
                    np.mean(magnitude2(entry))
                )
        for enter, leave in dict.fromkeys([*gains, *((b, a) for a, b in gains)]):
            hop = Hop(block.id, enter, leave, gains.get((enter, leave), 0.0),
                      gains.get((leave, enter), 0.0))
            found.setdefault((block.id, enter), []).append((hop, _counted(hop)))
    return found


def _counted(hop):
    if hop.gain <= 10 ** (-BLOCKED_DB / 10):
        return BLOCKED_DB
    # A little for every element, and nothing back for gain, so that loops never pay.
    return max(-10 * np.log10(hop.gain), 0.0) + 0.01
