"""Noise shares over frequency with the gain below them, or as bars at one frequency."""

import numpy as np

from chain.errors import LayoutError, Place
from chain.figures import style
from chain.figures.shares import Drawn, by_stage, label_of
from chain.layout.naming import title_of
from chain.noise.budget_text import nearest
from chain.writing.numbers import number

MAX_SIGNALS = 4
"""So many signals go on one figure; more would be too small to read."""

_ABOVE = 1.08
"""Room above what is drawn, over its height."""

_BESIDE = 1.3
"""Room for the number beside the longest bar, over its length."""

_DECADES = 3
"""Decades below the least noise that a logarithmic axis shows."""


def distinct(budgets):
    """Return budgets {name: Budget} without those of copies that are equal to one before."""
    first = {id(budget.noise_at_to_quanta): name for name, budget in reversed(budgets.items())}
    return {name: budgets[name] for name in reversed(first.values())}


def budget_figure(budgets, frequency_hz=None):
    """Return the figure of budgets {name: Budget}, best at most MAX_SIGNALS of them.

    Shares over frequency, gain below: stacked, or, where a spike would flatten the rest, as curves
    over a logarithmic axis.  With `frequency_hz` (Hz), or where there is one frequency alone, bars
    by element and by stage at the one nearest to it.  Raises LayoutError where nothing is known.
    """
    found = list(budgets.values())
    for budget in found:
        refuse_unknown(budget, frequency_hz)
    if frequency_hz is None and len(found[0].frequency_hz) > 1:
        return _over_frequency(found)
    at = found[0].frequency_hz[0] if frequency_hz is None else frequency_hz
    return _at_one_frequency(found, at)


def refuse_unknown(budget, frequency_hz=None):
    """Raise LayoutError where a Budget's noise is known nowhere, or not at that frequency (Hz)."""
    noise, where = budget.noise_at_to_quanta, "anywhere in the band"
    if frequency_hz is not None:
        index = nearest(budget, frequency_hz)
        noise, where = noise[index], f"at {budget.frequency_hz[index] / 1e9:g} GHz"
    if not np.any(np.isfinite(noise)):
        raise LayoutError.at(
            Place(budget.layout.path), f"the noise of {budget.signal} is not known {where}, so "
            "there is nothing to draw", "; ".join(budget.warnings) or "try another frequency",
        )


@style.styled
def _over_frequency(budgets):
    panels = [(budget, draw, height) for budget in budgets for draw, height in _panels(budget)]
    heights = [height for *_, height in panels]
    figure, axes = style.new_figure(
        len(panels), heights=heights, height_mm=20.0 + 27.0 * sum(heights), share_x=True,
    )
    for ax, (budget, draw, _) in zip(axes, panels, strict=True):
        draw(budget, ax)
    axes[-1].set_xlabel(style.FREQUENCY)
    figure.align_ylabels(axes)
    return figure


def _panels(budget):
    """Return [(what draws it, relative height)] of the panels of a budget, top to bottom."""
    if budget.gain_db is None:
        return [(_shares, 3), (_photons, 1)]
    if np.any(budget.gain_db > 0):
        return [(_shares, 3), (_gain, 1)]
    return [(_shares, 3), (_photons, 1), (_gain, 1)]


def _shares(budget, ax):
    f, drawn = budget.frequency_hz / 1e9, Drawn.of(budget)
    (_curves if style.wide(drawn.total) else _stack)(budget, drawn, f, ax)
    ax.plot(f, drawn.limit, label=drawn.limit_name, **style.limit_line())
    ax.set_xlim(f[0], f[-1])
    ax.set_ylabel(drawn.name)
    ax.set_title(_title(budget), loc="left")
    handles, labels = ax.get_legend_handles_labels()
    ax.legend(handles[::-1], labels[::-1], loc="upper left", bbox_to_anchor=(1.01, 1.0),
              borderaxespad=0.0)


def _stack(budget, drawn, f, ax):
    """Fill shares one on the other."""
    shown, rest = drawn.largest(style.MAX_FILLS)
    below = np.zeros_like(f)
    for place, (ids, values) in enumerate(shown):
        label = label_of(budget.layout, ids)
        ax.fill_between(f, below, below + values, label=label, **style.fill(place))
        below = below + values
    if rest is not None:
        count, values = rest
        ax.fill_between(f, below, below + values, label=f"{count} more", **style.rest_fill())
        below = below + values
    ax.set_ylim(0.0, _ABOVE * style.highest(below, drawn.limit))


