"""The fixed set of phases that stands for what nobody knows, and the means over it."""

from __future__ import annotations

import functools
import heapq
import itertools
from typing import Any

import numpy as np

DRAWS = (64, 128, 256, 512, 1024)
"""Draws of a network's unknown phases: the fewest that do, at most MOST_WORK over their number."""

MOST_WORK = 1600

MISSED = 1e-3
"""Relative error of the means at which more draws are taken."""

COUNTED_LOOP = 2e-3
"""Amplitude from which a loop counts for the error of the means."""

CORNERS = 4
"""Loops of which every combination of signs is drawn besides, for least and most."""

_SEED = 20_061
_OTHER = 0.1
"""Amplitude that a phase is expected to act with where it sets no strong loop."""


class PhaseSet:
    """Phasors of a network's unknown phases, {Variable: (draws, 1 or points)}, and weights.

    A rank-1 lattice: phase m turns z_m times over the draws.  Where a phase closes a loop of
    amplitude L, the draws follow the loop's whole phase theta, whatever cables add to it, and lie
    closer where it resonates: theta = psi - 2 arg(1 + s exp(j psi)) with psi even and s = L / (1 +
    sqrt(1 - L^2)), each with the weight d theta / d psi; corners (all loops in phase or not) have
    none.  Under the lattice the mean over one loop is then off by s^draws, which even for L = 0.99
    is 1e-4.
    """

    def __init__(self, names, loops, points):
        chosen = _pivots(loops)
        others = [name for name in names if name not in chosen]
        sizes = (*(loop.size for loop in chosen.values()), *(_OTHER for _ in others))
        counted = [loop for loop in loops if loop.size >= COUNTED_LOOP]
        for even in DRAWS:
            turns = _turns(even, tuple(min(max(round(s, 2), _OTHER), 0.8) for s in sizes))
            acting = [place for place, size in enumerate(sizes) if size >= COUNTED_LOOP]
            self.error = _missed(
                even, tuple(turns[place] for place in acting),
                [sizes[place] for place in acting], counted,
            ) + _weak(loops)
            if self.error <= MISSED or 2 * even * len(names) > MOST_WORK:
                break
        corners = _corners(chosen, len(acting))
        psi = {
            name: np.concatenate([2 * np.pi * (np.arange(even) * turn % even) / even,
                                  corners.get(name, np.zeros(_count(corners)))])[:, None]
            for name, turn in zip((*chosen, *others), turns, strict=True)
        }
        shifts = 2 * np.pi * np.random.default_rng(_SEED).random(len(others))
        angles = {name: psi[name] + shift for name, shift in zip(others, shifts, strict=True)}
        weights = np.ones((1, 1))
        for name, loop in chosen.items():
            own = loop.turns[name]
            theta, weight = _resonant(own * psi[name], np.abs(loop.product))
            known = np.unwrap(np.angle(np.broadcast_to(loop.product, (points,))))
            rest = sum(count * angles[other] for other, count in loop.turns.items()
                       if other != name)
            angles[name] = (theta - known - rest) / own
            weights = weights * weight
        self._averaged = even
        self.draws = even + _count(corners)
        whole = np.broadcast_to(weights, (self.draws, weights.shape[1])).copy()
        whole[even:] = 0.0
        # What does not hang on any phase keeps its value to the last digit.
        self.weights = whole / whole.mean(axis=0)
        self.phasors = {name: np.exp(1j * angles[name]) for name in names}

    def error_of_mean(self, values: Any) -> Any:
        """Return by how much the weighted mean of values (draws, points) may be off, (points,).

        The least of two estimates: what the lattice leaves of products of loops, and twice the
        standard error of as many draws by chance.
        """
        mean = (values * self.weights).mean(axis=0)
        part = self._averaged / self.draws
        scatter = (self.weights**2 * (values - mean) ** 2).mean(axis=0) * part
        by_chance = 2.0 * np.sqrt(scatter / self._averaged)
        return np.minimum(by_chance, np.abs(mean) * self.error)


def _corners(chosen, count):
    """Return {phase: angles of further draws}: the strongest loops all in phase or in antiphase.

    They have no weight in the means and are where least and most are to be sought.
    """
    some = list(chosen)[: min(count, CORNERS)]
    if not some:
        return {}
    signs = np.array(list(itertools.product((0.0, np.pi), repeat=len(some))))
    return {name: signs[:, place] / chosen[name].turns[name] for place, name in enumerate(some)}


