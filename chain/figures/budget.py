"""Noise shares stacked over frequency with the gain below them, or as bars at one frequency."""

import textwrap
from dataclasses import dataclass

import numpy as np

from chain.figures import style
from chain.layout.naming import title_of
from chain.noise.budget_text import nearest
from chain.writing.numbers import number
from components.constants import VACUUM

MAX_SIGNALS = 4
"""So many signals go on one figure; more would be too small to read."""

_ABOVE = 1.08
"""Room above what is drawn, over its height."""


@dataclass(frozen=True)
class Drawn:
    """What is drawn of a budget: noise and shares in quanta over frequency, and their limit.

    Referred to the start where the path amplifies; where it only loses, or has no start, as they
    arrive at the end.
    """

    name: str
    shares: dict
    limit: np.ndarray
    limit_name: str

    @classmethod
    def of(cls, budget):
        """Return it for a Budget."""
        amplified = budget.gain_db is not None and np.any(budget.gain_db > 0)
        if amplified:
            name = f"system noise referred to\n{budget.from_port}, in quanta"
            return cls(name, budget.shares_quanta, quantum_limit(budget.gain_db), "quantum limit")
        gain = 1.0 if budget.gain_db is None else 10.0 ** (budget.gain_db / 10.0)
        shares = {key: share * gain for key, share in budget.shares_quanta.items()}
        vacuum = np.full(budget.frequency_hz.shape, VACUUM)
        return cls(f"noise arriving at {budget.to_port}\nin quanta", shares, vacuum, "vacuum")

    def largest(self, index=None):
        """Return ([(id, values)] largest first, (count, values) of the rest or None).

        By their mean over frequency, or at one index; values run over frequency either way.
        """
        def size(item):
            return float(np.mean(item[1]) if index is None else item[1][index])

        ordered = sorted(self.shares.items(), key=size, reverse=True)
        shown, left = ordered[: style.MAX_FILLS], ordered[style.MAX_FILLS :]
        if not left:
            return shown, None
        return shown, (len(left), sum(values for _, values in left))


def quantum_limit(gain_db):
    """Return the least system noise, quanta, at a gain: 1/2 + |1 - 1/G| / 2.

    One quantum where the gain is high.  C. M. Caves, Quantum limits on noise in linear
    amplifiers, Phys. Rev. D 26, 1817 (1982), phase-preserving.
    """
    return VACUUM + 0.5 * np.abs(1.0 - 10.0 ** (-gain_db / 10.0))


def distinct(budgets):
    """Return budgets {name: Budget} without those of copies that are equal to one before."""
    first = {id(budget.noise_at_to_quanta): name for name, budget in reversed(budgets.items())}
    return {name: budgets[name] for name in reversed(first.values())}


def budget_figure(budgets, frequency_hz=None):
    """Return the figure of budgets {name: Budget}, best at most MAX_SIGNALS of them.

    Shares stacked over frequency, gain below; with `frequency_hz` (Hz), or where there is one
    frequency alone, bars by element and by stage at the one nearest to it.
    """
    found = list(budgets.values())
    if frequency_hz is None and len(found[0].frequency_hz) > 1:
        return _over_frequency(found)
    at = found[0].frequency_hz[0] if frequency_hz is None else frequency_hz
    return _at_one_frequency(found, at)


@style.styled
def _over_frequency(budgets):
    panels = [(budget, draw, height) for budget in budgets for draw, height in _panels(budget)]
    heights = [height for *_, height in panels]
    figure, axes = style.new_figure(
        len(panels), heights=heights, height_mm=20.0 + 27.0 * sum(heights), share_x=True,
    )
    for ax, (budget, draw, _) in zip(axes, panels, strict=True):
        draw(budget, ax)
    axes[-1].set_xlabel("frequency in GHz")
    figure.align_ylabels(axes)
    return figure


def _panels(budget):
    """Return [(what draws it, relative height)] of the panels of a budget, top to bottom."""
    if budget.gain_db is None:
        return [(_stack, 3), (_photons, 1)]
    if np.any(budget.gain_db > 0):
        return [(_stack, 3), (_gain, 1)]
    return [(_stack, 3), (_photons, 1), (_gain, 1)]


