"""How far tolerances and unknown phases spread gain and noise over frequency."""

from chain.figures import style
from chain.layout.naming import title_of

_AXES = {
    "gain_db": "gain, dB", "system_noise_quanta": "system noise, quanta",
    "noise_at_to_quanta": "output noise, quanta",
}


def spread_figure(spread):
    """Return the figure of a Spread: the median, and what 90 of 100 realisations show."""
    names = [name for name in ("gain_db", "system_noise_quanta") if name in spread.quantities]
    names = names or ["noise_at_to_quanta"]
    figure, axes = style.new_figure(len(names), share_x=True, height_mm=55.0 + 45.0 * len(names))
    _draw(spread, names, [axes] if len(names) == 1 else list(axes))
    return figure


@style.styled
def _draw(spread, names, axes):
    f = spread.frequency_hz / 1e9
    for name, ax in zip(names, axes, strict=True):
        found = spread.quantities[name]
        marked = len(f) == 1
        if marked:
            ax.errorbar(f, found.p50, yerr=[found.p50 - found.p05, found.p95 - found.p50],
                        label="median, 5 % to 95 %", color=style.INK, marker="o", capsize=4)
        else:
            ax.fill_between(f, found.p05, found.p95, color=style.RANGE, linewidth=0,
                            label="5 % to 95 % of the draws")
            ax.plot(f, found.p50, label="median", **style.line(0))
            ax.set_xlim(f[0], f[-1])
        ax.set_ylabel(_AXES[name])
    axes[-1].set_xlabel("frequency, GHz")
    axes[0].set_title(f"{title_of(spread.layout)} · {spread.signal}: {spread.draws} draws of "
                      f"{spread.values} toleranced values", loc="left")
    axes[0].legend(loc="best")
