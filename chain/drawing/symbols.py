"""One symbol a family of kinds, after IEC 60617 and IEEE 315 as held from memory, or a plain box.

A symbol is drawn lying: waves come in from the left at (-reach, 0), go on to the right at
(reach, 0), and further ports lie below, at y = SIDE.  `turned` parts follow the line when it runs
down or up the page, `upright` ones stay as they are read.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from chain.drawing.svg import number, path, tag

if TYPE_CHECKING:
    from chain.layout.layout import Element

REACH = 20.0
"""Half the length of a symbol, leads included."""
SIDE = 20.0
"""Distance of a side port from the line."""
BODY, HALF = 14.0, 13.0
"""Half the length and half the breadth of what is between the leads."""
LOAD = 25.0
"""Length of a load, from the beginning of its resistor to the end of its ground."""
STROKE = "#1c1c1c"


@dataclass(frozen=True)
class SymbolContext:
    """What a symbol needs to know of its element."""

    element: Element
    anchors: Mapping[str, tuple[float, float]]
    """Where each drawn port lies, lying symbol; ports on the line have y = 0."""
    reach: float

    @property
    def body(self):
        """Half the length of the body."""
        return self.reach - (REACH - BODY)

    def setting(self, name):
        """Return a value of the element, or None where its kind has no such parameter."""
        settings = self.element.settings
        return settings[name] if name in self.element.kind.declared() else None


@dataclass
class Symbol:
    """A drawn symbol: SVG that turns with the line, SVG that stays upright."""

    turned: list
    upright: list


SYMBOLS = {}


def symbol(*names):
    """Register the symbol of kinds (or of `Kind.symbol`)."""

    def register(function):
        for name in names:
            SYMBOLS[name] = function
        return function

    return register


def symbol_of(context):
    """Return the Symbol of an element: leads to every port, and the body."""
    kind = context.element.kind
    draw = SYMBOLS.get(kind.symbol, _plain)
    return draw(context)


# -- pieces -------------------------------------------------------------------------------------


def line(x1, y1, x2, y2):
    """Return a straight stroke."""
    return tag("path", d=path([(x1, y1), (x2, y2)]))


def _rect(context, fill="#fff"):
    return tag("rect", x=-context.body, y=-HALF, width=2 * context.body, height=2 * HALF, fill=fill)


def _circle(x, y, r, fill="#fff"):
    return tag("circle", cx=x, cy=y, r=r, fill=fill)


def word(text, x=0.0, y=3.5, size=10):
    """Return upright text in a symbol; (x, y) is the middle of its base line."""
    return tag("text", text, x=x, y=y, font_size=size, text_anchor="middle", fill=STROKE,
               stroke="none")


def _arrow(x1, y1, x2, y2, size=4.0):
    """Return an arrow with an open head."""
    angle = math.atan2(y2 - y1, x2 - x1)
    barbs = [
        (x2 - size * math.cos(angle + turn), y2 - size * math.sin(angle + turn))
        for turn in (0.5, -0.5)
    ]
    head = tag("path", d=path([barbs[0], (x2, y2), barbs[1]]), fill="none")
    return line(x1, y1, x2, y2) + head


def _leads(context, inner=None, side_inner=HALF):
    inner = context.body if inner is None else inner
    strokes = []
    for x, y in context.anchors.values():
        if y:
            strokes.append(line(x, side_inner, x, y))
        else:
            strokes.append(line(math.copysign(inner, x), 0, x, 0))
    return strokes


def _boxed(context, *inside, text=""):
    upright = [word(text)] if text else []
    return Symbol([*_leads(context), _rect(context), *inside], upright)


def _plain(context):
    """A plain box with the first letters of the kind's name."""
    return _boxed(context, text=context.element.kind.name[:3])


# -- ends ---------------------------------------------------------------------------------------


@symbol("port")
def _port(context):
    return Symbol([*_leads(context, 7), _circle(0, 0, 7), _circle(0, 0, 2, STROKE)], [])


@symbol("termination")
def _termination(context):
    return Symbol([*_leads(context, 10), *load(-10)], [])


def load(start):
    """Return a resistor to ground that begins at x = `start` and runs to the right."""
    body = tag("rect", x=start, y=-4.5, width=15, height=9, fill="#fff")
    at = start + 19
    bars = [line(at + step, -half, at + step, half) for step, half in ((0, 7), (3, 4.5), (6, 2))]
    return [body, line(start + 15, 0, at, 0), *bars]


# -- two ports ----------------------------------------------------------------------------------


@symbol("attenuator")
def _attenuator(context):
    return _boxed(context, text="dB")


@symbol("amplifier")
def _amplifier(context):
    return Symbol([*_leads(context, 13), _triangle()], [])


def _triangle():
    return tag("path", d=path([(-13, -14), (14, 0), (-13, 14)]) + "Z", fill="#fff")


@symbol("paramp")
def _paramp(context):
    return Symbol([*_leads(context, 13, side_inner=5), _triangle(), line(-9, -12, -9, 12)], [])


@symbol("isolator")
def _isolator(context):
    return _boxed(context, _arrow(-9, 0, 9, 0))


@symbol("cable")
def _jumper(context):
    ring = _circle(0, 0, 6, "none")
    return Symbol([line(-context.reach, 0, context.reach, 0), ring], [])


@symbol("dc-block")
def _dc_block(context):
    return Symbol([*_leads(context, 2.5), *_plates(0)], [])


def _plates(x):
    return [line(x - 2.5, -9, x - 2.5, 9), line(x + 2.5, -9, x + 2.5, 9)]


_STRUCK = {
    "low-pass": (0, 1), "high-pass": (1, 2), "band-pass": (0, 2), "band-stop": (1,), "notch": (1,),
}