def _stack(budget, ax):
    f, drawn = budget.frequency_hz / 1e9, Drawn.of(budget)
    shown, rest = drawn.largest()
    below = np.zeros_like(f)
    for place, (key, values) in enumerate(shown):
        ax.fill_between(f, below, below + values, label=_called(budget, key), **style.fill(place))
        below = below + values
    if rest is not None:
        count, values = rest
        label = f"{count} more" if count > 1 else "1 more"
        ax.fill_between(f, below, below + values, label=label, **style.rest_fill())
        below = below + values
    ax.plot(f, drawn.limit, label=drawn.limit_name, **style.limit_line())
    ax.set_ylim(0.0, _ABOVE * style.highest(below, drawn.limit))
    ax.set_xlim(f[0], f[-1])
    ax.set_ylabel(drawn.name)
    ax.set_title(_title(budget), loc="left")
    handles, labels = ax.get_legend_handles_labels()
    ax.legend(handles[::-1], labels[::-1], loc="upper left", bbox_to_anchor=(1.01, 1.0),
              borderaxespad=0.0)


def _photons(budget, ax):
    """Draw what arrives beyond the vacuum, which the stack hardly shows."""
    photons = budget.photons_at_to
    ax.plot(budget.frequency_hz / 1e9, photons, **style.line(0))
    if np.min(photons) > 0 and np.max(photons) > 10 * np.min(photons):
        ax.set_yscale("log")
    ax.set_ylabel("photons\nbeyond vacuum")


def _gain(budget, ax):
    f = budget.frequency_hz / 1e9
    if "gain_db" in budget.ripple:
        low, high = budget.ripple["gain_db"]
        ax.fill_between(f, low, high, color=style.RANGE, linewidth=0.0, label="unknown phases")
    ax.plot(f, budget.gain_db, label="gain", **style.line(0))
    ax.set_ylabel("gain in dB")
    if "gain_db" in budget.ripple:
        ax.legend(loc="upper left", bbox_to_anchor=(1.01, 1.0), borderaxespad=0.0)


@style.styled
def _at_one_frequency(budgets, frequency_hz):
    found = []
    for budget in budgets:
        drawn, index = Drawn.of(budget), nearest(budget, frequency_hz)
        found.append((budget, drawn, index, _element_bars(budget, drawn, index),
                      _stage_bars(budget, drawn, index)))
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
    shown, rest = drawn.largest(index)
    bars = [(_called(budget, key), float(values[index])) for key, values in shown]
    if rest is not None:
        bars.append((f"{rest[0]} more", float(rest[1][index])))
    return bars


def _stage_bars(budget, drawn, index):
    """Return [(stage, quanta)] in the layout's order, what runs between two by both names."""
    sums = {}
    for key, values in drawn.shares.items():
        place = _place(budget.layout.elements[key])
        sums[place] = sums.get(place, 0.0) + float(values[index])
    order = {stage: number for number, stage in enumerate(budget.layout.stages)}

    def rank(place):
        met = [order.get(stage, len(order)) for stage in place.split(" to ")]
        return sum(met) / len(met), len(met)

    return [(place, sums[place]) for place in sorted(sums, key=rank)]


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
    ax.set_xlim(0.0, 1.14 * widest)
    ax.grid(axis="y", visible=False)


def _place(element):
    if element.from_stage is None:
        return element.stage or "no stage"
    return f"{element.from_stage} to {element.to_stage}"


def _called(budget, key):
    """Return an element's id, kind and stage for a label."""
    element = budget.layout.elements[key]
    return f"{key}  {element.kind.name}, {_place(element)}"


def _title(budget):
    between = f"to {budget.to_port}" if budget.from_port is None else \
        f"{budget.from_port} to {budget.to_port}"
    text = f"{title_of(budget.layout)} · {budget.signal}: {between}"
    return textwrap.fill(text, 80)
