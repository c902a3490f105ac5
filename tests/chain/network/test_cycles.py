"""The strongest loops against all loops that a small graph has."""

import itertools

import numpy as np

from chain.network.cycles import WEAKEST_LOOP, Edge, strong_loops


def _all_loops(edges, through):
    """Return the amplitudes of all closed runs through one entry that pass every wave once."""
    entries = {(e.row, e.column): abs(e.entry) for e in edges}
    waves = sorted({e.row for e in edges} | {e.column for e in edges})
    rest = [wave for wave in waves if wave not in (through.row, through.column)]
    found = []
    for length in range(len(rest) + 1):
        for between in itertools.permutations(rest, length):
            run = (through.row, *between, through.column)
            size = abs(through.entry)
            for here, following in itertools.pairwise(run):
                size *= entries.get((following, here), 0.0)
            found.append(size)
    return found


def test_the_strongest_loop_through_each_turned_entry_is_found_also_with_gain():
    generator = np.random.default_rng(7)
    for trial in range(60):
        waves = [("w", str(n), 1) for n in range(6)]
        edges = [
            Edge(row, column, generator.choice([0.02, 0.2, 0.7, 0.9]),
                 {f"{row[1]}{column[1]}": 1} if generator.random() < 0.2 else {})
            for row, column in itertools.permutations(waves, 2) if generator.random() < 0.5
        ]
        if trial % 2 and edges:
            # One amplifier: a wave may be reached again with more, and no run may pass it twice.
            edges[0] = Edge(edges[0].row, edges[0].column, 5.0, edges[0].turns)
        names = {name for edge in edges for name in edge.turns}
        loops = strong_loops(edges, names)
        for edge in edges:
            if not edge.turns:
                continue
            best = max(_all_loops(edges, edge))
            (name,) = edge.turns
            sizes = [loop.size for loop in loops if name in loop.turns]
            assert bool(sizes) >= (best >= WEAKEST_LOOP), (trial, edge, best)
            if trial % 2 == 0 and best >= WEAKEST_LOOP:
                # With gain the search may take a run that is not the best; without it may not.
                assert max(sizes) >= best * (1 - 1e-12)
