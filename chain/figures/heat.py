"""A figure of the heat load of each stage, by cause, against its cooling power."""

import numpy as np

from chain.errors import LayoutError, Place
from chain.figures.style import fill, in_lines, limit_line, new_figure, styled
from chain.writing.foreign_text import one_line
from chain.writing.numbers import number, si

CAUSES = (
    ("conduction_in_w", "conduction from warmer stages"), ("bias_w", "bias of amplifiers"),
    ("tones_w", "tones"), ("currents_w", "direct currents"), ("other_w", "other loads"),
)

COOLING = "cooling power"

_FILL = {"conduction_in_w": 0, "bias_w": 1, "tones_w": 2, "other_w": 3, "currents_w": 4}
_THICK = 0.19


@styled
def heat_figure(heat):
    """Return the matplotlib Figure of a Heat: bars of loads, a line for each stage's cooling.

    The warmest stage is left out: it only gives.  Raises LayoutError where there is nothing to
    draw.
    """
    stages = list(heat.stages.values())[1:] or list(heat.stages.values())
    if not any(stage.known_w or stage.cooling_w for stage in stages):
        raise LayoutError.at(
            Place(heat.layout.path), "no stage has any heat or cooling power to draw",
            "give stages their cooling: plate: {temperature: 4 K, cooling: {4 K: 1.5 W}}",
        )
    figure, axes = new_figure(height_mm=22 + 24 * len(stages))
    shown = [cause for cause in CAUSES if any(getattr(s, cause[0]) for s in stages)] or CAUSES[:1]
    lowest, highest = _limits(stages)
    bars = _bars(stages, shown, lowest)
    for name, label in shown:
        y, watts = zip(*bars[name], strict=True) if bars[name] else ((), ())
        axes.barh(y, watts, height=0.9 * _THICK, label=label, **fill(_FILL[name]))
    _cooling(axes, stages)
    for i, stage in enumerate(stages):
        axes.annotate(_verdict(stage), (1.01, i), xycoords=("axes fraction", "data"),
                      va="center", fontsize=7)
    axes.set_xscale("log")
    axes.set_xlim(lowest, highest)
    named = [f"{s.stage}\n{si(s.temperature_k, 'K', 3)}" for s in stages]
    axes.set_yticks(range(len(stages)), named)
    axes.set_ylim(len(stages) - 0.5, -0.5)
    axes.set_xlabel("heat (W)")
    axes.grid(axis="y", visible=False)
    for i in range(1, len(stages)):
        axes.axhline(i - 0.5, color="#bdbdbd", linewidth=0.6)
    axes.set_title(in_lines(one_line(heat.layout.title) or "heat at each stage"), loc="left")
    handles, labels = axes.get_legend_handles_labels()
    order = sorted(range(len(labels)), key=lambda place: labels[place] == COOLING)
    figure.legend([handles[i] for i in order], [labels[i] for i in order],
                  loc="outside lower center", ncols=2 if len(labels) == 4 else 3)
    return figure


def _bars(stages, causes, lowest):
    """Return {cause: [(place on the axis, watt)]}; a stage's bars stand close together."""
    bars = {name: [] for name, _ in causes}
    for i, stage in enumerate(stages):
        present = [(name, getattr(stage, name) or 0.0) for name, _ in causes]
        present = [(name, watt) for name, watt in present if watt > lowest]
        for place, (name, watt) in enumerate(present):
            bars[name].append((i + (place - (len(present) - 1) / 2) * _THICK, watt))
    return bars


def _limits(stages):
    found = [getattr(s, name) for s in stages for name, _ in CAUSES]
    found += [s.cooling_w for s in stages] + [s.known_w for s in stages]
    found = [w for w in found if w and w > 0] or [1e-6, 1.0]
    top = 10 ** np.ceil(np.log10(max(found) * 1.3))
    # Twelve decades hold all that matters beside the largest.
    return max(10 ** np.floor(np.log10(min(found) / 2)), top * 1e-12), top


def _cooling(axes, stages):
    label: str | None = COOLING
    for i, stage in enumerate(stages):
        if stage.cooling_w:
            axes.plot([stage.cooling_w] * 2, [i - 0.4, i + 0.4], label=label,
                      **{**limit_line(), "linestyle": "-", "linewidth": 2.4})
            label = None


def _verdict(stage):
    total = "unknown" if stage.total_w is None else si(stage.total_w, "W", 3)
    cooling = "unknown" if stage.cooling_w is None else si(stage.cooling_w, "W", 3)
    lines = [f"total {total}", f"cooling power {cooling}"]
    if stage.total_w is not None and stage.cooling_w:
        lines[0] += f" ({number(100 * stage.total_w / stage.cooling_w, 2)} %)"
    if stage.over:
        lines.append("too much")
    elif stage.settled_k is not None:
        lines.append(f"steady state {si(stage.settled_k, 'K', 3)}")
    return "\n".join(lines)
