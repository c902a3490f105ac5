"""Two budgets of one signal laid over each other."""

import numpy as np

from chain.figures import style
from chain.figures.budget import refuse_unknown
from chain.layout.naming import title_of


def comparison_figure(c):
    """Return the figure of a Comparison: system noise above, gain below, both layouts in each.

    Raises LayoutError where one of them is not known anywhere.
    """
    for budget in (c.a, c.b):
        refuse_unknown(budget)
    rows = 1 if c.gain_change_db is None else 2
    figure, axes = style.new_figure(rows, share_x=True, height_mm=80 * rows)
    _draw(c, [axes] if rows == 1 else axes)
    return figure


@style.styled
def _draw(c, axes):
    f = c.frequency_hz / 1e9
    label = "; ".join(c.changed) or "B"
    label = label if len(label) <= 60 else f"{label[:57]}..."
    curves = [("A", c.noise_a_quanta, c.a.gain_db), (label, c.noise_b_quanta, c.b.gain_db)]
    for place, (name, noise, gain) in enumerate(curves):
        axes[0].plot(f, noise, label=name, **style.line(place))
        if gain is not None:
            axes[1].plot(f, gain, **style.line(place))
    high = style.highest(c.noise_a_quanta, c.noise_b_quanta)
    if c.gain_change_db is not None:
        axes[0].axhline(1.0, label="quantum limit", **style.limit_line())
        axes[1].set_ylabel("gain (dB)")
    if style.wide(c.noise_a_quanta, c.noise_b_quanta, np.ones(1)):
        axes[0].set_yscale("log")
        axes[0].margins(y=0.1)
        axes[0].yaxis.set_major_formatter("{x:g}")
    else:
        axes[0].set_ylim(0, 1.1 * high)
    axes[0].set_ylabel("system noise (quanta)")
    title = title_of(c.a.layout)
    axes[0].set_title(style.in_lines(f"{title}: {c.signal}"), loc="left")
    axes[0].legend(loc="best")
    axes[-1].set_xlabel(style.FREQUENCY)
    axes[-1].set_xlim(f[0], f[-1] if len(f) > 1 else f[0] + 1)
