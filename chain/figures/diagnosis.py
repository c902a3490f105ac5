"""Measured data beside what the layout and the leading explanations say."""

import numpy as np

from chain.figures.style import RANGE, WIDTH_MM, line, new_figure, styled
from chain.layout.naming import title_of
from chain.writing.foreign_text import one_line

_ROW_MM, MAX_ROWS, MAX_NAME = 58.0, 8, 60

LEAST = 0.01
"""Probability from which on an explanation is drawn."""


@styled
def diagnosis_figure(d):
    """Return the figure of a Diagnosis: a panel for each measured column."""
    curves = d.curves[:MAX_ROWS]
    columns = 2 if len(curves) > 1 else 1
    rows = -(-len(curves) // columns)
    figure, axes = new_figure(rows, columns, width_mm=WIDTH_MM, height_mm=30.0 + rows * _ROW_MM)
    panels = np.atleast_1d(axes).ravel()
    for ax, curve in zip(panels, curves, strict=False):
        _panel(ax, curve, d)
    for ax in panels[len(curves):]:
        ax.set_axis_off()
    handles, labels = panels[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=1)
    figure.suptitle(f"{title_of(d.layout)}: {d.signal}", x=0.01, ha="left", fontsize=8.5)
    return figure


def _panel(ax, curve, d):
    f = curve.frequency_hz / 1e9
    marks = {"marker": "o"} if f.size == 1 else {}
    ax.fill_between(f, curve.healthy_db - curve.sigma_db, curve.healthy_db + curve.sigma_db,
                    color=RANGE, linewidth=0, label="healthy, one sigma")
    ax.plot(f, curve.healthy_db, label="as the layout says", **line(0), **marks)
    for place, values in enumerate(curve.leading_db):
        one = d.explanations[place]
        if one.changes and one.probability >= LEAST:
            ax.plot(f, values, label=f"{100 * one.probability:.0f} %: {_name(one)}",
                    **line(place + 2), **marks)
    ax.plot(f, curve.measured_db, label="measured", linestyle="none", marker="o", markersize=2.6,
            color="black", zorder=5)
    ax.set_title(f"{one_line(curve.data)}", loc="left")
    ax.set_xlabel("frequency, GHz")
    ax.set_ylabel(f"{curve.quantity}, dB" if curve.quantity == "gain"
                  else f"{curve.quantity}, dB(quanta)")


def _name(one):
    text = " and ".join(one_line(change) for change in one.changes)
    return text if len(text) <= MAX_NAME else text[: MAX_NAME - 3] + "..."
