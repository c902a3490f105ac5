"""A measured trace over its expected interval, with the stretches outside marked."""

import numpy as np

from chain.figures.style import FREQUENCY, WIDTH_MM, line, new_figure, styled
from chain.figures.warm import draw_trace
from chain.layout.naming import title_of

_ROW_MM = 62.0


@styled
def measured_trace_figure(found):
    """Return the figure of a MeasuredTrace: a panel a scattering parameter."""
    rows = max(1, len(found.overlays))
    figure, axes = new_figure(rows, 1, width_mm=WIDTH_MM, height_mm=20.0 + rows * _ROW_MM)
    for ax, overlay in zip(np.atleast_1d(axes).ravel(), found.overlays, strict=False):
        _panel(ax, overlay)
    figure.suptitle(
        f"{title_of(found.layout)}: measured against what the layout should show",
        x=0.01, ha="left", fontsize=8.5,
    )
    return figure


def _panel(ax, overlay):
    trace, f = overlay.trace, overlay.trace.frequency_hz / 1e9
    draw_trace(ax, trace)
    ax.plot(f, overlay.measured_db, label="measured", **line(1), zorder=4)
    for one in overlay.deviations:
        ax.axvspan(one.low_hz / 1e9, one.high_hz / 1e9, facecolor="none", edgecolor="#7d4a12",
                   hatch="////", linewidth=0.6, alpha=0.55, zorder=2)
    finite = overlay.measured_db[np.isfinite(overlay.measured_db)]
    if finite.size:
        low, high = ax.get_ylim()
        ax.set_ylim(min(low, finite.min() - 0.5), max(high, finite.max() + 0.5))
    ax.set_title(f"{overlay.parameter}: {trace.name}", loc="left")
    ax.set_xlabel(FREQUENCY)
    ax.set_ylabel("level (dB)")
    ax.legend(*_legend(ax, overlay), loc="best", frameon=True, facecolor="white",
              edgecolor="none", framealpha=0.9)


def _legend(ax, overlay):
    from matplotlib.patches import Patch

    lines = ax.get_lines()
    handles = [lines[0], Patch(facecolor="#c3d9ec"), lines[1]]
    names = ["expected", "its interval", "measured"]
    if overlay.deviations:
        handles.append(Patch(facecolor="none", edgecolor="#7d4a12", hatch="////"))
        names.append("outside")
    return handles, names
