"""What every figure has in common: size, letters, fills, lines, and how it is saved.

Fills differ in lightness and hatching first and in hue (blue against amber, which no common colour
blindness confuses) second, so a figure can be read in grey.  matplotlib is loaded when the first
figure is drawn.
"""

import functools
import io
import os
import textwrap
from typing import Any

import numpy as np

from chain.errors import LayoutError, Place

FORMATS = (".svg", ".png", ".pdf")
"""Endings of files that a figure can be saved as."""

WIDTH_MM, HEIGHT_MM = 180.0, 120.0
"""Size of a figure by default: the text width of an A4 page."""

DOTS_PER_INCH = 200
"""Resolution of a png."""

NOTEBOOK_DOTS_PER_INCH = 100
"""Resolution of a figure in a notebook."""

POINTS_PER_INCH = 72
"""Resolution at which an svg or a pdf is laid out."""

INK, SOFT, RANGE = "#1a1a1a", "#6e6e6e", "#c3d9ec"
"""Colours of what has to be read, of grids and remarks, of the range that a curve may lie in."""

_MM_PER_INCH = 25.4

_SETTINGS: dict[Any, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 8.0,
    "axes.titlesize": 9.0,
    "axes.labelsize": 8.0,
    "axes.linewidth": 0.7,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.axisbelow": True,
    "axes.grid": True,
    "grid.color": "#d4d4d4",
    "grid.linewidth": 0.4,
    "xtick.labelsize": 7.5,
    "ytick.labelsize": 7.5,
    "xtick.direction": "out",
    "ytick.direction": "out",
    "legend.fontsize": 7.5,
    "legend.frameon": False,
    "legend.handlelength": 2.6,
    "legend.handleheight": 1.1,
    "lines.linewidth": 1.4,
    "lines.markersize": 4.0,
    "hatch.linewidth": 0.5,
    "text.color": INK,
    "svg.hashsalt": "chain",  # the ids inside an svg are then the same every time
    "svg.fonttype": "path",
    "pdf.fonttype": 42,
}

_FILLS = (
    # colour, hatch, colour of hatch and edge: dark and light take turns
    ("#14304d", "", "#0b1c2e"),
    ("#f5c469", "", "#7a5410"),
    ("#5e93c4", "", "#1f4467"),
    ("#fbe6c2", "////", "#7a5410"),
    ("#7d4a12", "", "#43270a"),
    ("#c3d9ec", "....", "#1f4467"),
    ("#2b5680", "\\\\\\\\", "#d7e5f2"),
    ("#f6d08a", "xxx", "#7a5410"),
    ("#8fb4d6", "---", "#14304d"),
    ("#a9702e", "////", "#fdf3e0"),
)

_REST = ("#ffffff", "||||", "#8a8a8a")

MAX_FILLS = len(_FILLS)
"""So many fills can be told apart; what is more goes into a rest."""

_LINES = (
    # colour, dashes, marker
    ("#14304d", "-", "o"),
    ("#c77f0a", (0, (5, 2)), "s"),
    ("#3f77ab", (0, (1, 1.2)), "^"),
    ("#7d4a12", (0, (6, 2, 1, 2)), "D"),
    ("#7fa9cf", (0, (3, 1)), "v"),
    ("#1a1a1a", (0, (8, 2, 1, 2, 1, 2)), "P"),
)

MAX_LINES = len(_LINES)
"""So many curves can be told apart."""


def fill(place):
    """Return how the `place`-th share is filled: facecolor, edgecolor, hatch, linewidth."""
    return _filled(*_FILLS[place % len(_FILLS)])


def rest_fill():
    """Return how what is left over is filled."""
    return _filled(*_REST)


def _filled(colour, hatch, edge):
    return {"facecolor": colour, "hatch": hatch, "edgecolor": edge, "linewidth": 0.4}


def line(place, *, marked=False):
    """Return how the `place`-th curve is drawn: color, linestyle, and a marker where wanted."""
    colour, dashes, marker = _LINES[place % len(_LINES)]
    style = {"color": colour, "linestyle": dashes}
    return {**style, "marker": marker} if marked else style


def limit_line():
    """Return how a limit is drawn: the quantum limit, the cooling of a stage.

    With a light edge, so that it shows on dark fills.
    """
    from matplotlib.patheffects import withStroke

    edge = withStroke(linewidth=3.4, foreground="#ffffff")
    return {
        "color": "#000000", "linestyle": (0, (7, 2.5)), "linewidth": 1.8, "path_effects": [edge],
    }


_LETTER_MM, _PLACES_MM = 1.5, 140.0
"""Width of a letter of a stage's name, and of all places of a figure of the usual width."""


