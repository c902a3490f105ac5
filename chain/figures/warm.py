"""What the analyser should show: a panel a trace, expected level and interval over frequency."""

import numpy as np

from chain.errors import LayoutError, Place
from chain.figures.style import FREQUENCY, INK, WIDTH_MM, in_lines, new_figure, styled
from chain.layout.naming import title_of
from chain.measurement.warm_sheet_text import FLOOR_DB

MAX_PANELS = 12
"""Panels on one page; what is more is counted below them."""

_ROW_MM, _COLUMNS = 46.0, 3
_BAND = "#c3d9ec"
_LEAST_SPAN_DB = 6.0


def panels(traces):
    """Return the traces that show anything above the floor, so many as fit, and how many more."""
    seen = [trace for trace in traces if np.any(trace.high_db > FLOOR_DB)]
    return seen[:MAX_PANELS], max(0, len(seen) - MAX_PANELS)


@styled
def warm_figure(sheet):
    """Return the figure of a WarmSheet: one panel a trace that an analyser can see.

    Raises LayoutError where it sees none.
    """
    shown, more = panels(sheet.traces)
    if not shown:
        raise LayoutError.at(
            Place(sheet.layout.path), f"nothing above {FLOOR_DB:g} dB is seen, so there is nothing "
            "to draw", "open a joint in between: --open PORT",
        )
    columns = min(_COLUMNS, len(shown))
    rows = -(-len(shown) // columns)
    figure, axes = new_figure(
        rows, columns, width_mm=WIDTH_MM, height_mm=26.0 + rows * _ROW_MM,
    )
    every = np.atleast_1d(axes).ravel()
    for ax, trace in zip(every, shown, strict=False):
        draw_trace(ax, trace)
        ax.set_title(_title(trace), loc="left")
        ax.set_ylabel("level (dB)")
        ax.set_xlabel(FREQUENCY)
    for ax in every[len(shown):]:
        ax.set_axis_off()
    figure.suptitle(in_lines(_caption(sheet, more), 100), x=0.01, ha="left", fontsize=8.5)
    return figure


def draw_trace(ax, trace):
    """Draw one trace: the interval filled, the expected level as a line."""
    f = trace.frequency_hz / 1e9
    low = np.where(np.isfinite(trace.low_db), trace.low_db, trace.high_db)
    ax.fill_between(f, low, trace.high_db, facecolor=_BAND, edgecolor="none", zorder=1)
    ax.plot(f, np.where(np.isfinite(trace.expected_db), trace.expected_db, np.nan), color=INK,
            zorder=3)
    if len(f) > 1:
        ax.set_xlim(f[0], f[-1])
    bottom, top = max(np.min(low[np.isfinite(low)]), FLOOR_DB), np.max(trace.high_db)
    middle, span = (bottom + top) / 2, max(1.15 * (top - bottom), _LEAST_SPAN_DB)
    ax.set_ylim(middle - span / 2, middle + span / 2)


def _title(trace):
    also = f" (+{len(trace.alike)} alike)" if trace.alike else ""
    opened = f"\nopen: {', '.join(trace.opened)}" if trace.opened else ""
    return f"{trace.name}{also}{opened}"


def _caption(sheet, more):
    rest = f"; {more} more in the sheet" if more else ""
    return (
        f"{title_of(sheet.layout)}: what the analyser should show; shaded: 95 of 100 "
        f"realisations, and {sheet.within_db:g} dB{rest}"
    )
