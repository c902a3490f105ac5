"""A diagnosis as the face gives it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chain.diagnosis import diagnosis
from chain.diagnosis.diagnosis_text import ranked_table
from chain.layout.naming import title_of
from chain.results.shown import Brief, Shown

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class Diagnosis(Shown, diagnosis.Diagnosis):
    """A Diagnosis that shows itself; `rows` are the explanations, best first."""

    def brief(self) -> Brief:
        """Return the leading explanations with their probabilities."""
        return Brief(f"{title_of(self.layout)}: what explains the data of {self.signal}",
                     ranked_table(self), self._said())

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """A row an explanation: changes, words, probability, its own, misfit."""
        return tuple(
            {"changes": " ".join(one.changes), "words": one.words,
             "probability": one.probability, "own_probability": one.own_probability,
             "misfit": one.misfit} for one in self.explanations
        )

    def figure(self) -> Figure:
        """Return data, what the layout says and the leading explanations."""
        from chain.figures.diagnosis import diagnosis_figure

        return diagnosis_figure(self)
