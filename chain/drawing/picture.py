"""A placed drawing as SVG text."""

from chain.drawing.labels import LEADING, PORT_SIZE, element_title
from chain.drawing.svg import escape, number, paper, path, tag, title, wrap
from chain.drawing.symbols import STROKE, SymbolContext, cable_marks, load, symbol_of
from chain.drawing.wires import crossings

FAINT = "#6f6f6f"
INK, GREY = "#1c1c1c", "#4a4a4a"
HOP = 4.0
FONT = "system-ui, sans-serif"


def shade(place, count):
    """Return the fill of a stage's band: white where it is warm, a grey blue where it is cold."""
    part = place / max(count - 1, 1)
    red, green, blue = (round(255 - part * drop) for drop in (38, 30, 20))
    return f"#{red:02x}{green:02x}{blue:02x}"


class Picture:
    """Writes a Sheet and its Wiring as SVG."""

    def __init__(self, layout, placing, wiring, id_text):
        self.layout, self.placing, self.wiring = layout, placing, wiring
        self.sheet, self.id_text = placing.sheet, id_text

    def svg(self, heading, description, headers):
        """Return the whole SVG; `headers` are the texts above lines, by line name."""
        width, height = round(self.sheet.width), round(self.sheet.height)
        parts = [
            title(heading), tag("desc", description), paper(width, height), self._bands(width),
            self._wires(), self._anchors(), self._marks(), self._symbols(), self._labels(),
            self._stubs(), self._headers(headers),
        ]
        return tag(
            "svg", "\n".join(part for part in parts if part),
            xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {width} {height}", width=width,
            height=height, role="img", font_family=FONT, class_="drawing",
        ) + "\n"

    def _bands(self, width):
        found = []
        count = len(self.sheet.bands)
        for place, band in enumerate(self.sheet.bands):
            found.append(tag("rect", x=2, y=band.top, width=width - 4,
                             height=band.bottom - band.top, fill=shade(place, count),
                             stroke="#b4b4b4", stroke_width=0.8))
            lines = self.placing.stage_lines(place)
            y = (band.top + band.bottom) / 2 - LEADING * len(lines) / 2
            found += self._text(lines, 10, y, "start", INK)
        return "\n".join(found)

    @staticmethod
    def _text(lines, x, y, anchor, fill):
        return [
            tag("text", escape(text), x=x, y=y + LEADING * place + LEADING - 3, font_size=size,
                font_weight="bold" if bold else None, text_anchor=anchor, fill=fill)
            for place, (text, size, bold) in enumerate(lines)
        ]

    # -- wires ----------------------------------------------------------------------------------

    def _wires(self):
        wires = self.wiring.wires
        hops = crossings(wires)
        drawn = []
        for index, wire in enumerate(wires):
            drawn.append(tag(
                "path", d=_with_hops(wire, index, hops), fill="none",
                stroke=FAINT if wire.faint else STROKE, stroke_width=1.4,
                stroke_dasharray="5 3" if wire.dashed else None,
            ))
        return "\n".join(drawn)

    def _anchors(self):
        """Draw where cables are anchored between their ends."""
        found = []
        bands = {band.name: band for band in self.sheet.bands}
        for cable, x, _ in self.sheet.spans.values():
            for stage, _ in cable.via:
                band = bands[stage]
                y = (band.top + band.bottom) / 2
                mark = tag("rect", x=x - 4, y=y - 2.5, width=8, height=5, fill=STROKE)
                said = title(f"{self.id_text(cable.id)}: anchored at {stage}")
                found.append(tag("g", said + mark))
        return "\n".join(found)

    def _marks(self):
        """Draw what runs between stages, on its wire."""
        found = []
        for (place, _), (cable, x, y) in self.sheet.spans.items():
            faint = self.sheet.columns[place].depth > 0
            said = title(element_title(self.layout, cable, self.id_text(cable.id)))
            # A bare wire is hard to point at.
            target = tag("rect", x=-8, y=-12, width=16, height=24, fill="#fff",
                         fill_opacity=0, stroke="none")
            strokes = "".join(cable_marks(cable.kind))
            found.append(tag(
                "g", said + tag("g", target + strokes, transform=_shift(x, y)),
                fill="none", stroke=FAINT if faint else STROKE, stroke_width=1.3,
            ))
        return "\n".join(found)

    # -- symbols --------------------------------------------------------------------------------

    def _symbols(self):
        return "\n".join(self._symbol(spot) for spot in self.sheet.spots.values())

    def _symbol(self, spot):
        element = spot.element
        drawn = symbol_of(SymbolContext(element, spot.ports.anchors, spot.ports.reach))
        a, b, c, d = spot.matrix
        turn = f"matrix({a} {b} {c} {d} {number(spot.x)} {number(spot.y)})"
        frame = "" if element.settings["state"] == "ok" else _frame(spot.box)
        return tag(
            "g",
            title(element_title(self.layout, element, self.id_text(element.id)))
            + tag("g", "".join(drawn.turned), transform=turn)
            + (tag("g", "".join(drawn.upright), transform=_shift(spot.x, spot.y))
               if drawn.upright else "")
            + frame + "".join(self._side_ports(spot)),
            stroke=FAINT if spot.faint else STROKE, stroke_width=1.4, fill="none",
        )

    def _side_ports(self, spot):
        """Draw the names of ports off the line, and the loads on them."""
        loads = spot.element.settings["loads"] or ()
        for port in spot.ports.sides:
            x, y = spot.at(port)
            dx, dy = spot.faces(port)
            if port in loads:
                turn = f"matrix({dx} {dy} {-dy} {dx} {number(x)} {number(y)})"
                said = title(f"{self.id_text(spot.element.id)}.{port}: matched load")
                lead = spot.lead_to_load(port)
                strokes = f'<path d="M0 0L{number(lead)} 0"/>{"".join(load(lead))}'
                yield tag("g", said + tag("g", strokes, transform=turn))
            if dy == 0:
                yield _small(port, x + 3 * dx, y - 3, dx)
            else:
                yield _small(port, x + 4, y + 4 * dy + 3, 1)

    def _labels(self):
        found = []
        for label in self.sheet.labels:
            anchor = {-1: "end", 0: "middle", 1: "start"}[label.side]
            fill = FAINT if label.faint else INK
            found += self._text(label.lines, label.x, label.y, anchor, fill)
        return "\n".join(found)

    def _stubs(self):
        """Draw the words where a joint is not drawn."""
        found = []
        for port, text in self.wiring.stubs.items():
            stub = self.wiring.stub(port, text)
            if stub is not None:
                found.append(_stub(stub, text))
        return "\n".join(found)

    def _headers(self, headers):
        found = []
        for column in self.sheet.columns:
            if not column.first or column.line not in headers:
                continue
            text, also = headers[column.line]
            room = column.left + column.right - 4
            middle = column.x + (column.right - column.left) / 2
            lines = [(t, 12, True) for t in wrap(text, room, 12, most=1 if also else 2, bold=True)]
            lines += [(t, 10, False) for t in wrap(also, room, 10, most=1)] if also else []
            fill = FAINT if column.depth > 0 else INK
            words = "".join(self._text(lines, middle, 10, "middle", fill))
            found.append(tag("g", title(f"line {text} {also}".strip()) + words))
        return "\n".join(found)


