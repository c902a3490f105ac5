"""Values drawn for everything that has a tolerance, and phases for what has none."""

from __future__ import annotations

import functools
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError, Place
from components.arrays import ComplexArray, FloatArray
from components.quantities import Quantity, Table, Tolerance

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from components.arrays import FloatArray

MIN_DRAWS, MAX_DRAWS = 2, 100_000
"""Numbers of draws that are taken."""


def check_draws(draws: int, seed: int = 0, *, usual: int = 1000) -> None:
    """Refuse a number of draws that is none, too small or too large, and a seed that is none.

    Raises LayoutError, naming what is `usual`.
    """
    for option, value in (("--draws", draws), ("--seed", seed)):
        if not isinstance(value, int | np.integer):
            raise LayoutError.at(
                Place(option), f"{value!r} is no whole number", f"give {usual}, say"
            )
    if not MIN_DRAWS <= draws <= MAX_DRAWS:
        raise LayoutError.at(
            Place("--draws"), f"{draws} draws are outside {MIN_DRAWS} to {MAX_DRAWS}",
            f"give {usual}, say",
        )


@dataclass(frozen=True)
class Drawn:
    """One toleranced value and what was drawn for it."""

    name: str
    """As --set names it: `A1.loss`."""
    element: str
    parameter: str
    tolerance: Tolerance
    text: str
    """The value as the layout writes it."""
    change: FloatArray
    """What is added to the value, shape (draws, 1): its base unit, decibels where `in_db`."""
    held: int = 0
    """Draws that lay outside the declared bounds and are held there."""

    def as_varied(self) -> FloatArray | Callable[[Any], Any]:
        """Return the change as Conditions.vary takes it."""
        if not self.tolerance.in_db:
            return self.change
        factor = 10.0 ** (self.change / 10.0)
        return lambda number: number * factor


class Draws:
    """Draws for the elements `ids` of a layout, on the first axis of a solve.

    Every value is drawn once from each of `count` equally likely parts of its distribution, in an
    order of its own (M. D. McKay, R. J. Beckman and W. J. Conover, Technometrics 21, 239, 1979),
    so that few draws give the spread of one value nearly exactly.  What is drawn for a value
    follows from the seed and its name alone.  Phases that nobody knows are drawn from all of
    the circle, each for itself.
    """

    def __init__(self, layout: Layout, ids: Iterable[str], *, count: int, seed: int) -> None:
        self.draws, self.seed = count, seed
        self.values = tuple(self._all(layout, ids))
        self._by_element = {}
        for drawn in self.values:
            own = self._by_element.setdefault(drawn.element, {})
            own[drawn.parameter] = drawn.as_varied()

    def _all(self, layout, ids):
        for key in ids:
            settings = layout.elements[key].settings
            for parameter, value in settings.values.items():
                tolerance = getattr(value, "tolerance", None)
                # A temperature moves what whole networks emit: chain.spread follows it by itself.
                if tolerance is None or tolerance.size == 0 or parameter == "temperature":
                    continue
                yield self._drawn(f"{key}.{parameter}", key, parameter, value, settings)

    def _drawn(self, name, key, parameter, value, settings):
        change = self.change(name, value.tolerance)
        bounds = settings.kind.declared()[parameter].reads
        drawn = Drawn(name, key, parameter, value.tolerance, _text(value), change)
        varied = drawn.as_varied()
        lowest = _lowest(value)
        changed = varied(lowest) if callable(varied) else lowest + change
        outside = (changed < bounds.lowest) | (changed > bounds.most)
        held = int(np.count_nonzero(outside))
        return Drawn(name, key, parameter, value.tolerance, _text(value), change, held)

    def change(self, name: str, tolerance: Tolerance) -> FloatArray:
        """Return what is drawn for a value of that name, shape (draws, 1)."""
        order = self._generator(name).permutation(self.draws)
        part = _uniform(self.draws) if tolerance.uniform else _normal(self.draws)
        return tolerance.size * part[order][:, None]

    def _generator(self, name):
        return np.random.default_rng([self.seed, zlib.crc32(name.encode())])

    def vary(self, element: str) -> dict[str, np.ndarray | Callable]:
        """Return the changes of an element's parameters, by name."""
        return self._by_element.get(element, {})

    def phasor(self, element: str, name: str) -> ComplexArray:
        """Return the phasor of one of an element's unknown phases, shape (draws, 1)."""
        turns = self._generator(f"{element}.{name} phase").random(self.draws)
        return np.exp(2j * np.pi * turns)[:, None]


def _text(value):
    return value.text if isinstance(value, Quantity) else "a table"


def _lowest(value):
    return min(value.values) if isinstance(value, Table) else value.value


def _middles(count):
    return (np.arange(count) + 0.5) / count


@functools.lru_cache(maxsize=4)
def _uniform(count):
    """Return the middles of `count` equal parts of -1 .. 1."""
    return 2.0 * _middles(count) - 1.0


@functools.lru_cache(maxsize=4)
def _normal(count):
    """Return the medians of `count` equally likely parts of the normal distribution of width 1."""
    from statistics import NormalDist

    quantile = NormalDist().inv_cdf
    return np.array([quantile(part) for part in _middles(count)])
