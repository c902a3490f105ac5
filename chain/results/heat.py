"""Heat loads as the face gives them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from chain.heat import more_lines, stages
from chain.heat.heat_text import more_table, stage_table
from chain.layout.naming import title_of
from chain.results.shown import Brief, Shown, check_view

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class Heat(Shown, stages.Heat):
    """A Heat that shows itself; `rows` are its stages."""

    def brief(self) -> Brief:
        """Return the load of every stage against its cooling power."""
        over = (f"over their cooling power: {', '.join(self.over)}",) if self.over else ()
        return Brief(
            f"{title_of(self.layout)}: heat load of each stage", stage_table(self),
            (*over, *self._said()),
        )

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """A row a stage, under the names of `--json`."""
        return tuple({"stage": name, **one} for name, one in self.as_dict()["stages"].items())

    def more(self, line: str) -> MoreLines:
        """Return how many more lines like one fit before a stage runs out; raises LayoutError."""
        return MoreLines(**vars(more_lines.more_lines(self, line)), heat=self)

    def figure(self, *, view: Literal["stages", "lines"] = "stages") -> Figure:
        """Return the load of each stage by its origin, against its cooling power.

        As `lines`, a map of which line brings how much to which stage.
        """
        from chain.figures.heat import heat_figure
        from chain.figures.heat_by_line import heat_by_line_figure

        check_view(view, ("stages", "lines"))
        return heat_by_line_figure(self) if view == "lines" else heat_figure(self)


@dataclass(frozen=True, repr=False)
class MoreLines(Shown, more_lines.MoreLines):
    """How many more lines fit, stage by stage; `rows` are the stages."""

    heat: Heat = field(kw_only=True)

    def brief(self) -> Brief:
        """Return what one more line brings to each stage, and how many it holds."""
        limit = "no stage limits them" if self.fits is None else \
            f"{self.fits} more fit; {self.first_out} runs out first"
        return Brief(f"one more line like {self.line}", more_table(self, self.heat), (limit,))

    def _fields_for_programs(self, *arguments):
        return {**super()._fields_for_programs(), "warnings": [], "laws": {}}

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """A row a stage: what one more brings to it, and how many it holds."""
        return tuple(
            {"stage": name, "one_more_w": watt, "fit": self.fit[name]}
            for name, watt in self.per_line_w.items()
        )
