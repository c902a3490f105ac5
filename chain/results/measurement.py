"""What concerns measurements as the face gives it: before one, and from one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chain.layout.naming import title_of
from chain.measurement import measured_trace, plan, pump_grid, reduction, two_results, warm_sheet
from chain.measurement.measured_trace_text import overlay_table
from chain.measurement.plan_text import options_table, plan_dict
from chain.measurement.pump_grid_text import point_table, pump_grid_csv, pump_grid_dict
from chain.measurement.reduction_export import COLUMNS, reduction_csv
from chain.measurement.reduction_text import band_table
from chain.measurement.two_results_text import means_table
from chain.measurement.warm_sheet_text import sheet_csv, trace_table
from chain.results.shown import Brief, Shown, over_frequency, rows_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class Reduction(Shown, reduction.Reduction):
    """A Reduction that shows itself; `rows` run over frequency."""

    def brief(self) -> Brief:
        """Return gain and added noise, means over the band, beside what was predicted."""
        return Brief(f"signal {self.signal}, at {self.plane}, load {self.source}: means over the "
                     "band", band_table(self), self._said())

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """A row a frequency: gain and added noise with their errors, and what was predicted."""
        return over_frequency(self, [name for name in COLUMNS if hasattr(self, name)][1:])

    def csv(self) -> str:
        """Return gain and noise over frequency as CSV text, intervals included."""
        return reduction_csv(self)

    def figure(self) -> Figure:
        """Return the powers, their residuals, noise and gain with their intervals."""
        from chain.figures.reduction import reduction_figure

        return reduction_figure(self)


class TwoResults(Shown, two_results.TwoResults):
    """Two results of `reduce` that show themselves; `rows` run over frequency."""

    @property
    def warnings(self) -> tuple[str, ...]:
        """What the results give reason to doubt."""
        return self.doubts

    def brief(self) -> Brief:
        """Return means over the band, this time and last time."""
        return Brief(f"signal {self.this['signal']}: this time against last time",
                     means_table(self), self._said())

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """A row a frequency: the changes of gain and added noise with their errors."""
        return rows_of({"frequency_hz": self.frequency_hz} | {
            f"{name}{which}": getattr(change, part)
            for name, change in (("gain_change_db", self.gain), ("added_change_quanta", self.added))
            for which, part in (("", "value"), ("_sigma", "sigma"), ("_own", "own"),
                                ("_common", "common"))
        })

    def figure(self) -> Figure:
        """Return values both times above, changes with two sigma below."""
        from chain.figures.two_results import two_results_figure

        return two_results_figure(self)


class WarmSheet(Shown, warm_sheet.WarmSheet):
    """A warm sheet that shows itself; `rows` are every trace at every frequency."""

    @property
    def warnings(self) -> tuple[str, ...]:
        """Remarks on how the layout was taken to room temperature."""
        return self.layout.remarks

    def brief(self) -> Brief:
        """Return a row a trace, at the ends and the middle of the band."""
        return Brief(f"{title_of(self.layout)}: what the analyser should show, dB",
                     trace_table(self.traces, self.layout.band.frequency_hz), self._said())

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """A row a trace and frequency: level expected, and the interval about it, dB."""
        return tuple(row for trace in self.traces for row in _trace_rows(trace))

    def csv(self) -> str:
        """Return every trace over frequency as CSV text; equal copies have rows of their own."""
        return sheet_csv(self)

    def figure(self) -> Figure:
        """Return every trace with its interval."""
        from chain.figures.warm import warm_figure

        return warm_figure(self)


class MeasuredTrace(Shown, measured_trace.MeasuredTrace):
    """A measured trace beside its layout; `rows` are every parameter at every frequency."""

    @property
    def warnings(self) -> tuple[str, ...]:
        """Remarks on the layout and on what could not be compared."""
        return self.remarks

    def brief(self) -> Brief:
        """Return a row a parameter: how much of it lies inside its interval."""
        words = tuple(text for overlay in self.overlays for text in overlay.words)
        return Brief(f"{title_of(self.layout)}: {self.path}", overlay_table(self),
                     (*words, *self._said()))

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """A row a parameter and frequency: level measured and expected, and the interval, dB."""
        return tuple(
            {"parameter": overlay.parameter, **row, "measured_db": measured}
            for overlay in self.overlays
            for row, measured in zip(
                _trace_rows(overlay.trace), overlay.measured_db.tolist(), strict=True
            )
        )

    def figure(self) -> Figure:
        """Return every parameter as measured, on the interval expected."""
        from chain.figures.measured_trace import measured_trace_figure

        return measured_trace_figure(self)


class Plan(Shown, plan.Plan):
    """A plan for readings that shows itself; `rows` are the sweeps to take."""

    def brief(self) -> Brief:
        """Return what each hottest temperature takes."""
        return Brief(f"plan for signal {self.signal}: added noise at {self.plane} to +/- "
                     f"{self.error_quanta:g} quanta", options_table(self), self._said())

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """A row a sweep, in the order in which to take them."""
        return tuple(dict(vars(step)) for step in self.steps)

    def _fields_for_programs(self, *arguments):
        return plan_dict(self)


class PumpGrid(Shown, pump_grid.PumpGrid):
    """A grid over the pump that shows itself; `rows` are its points."""

    def brief(self) -> Brief:
        """Return gain, added noise and heat at each point."""
        return Brief(f"signal {self.signal}, {self.tone} over {len(self.points)} points",
                     point_table(self), self._said())

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """A row a point, under the names of `--json`."""
        return tuple(self.as_dict()["points"])

    def csv(self) -> str:
        """Return the points as CSV text, a column a stage for heat and margin."""
        return pump_grid_csv(self)

    def figure(self) -> Figure:
        """Return maps of gain, noise, compression and heat, or curves along one axis."""
        from chain.figures.pump_grid import pump_grid_figure

        return pump_grid_figure(self)

    def _fields_for_programs(self, *arguments):
        return pump_grid_dict(self)


def _trace_rows(trace):
    columns = {
        "frequency_hz": trace.frequency_hz, "expected_db": trace.expected_db,
        "low_db": trace.low_db, "high_db": trace.high_db,
    }
    about = {
        "from": trace.first, "to": trace.second, "what": trace.what, "opened": list(trace.opened)
    }
    dark = {name: np.where(np.isfinite(values), values, np.nan) for name, values in columns.items()}
    return [{**about, **row} for row in rows_of(dark)]
