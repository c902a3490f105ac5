"""A network with all but a few waves eliminated: the rest of it as one n-port between those."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chain.network.elimination import QUIET, Factors, add_earlier, eliminated, plan_for
from components.nport import NPort

if TYPE_CHECKING:
    pass


class Reduced:
    """(I - A) b = c with some unknowns kept and the others eliminated once (Schur complement).

    `entries` of A {(row, column): array} may later differ in rows of which row and columns are
    kept: whatever they are, the eliminated part stays as it is.
    """

    @QUIET
    def __init__(self, pattern, loops, kept, entries):
        self.plan = plan_for(pattern, loops, None, kept)
        self._entries = entries
        work, self._lower, _ = eliminated(self.plan, entries)
        self._number = {wave: number for number, wave in enumerate(sorted(kept))}
        self._waves = tuple(self._number)
        self._left = {
            (row, column): work[slot] for (row, column), slot in self.plan.slots.items()
            if row in kept and column in kept and work[slot] is not None
        }
        numbered = [(self._number[row], self._number[column]) for row, column in self._left]
        self._loops = tuple(row for row, column in numbered if row == column)
        self._pattern = tuple(
            frozenset(column for row, column in numbered if row == number != column)
            for number in range(len(kept))
        )

    @QUIET
    def misfit(self, seed: int = 0) -> Any:
        """Return the worst relative residual of the eliminated unknowns, for random kept ones.

        A pivot near zero among them shows here, whatever the kept ones are: a random solution
        hides it with probability zero.
        """
        rng = np.random.default_rng(seed)
        turns = np.exp(2j * np.pi * rng.random(len(self._waves)))
        found = dict(zip(self._waves, turns, strict=True))
        self.add_eliminated(found)
        left = {wave: -value for wave, value in found.items() if wave not in self._number}
        for (row, column), entry in self._entries.items():
            if column in left and row in found:
                left[column] = left[column] + entry * found[row]
        worst = max((float(np.max(np.abs(value))) for value in left.values()), default=0.0)
        largest = max(float(np.max(np.abs(value))) for value in found.values())
        return worst / largest if np.isfinite(worst) and np.isfinite(largest) else np.inf

    def factors(self, entries: Any, target: Any) -> Any:
        """Return the Factors of the kept unknowns for given `entries`, shortest from `target`."""
        own = {
            (self._number[row], self._number[column]): entries[row, column]
            if entries.get((row, column)) is not self._entries.get((row, column)) else left
            for (row, column), left in self._left.items()
        }
        return Factors(plan_for(self._pattern, self._loops, self._number[target]), own)

    def number(self, wave: int) -> Any:
        """Return the number of a kept unknown in the Factors."""
        return self._number[wave]

    def by_wave(self, found: Any) -> Any:
        """Return a solution of the Factors by the unknowns' own numbers."""
        return {self._waves[number]: value for number, value in found.items()}

    @QUIET
    def add_eliminated(self, found: Any) -> None:
        """Add to an adjoint solution of the kept unknowns that of all others."""
        add_earlier(found, self.plan, self._lower)

    @QUIET
    def forms(self) -> Any:
        """Return what every unknown's adjoint solution is of the kept ones': {unknown: {kept: a}}.

        x_k is the sum of a x_kept.
        """
        found = {wave: {wave: 1.0} for wave in self._waves}
        for (pivot, _, rows, _, _), scaled in zip(
            reversed(self.plan.steps), reversed(self._lower), strict=True
        ):
            form = {}
            for (row, _), factor in zip(rows, scaled, strict=True):
                for wave, part in found.get(row, {}).items():
                    term = factor * part
                    form[wave] = form[wave] + term if wave in form else term
            if form:
                found[pivot] = form
        return found


@QUIET
def together(blocks: Any, forms: Any, names: Any) -> Any:
    """Return (NPort, waves) that emits into the kept waves all that `blocks` emit.

    `forms` are Reduced.forms by number, `names` the waves by number.  What involves an idler wave
    is not told apart.
    """
    index = {name: number for number, name in enumerate(names)}
    place, emission = {}, {}
    for block in blocks:
        for (i, j), entry in block.nport.emission.items():
            first, second = (forms.get(index[block.waves[k]], {}) for k in (i, j))
            for one, a in first.items():
                for other, b in second.items():
                    term = a * np.conj(b) * entry
                    _add_hermitian(emission, place, one, other, term, twice=i != j)
    nport = NPort.plain(tuple(str(names[wave]) for wave in place), {}, emission)
    return nport, tuple(names[wave] for wave in place)


def _add_hermitian(emission, place, one, other, term, *, twice):
    """Add the coefficient of x_one conj(x_other), and its mirror image where `twice`, to C."""
    i, j = (place.setdefault(wave, len(place)) for wave in (one, other))
    if i == j:
        term = 2.0 * np.real(term) if twice else np.real(term)
    elif i > j:
        i, j, term = j, i, np.conj(term)
        if not twice:
            return  # its mirror image is in the sum of its own
    if (i, j) in emission:
        term = emission[i, j] + term
    emission[i, j] = term
