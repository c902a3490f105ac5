"""Two measurements of one signal: added noise and gain both times, and what changed."""

from chain.figures import style


def two_results_figure(t):
    """Return the figure of TwoResults: values above, changes with two sigma below."""
    figure, axes = style.new_figure(2, 2, share_x=True, height_mm=130, width_mm=190,
                                    heights=(1.2, 1.0))
    _draw(t, figure, axes)
    return figure


@style.styled
def _draw(t, figure, axes):
    f = t.frequency_hz / 1e9
    for column, (name, unit, change) in enumerate((
        ("added_quanta", "added noise (quanta)", t.added), ("gain_db", "gain (dB)", t.gain),
    )):
        top, below = axes[0, column], axes[1, column]
        for place, (label, result) in enumerate((("this time", t.this), ("last time", t.last))):
            arrays = result["arrays"]
            sigma = (arrays[f"{name}_own"] ** 2 + arrays[f"{name}_common"] ** 2) ** 0.5
            look = style.line(place)
            top.plot(arrays["frequency_hz"] / 1e9, arrays[name], label=label, **look)
            for sign in (-1, 1):
                top.plot(arrays["frequency_hz"] / 1e9, arrays[name] + sign * sigma,
                         color=look["color"], linewidth=0.6)
        below.fill_between(f, change.value - 2 * change.sigma, change.value + 2 * change.sigma,
                           color=style.RANGE, linewidth=0, label="two sigma of the change")
        below.plot(f, change.value, label="change", **style.line(0))
        below.axhline(0.0, color=style.SOFT, linewidth=0.8)
        top.set_ylabel(unit)
        below.set_ylabel(f"change of {unit}")
        below.set_xlabel(style.FREQUENCY)
        if len(f) > 1:
            below.set_xlim(f[0], f[-1])
    axes[0, 0].set_title(f"signal {t.this['signal']}, {t.this['from']} to {t.this['to']}",
                         loc="left")
    handles = [artist for ax in (axes[0, 0], axes[1, 0])
               for artist in ax.get_legend_handles_labels()[0]]
    figure.legend(handles, [artist.get_label() for artist in handles],
                  loc="outside lower center", ncols=4)
