"""Tones along the way of a signal, and what they leave at each stage."""

import numpy as np

from chain.figures import style
from chain.network.assembly import scattering_network
from chain.network.emitted import arrived
from chain.power.levels import compression_w
from components.constants import H
from components.quantities import watt_to_dbm

BANDWIDTH_HZ = 1e6
"""Bandwidth in which the noise floor is drawn; the figure says it."""

LOWEST_DBM = -160.0
"""Levels below are left off the picture."""

LIMIT = {**style.limit_line(), "linestyle": "-"}
"""A short limit mark: dashes would cut it up."""


def power_figure(power, signal=None):
    """Return the figure of a Power: levels along a signal's way above, heat by stage below.

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
    layout = power.layout
    middle = np.array([(layout.band.start_hz + layout.band.stop_hz) / 2])
    network = scattering_network(layout, signal.to_port[0], middle)
    waves = network.path((*signal.from_port, 1), network.arriving(signal.to_port))
    last = {}
    for wave in waves:
        last[wave[0]] = wave
    waves = list(last.values())
    names = [wave[0] for wave in waves]
    x = np.arange(len(waves))
    _stages(layout, names, ax)
    for place, (name, tone) in enumerate(power.tones.items()):
        watts = np.array([tone.leaving_ports_w.get(f"{w[0]}.{w[1]}", 0.0) for w in waves])
        level = np.maximum(watt_to_dbm(watts), -1e3)
        shown = level > LOWEST_DBM
        if np.any(shown):
            ax.plot(x[shown], level[shown], label=name, **style.line(place, marked=True))
    floor = _noise_floor_w(network, waves) * BANDWIDTH_HZ
    ax.plot(x, watt_to_dbm(floor), label=f"noise in {BANDWIDTH_HZ / 1e6:g} MHz",
            color=style.SOFT, linestyle="-", linewidth=1.0)
    for place, key in enumerate(names):
        element = layout.elements[key]
        gain = element.settings["gain"]
        if not element.kind.amplifies(element.settings) or gain is None:
            continue
        limit = compression_w(element.settings, float(np.max(gain.at(middle))))
        if limit is not None:
            ax.plot([place - 0.3, place + 0.3], [float(watt_to_dbm(limit))] * 2,
                    **LIMIT)
            ax.annotate("1 dB compression", (place, float(watt_to_dbm(limit))), (0, 3),
                        textcoords="offset points", ha="center", fontsize=6.5)
    ax.set_xticks(x, names, rotation=0 if len(names) <= 18 else 90)
    ax.set_xlim(-0.6, len(names) - 0.4)
    ax.set_ylabel("level leaving the element, dBm")
    ax.set_title(f"{layout.title or layout.path}: along {signal.name}", loc="left")
    ax.margins(y=0.14)
    ax.legend(loc="lower right", ncols=2)


def _noise_floor_w(network, waves):
    """Return the noise power of each wave, W/Hz, the vacuum counted."""
    found = []
    for wave in waves:
        transfers = network.adjoint(wave)
        quanta = sum(
            np.mean(network.mean(arrived(block, transfers).whole)) for block in network.blocks
        )
        found.append(float(quanta) * H * network.frequency_hz[0])
    return np.array(found)


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
    tones = {name: tone for name, tone in power.tones.items() if any(tone.by_stage_w.values())}
    height = 0.8 / max(1, len(tones))
    top = np.arange(len(stages))
    for place, (name, tone) in enumerate(tones.items()):
        watts = np.array([max(tone.by_stage_w[stage], 0.0) for stage in stages])
        ax.barh(top - 0.4 + (place + 0.5) * height, np.maximum(watts, 1e-30), height,
                label=name, **style.fill(place))
    carried = power.cooling_w
    known = [(i, carried[stage]) for i, stage in enumerate(stages) if carried[stage]]
    for place, (i, watt) in enumerate(known):
        ax.plot([watt, watt], [i - 0.45, i + 0.45], label=None if place else "carries",
                **LIMIT)
    everything = [w for t in tones.values() for w in t.by_stage_w.values() if w > 1e-13]
    everything += [watt for _, watt in known]
    ax.set_xscale("log")
    if everything:
        ax.set_xlim(min(everything) / 3, max(everything) * 3)
    labels = [f"{s}" for s in stages]
    ax.set_yticks(top, labels)
    ax.invert_yaxis()
    ax.set_xlabel("power left at the stage, W")
    ax.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0))