def stage_bands(ax, stages, *, named=True):
    """Shade runs of places on one stage, `stages` one a place, their names above the frame.

    Where names are wider than their runs every other one stands higher.  Returns how far above
    the frame a title has to stand, points.
    """
    runs, start = [], 0
    for place in range(1, len(stages) + 1):
        if place == len(stages) or stages[place] != stages[start]:
            if stages[start]:
                runs.append((stages[start], start, place))
            start = place
    each_mm = _PLACES_MM / max(len(stages), 1)
    crowded = any(len(name) * _LETTER_MM > (end - begin) * each_mm for name, begin, end in runs)
    for number, (name, begin, end) in enumerate(runs):
        if number % 2 == 0:
            ax.axvspan(begin - 0.5, end - 0.5, color="#ececec", linewidth=0, zorder=0)
        if named:
            above = 12 if crowded and number % 2 else 3
            ax.annotate(name, ((begin + end - 1) / 2, 1.0), (0, above),
                        xycoords=("data", "axes fraction"), textcoords="offset points",
                        ha="center", va="bottom", fontsize=7, color=SOFT)
    return 24 if crowded else 15


def in_lines(text, letters=80):
    """Return a heading in lines that a figure of the usual width holds."""
    return "\n".join(textwrap.fill(line, letters) for line in text.split("\n"))


def styled(draw):
    """Let a function that draws do so in this style (decorator)."""

    @functools.wraps(draw)
    def in_style(*arguments, **options):
        import matplotlib

        with matplotlib.rc_context(_SETTINGS):
            return draw(*arguments, **options)

    return in_style


@functools.cache
def _figure_class():
    """Return the class of figures: matplotlib's, which a notebook shows without its pyplot too."""
    from matplotlib.figure import Figure

    class NotebookFigure(Figure):
        def _repr_png_(self):
            out = io.BytesIO()
            self.savefig(out, format="png", dpi=NOTEBOOK_DOTS_PER_INCH)
            return out.getvalue()

    return NotebookFigure


@styled
def new_figure(rows=1, columns=1, *, width_mm=WIDTH_MM, height_mm=HEIGHT_MM, heights=None,
               widths=None, share_x=False):
    """Return (figure, axes): one Axes, or an array of them where there are several.

    `heights` and `widths` are those of rows and columns relative to each other.  Everything is
    laid out so that no label is cut; a legend beside the axes is placed by
    `figure.legend(loc="outside right upper")`.  Artists take their sizes when they are made, so
    a function that adds to the figure is to be `styled` too.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure = _figure_class()(
        figsize=(width_mm / _MM_PER_INCH, height_mm / _MM_PER_INCH), layout="constrained",
    )
    FigureCanvasAgg(figure)
    axes = figure.subplots(
        rows, columns, sharex=share_x, height_ratios=heights, width_ratios=widths,
    )
    return figure, axes


def check_format(path, option="--figure"):
    """Return the ending of a figure's file; raises LayoutError where it is none of FORMATS."""
    ending = os.path.splitext(path)[1].lower()
    if ending not in FORMATS:
        raise LayoutError.at(
            Place(option), f"{path!r} does not say what to write the figure as",
            f"let it end in {', '.join(FORMATS[:-1])} or {FORMATS[-1]}",
        )
    return ending


_NO_DATE = {
    ".svg": {"Date": None, "Creator": None},
    ".pdf": {"CreationDate": None, "Creator": None, "Producer": None},
    ".png": {"Software": None},
}
"""Left out of files, so that the same figure gives the same bytes."""


def _settle(figure, dots_per_inch):
    """Lay a figure out once and for all, axes on a grid of a millionth of its size.

    The layout's solver leaves different last digits from one run to the next; letters are as wide
    as they are at the resolution that the file will have.
    """
    figure.set_dpi(dots_per_inch)
    figure.draw_without_rendering()
    figure.set_layout_engine("none")
    for ax in figure.axes:
        ax.set_position([round(edge, 6) for edge in ax.get_position().bounds])


@styled
def as_bytes(figure, ending):
    """Return a figure as the bytes of a file that ends in `ending`, the same every time."""
    _settle(figure, DOTS_PER_INCH if ending == ".png" else POINTS_PER_INCH)
    out = io.BytesIO()
    figure.savefig(out, format=ending[1:], dpi=DOTS_PER_INCH, metadata=_NO_DATE[ending])
    return out.getvalue()


def figure_file(figure, path, option="--figure"):
    """Return (path, bytes) of a figure as its name's ending says; raises LayoutError for others."""
    return path, as_bytes(figure, check_format(path, option))


FREQUENCY = "frequency (GHz)"
"""Label of every axis of frequency; a unit stands in brackets behind what it is of."""

_WIDE = 20.0
"""Largest over smallest from which a logarithmic axis shows both."""


def wide(*arrays):
    """Tell whether values range so far that the largest, a spike, would flatten the others."""
    known = np.concatenate([np.ravel(values) for values in arrays])
    known = known[np.isfinite(known) & (known > 0)]
    return bool(known.size) and float(known.max()) > _WIDE * float(known.min())


def highest(*arrays):
    """Return the largest number of arrays that is known; one where none is."""
    known = [values[np.isfinite(values)] for values in map(np.ravel, arrays)]
    return max((float(values.max()) for values in known if values.size), default=1.0)
