"""Sparse elimination of (I - S P) b = c, vectorised over frequencies and draws.

The order is found once from the pattern of structural zeros and cached; the arithmetic then runs
over whole arrays, so a chain costs a few array operations an element.  Pivots stay on the diagonal:
safe in any order where only passive elements close runs of waves, while others need their residual
checked.
"""

from __future__ import annotations

import functools
import heapq
from collections.abc import Mapping
from typing import Any

import numpy as np

from chain.network.dense import RESIDUAL, dense_where
from components.arrays import FloatLike
from components.nport import magnitude2

NEW_ENTRY = 2
"""Products that an entry made by an elimination is taken to cost later on."""

QUIET = np.errstate(divide="ignore", invalid="ignore", over="ignore")
"""A pivot that vanishes gives infinities, which the check finds and the dense solve repairs."""


class Plan:
    """The order of elimination for one pattern: which slots are combined, in which order.

    `pattern[row]` is the set of columns with an entry off the diagonal; `loops` the rows whose
    diagonal is not one.  The unknown `last`, where given, is eliminated last, which makes the
    adjoint solve that starts from it shortest.  The unknowns of `kept` are not eliminated at all.
    """

    def __init__(self, pattern, loops, last, kept=frozenset()):
        size = len(pattern)
        self.slots = {}
        for row, columns in enumerate(pattern):
            for column in columns:
                self.slots[row, column] = len(self.slots)
        for row in loops:
            self.slots[row, row] = len(self.slots)
        self.given = dict(self.slots)
        self.steps = []
        rows = [set(columns) for columns in pattern]
        columns = [set() for _ in range(size)]
        for row, entries in enumerate(rows):
            for column in entries:
                columns[column].add(row)
        final = set() if last is None else {last}
        for some in (set(range(size)) - kept - final, final):
            for pivot in self._order(rows, columns, some):
                self.steps.append(self._step(pivot, rows, columns))

    @staticmethod
    def _order(rows, columns, some):
        """Yield pivots among `some` unknowns, always the cheapest of those left."""
        heap = [(len(rows[k]) * len(columns[k]), k) for k in some]
        heapq.heapify(heap)
        taken = set()
        while heap:
            bound, k = heapq.heappop(heap)
            if k in taken:
                continue
            # A cost is at least the number of products: most are never worked out further.
            now = _cost(rows[k], columns[k], rows)
            if now > bound:
                heapq.heappush(heap, (now, k))
                continue
            taken.add(k)
            touched = (rows[k] | columns[k]) & some
            yield k
            for near in touched:
                heapq.heappush(heap, (len(rows[near]) * len(columns[near]), near))

    def _slot(self, row, column):
        return self.slots.setdefault((row, column), len(self.slots))

    def _step(self, pivot, rows, columns):
        """Return (pivot, diagonal slot or None, lower, upper, updates) and update the pattern."""
        below, right = sorted(columns[pivot]), sorted(rows[pivot])
        lower = [(row, self.slots[row, pivot]) for row in below]
        upper = [(column, self.slots[pivot, column]) for column in right]
        updates = []
        for place, (row, _) in enumerate(lower):
            for column, slot in upper:
                updates.append((self._slot(row, column), place, slot))
                if row != column:
                    rows[row].add(column)
                    columns[column].add(row)
        for row in below:
            rows[row].discard(pivot)
        for column in right:
            columns[column].discard(pivot)
        return pivot, self.slots.get((pivot, pivot)), lower, upper, updates


def _cost(right, below, rows):
    """Return what taking out an unknown costs: its products, and each new entry counted twice.

    Products alone (H. M. Markowitz, The elimination form of the inverse, Management Science 3,
    255, 1957) fill up ladders, new entries alone prefer long rows; twice was best of what was tried
    on ladders and grids.
    """
    products = len(right) * len(below)
    if not products:
        return 0
    there = sum(len(right & rows[i]) + (i in right) for i in below)
    return products + NEW_ENTRY * (products - there)


@functools.lru_cache(maxsize=512)
def plan_for(pattern: Any, loops: Any, last: Any, kept: Any = frozenset()) -> Any:
    """Return the cached Plan of a pattern (tuple of frozensets) and its loops; see Plan."""
    return Plan(pattern, loops, last, kept)


def _add(found, key, term):
    found[key] = found[key] + term if key in found else term


