"""How much noisier each single failure makes a signal, worst above."""

import numpy as np

from chain.design.failures_text import harmless
from chain.figures import style

MAX_BARS = 20
"""Failures that are drawn; what is more is counted."""


def failures_figure(found):
    """Return the figure of Failures: times the noise, a mark at the end where nothing arrives."""
    shown = [one for one in found.failures if not harmless(one)][:MAX_BARS]
    figure, ax = style.new_figure(height_mm=30.0 + 6.0 * max(len(shown), 1))
    _draw(found, shown, ax)
    return figure


@style.styled
def _draw(found, shown, ax):
    if not shown:
        ax.set_axis_off()
        ax.text(0.5, 0.5, "no single failure makes it noisier", ha="center", color=style.SOFT,
                transform=ax.transAxes)
        return
    ratios = [one.worst_ratio for one in shown if one.worst_ratio]
    most = 3.0 * max([1.0, *ratios])
    place = np.arange(len(shown))
    for y, one in zip(place, shown, strict=True):
        if one.loses_signal or one.worst_ratio is None:
            ax.barh(y, most, left=1.0, **style.fill(3))
            ax.text(1.1, y, "nothing arrives", va="center", fontsize=7, color=style.INK,
                    bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0})
        else:
            ax.barh(y, max(one.worst_ratio, 1.0) - 1.0, left=1.0, **style.fill(2))
    ax.set_yticks(place, [f"{one.signal}: {one.change}" for one in shown])
    ax.invert_yaxis()
    ax.set_xscale("log")
    ax.set_xlim(1.0, most)
    ax.set_xlabel("times the noise, at worst over the band")
    left_out = len(found.failures) - len(shown)
    more = f" ({left_out} that matter less left out)" if left_out else ""
    ax.set_title(f"single failures, worst first{more}", loc="left")
