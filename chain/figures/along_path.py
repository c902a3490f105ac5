"""Noise temperature and gain along a signal path, element by element."""

import numpy as np

from chain.figures import style
from chain.figures.budget import refuse_unknown
from chain.layout.naming import title_of
from chain.noise.along_path import path_noise
from chain.noise.budget_text import middle, nearest
from chain.writing.numbers import number, si

_DECADES = 5
"""Decades below the system noise that are drawn."""

_UPRIGHT = 8
"""Places from which their names stand upright."""


@style.styled
def along_path_figure(budget, frequency_hz=None):
    """Return the figure of a Budget with a start at one frequency (Hz; the band's middle).

    Above the cumulative gain; below each element's noise temperature referred to its own input,
    its part of the system noise temperature referred to the start, and the sum of the parts.
    Raises LayoutError where they are not known.
    """
    index = middle(budget) if frequency_hz is None else nearest(budget, frequency_hz)
    refuse_unknown(budget, budget.frequency_hz[index])
    path = path_noise(budget, index)
    figure, (above, below) = style.new_figure(
        2, heights=(2, 3), height_mm=140, share_x=True,
    )
    pad = _gain(path, above)
    _noise(path, below)
    above.set_title(style.in_lines(
        f"{title_of(budget.layout)} · {path.signal}: {path.from_port} to {path.to_port}, at "
        f"{path.frequency_hz / 1e9:g} GHz\nsystem noise {si(path.system_noise_k, 'K', 3)}, "
        f"{number(path.system_noise_k / path.quantum_k, 3)} quanta",
    ), loc="left", pad=pad)
    upright = len(path.stations) > _UPRIGHT
    names = [f"{station.name}{' ' if upright else chr(10)}{station.kind}".strip()
             for station in path.stations]
    below.set_xticks(range(len(names)), names, rotation=90 if upright else 0)
    below.set_xlim(-0.6, len(names) - 0.4)
    handles, labels = below.get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=2)
    figure.align_ylabels()
    return figure


def _gain(path, ax):
    pad = style.stage_bands(ax, [station.stage for station in path.stations])
    known = [(place, station.cumulative_db) for place, station in enumerate(path.stations)
             if station.cumulative_db is not None]
    # The path begins at the start itself, where the gain is nothing.
    x, level = zip((known[0][0] - 1, 0.0), *known, strict=True)
    ax.step(x, level, where="mid", **style.line(0))
    ax.plot(x, level, linestyle="none", marker="o", color=style.line(0)["color"])
    ax.set_ylabel("cumulative gain (dB)")
    ax.margins(y=0.12)
    return pad


def _noise(path, ax):
    stations = path.stations
    style.stage_bands(ax, [station.stage for station in stations], named=False)
    x = np.arange(len(stations))
    share = np.array([station.share_k for station in stations])
    total = np.array([station.sum_k for station in stations])
    own = np.array([np.nan if station.own_noise_k is None else station.own_noise_k
                    for station in stations])
    floor = path.system_noise_k * 10.0**-_DECADES
    shown = share > floor
    ax.bar(x[shown], share[shown] - floor, 0.7, bottom=floor, **style.fill(2),
           label="part of the system noise")
    seen = own > floor
    ax.plot(x[seen], own[seen], linestyle="none", marker="D", markerfacecolor="#ffffff",
            color=style.line(3)["color"], label="noise temperature, at its own input",
            zorder=5)
    ax.step(np.append(x, x[-1] + 1) - 0.5, np.append(total, total[-1]), where="post",
            color=style.INK, linewidth=1.8, label="sum so far, referred to the start", zorder=4)
    if path.quantum_k > floor:
        ax.axhline(path.quantum_k, label=f"one quantum, {si(path.quantum_k, 'K', 3)}",
                   **{**style.limit_line(), "linewidth": 1.2})
    ax.set_yscale("log")
    highest = max([total[-1], path.quantum_k, *own[seen]])
    ax.set_ylim(floor, 4.0 * highest)
    ax.set_ylabel("noise temperature (K)")
    quanta = ax.secondary_yaxis("right", functions=(
        lambda kelvin: kelvin / path.quantum_k, lambda quanta: quanta * path.quantum_k,
    ))
    quanta.set_ylabel("noise (quanta)")
