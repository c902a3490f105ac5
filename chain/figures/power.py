"""Tones along a signal path, and the power dissipated at each stage."""

import numpy as np

from chain.errors import LayoutError, Place
from chain.figures import style
from chain.layout.naming import title_of
from chain.power.remarks import alike_tones
from components.quantities import watt_to_dbm

BANDWIDTH_HZ = 1e6
"""Bandwidth in which the noise floor is drawn; the figure says it."""

LOWEST_DBM = -160.0
"""Levels below are left off the picture."""

LIMIT = {**style.limit_line(), "linestyle": "-"}
"""A short limit mark: dashes would cut it up."""

_UPRIGHT = 14
"""Elements along a path from which their names stand upright."""


def power_figure(power, signal=None):
    """Return the figure of a Power: levels along a signal path above, heat by stage below.

    `signal` is a Signal of the layout, its first one where none is given.  Copies of a tone that
    go the same way are drawn once, their heat added up.  Raises LayoutError without tones.
    """
    if not power.tones:
        raise LayoutError.at(
            Place(power.layout.path), "the layout has no tones to draw",
            "add tones: {pump: {into: S2, frequency: 11.6 GHz, power: 3 dBm}}",
        )
    chosen = signal or next(
        (s for s in power.layout.signals.values() if s.from_port is not None), None
    )
    heated = _dissipated(power)
    panels = [(_levels, 3)] if chosen is not None else []
    panels += [(_heat, 2)] if heated else []
    if not panels:
        raise LayoutError.at(
            Place(power.layout.path), "there is no signal to draw the tones along, and they "
            "dissipate nothing at any stage", "add a signal",
        )
    figure, axes = style.new_figure(
        len(panels), heights=[height for _, height in panels],
        height_mm=20.0 + 29.0 * sum(height for _, height in panels),
    )
    for (draw, _), ax in zip(panels, np.atleast_1d(axes), strict=True):
        style.styled(draw)(power, chosen if draw is _levels else heated, ax)
    return figure


def _levels(power, signal, ax):
    layout, along = power.layout, power.along(signal)
    names, x = along.ids, np.arange(len(along.ids))
    pad = style.stage_bands(ax, [_where(layout.elements[key]) for key in names])
    shown = 0
    for label, tones in alike_tones(power).items():
        # Copies differ in where they go in: one curve for all that are seen alike on this path.
        curves = {}
        for name in tones:
            tone = power.tones[name]
            watts = [tone.while_on_w(tone.outgoing_w.get(port, 0.0)) for port in along.ports]
            curves.setdefault(tuple(watts), []).append(name)
        for watts, same in curves.items():
            level = np.maximum(watt_to_dbm(np.array(watts)), -1e3)
            seen = level > LOWEST_DBM
            if np.any(seen):
                called = label if len(same) == len(tones) else same[0]
                ax.plot(x[seen], level[seen], label=called, **style.line(shown, marked=True))
                shown += 1
    ax.plot(x, watt_to_dbm(along.noise_w_hz * BANDWIDTH_HZ),
            label=f"noise in {BANDWIDTH_HZ / 1e6:g} MHz", color=style.SOFT, linestyle="-",
            linewidth=1.0)
    told: str | None = "1 dB compression"
    for place, limit in enumerate(along.p1db_out_w):
        if limit is not None:
            dbm = float(watt_to_dbm(limit))
            ax.plot([place - 0.3, place + 0.3], [dbm, dbm], label=told, **LIMIT)
            told = None
    ax.set_xticks(x, names, rotation=0 if len(names) <= _UPRIGHT else 90)
    ax.set_xlim(-0.6, len(names) - 0.4)
    ax.set_ylabel("level at the output (dBm)")
    ax.set_title(style.in_lines(f"{title_of(layout)}: along {signal.name}"), loc="left", pad=pad)
    ax.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0))


def _where(element):
    return element.stage or element.to_stage or ""


def _dissipated(power):
    """Return {label: [watt a stage]} of tones that heat anything, largest first."""
    found = {}
    for label, names in alike_tones(power).items():
        watts = [
            max(sum(power.tones[name].dissipated_by_stage_w[stage] for name in names), 0.0)
            for stage in power.layout.stages
        ]
        if any(watts):
            found[label] = np.array(watts)
    ordered = sorted(found.items(), key=lambda item: -float(np.max(item[1])))
    kept, left = ordered[: style.MAX_FILLS - 1], ordered[style.MAX_FILLS - 1 :]
    rest = {f"{len(left)} more": sum(watts for _, watts in left)} if left else {}
    return {**dict(kept), **rest}


def _heat(power, dissipated, ax):
    stages = list(power.layout.stages)
    height = 0.8 / len(dissipated)
    top = np.arange(len(stages))
    for place, (label, watts) in enumerate(dissipated.items()):
        ax.barh(top - 0.4 + (place + 0.5) * height, np.maximum(watts, 1e-30), height,
                label=label, **style.fill(place))
    cooling_w = power.cooling_w
    known = [(i, cooling_w[stage]) for i, stage in enumerate(stages) if cooling_w[stage]]
    for place, (i, watt) in enumerate(known):
        ax.plot([watt, watt], [i - 0.45, i + 0.45], label=None if place else "cooling power",
                **LIMIT)
    everything = [w for watts in dissipated.values() for w in watts if w > 1e-13]
    everything += [watt for _, watt in known]
    ax.set_xscale("log")
    if everything:
        ax.set_xlim(min(everything) / 3, max(everything) * 3)
    ax.set_yticks(top, stages)
    ax.set_ylim(len(stages) - 0.5, -0.5)
    ax.grid(axis="y", visible=False)
    ax.set_xlabel("power dissipated at the stage (W)")
    ax.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0))
