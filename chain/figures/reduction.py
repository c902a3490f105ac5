"""Powers against the load's noise, and the gain and noise that they give, beside the layout's."""

import numpy as np

from chain.figures import style
from chain.layout.naming import title_of

MAX_LINES = 3
"""Frequencies whose powers are drawn."""

MAX_STEPS = 6
"""Sweeps whose residuals are drawn with a mark of their own."""


def reduction_figure(r):
    """Return the figure of a Reduction.

    Powers over noise at the plane, residuals, added noise and gain over frequency with the interval
    of each and the layout's prediction.
    """
    figure, axes = style.new_figure(2, 2, height_mm=150, width_mm=200)
    _draw(r, figure, axes)
    return figure


@style.styled
def _draw(r, figure, axes):
    base = r if r.off is None else r.off
    _lines(base, axes[0, 0])
    _residuals(base, axes[0, 1])
    _added(r, axes[1, 0])
    _gain(r, axes[1, 1])
    handles, labels = axes[1, 0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=5)
    title = title_of(r.layout)
    axes[0, 0].set_title(f"{title}: {r.signal}", loc="left")
    state = "" if r.off is None else ", paramps off"
    axes[0, 1].set_title(f"residuals{state}", loc="left")
    state = "" if r.off is None else ", paramps on"
    axes[1, 0].set_title(f"added noise at {r.plane}{state}", loc="left")
    axes[1, 1].set_title(f"gain, {r.plane} to {r.to_port}{state}", loc="left")


def _lines(r, ax):
    """Draw powers over the noise at the plane, referred to it by the fitted gain."""
    known = np.flatnonzero(np.isfinite(r.added_quanta))
    if not known.size:
        return
    chosen = known[np.unique(np.linspace(0, known.size - 1, MAX_LINES + 2).round().astype(int))]
    chosen = chosen[1:-1] if len(chosen) > MAX_LINES else chosen
    for place, i in enumerate(chosen[:MAX_LINES]):
        read = np.isfinite(r.residual[:, i])
        x = r.noise_quanta[read, i]
        line = x + r.added_quanta[i]
        y = line * (1.0 + r.residual[read, i])
        look = style.line(place, marked=True)
        ends = np.array([-r.added_quanta[i], x.max()])
        ax.plot(ends, ends + r.added_quanta[i], color=look["color"], linestyle=look["linestyle"])
        ax.plot(x, y, color=look["color"], linestyle="none", marker=look["marker"],
                label=f"{r.frequency_hz[i] / 1e9:.4g} GHz")
    ax.axvline(0.0, color=style.SOFT, linewidth=0.6)
    ax.set_ylim(bottom=0)
    ax.set_xlabel("noise at the plane without what is added (quanta)")
    ax.set_ylabel("power over fitted gain (quanta)")
    ax.legend(loc="upper left")


def _residuals(r, ax):
    f = r.frequency_hz / 1e9
    for i in range(min(len(r.residual), MAX_STEPS)):
        look = style.line(i, marked=True)
        ax.plot(f, 100 * r.residual[i], color=look["color"], marker=look["marker"],
                linestyle="none", markersize=2.6, label=f"{i + 1}: {_kelvin(r.readings.step_k[i])}")
    sigma = 100 * np.nanmedian(r.relative_sigma)
    if np.isfinite(sigma):
        ax.axhspan(-sigma, sigma, color=style.RANGE, zorder=0)
    ax.axhline(0.0, color=style.SOFT, linewidth=0.6)
    ax.set_xlabel(style.FREQUENCY)
    ax.set_ylabel("power less line (%)")
    low, high = ax.get_ylim()
    ax.set_ylim(low, high + 0.22 * (high - low))
    ax.legend(loc="upper center", ncols=3, columnspacing=1.2, handletextpad=0.2)


def _kelvin(k):
    return f"{1e3 * k:.4g} mK" if k < 1 else f"{k:.4g} K"


def _added(r, ax):
    _bands(r, ax, r.added, r.predicted.added_quanta, r.predicted.added_quanta_sigma)
    ax.set_ylabel("added noise (quanta)")
    finite = np.concatenate([r.added.interval_68[1], r.predicted.added_quanta])
    finite = finite[np.isfinite(finite)]
    low, _ = ax.get_ylim()
    if finite.size:
        top = max(float(np.percentile(finite, 99)) * 1.25, 1.0)
        ax.set_ylim(min(low, 0.0), top)
    if r.added.mean < 30:
        ax.axhline(0.5, label="least of an amplifier", **style.limit_line())


def _gain(r, ax):
    _bands(r, ax, r.gain, r.predicted.gain_db, r.predicted.gain_db_sigma)
    ax.set_ylabel("gain (dB)")


def _bands(r, ax, estimate, predicted, predicted_sigma):
    """Draw an estimate with its whole and its common error, and the prediction."""
    f = r.frequency_hz / 1e9
    order = np.argsort(f)
    low, high = estimate.interval_68
    measured, layout = style.line(0), style.line(1)
    ax.fill_between(f[order], np.where(np.isfinite(low), low, np.nan)[order],
                    np.where(np.isfinite(high), high, np.nan)[order], color=style.RANGE,
                    linewidth=0, label="68 %, whole error")
    ax.fill_between(
        f[order], (estimate.value - estimate.common)[order],
        (estimate.value + estimate.common)[order], facecolor="none", edgecolor=measured["color"],
        linewidth=0, hatch="////", alpha=0.55, label="of it common",
    )
    single = {"marker": "o"} if len(f) == 1 else {}
    ax.plot(f, estimate.value, label="measured", **measured, **single)
    if np.any(predicted_sigma > 0):
        for sign in (-1, 1):
            ax.plot(f, predicted + sign * predicted_sigma, color=layout["color"], linewidth=0.6)
    ax.plot(f, predicted, label="layout (thin: its tolerances)"
            if np.any(predicted_sigma > 0) else "layout", **layout, **single)
    ax.set_xlabel(style.FREQUENCY)
    if len(f) > 1:
        ax.set_xlim(f.min(), f.max())
