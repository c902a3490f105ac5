"""Where the photons at devices come from: bars by emitter, the largest first."""

import numpy as np

from chain.figures import style
from chain.figures.shares import label_of
from chain.layout.naming import title_of
from chain.noise.copies import together
from chain.writing.numbers import number

MAX_PORTS = 4
"""Ports on one figure; more would be too small to read."""

_MOST, _PART = 8, 1e-4
"""Emitters that are drawn by themselves, and the least part of the whole that is."""

_LETTERS = 72
"""Letters of a heading: it begins at the frame, behind the names of emitters."""

_SUM, _REST = "all", "more"


@style.styled
def photons_figure(found):
    """Return the figure of Arrivals, best at most MAX_PORTS of them, at their first frequency."""
    rows = [_bars(one) for one in found]
    figure, axes = style.new_figure(
        len(found), heights=[len(bars) + 2 for bars in rows],
        height_mm=20.0 * len(found) + 6.5 * sum(len(bars) for bars in rows),
    )
    for one, bars, ax in zip(found, rows, np.atleast_1d(axes), strict=True):
        _draw(one, bars, ax)
    return figure


def _bars(one):
    """Return [(label, photons)]: all of them, the largest emitters, the rest."""
    total = float(one.total_photons[0])
    by_ids = {ids: float(values[0]) for ids, values in together(one.layout, one.photons).items()}
    ordered = sorted(by_ids.items(), key=lambda item: -item[1])
    shown = [(ids, value) for ids, value in ordered[:_MOST] if value > _PART * total]
    bars = [(_SUM, total), *((label_of(one.layout, ids), value) for ids, value in shown)]
    if not total > 0:
        return [(_SUM, total)]
    rest = total - sum(value for _, value in shown)
    left = sum(len(ids) for ids in by_ids) - sum(len(ids) for ids, _ in shown)
    if left and rest > _PART * total:
        bars.append((f"{left} {_REST}", rest))
    return bars


def _draw(one, bars, ax):
    labels, values = zip(*bars, strict=True)
    place = np.arange(len(bars))
    least, most = min(values), max(values)
    if most > 0:
        fills = [style.fill(0), *[style.fill(2)] * (len(bars) - 1)]
        floor = least / 4
        for y, value, look in zip(place, values, fills, strict=True):
            ax.barh(y, value - floor, height=0.72, left=floor, **look)
            part = f"  ({100 * value / values[0]:.3g} %)" if y else ""
            ax.annotate(f"{number(value, 3)}{part}", (value, y), (4, 0), va="center",
                        textcoords="offset points", fontsize=7.0)
        ax.set_xscale("log")
        # Room for the words beside the longest bar: two fifths of the picture.
        ax.set_xlim(floor, most * (most / floor) ** 0.6)
    else:
        ax.set_xlim(0.0, 1.0)
        said = "none" if most == 0 else "not known"  # where a loop may oscillate
        ax.annotate(said, (0.0, 0.0), (4, 0), va="center", textcoords="offset points", fontsize=7)
    ax.set_yticks(place, labels)
    ax.set_ylim(len(bars) - 0.4, -0.6)
    ax.grid(axis="y", visible=False)
    ax.set_xlabel("above the vacuum (photons)")
    alike = f" (and {len(one.alike)} alike)" if one.alike else ""
    ax.set_title(style.in_lines(
        f"{title_of(one.layout)} · arriving at {one.port}{alike}, at "
        f"{one.frequency_hz[0] / 1e9:g} GHz", _LETTERS,
    ), loc="left")
