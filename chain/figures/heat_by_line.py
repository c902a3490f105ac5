"""A map of the heat of lines at stages: the darker, the more of a stage's cooling power."""

from chain.figures import style
from chain.heat.by_line import ALL, DARK, MAX_ROWS, heat_by_line
from chain.layout.naming import title_of
from chain.writing.numbers import si


@style.styled
def heat_by_line_figure(heat):
    """Return the figure of a Heat line by line: a row a line, a column a stage."""
    from matplotlib.colors import LinearSegmentedColormap

    found = heat_by_line(heat)
    rows, more = found.largest(MAX_ROWS)
    shades = [[found.shade(row, stage) for stage in found.stages] for row in rows]
    colours = LinearSegmentedColormap.from_list("cooling", ["#ffffff", style.RANGE, "#14304d"])
    figure, ax = style.new_figure(height_mm=34.0 + 9.5 * len(rows))
    ax.imshow(shades, cmap=colours, vmin=0.0, vmax=1.0, aspect="auto")
    for y, row in enumerate(rows):
        for x, stage in enumerate(found.stages):
            dark = found.shade(row, stage) > DARK
            ax.text(x, y, "\n".join(found.words(row, stage)), ha="center", va="center",
                    fontsize=6.8, color="#ffffff" if dark else style.INK)
    stages = heat.layout.stages
    ax.set_xticks(range(len(found.stages)), [
        f"{name}\n{si(stages[name].temperature_k, 'K', 3)}" for name in found.stages
    ])
    ax.xaxis.tick_top()
    ax.set_yticks(range(len(rows)), rows)
    ax.tick_params(length=0)
    ax.grid(False)
    ax.set_xticks([x - 0.5 for x in range(1, len(found.stages))], minor=True)
    ax.set_yticks([y - 0.5 for y in range(1, len(rows))], minor=True)
    ax.grid(which="minor", color="#ffffff", linewidth=1.5)
    ax.tick_params(which="minor", length=0)
    ax.axhline(rows.index(ALL) - 0.5, color=style.INK, linewidth=0.8)
    left_out = f"; {more} lines that bring less are left out" if more else ""
    ax.set_title(style.in_lines(
        f"{title_of(heat.layout)}\nheat of each line, and its part of the stage's cooling power: "
        f"the darker, the more{left_out}",
    ), loc="left", pad=10)
    return figure