def _stub(stub, text):
    words = [
        tag("text", escape(line), x=stub.x, y=stub.y + 11 * place, font_size=PORT_SIZE,
            text_anchor="start" if stub.outward > 0 else "end", fill=GREY)
        for place, line in enumerate(stub.lines)
    ]
    stroke = tag("path", d=path([stub.start, stub.tip]), stroke=STROKE, stroke_width=1.4,
                 fill="none")
    return tag("g", title(text) + stroke + _head(stub.tip, stub.facing) + "".join(words))


def _shift(x, y):
    return f"translate({number(x)} {number(y)})"


def _frame(box):
    """Return a dashed frame round a symbol that is not in working order."""
    left, top, right, bottom = box
    return tag("rect", x=left - 3, y=top - 1, width=right - left + 6, height=bottom - top + 2,
               stroke_dasharray="3 2", stroke_width=1)


def _small(text, x, y, side):
    return tag("text", escape(text), x=x, y=y, font_size=PORT_SIZE, fill=GREY, stroke="none",
               text_anchor="start" if side > 0 else "end")


def _head(tip, facing):
    (x, y), (dx, dy) = tip, facing
    a = (x - 5 * dx + 3 * dy, y - 5 * dy + 3 * dx)
    b = (x - 5 * dx - 3 * dy, y - 5 * dy - 3 * dx)
    d = f"M{number(a[0])} {number(a[1])}L{number(x)} {number(y)}L{number(b[0])} {number(b[1])}"
    return tag("path", d=d, stroke=STROKE, stroke_width=1.4, fill="none")


def _with_hops(wire, index, hops):
    """Return the path of a wire, with a small bow over each wire that it passes."""
    first = wire.points[0]
    d = [f"M{number(first[0])} {number(first[1])}"]
    for place, (one, other) in enumerate(zip(wire.points, wire.points[1:], strict=False)):
        at = hops.get((index, place), [])
        forward = other[0] >= one[0]
        for x in at if forward else reversed(at):
            near, far = (x - HOP, x + HOP) if forward else (x + HOP, x - HOP)
            d.append(f"L{number(near)} {number(one[1])}A{number(HOP)} {number(HOP)} 0 0 "
                     f"{int(forward)} {number(far)} {number(one[1])}")
        d.append(f"L{number(other[0])} {number(other[1])}")
    return "".join(d)
