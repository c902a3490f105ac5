"""Tones along a signal path, and the power dissipated at each stage."""

import numpy as np

from chain.figures import style
from chain.layout.naming import title_of
from components.quantities import watt_to_dbm

BANDWIDTH_HZ = 1e6
"""Bandwidth in which the noise floor is drawn; the figure says it."""

LOWEST_DBM = -160.0
"""Levels below are left off the picture."""

LIMIT = {**style.limit_line(), "linestyle": "-"}
"""A short limit mark: dashes would cut it up."""


def power_figure(power, signal=None):
    """Return the figure of a Power: levels along a signal path above, heat by stage below.

    `signal` is a Signal of the layout, its first one where none is given.
    """
    chosen = signal or next(
        (s for s in power.layout.signals.values() if s.from_port is not None), None
    )
    figure, axes = style.new_figure(2, heights=(3, 2), height_mm=165)
    _draw(power, chosen, axes)
    return figure


@style.styled
def _draw(power, signal, axes):
    if signal is None:
        axes[0].set_axis_off()
    else:
        _levels(power, signal, axes[0])
    _heat(power, axes[1])


def _levels(power, signal, ax):
    layout, along = power.layout, power.along(signal)
    names, x = along.ids, np.arange(len(along.ids))
    _stages(layout, names, ax)
    for place, (name, tone) in enumerate(power.tones.items()):
        watts = np.array([
            tone.while_on_w(tone.outgoing_w.get(port, 0.0)) for port in along.ports
        ])
        level = np.maximum(watt_to_dbm(watts), -1e3)
        shown = level > LOWEST_DBM
        if np.any(shown):
            ax.plot(x[shown], level[shown], label=name, **style.line(place, marked=True))
    ax.plot(x, watt_to_dbm(along.noise_w_hz * BANDWIDTH_HZ),
            label=f"noise in {BANDWIDTH_HZ / 1e6:g} MHz", color=style.SOFT, linestyle="-",
            linewidth=1.0)
    for place, limit in enumerate(along.p1db_out_w):
        if limit is not None:
            ax.plot([place - 0.3, place + 0.3], [float(watt_to_dbm(limit))] * 2,
                    **LIMIT)
            ax.annotate("1 dB compression", (place, float(watt_to_dbm(limit))), (0, 3),
                        textcoords="offset points", ha="center", fontsize=6.5)
    ax.set_xticks(x, names, rotation=0 if len(names) <= 18 else 90)
    ax.set_xlim(-0.6, len(names) - 0.4)
    ax.set_ylabel("level at the output, dBm")
    ax.set_title(f"{title_of(layout)}: along {signal.name}", loc="left")
    ax.margins(y=0.14)
    ax.legend(loc="lower right", ncols=2)


def _stages(layout, names, ax):
    """Shade runs of elements on one stage, the stage's name on top."""
    where = [layout.elements[key].stage or layout.elements[key].to_stage for key in names]
    start, run = 0, 0
    for place in range(1, len(where) + 1):
        if place < len(where) and where[place] == where[start]:
            continue
        if run % 2 == 0:
            ax.axvspan(start - 0.5, place - 0.5, color="#ececec", linewidth=0, zorder=0)
        ax.annotate(where[start], ((start + place - 1) / 2, 0.985),
                    xycoords=("data", "axes fraction"), ha="center", va="top", fontsize=7,
                    color=style.SOFT)
        start, run = place, run + 1


def _heat(power, ax):
    stages = list(power.layout.stages)
    tones = {
        name: tone for name, tone in power.tones.items()
        if any(tone.dissipated_by_stage_w.values())
    }
    height = 0.8 / max(1, len(tones))
    top = np.arange(len(stages))
    for place, (name, tone) in enumerate(tones.items()):
        watts = np.array([max(tone.dissipated_by_stage_w[stage], 0.0) for stage in stages])
        ax.barh(top - 0.4 + (place + 0.5) * height, np.maximum(watts, 1e-30), height,
                label=name, **style.fill(place))
    cooling_w = power.cooling_w
    known = [(i, cooling_w[stage]) for i, stage in enumerate(stages) if cooling_w[stage]]
    for place, (i, watt) in enumerate(known):
        ax.plot([watt, watt], [i - 0.45, i + 0.45], label=None if place else "cooling power",
                **LIMIT)
    everything = [w for t in tones.values() for w in t.dissipated_by_stage_w.values() if w > 1e-13]
    everything += [watt for _, watt in known]
    ax.set_xscale("log")
    if everything:
        ax.set_xlim(min(everything) / 3, max(everything) * 3)
    labels = [f"{s}" for s in stages]
    ax.set_yticks(top, labels)
    ax.invert_yaxis()
    ax.set_xlabel("power dissipated at the stage, W")
    ax.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0))
