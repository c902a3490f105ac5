"""What the graph of waves says of phases: which of them matter, and how strong the loops are."""

from dataclasses import dataclass

import numpy as np

WEAKEST_LOOP = 1e-3
"""Amplitude below which a loop needs no draws of its own: the common lattice averages it."""

SEARCHED = 20_000
"""Steps after which the search for strong loops through one entry gives up."""


@dataclass(frozen=True)
class Edge:
    """One scattering entry: what of the wave `column` goes on as the wave `row`."""

    row: object
    column: object
    entry: object
    turns: dict
    """{unknown phase: how often it turns the entry}."""


@dataclass(frozen=True)
class Loop:
    """A closed run of waves: the product of its entries (points,), and how often phases turn it."""

    product: np.ndarray
    turns: dict

    @property
    def size(self):
        """Its largest amplitude."""
        return float(np.max(np.abs(self.product)))


def phases_that_matter(edges, pairs):
    """Return the unknown phases that no choice of reference for each wave can take away.

    A phase on a tree of waves is one of the waves themselves, and no power knows it; what does not
    cancel around a closed run of entries (a loop, or two ways from one wave to another) stays.
    `pairs` are (row, column, turns) of waves that one element emits together: they close runs too.
    """
    names = list(dict.fromkeys(
        name for turns in (*(edge.turns for edge in edges), *(turns for *_, turns in pairs))
        for name in turns
    ))
    if not names:
        return []
    place = {name: index for index, name in enumerate(names)}
    joined, bonds = {}, []
    for row, column, turns in (*((e.row, e.column, e.turns) for e in edges), *pairs):
        vector = np.zeros(len(names), int)
        for name, count in turns.items():
            vector[place[name]] = count
        bonds.append((row, column, vector))
        joined.setdefault(row, []).append((column, -vector))
        joined.setdefault(column, []).append((row, vector))
    potential = {}
    for first in joined:
        if first in potential:
            continue
        potential[first], queue = np.zeros(len(names), int), [first]
        while queue:
            here = queue.pop()
            for other, vector in joined[here]:
                if other not in potential:
                    potential[other] = potential[here] + vector
                    queue.append(other)
    left = np.zeros(len(names), bool)
    for row, column, vector in bonds:
        left |= vector != potential[row] - potential[column]
    return [name for name, stays in zip(names, left, strict=True) if stays]


def strong_loops(edges, names):
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
    product, turns = 1.0, {}
    for edge in run:
        product = product * edge.entry
        for name, count in edge.turns.items():
            if name in wanted:
                turns[name] = turns.get(name, 0) + count
    return Loop(product, {name: count for name, count in turns.items() if count})


def _strongest(edge, size, leaving):
    """Return the run of edges that closes on `edge` with the largest product, or None."""
    best, came, queue, steps = {edge.row: size}, {edge.row: edge}, [edge.row], 0
    if edge.row == edge.column:
        return [edge] if size >= WEAKEST_LOOP else None
    while queue and steps < SEARCHED:
        here = queue.pop(0)
        for step, its in leaving.get(here, ()):
            steps += 1
            product = best[here] * its
            if product < WEAKEST_LOOP or product <= best.get(step.row, 0.0):
                continue
            if here == edge.column or step.row in _passed(here, came, edge):
                continue
            best[step.row], came[step.row] = product, step
            queue.append(step.row)
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
