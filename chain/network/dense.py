"""The dense solve with pivoting, at the few points where the sparse one misses the equations."""

from __future__ import annotations

from typing import Any

import numpy as np

RESIDUAL = 1e-10
"""Relative residual above which a solve is refined, and solved densely where that fails."""


def dense_where(failing: Any, found: Any, entries: Any, sources: Any, *, transposed: Any) -> Any:
    """Return the solution `found` {unknown: array}, solved anew at the failing (draw, point)s.

    (I - A) b = c, or its transpose, with `entries` of A and `sources` c; NaN where there is none.
    """
    size = 1 + max(max(key) for key in [*entries, *((k, k) for k in (*found, *sources))])
    shape = np.broadcast_shapes(
        failing.shape, *(np.shape(value) for value in found.values()),
        *(np.shape(value) for value in entries.values()),
    )
    where = np.broadcast_to(failing, shape)
    matrix = np.zeros((np.count_nonzero(where), size, size), complex)
    matrix[:] = np.eye(size)
    for (row, column), value in entries.items():
        place = (column, row) if transposed else (row, column)
        matrix[:, place[0], place[1]] -= np.broadcast_to(value, shape)[where]
    right = np.zeros((len(matrix), size, 1), complex)
    for key, value in sources.items():
        right[:, key, 0] = np.broadcast_to(value, shape)[where]
    solution = _solved(matrix, right)[..., 0]
    repaired = {}
    for key in range(size):
        full = np.array(np.broadcast_to(found.get(key, 0.0), shape), complex)
        full[where] = solution[:, key]
        repaired[key] = full
    return repaired


def _solved(matrix, right):
    """Return x with A x = b for stacks; NaN where there is none.

    A wave shut in between two ends that send all of it back makes A singular, and yet says nothing
    about the others: there the shortest of the solutions is taken.
    """
    try:
        return np.linalg.solve(matrix, right)
    except np.linalg.LinAlgError:
        found = np.empty_like(right)
    for place, (one, its) in enumerate(zip(matrix, right, strict=True)):
        x = np.full_like(its, np.nan)
        if np.isfinite(one).all():
            x = np.linalg.lstsq(one, its, rcond=None)[0]
            if np.abs(one @ x - its).max() > RESIDUAL * np.abs(x).max():
                x = np.full_like(its, np.nan)
        found[place] = x
    return found
