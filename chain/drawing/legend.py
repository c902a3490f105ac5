"""The symbols of a layout with the names of their kinds."""

from chain.drawing.picture import FONT
from chain.drawing.spots import ports_of
from chain.drawing.svg import escape, paper, tag, title, wrap
from chain.drawing.symbols import STROKE, SymbolContext, cable_marks, symbol_of

_ACROSS, _CELL, _HEIGHT = 6, 118.0, 76.0


def _kinds(layout):
    kinds = {}
    for element in layout.elements.values():
        kinds.setdefault(element.kind.name, element)
    return kinds


def legend_size(layout, across=_ACROSS):
    """Return (width, height) of the legend of a layout, pixels, so many symbols in a row."""
    count = len(_kinds(layout))
    return _CELL * min(across, max(count, 1)), _HEIGHT * -(-count // across)


def legend(layout, across=_ACROSS):
    """Return an SVG of one symbol for each kind in a layout, with the kind's name.

    `across` symbols stand in a row.
    """
    kinds, parts = _kinds(layout), []
    for place, (name, element) in enumerate(sorted(kinds.items())):
        x = _CELL * (place % across) + _CELL / 2
        y = _HEIGHT * (place // across) + 26
        parts.append(_entry(name, element, x, y))
    width, height = legend_size(layout, across)
    return tag(
        "svg", "\n".join([title("Symbols"), paper(width, height), *parts]),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {width:g} {height:g}", width=width, height=height,
        role="img", font_family=FONT, class_="legend",
    ) + "\n"


def _entry(name, element, x, y):
    at = f"translate({x:g} {y:g})"
    if element.from_stage is not None or not element.ports:
        # What runs between stages is a mark on a wire.
        strokes = tag("path", d="M-20 0L20 0") + "".join(cable_marks(element.kind))
        upright = ""
    else:
        ports = ports_of(element)
        drawn = symbol_of(SymbolContext(element, ports.anchors, ports.reach))
        strokes, upright = "".join(drawn.turned), "".join(drawn.upright)
    words = [
        tag("text", escape(line), x=x, y=y + 34 + 12 * row, font_size=10, text_anchor="middle",
            fill=STROKE)
        for row, line in enumerate(wrap(name, _CELL - 10, 10, most=1))
    ]
    drawing = tag("g", strokes + upright, transform=at, stroke=STROKE, stroke_width=1.4,
                  fill="none")
    return tag("g", title(element.kind.summary) + drawing + "".join(words))