def eliminated(plan: Any, entries: Any) -> Any:
    """Return (slots, lower, inverse) once the steps of a Plan are taken.

    Slots are the entries that a step multiplied with, or that are left of unknowns kept; `lower`
    what each step passes down to its rows, `inverse` the sum over all bounces at its pivot.
    """
    work, all_lower, all_inverse = [None] * len(plan.slots), [], []
    for key, slot in plan.given.items():
        work[slot] = entries[key]
    for _, diagonal, lower, _, updates in plan.steps:
        inverse = None if diagonal is None else np.divide(1.0, 1.0 - work[diagonal])
        scaled = [work[slot] if inverse is None else work[slot] * inverse for _, slot in lower]
        for target, place, slot in updates:
            term = scaled[place] * work[slot]
            work[target] = term if work[target] is None else work[target] + term
        all_lower.append(scaled)
        all_inverse.append(inverse)
    return work, all_lower, all_inverse


def add_earlier(y: Any, plan: Any, lower: Any) -> None:
    """Add to an adjoint solution y of later unknowns that of those taken out before them."""
    for (pivot, _, rows, _, _), scaled in zip(reversed(plan.steps), reversed(lower), strict=True):
        for (row, _), factor in zip(rows, scaled, strict=True):
            if row in y:
                _add(y, pivot, factor * y[row])


class Factors:
    """I - A factored along a Plan, A = S P given by its `entries` {(row, column): array}.

    Taking an unknown k out adds to every pair left what goes through k: A_ij + A_ik A_kj /
    (1 - A_kk), the sum over all bounces there.
    """

    @QUIET
    def __init__(self, plan, entries):
        self.plan = plan
        self._entries = entries
        self._work, self._lower, self._inverse = eliminated(plan, entries)
        self.sound = all(
            np.isfinite(inverse).all() for inverse in self._inverse if inverse is not None
        )
        """False where a pivot vanishes: a wave is shut in, or the order does not serve."""

    @QUIET
    def adjoint(self, sources: Mapping[int, Any]) -> dict[int, Any]:
        """Return x with (I - A)^T x = e as {unknown: array}; `sources` are the non-zero e."""
        y = dict(sources)
        for (pivot, _, _, upper, _), inverse in zip(self.plan.steps, self._inverse, strict=True):
            if pivot not in y:
                continue
            if inverse is not None:
                y[pivot] = y[pivot] * inverse
            for column, slot in upper:
                _add(y, column, self._work[slot] * y[pivot])
        add_earlier(y, self.plan, self._lower)
        return y

    @QUIET
    def forward(self, sources: Mapping[int, Any]) -> dict[int, Any]:
        """Return b with (I - A) b = c as {unknown: array}; `sources` are the non-zero c."""
        y = dict(sources)
        for (pivot, _, lower, _, _), scaled in zip(self.plan.steps, self._lower, strict=True):
            if pivot not in y:
                continue
            for (row, _), factor in zip(lower, scaled, strict=True):
                _add(y, row, factor * y[pivot])
        for (pivot, _, _, upper, _), inverse in zip(
            reversed(self.plan.steps), reversed(self._inverse), strict=True
        ):
            for column, slot in upper:
                if column in y:
                    _add(y, pivot, self._work[slot] * y[column])
            if inverse is not None and pivot in y:
                y[pivot] = y[pivot] * inverse
        return y

    @QUIET
    def solve(
        self, sources: Mapping[int, Any], *, transposed: bool
    ) -> tuple[dict[int, Any], float]:
        """Return the solution and its worst relative residual, refined and checked.

        Points whose residual stays above RESIDUAL after one refinement are solved densely with
        pivoting.
        """
        once = self.adjoint if transposed else self.forward
        found = once(sources)
        left, misfit = self._residual(found, sources, transposed)
        if misfit.max() > RESIDUAL:
            for key, change in once(left).items():
                found[key] = found[key] + change if key in found else change
            left, misfit = self._residual(found, sources, transposed)
        if misfit.max() > RESIDUAL:
            found = dense_where(
                misfit > RESIDUAL, found, self._entries, sources, transposed=transposed
            )
            _, misfit = self._residual(found, sources, transposed)
        return found, float(misfit.max())

    @QUIET
    def misfit(
        self, found: Mapping[int, Any], sources: Mapping[int, Any], *, transposed: bool
    ) -> float:
        """Return the worst relative residual of a solution."""
        return float(self._residual(found, sources, transposed)[1].max())

    def _residual(self, found, sources, transposed):
        """Return what the equations miss, and its size over the largest wave at each point."""
        left = dict(sources)
        for (row, column), entry in self._entries.items():
            source, target = (row, column) if transposed else (column, row)
            if source in found:
                _add(left, target, entry * found[source])
        largest: FloatLike = 0.0
        missed: FloatLike = 0.0
        for key, value in found.items():
            left[key] = left.get(key, 0.0) - value
            largest = np.maximum(largest, magnitude2(value))
        for value in left.values():
            missed = np.maximum(missed, magnitude2(value))
        misfit = np.atleast_2d(np.sqrt(missed / np.where(largest > 0, largest, 1.0)))
        return left, np.where(np.isfinite(misfit), misfit, np.inf)