@symbol("filter")
def _filter(context):
    return Symbol([*_leads(context), _rect(context)], waves(context.setting("shape")))


def waves(shape):
    """Return three waves, high to low, those that do not pass struck out."""
    strokes = []
    for row in range(3):
        y = -7 + 7 * row
        d = f"M-8 {number(y)}q4 -5 8 0t8 0"
        strokes.append(tag("path", d=d, fill="none", stroke_width=1.1))
        if row in _STRUCK.get(shape, ()):
            strokes.append(tag("path", d=path([(-3, y + 3.5), (3, y - 3.5)]), stroke_width=1.1))
    return strokes


@symbol("cavity")
def _cavity(context):
    ring = tag("ellipse", cx=0, cy=0, rx=8, ry=8, fill="none")
    return _boxed(context, ring, line(-context.body, 0, -8, 0), line(8, 0, context.body, 0))


@symbol("infrared-filter")
def _infrared(context):
    return _boxed(context, text="IR")


@symbol("device")
def _device(context):
    inner = tag("rect", x=-context.body + 3, y=-HALF + 3, width=2 * context.body - 6,
                height=2 * HALF - 6, fill="none")
    return _boxed(context, inner)


@symbol("measured")
def _measured(context):
    return _boxed(context, text="S")


# -- more ports ---------------------------------------------------------------------------------


@symbol("coupler")
def _coupler(context):
    a = context.anchors
    pairs = [("in", "out"), ("coupled", "isolated")]
    rails = [_rail(a[one], a[other]) for one, other in pairs if one in a and other in a]
    cross = [line(-6, 0, 6, 9), line(6, 0, -6, 9)]
    return Symbol([_rect(context), *rails, *cross], [])


def _rail(start, end):
    """Return the stroke through a coupler from one port to another."""
    (x1, y1), (x2, y2) = start, end
    if y1 and y2:
        return tag("path", d=path([(x1, y1), (x1, 9), (x2, 9), (x2, y2)]), fill="none")
    if y1 or y2:
        bent = (x1, y2 and 0.0) if y1 else (x2, 0.0)
        return tag("path", d=path([(x1, y1), bent, (x2, y2)]), fill="none")
    return line(x1, 0, x2, 0)


@symbol("hybrid")
def _hybrid(context):
    cross = [line(-8, -8, 8, 8), line(-8, 8, 8, -8)]
    return _boxed(context, *cross)


@symbol("circulator")
def _circulator(context):
    angles = [math.degrees(math.atan2(y, x)) % 360 for x, y in (
        context.anchors[port] for port in ("1", "2", "3") if port in context.anchors
    )]
    clockwise = len(angles) < 3 or (angles[1] - angles[0]) % 360 < (angles[2] - angles[0]) % 360
    start, end = (200, 340) if clockwise else (340, 200)
    r, tip = 7, math.radians(end)
    x1, y1 = r * math.cos(math.radians(start)), r * math.sin(math.radians(start))
    x2, y2 = r * math.cos(tip), r * math.sin(tip)
    arc = tag("path", d=f"M{number(x1)} {number(y1)}A{r} {r} 0 0 {int(clockwise)} "
              f"{number(x2)} {number(y2)}", fill="none")
    along = tip + (math.pi / 2 if clockwise else -math.pi / 2)
    back = _arrow(x2 - math.cos(along), y2 - math.sin(along), x2, y2)
    return Symbol([*_leads(context, HALF), _circle(0, 0, HALF), arc, back], [])


def _fork(context, common):
    """Return strokes from one port to every other, inside the body."""
    x, y = context.anchors.get(common, (-context.reach, 0.0))
    root = (math.copysign(context.body, x), 0) if not y else (x, HALF)
    strokes = []
    for port, (px, py) in context.anchors.items():
        if port != common:
            end = (px, HALF) if py else (math.copysign(context.body, px), 0)
            strokes.append(line(*root, *end))
    return strokes


@symbol("splitter")
def _splitter(context):
    return _boxed(context, *_fork(context, "common"))


@symbol("diplexer")
def _diplexer(context):
    return _boxed(context, *_fork(context, "common"))


@symbol("bias-tee")
def _bias_tee(context):
    x = math.copysign(7, context.anchors.get("rf", (-1, 0))[0])
    a, b = sorted((x - 2.5, x + 2.5))
    through = [line(-context.body, 0, a, 0), line(b, 0, context.body, 0)]
    plates = [line(at, -6, at, 6) for at in (a, b)]
    coil = tag("path", d=f"M0 0v2q5 2 0 4q5 2 0 4v{number(HALF - 10)}", fill="none")
    return _boxed(context, *through, *plates, coil)


@symbol("switch")
def _switch(context):
    dots, ends = [], {}
    for port, (x, y) in context.anchors.items():
        ends[port] = (x, 9.0) if y else (math.copysign(context.body - 5, x), 0.0)
        dots.append(_circle(ends[port][0], ends[port][1], 2))
    strokes = [line(x, 10, x, y) if y else line(math.copysign(context.body - 4, x), 0, x, 0)
               for x, y in context.anchors.values()]
    chosen = context.setting("position")
    blade = []
    if "common" in ends and chosen in ends:
        blade.append(line(*ends["common"], *ends[chosen]))
    return Symbol([_rect(context), *strokes, *blade, *dots], [])


# -- what runs between stages -------------------------------------------------------------------


def cable_marks(kind):
    """Return the mark on a wire that says what runs there, upright, at its middle."""
    if kind.symbol == "loom":
        return [line(-6, 4, 6, -4)]
    if kind.symbol == "fibre":
        return [_circle(0, 0, 6, "#fff"), _arrow(-3, 3, 3, -3, 3)]
    return [_circle(0, 0, 5, "none")]
