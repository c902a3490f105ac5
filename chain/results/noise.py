"""Budgets and their spreads as the face gives them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from chain.noise import budget, spread
from chain.noise.budget_export import budget_csv
from chain.noise.budget_text import element_table, middle, summary
from chain.noise.spread_text import middle_table
from chain.results.shown import Brief, Shown, check_view, rows_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class Budget(Shown, budget.Budget):
    """A Budget that shows itself; `rows` are its elements along the signal."""

    def brief(self) -> Brief:
        """Return the elements in the middle of the band, and what counts there."""
        index = middle(self)
        between = f"{self.from_port} to " if self.from_port else "all that arrives at "
        at = f"{self.frequency_hz[index] / 1e9:g} GHz"
        counts = [
            f"{name.strip()} {here}" for name, here, _ in summary(self, index)
            if name in ("gain", "system noise", "  above the vacuum")
        ]
        return Brief(
            f"signal {self.signal}: {between}{self.to_port}, at {at}", element_table(self, index),
            (", ".join(counts), *self._said()),
        )

    def csv(self) -> str:
        """Return the budget over frequency as CSV text, a column a share."""
        return budget_csv({self.signal: self})

    def figure(
        self, frequency_hz: float | None = None, *, view: Literal["shares", "path"] = "shares"
    ) -> Figure:
        """Return shares over frequency and the gain, or bars at one frequency (Hz).

        As `path`, noise temperature and gain along the signal path, element by element.
        """
        from chain.figures.along_path import along_path_figure
        from chain.figures.budget import budget_figure

        check_view(view, ("shares", "path"))
        if view == "path":
            return along_path_figure(self, frequency_hz)
        return budget_figure({self.signal: self}, frequency_hz)


class Spread(Shown, spread.Spread):
    """A Spread that shows itself; `rows` are its distributions, a row a frequency."""

    def brief(self) -> Brief:
        """Return the distributions in the middle of the band."""
        index = len(self.frequency_hz) // 2
        most = [f"{each.parameter} {100 * each.share:.0f} %" for each in self.sensitivity[:3]]
        spreads = (f"what spreads {self.of} most: {', '.join(most)}",) if most else ()
        return Brief(
            f"spread of {self.signal} over {self.draws} draws, at "
            f"{self.frequency_hz[index] / 1e9:g} GHz",
            middle_table(self, index), (*spreads, *self._said()),
        )

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """A row a frequency: mean, sd, p05, p50 and p95 of every quantity."""
        return rows_of({"frequency_hz": self.frequency_hz} | {
            f"{name}_{which}": values for name, found in self.quantities.items()
            for which, values in found.as_dict().items()
        })

    def _fields_for_programs(self, *arguments):
        return {
            "signal": self.signal, "frequency_hz": self.frequency_hz,
            **super()._fields_for_programs(), "warnings": self.warnings, "laws": {},
        }

    def figure(self) -> Figure:
        """Return what 90 of 100 realisations show of gain and noise over frequency."""
        from chain.figures.spread import spread_figure

        return spread_figure(self)
