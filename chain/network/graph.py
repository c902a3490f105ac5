"""Which wave goes on as which: the questions that the structure of a network answers."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from chain.network.waves import Block, Wave

if TYPE_CHECKING:
    from chain.layout.layout import Port


class WaveGraph:
    """The waves of `blocks`, joined by `partner` (each joined port's partner, both ways)."""

    blocks: Sequence[Block]
    partner: Mapping[Port, Port]

    def _number(self):
        self.index: dict[Wave, int] = {}
        for block in self.blocks:
            for wave in block.waves:
                self.index[wave] = len(self.index)
        self._names = tuple(self.index)
        pattern = [set() for _ in self.index]
        loops = []
        self.entries = {}
        """S P by numbers of waves: (wave that leaves, wave that arrives) -> scattering."""
        for block in self.blocks:
            for (i, j), entry in block.nport.scattering.items():
                key, port, side = block.waves[j]
                source = self.index.get((*self.partner[key, port], side))
                if source is None:
                    continue
                row = self.index[block.waves[i]]
                self.entries[row, source] = entry
                if source == row:
                    loops.append(row)
                else:
                    pattern[row].add(source)
        self._pattern = tuple(frozenset(columns) for columns in pattern)
        self._loops = tuple(loops)

    def arriving(self, port: Port, side: int = 1) -> Wave:
        """Return the wave that arrives at a port: the one that leaves its partner."""
        return (*self.partner[port], side)

    def arrives_nowhere(self, wave: Wave) -> bool:
        """Tell whether a wave leaves for an element that this network does not need."""
        key, port, side = wave
        return (*self.partner[key, port], side) not in self.index

    def block(self, key: str, side: int = 1) -> Block:
        """Return the block that holds an element's waves on one side."""
        return next(
            block for block in self.blocks
            if block.id == key and side in block.nport.sidebands
        )

    def reaching(self, wave: Wave, without: Wave | None = None) -> set[Wave]:
        """Return the waves that reach `wave` by structure, `without` one taken out."""
        if wave == without:
            return set()
        left_out = None if without is None else self.index.get(without)
        first = self.index[wave]
        seen, queue = {first}, deque([first])
        while queue:
            for source in self._pattern[queue.popleft()]:
                if source not in seen and source != left_out:
                    seen.add(source)
                    queue.append(source)
        return {self._names[number] for number in seen}

    def returns(self, wave: Wave) -> bool:
        """Tell whether, by structure, anything of a wave comes back to it."""
        start = self.index[wave]
        if start in self._loops:
            return True
        seen, queue = set(), deque(self._pattern[start])
        while queue:
            source = queue.popleft()
            if source == start:
                return True
            if source not in seen:
                seen.add(source)
                queue.extend(self._pattern[source])
        return False

    def looped(self) -> set[str]:
        """Return the ids of blocks with an entry on any closed run of waves."""
        run = _closed_runs(self._pattern)
        return {
            self._names[row][0] for row, columns in enumerate(self._pattern)
            for column in columns if run[row] == run[column]
        } | {self._names[row][0] for row in self._loops}

    def path(self, start: Wave, end: Wave) -> list[Wave]:
        """Return the shortest run of waves from `start` to `end`, or an empty list."""
        targets = {}
        names = self._names
        for row, columns in enumerate(self._pattern):
            for column in columns:
                targets.setdefault(names[column], []).append(names[row])
        came: dict[Wave, Wave | None] = {start: None}
        queue = deque([start])
        while queue:
            wave = queue.popleft()
            if wave == end:
                run = [end]
                while (before := came[run[-1]]) is not None:
                    run.append(before)
                return run[::-1]
            for target in targets.get(wave, ()):
                if target not in came:
                    came[target] = wave
                    queue.append(target)
        return []


def _closed_runs(pattern):
    """Return a number for each wave, equal for waves that lead to each other.

    R. E. Tarjan, Depth-first search and linear graph algorithms, SIAM J. Comput. 1, 146 (1972).
    """
    size = len(pattern)
    order, low, group = [-1] * size, [0] * size, [-1] * size
    stack, found = [], 0
    for first in range(size):
        if order[first] >= 0:
            continue
        order[first] = low[first] = found
        found += 1
        stack.append(first)
        visits = [(first, iter(pattern[first]))]
        while visits:
            here, others = visits[-1]
            other = next(others, None)
            if other is None:
                visits.pop()
                if visits:
                    low[visits[-1][0]] = min(low[visits[-1][0]], low[here])
                while low[here] == order[here] and group[here] < 0:
                    group[stack.pop()] = here
            elif order[other] < 0:
                order[other] = low[other] = found
                found += 1
                stack.append(other)
                visits.append((other, iter(pattern[other])))
            elif group[other] < 0:
                low[here] = min(low[here], order[other])
    return group
