"""What a figure of a budget shows: shares, equal copies as one, the largest, their limit."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chain.layout.naming import called, where_text
from chain.noise.copies import together
from components.constants import VACUUM

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from chain.noise.copies import Ids
    from chain.writing.text import Result
    from components.arrays import FloatArray

_LABEL = 34
"""Letters of a label before it is wrapped."""

_SMALLEST = 1e-6
"""Parts of the whole that are drawn by themselves; what is less is counted with the rest."""


@dataclass(frozen=True)
class Drawn:
    """What is drawn of a budget: noise and shares in quanta over frequency, and their limit.

    Referred to the start where the path amplifies; where it only loses, or has no start, as they
    arrive at the end.
    """

    name: str
    shares: dict[Ids, FloatArray]
    limit: FloatArray
    limit_name: str

    @classmethod
    def of(cls, budget: Result) -> Drawn:
        """Return it for a Budget."""
        amplified = budget.gain_db is not None and np.any(budget.gain_db > 0)
        if amplified:
            name = f"system noise referred to\n{budget.from_port} (quanta)"
            limit = quantum_limit(budget.gain_db)
            shares = together(budget.layout, budget.shares_quanta)
            return cls(name, shares, limit, "quantum limit")
        gain = 1.0 if budget.gain_db is None else 10.0 ** (budget.gain_db / 10.0)
        vacuum = np.full(budget.frequency_hz.shape, VACUUM)
        name = f"noise arriving at\n{budget.to_port} (quanta)"
        arriving = {key: share * gain for key, share in budget.shares_quanta.items()}
        return cls(name, together(budget.layout, arriving), vacuum, "vacuum")

    @property
    def total(self) -> FloatArray:
        """All shares together, quanta."""
        return sum(self.shares.values(), np.zeros_like(self.limit))

    def largest(
        self, most: int, index: int | None = None
    ) -> tuple[list[tuple[Ids, FloatArray]], tuple[int, FloatArray] | None]:
        """Return ([(ids, values)] largest first, (elements, values) of the rest or None).

        By their mean part of the whole over frequency, or at one index; values run over frequency
        either way.
        """
        total = self.total

        def size(item: tuple[Ids, FloatArray]) -> float:
            part = item[1] / np.where(total > 0, total, 1.0)
            return float(np.nanmean(part) if index is None else part[index])

        ordered = sorted(self.shares.items(), key=size, reverse=True)
        cut = min(most, max(sum(size(item) > _SMALLEST for item in ordered), 1))
        shown, left = ordered[:cut], ordered[cut:]
        if not left:
            return shown, None
        count = sum(len(ids) for ids, _ in left)
        return shown, (count, sum((values for _, values in left), np.zeros_like(total)))


def quantum_limit(gain_db: FloatArray) -> FloatArray:
    """Return the least system noise, quanta, at a gain: 1/2 + |1 - 1/G| / 2.

    One quantum where the gain is high.  C. M. Caves, Quantum limits on noise in linear
    amplifiers, Phys. Rev. D 26, 1817 (1982), phase-preserving.
    """
    return VACUUM + 0.5 * np.abs(1.0 - 10.0 ** (-gain_db / 10.0))


def label_of(layout: Layout, ids: Ids) -> str:
    """Return what elements drawn as one are called: ids, kind and stage, in lines."""
    element = layout.elements[ids[0]]
    text = f"{called(layout, ids)}  {element.kind.name}, {where_text(element)}"
    return textwrap.fill(text, _LABEL)


def by_stage(budget: Result, drawn: Drawn, index: int) -> list[tuple[str, float]]:
    """Return [(stage, quanta)] in the layout's order, what runs between two by both names."""
    sums: dict[str, float] = {}
    for ids, values in drawn.shares.items():
        place = where_text(budget.layout.elements[ids[0]])
        sums[place] = sums.get(place, 0.0) + float(values[index])
    order = {stage: number for number, stage in enumerate(budget.layout.stages)}

    def rank(place: str) -> tuple[float, int]:
        met = [order.get(stage, len(order)) for stage in place.split(" to ")]
        return sum(met) / len(met), len(met)

    return [(place, sums[place]) for place in sorted(sums, key=rank)]