def _curves(budget, drawn, f, ax):
    """Draw shares and their sum as curves: a stack says nothing on a logarithmic axis."""
    shown, rest = drawn.largest(style.MAX_LINES)
    if rest is not None:
        count, values = rest
        ax.plot(f, values, label=f"{count} more", color=style.SOFT, linewidth=0.8)
    for place, (ids, values) in reversed(list(enumerate(shown))):
        ax.plot(f, values, label=label_of(budget.layout, ids), **style.line(place))
    ax.plot(f, drawn.total, label="all", color=style.INK, linewidth=2.4)
    known = drawn.total[drawn.total > 0]
    ax.set_yscale("log")
    ax.set_ylim(float(known.min()) * 10.0**-_DECADES,
                2.0 * style.highest(drawn.total, drawn.limit))


def _photons(budget, ax):
    """Draw what arrives beyond the vacuum, which the stack hardly shows."""
    photons = budget.photons_at_to
    ax.plot(budget.frequency_hz / 1e9, photons, **style.line(0))
    if style.wide(photons) and np.nanmin(photons) > 0:
        ax.set_yscale("log")
    ax.set_ylabel("beyond vacuum\n(photons)")


def _gain(budget, ax):
    f = budget.frequency_hz / 1e9
    if "gain_db" in budget.ripple:
        low, high = budget.ripple["gain_db"]
        ax.fill_between(f, low, high, color=style.RANGE, linewidth=0.0, label="unknown phases")
    ax.plot(f, budget.gain_db, label="gain", **style.line(0))
    ax.set_ylabel("gain (dB)")
    if "gain_db" in budget.ripple:
        ax.legend(loc="upper left", bbox_to_anchor=(1.01, 1.0), borderaxespad=0.0)


@style.styled
def _at_one_frequency(budgets, frequency_hz):
    found = []
    for budget in budgets:
        drawn, index = Drawn.of(budget), nearest(budget, frequency_hz)
        found.append((budget, drawn, index, _element_bars(budget, drawn, index),
                      by_stage(budget, drawn, index)))
    counts = [len(bars) for *_, elements, stages in found for bars in (elements, stages)]
    figure, axes = style.new_figure(
        len(counts), heights=[count + 2 for count in counts],
        height_mm=22.0 * len(counts) + 5.5 * sum(counts),
    )
    for place, (budget, drawn, index, elements, stages) in enumerate(found):
        above, below = axes[2 * place : 2 * place + 2]
        widest = style.highest([value for _, value in (*elements, *stages)])
        _bars(above, elements, widest)
        _bars(below, stages, widest)
        total = sum(value for _, value in elements)
        above.set_title(
            f"{_title(budget)}, at {budget.frequency_hz[index] / 1e9:g} GHz\n{number(total, 3)} "
            f"quanta in all, {drawn.limit_name} {number(drawn.limit[index], 3)}", loc="left",
        )
        below.set_title("by stage", loc="left")
        below.set_xlabel(drawn.name.replace("\n", " "))
    return figure


def _element_bars(budget, drawn, index):
    """Return [(label, quanta)] of the largest shares at one frequency, the rest last."""
    shown, rest = drawn.largest(style.MAX_FILLS, index)
    bars = [(label_of(budget.layout, ids), float(values[index])) for ids, values in shown]
    if rest is not None:
        bars.append((f"{rest[0]} more", float(rest[1][index])))
    return bars


def _bars(ax, bars, widest):
    labels = [label for label, _ in bars]
    values = [value for _, value in bars]
    place = np.arange(len(bars))
    ax.barh(place, values, height=0.72, **style.fill(2))
    for y, value in zip(place, values, strict=True):
        ax.annotate(number(value, 3), (value, y), xytext=(3, 0), textcoords="offset points",
                    va="center", fontsize=7.0)
    ax.set_yticks(place, labels)
    ax.invert_yaxis()
    ax.set_xlim(0.0, _BESIDE * widest)
    ax.grid(axis="y", visible=False)


def _title(budget):
    between = f"to {budget.to_port}" if budget.from_port is None else \
        f"{budget.from_port} to {budget.to_port}"
    text = f"{title_of(budget.layout)} · {budget.signal}: {between}"
    return style.in_lines(text)