def _count(corners):
    return len(next(iter(corners.values()))) if corners else 0


def _missed(draws, turns, acting, loops):
    """Return what the lattice may leave of the mean of products of loops, relative.

    Its first error is in a product of L_j^|k_j| with sum of k_j z_j divisible by the number of
    draws; up to twice the amplitudes stand for what many loops do together, and a loop alone counts
    with what bending leaves of it.
    """
    if not acting:
        return 0.0
    if len(loops) == 1:
        return 2.0 * float(np.max(_closeness(np.abs(loops[0].product)))) ** draws
    together = 1.0 + min(2.0 * round(sum(loop.size for loop in loops), 2), 1.0)
    costs = tuple(-np.log(min(max(together * round(size, 3), 1e-3), 1.0)) for size in acting)
    return float(4.0 * np.exp(-_least_left(draws, turns, costs)))


def _weak(loops):
    """Return what loops too weak to be counted may do together with the strongest, relative."""
    weak = [loop.size for loop in loops if loop.size < COUNTED_LOOP]
    return float(np.linalg.norm(weak)) * loops[0].size if weak else 0.0


@functools.lru_cache(maxsize=64)
def _least_left(draws, turns, costs):
    """Return the least sum of |k| cost over whole k, not all 0, with sum of k z = 0 mod draws.

    By E. W. Dijkstra's search over the remainders (1959): two different cheapest ways to one
    remainder differ by such a k.
    """
    none = (0,) * len(turns)
    way, heap, least = {}, [(0.0, 0, none)], draws * min(costs)
    while heap and heap[0][0] <= least:
        cost, here, steps = heapq.heappop(heap)
        if here in way:
            difference = [abs(a - b) for a, b in zip(steps, way[here], strict=True)]
            if any(difference):
                least = min(least, sum(a * b for a, b in zip(difference, costs, strict=True)))
            continue
        way[here] = steps
        for place, (turn, own) in enumerate(zip(turns, costs, strict=True)):
            for sign in (1, -1):
                following = list(steps)
                following[place] += sign
                heapq.heappush(heap, (cost + own, (here + sign * turn) % draws, tuple(following)))
    return least


def _closeness(size):
    """Return s of loops of amplitude L: none where it is one or more, which has no mean."""
    inside = np.where(size < 1.0, size, 0.0)
    return inside / (1.0 + np.sqrt(1.0 - inside**2))


def _resonant(psi, size):
    """Return (theta, weight) of a loop of amplitude `size` over evenly spread psi."""
    s = _closeness(size)
    around = 1.0 + s * np.exp(1j * psi)
    return psi - 2.0 * np.angle(around), (1.0 - s**2) / np.abs(around) ** 2


def _pivots(loops):
    """Return {phase: the Loop whose whole phase it sets}: of each loop one that is still free."""
    chosen, used = {}, set()
    for loop in loops:
        free = [name for name in loop.turns if name not in used]
        if free:
            chosen[min(free, key=lambda name: abs(loop.turns[name]))] = loop
            used |= loop.turns.keys()
    return chosen


@functools.lru_cache(maxsize=64)
def _turns(draws, sizes):
    """Return how often each phase turns over the draws, for loops of these amplitudes.

    Chosen one after the other for the least error on products of 1/|1 - L exp(j phi)|^2 (component
    by component; I. H. Sloan and A. V. Reztsov, Math. Comput. 71, 263, 2002, from memory).
    """
    found, draw, so_far = [], np.arange(draws), np.ones(draws)
    candidates = np.arange(1, draws // 2)
    for size in sizes:
        kernel = (1 - size**2) / np.abs(1 - size * np.exp(2j * np.pi * draw / draws)) ** 2
        each = kernel[draw[:, None] * candidates % draws]
        error = np.abs((so_far[:, None] * each).mean(axis=0) - 1.0)
        if not found:
            error = np.where(np.gcd(candidates, draws) == 1, error, np.inf)
        best = int(np.argmin(np.round(error, 14)))
        found.append(int(candidates[best]))
        so_far = so_far * each[:, best]
    return tuple(found)


class RandomPhases:
    """Phasors for the same from draws of toleranced values: each phase for itself, all alike."""

    weights = None

    def __init__(self, names, draws):
        self.draws = draws.draws
        self.phasors = {
            (key, side, name): draws.phasor(key, name if side > 0 else f"{name} idler")
            for key, side, name in names
        }
