"""A table as a figure: of results whose answer is words, one row beside the other."""

import textwrap

from chain.figures import style

MAX_LINES = 24
"""Rows that are drawn; what is more is counted."""

WIDEST = 44
"""Letters of a cell on one line."""

_ROW_MM, _WIDTH_MM = 4.4, 260.0


@style.styled
def table_figure(table, title):
    """Return the figure of a TextTable under a title, its longest cells wrapped."""
    figure, ax = style.new_figure(width_mm=_WIDTH_MM, height_mm=20.0)
    ax.set_axis_off()
    ax.set_title(textwrap.fill(title, 120), loc="left")
    left_out = max(0, len(table.rows) - MAX_LINES)
    heads = [heading.replace("\n", " ") for heading in table.headings]
    rows = [
        [textwrap.fill(cell, WIDEST) for cell in row]
        for row in table.rows[:MAX_LINES] if len(row) == len(heads)
    ]
    if not rows:
        ax.text(0.0, 0.5, "nothing to list", transform=ax.transAxes, color=style.SOFT)
        return figure
    widths = [max(len(line) for cell in column for line in cell.split("\n")) + 2
              for column in zip(heads, *rows, strict=True)]
    deep = [1 + max(cell.count("\n") for cell in row) for row in [heads, *rows]]
    drawn = ax.table(
        cellText=rows, colLabels=heads, cellLoc="left", colLoc="left", loc="upper left",
        edges="horizontal", colWidths=[width / sum(widths) for width in widths], bbox=[0, 0, 1, 1],
    )
    drawn.auto_set_font_size(False)
    for (row, _), cell in drawn.get_celld().items():
        cell.set_height(deep[row] / sum(deep))
        cell.set_linewidth(0.4)
        cell.set_edgecolor(style.SOFT)
        cell.get_text().set_fontsize(7.0)
        if row == 0:
            cell.get_text().set_fontweight("bold")
    figure.set_size_inches(_WIDTH_MM / 25.4, (14.0 + _ROW_MM * sum(deep)) / 25.4)
    if left_out:
        ax.set_xlabel(f"and {left_out} more")
    return figure
