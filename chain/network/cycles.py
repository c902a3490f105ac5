"""What the graph of waves says of phases: which of them matter, and how strong the loops are."""

from __future__ import annotations

import functools
import heapq
import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from components.arrays import ComplexLike

WEAKEST_LOOP = 1e-3
"""Amplitude below which a loop needs no draws of its own: the common lattice averages it."""

SEARCHED = 20_000
"""Steps after which the search for strong loops through one entry gives up."""


@dataclass(frozen=True)
class Edge:
    """One scattering entry: what of the wave `column` goes on as the wave `row`."""

    row: tuple[str, str, int]
    column: tuple[str, str, int]
    entry: ComplexLike
    turns: dict
    """{unknown phase: how often it turns the entry}."""


@dataclass(frozen=True)
class Loop:
    """A closed run of waves: the product of its entries (points,), and how often phases turn it."""

    product: ComplexLike
    turns: dict

    @property
    def size(self) -> float:
        """Its largest amplitude."""
        return float(np.max(np.abs(self.product)))


def phases_that_matter(
    edges: Sequence[Edge], pairs: Iterable[tuple[Any, Any, dict]]
) -> list:
    """Return the unknown phases that no choice of reference for each wave can take away.

    A phase on a tree of waves is one of the waves themselves, and no power knows it; what does not
    cancel around a closed run of entries (a loop, or two ways from one wave to another) stays.
    `pairs` are (row, column, turns) of waves that one element emits together: they close runs too.
    Only waves that end in one place can meet, so runs are sought among those that lead to one end.
    """
    turned = ((e.row, e.column, e.turns) for e in edges)
    return list(_that_matter(*(
        tuple([(row, column, tuple(turns.items())) for row, column, turns in part])
        for part in (turned, pairs)
    )))


@functools.lru_cache(maxsize=256)
def _that_matter(edges, pairs):
    """Return the phases that matter, by the runs of a network alone: kept for equal ones."""
    bonds = [(row, column, dict(turns)) for row, column, turns in (*edges, *pairs)]
    suspects = _left(bonds)
    if not suspects:
        return ()
    into, out = {}, {}
    for row, column, _ in edges:
        into.setdefault(row, []).append(column)
        out.setdefault(column, []).append(row)
    waves = dict.fromkeys(wave for row, column, _ in bonds for wave in (row, column))
    matter, led = set(), set()
    # Ends first: waves that go nowhere; then what goes round for ever.
    for end in sorted(waves, key=lambda wave: bool(out.get(wave))):
        if end in led or suspects <= matter:
            continue
        here, queue = {end}, [end]
        while queue:
            for source in into.get(queue.pop(), ()):
                if source not in here:
                    here.add(source)
                    queue.append(source)
        led |= here
        matter |= suspects & _left([bond for bond in bonds if bond[0] in here and bond[1] in here])
    return tuple(sorted(matter))


def _left(bonds):
    """Return the phases that do not cancel around the closed runs of bonds, whatever their sense.

    Every wave gets a potential along a tree; a bond that does not fit its two ends closes a run.
    """
    place = {}
    for *_, turns in bonds:
        for name in turns:
            place.setdefault(name, len(place))
    if not place:
        return set()
    joined, whole = {}, []
    for row, column, turns in bonds:
        vector = np.zeros(len(place), np.int64)
        for name, count in turns.items():
            vector[place[name]] = count
        whole.append((row, column, vector))
        joined.setdefault(row, []).append((column, -vector))
        joined.setdefault(column, []).append((row, vector))
    potential = {}
    for first in joined:
        if first in potential:
            continue
        potential[first], queue = np.zeros(len(place), np.int64), [first]
        while queue:
            here = queue.pop()
            for other, vector in joined[here]:
                if other not in potential:
                    potential[other] = potential[here] + vector
                    queue.append(other)
    left = np.zeros(len(place), np.bool_)
    for row, column, vector in whole:
        left |= vector != potential[row] - potential[column]
    return {name for name, stays in zip(place, left, strict=True) if stays}


def strong_loops(edges: Iterable[Edge], names: Iterable) -> list[Loop]:
    """Return the Loops through entries that the phases `names` turn, strongest first.

    Of every such entry the strongest loop, as far as it has WEAKEST_LOOP or more anywhere.
    """
    wanted, leaving, found = set(names), {}, {}
    sized = [(edge, float(np.max(np.abs(edge.entry)))) for edge in edges]
    for edge, size in sized:
        leaving.setdefault(edge.column, []).append((edge, size))
    for edge, size in sized:
        if not wanted & edge.turns.keys() or size == 0.0:
            continue
        run = _strongest(edge, size, leaving)
        if run is None:
            continue
        key = frozenset(id(one) for one in run)
        if key not in found:
            found[key] = _loop(run, wanted)
    loops = [loop for loop in found.values() if loop.turns]
    return sorted(loops, key=lambda loop: (-round(loop.size, 9), sorted(loop.turns)))


def _loop(run, wanted):
    product: ComplexLike = 1.0
    turns: dict[Any, int] = {}
    for edge in run:
        product = product * edge.entry
        for name, count in edge.turns.items():
            if name in wanted:
                turns[name] = turns.get(name, 0) + count
    return Loop(product, {name: count for name, count in turns.items() if count})


def _strongest(edge, size, leaving):
    """Return the run of edges that closes on `edge` with the largest product, or None."""
    best, came, steps = {edge.row: size}, {edge.row: edge}, 0
    # Strongest first, as E. W. Dijkstra (1959): without gain every wave is reached once.
    order = itertools.count()
    queue, left = [(-size, next(order), edge.row)], set()
    if edge.row == edge.column:
        return [edge] if size >= WEAKEST_LOOP else None
    while queue and steps < SEARCHED:
        reached, _, here = heapq.heappop(queue)
        if -reached < best[here]:
            continue
        left.add(here)
        for step, its in leaving.get(here, ()):
            steps += 1
            product = best[here] * its
            if product < WEAKEST_LOOP or product <= best.get(step.row, 0.0):
                continue
            if here == edge.column:
                continue
            # Only behind an amplifier can a wave be reached again with more.
            if step.row in left and step.row in _passed(here, came, edge):
                continue
            best[step.row], came[step.row] = product, step
            heapq.heappush(queue, (-product, next(order), step.row))
    if edge.column not in came:
        return None
    run, here = [], edge.column
    while True:
        run.append(came[here])
        if came[here] is edge:
            return run
        here = came[here].column


def _passed(here, came, first):
    waves = set()
    while True:
        waves.add(here)
        if came[here] is first:
            return waves
        here = came[here].column
