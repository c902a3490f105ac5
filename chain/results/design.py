"""Comparisons and single failures as the face gives them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Self

from chain.design import comparison, failures
from chain.design.comparison_text import in_words, side_by_side
from chain.design.failures_text import failure_table
from chain.results.noise import Budget
from chain.results.shown import Brief, Shown, over_frequency

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class Comparison(Shown, comparison.Comparison):
    """A Comparison that shows itself; `rows` run over frequency."""

    @classmethod
    def from_result(cls, result: Any) -> Self:
        """Return a comparison whose budgets show themselves too."""
        a, b = Budget.from_result(result.a), Budget.from_result(result.b)
        return cls(result.signal, a, b, result.changed)

    def brief(self) -> Brief:
        """Return both side by side in the middle of the band, and the change in words."""
        changed = "; ".join(self.changed) or "nothing"
        return Brief(
            f"signal {self.signal}, A against B; changed: {changed}", side_by_side(self),
            (in_words(self), *self._said()),
        )

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """A row a frequency: noise of both, their ratio, the change of the gain, times."""
        return over_frequency(self, (
            "noise_a_quanta", "noise_b_quanta", "noise_ratio", "gain_change_db",
            "time_ratio_coherent", "time_ratio_radiometer",
        ))

    def figure(self) -> Figure:
        """Return both over frequency, one over the other."""
        from chain.figures.comparison import comparison_figure

        return comparison_figure(self)


class Failures(Shown, failures.Failures):
    """Single failures that show themselves; `rows` are the failures, worst first."""

    def brief(self) -> Brief:
        """Return a row a failure."""
        return Brief("single failures, worst first, in the middle of the band",
                     failure_table(self))

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """A row a failure, under the names of `--json`."""
        return tuple(self.as_dict()["failures"])

    def figure(self) -> Figure:
        """Return how many times the noise each failure makes, worst above."""
        from chain.figures.failures import failures_figure

        return failures_figure(self)
