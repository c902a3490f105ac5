"""Gain, added noise, compression and heat over the pump's power and frequency."""

import numpy as np

from chain.figures import style
from chain.layout.naming import title_of


def pump_grid_figure(g):
    """Return the figure of a PumpGrid: maps, or curves where power or frequency is fixed."""
    figure, axes = style.new_figure(2, 2, height_mm=150, width_mm=190)
    _draw(g, figure, axes)
    return figure


def _quantities(g):
    """Return [(title, unit, value of a point)]."""
    def heaviest(p):
        parts = [p.tones_w[name] / (left + p.tones_w[name]) for name, left in p.margin_w.items()
                 if left is not None and left + p.tones_w[name] > 0]
        return 100 * max(parts, default=np.nan)

    return (
        ("gain over off", "dB", lambda p: p.gain_change_db),
        ("added noise", "quanta", lambda p: p.added_quanta),
        ("compression", "dB", lambda p: np.nan if p.compression_db is None else p.compression_db),
        ("tones, most of a stage's cooling", "%", heaviest),
    )


@style.styled
def _draw(g, figure, axes):
    powers = np.array(sorted({p.pump_dbm for p in g.points}))
    tones = np.array(sorted({p.pump_hz for p in g.points})) / 1e9
    mapped = len(powers) > 1 and len(tones) > 1
    for ax, (title, unit, value) in zip(axes.flat, _quantities(g), strict=True):
        ax.set_title(f"{title} ({unit})", loc="left")
        if not any(np.isfinite(value(p)) for p in g.points):
            ax.set_axis_off()
            ax.text(0.5, 0.5, "not measured", ha="center", color=style.SOFT)
            continue
        if mapped:
            _map(figure, ax, g, powers, tones, value)
        else:
            _curve(ax, g, powers, tones, value)
    title = title_of(g.layout)
    marks = " (ring: least noise; cross: compressed or over the cooling)" if mapped else ""
    figure.suptitle(f"{title}: {g.signal}{marks}", x=0.01, ha="left", fontsize=9)


def _map(figure, ax, g, powers, tones, value):
    z = np.full((len(tones), len(powers)), np.nan)
    for p in g.points:
        z[np.searchsorted(tones, p.pump_hz / 1e9), np.searchsorted(powers, p.pump_dbm)] = value(p)
    ax.grid(False)
    # Lightness rises with the value, so that it reads in grey.
    image = ax.pcolormesh(powers, tones, z, shading="nearest", cmap="cividis")
    figure.colorbar(image, ax=ax)
    shut = [(p.pump_dbm, p.pump_hz / 1e9) for p in g.points if p.over or p.compressed]
    if shut:
        for colour, width in (("#ffffff", 2.6), ("#000000", 1.2)):
            ax.plot(*zip(*shut, strict=True), linestyle="none", marker="x", color=colour,
                    markeredgewidth=width, markersize=5)
    if g.best is not None:
        for colour, width in (("#ffffff", 2.6), ("#000000", 1.2)):
            ax.plot(g.best.pump_dbm, g.best.pump_hz / 1e9, marker="o", markersize=9,
                    fillstyle="none", markeredgewidth=width, color=colour)
    ax.set_xlabel("pump level (dBm)")
    ax.set_ylabel("pump frequency (GHz)")


def _curve(ax, g, powers, tones, value):
    over_power = len(tones) == 1
    points = sorted(g.points, key=lambda p: p.pump_dbm if over_power else p.pump_hz)
    x = [p.pump_dbm if over_power else p.pump_hz / 1e9 for p in points]
    ax.plot(x, [value(p) for p in points], **style.line(0, marked=True))
    if g.best is not None:
        here = g.best.pump_dbm if over_power else g.best.pump_hz / 1e9
        ax.axvline(here, **style.limit_line())
    ax.set_xlabel("pump level (dBm)" if over_power else "pump frequency (GHz)")
