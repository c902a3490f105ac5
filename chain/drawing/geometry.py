"""From rows and columns to pixels: the bands, the spots, the labels."""

from dataclasses import dataclass, field
from itertools import pairwise

from chain.drawing.columns import in_order
from chain.drawing.labels import (
    ID_SIZE,
    LABEL_WIDTH,
    LEADING,
    PORT_SIZE,
    VALUE_SIZE,
    label_lines,
)
from chain.drawing.rows import ROW, Rows, size_of
from chain.drawing.spots import DOWN, LEFT, RIGHT, UP, Spot, ports_of
from chain.drawing.stubs import stub_length
from chain.drawing.svg import text_width, wrap
from chain.drawing.symbols import LOAD

MARGIN, TOP, PAD, SLIM, GAP, TURN, WORDS = 84.0, 40.0, 5.0, 26.0, 14.0, 22.0, 16.0
"""Pixels: stage names at the left, line names at the top, inside a band, a band without elements,
between bands, room for the turn of a line below a band's rows, room there for a joint in words."""
BESIDE = 24.0
"""Distance of a label from its symbol's middle."""
LANE = 14.0
"""Free room to either side of a column."""


@dataclass
class Label:
    """Lines of text; `side` -1: they end at x, 1: they begin there, 0: x is their middle."""

    lines: list
    x: float
    y: float
    side: int
    faint: bool = False

    @property
    def box(self):
        """(left, top, right, bottom)."""
        width = max((text_width(t, size, bold=bold) for t, size, bold in self.lines), default=0.0)
        left = self.x - {-1: width, 0: width / 2, 1: 0.0}[self.side]
        return left, self.y, left + width, self.y + LEADING * len(self.lines)


@dataclass
class Band:
    """A stage on the page."""

    name: str
    top: float
    bottom: float


@dataclass
class Sheet:
    """A drawing before its wires: everything in its place."""

    plans: list
    columns: list
    bands: list[Band] = field(default_factory=list)
    spots: dict = field(default_factory=dict)
    """Spot by element id."""
    spans: dict = field(default_factory=dict)
    """{(column index, span index): (cable, x, y of its mark)}."""
    labels: list[Label] = field(default_factory=list)
    width: float = 0.0
    height: float = 0.0
    rows: Rows | None = None


class Placing:
    """Works out a Sheet for plans; `id_text` says what an element is called on the page."""

    def __init__(self, layout, plans, id_text, also, stubs):
        self.layout, self.id_text, self.also, self.stubs = layout, id_text, also, stubs
        self.stages = list(layout.stages) or [""]
        self.rows = Rows(plans, len(self.stages))
        self.sheet = Sheet(plans, [], rows=self.rows)
        self._place_rows(plans)
        for plan in plans:
            self.sheet.columns += in_order(plan, self._height_of)
        self._find_turn_rows()
        self._find_word_rows()
        self._span_labels = self._write_span_labels()
        self._place_bands()
        self._place_columns()
        self._place_spots()
        self._place_span_labels()

    # -- rows first -----------------------------------------------------------------------------

    def _place_rows(self, plans):
        """Make every Spot, with its height in rows of its band for the time being."""
        for plan in plans:
            for one in plan.walk():
                for column in one.columns:
                    self._make_spots(column)

    def _make_spots(self, column):
        leg = column.leg
        flow = DOWN if leg.down else UP
        for run in leg.runs:
            for element in run.stops:
                spot = Spot(element, run.stage, ports_of(element), flow, column.outward)
                if column.beside:
                    spot.flow = RIGHT if column.outward > 0 else LEFT
                spot.label_side = column.outward if column.beside else -column.outward
                spot.faint = column.depth > 0
                line = self.layout.lines[column.line].elements
                spot.flipped = (
                    element.id == line[0] and len(line) > 1 and element.enter == element.leave
                )
                spot.y = self.rows.middle(element.id) * ROW
                self.sheet.spots[element.id] = spot

    def _height_of(self, port):
        spot = self.sheet.spots.get(port[0])
        if spot is None:
            return 0.0
        return spot.stage * 1e5 + spot.at(port[1])[1]

    def _find_turn_rows(self):
        """Note the bands in which a line turns at the bottom or at the top."""
        self._turn_below, self._turn_above = set(), set()
        for column in self.sheet.columns:
            if column.leg.turns:
                side = self._turn_below if column.leg.down else self._turn_above
                side.add(column.leg.runs[-1].stage)

    def _find_word_rows(self):
        """Note the bands at whose bottom or top a line ends in words: they need room there."""
        self._words_below, self._words_above = set(), set()
        for key, port in self.stubs:
            spot = self.sheet.spots.get(key)
            if spot is None or port not in spot.ports.anchors:
                continue
            down, row = spot.faces(port)[1], self.rows.row(key)
            if down > 0 and row + size_of(spot.element) == self.rows.height[spot.stage]:
                self._words_below.add(spot.stage)
            elif down < 0 and row == 0:
                self._words_above.add(spot.stage)

    # -- down the page --------------------------------------------------------------------------

    def _write_span_labels(self):
        """Return the text of every cable that runs between stages, and where it leaves."""
        written = {}
        for place, column in enumerate(self.sheet.columns):
            for index, span in enumerate(column.leg.spans):
                if span.cable is None:
                    continue
                lines = label_lines(span.cable, self.id_text(span.cable.id))
                gap = span.start if span.down else span.start - 1
                written[place, index] = (span, gap, lines)
        return written

    def _place_bands(self):
        needed = [GAP] * len(self.stages)
        for _, gap, lines in self._span_labels.values():
            needed[gap] = max(needed[gap], LEADING * len(lines) + 10)
        y = TOP
        for place, name in enumerate(self.stages):
            height = self._band_height(place)
            self.sheet.bands.append(Band(name, y, y + height))
            y += height + (needed[place] if place < len(self.stages) - 1 else 0)
        self.sheet.height = y + 8

    def _band_height(self, place):
        turns = TURN * ((place in self._turn_below) + (place in self._turn_above))
        rows = self.rows.height[place]
        words = WORDS * ((place in self._words_below) + (place in self._words_above))
        height = 2 * PAD + rows * ROW + turns + words if rows or turns else SLIM
        return max(height, LEADING * len(self.stage_lines(place)) + 6)

    def stage_lines(self, place):
        """Return [(text, size, bold)] of a stage's name and temperature."""
        from chain.writing.numbers import si

        name = self.stages[place]
        if not name:
            return []
        lines = [(t, ID_SIZE, True) for t in wrap(name, MARGIN - 16, ID_SIZE, most=3, bold=True)]
        kelvin = self.layout.stages[name].temperature_k
        return [*lines, (si(kelvin, "K"), VALUE_SIZE, False)]

    def row_top(self, stage, row):
        """Return the y of the top of a row."""
        band = self.sheet.bands[stage]
        above = TURN * (stage in self._turn_above) + WORDS * (stage in self._words_above)
        return band.top + PAD + above + row * ROW

    # -- across the page ------------------------------------------------------------------------

    def _place_columns(self):
        x = MARGIN
        for column in self.sheet.columns:
            self._measure(column)
        self._widen_turns()
        for column in self.sheet.columns:
            x += column.left
            column.x = x
            x += column.right
        self.sheet.width = x + 4

    def _measure(self, column):
        """Work out how much room a column needs to the left and to the right of its line."""
        inner, outer = LANE, LANE
        for run in column.leg.runs:
            for element in run.stops:
                spot = self.sheet.spots[element.id]
                width = self._label_width(element)
                if column.beside:
                    outer = max(outer, BESIDE + width + 6)
                else:
                    inner = max(inner, BESIDE + width + 6)
                outer = max(outer, self._side_room(spot))
        place = self.sheet.columns.index(column)
        for index, span in enumerate(column.leg.spans):
            if (place, index) in self._span_labels and span.cable is not None:
                inner = max(inner, 12 + _widest(self._span_labels[place, index][2]) + 6)
        outer = max(outer, 18.0, self._end_room(column))
        column.left, column.right = (inner, outer) if column.outward > 0 else (outer, inner)
        if column.first:
            # The line's name stands above its first leg.
            short = 64.0 - (column.left + column.right)
            if short > 0:
                column.right += short

    def _widen_turns(self):
        """Leave room for what stands between two legs."""
        columns = self.sheet.columns
        for one, other in pairwise(columns):
            turn = one.leg.turn or other.leg.turn
            if one.line == other.line and turn is not None:
                needed = max(2 * ports_of(turn).reach + 24, self._label_width(turn) + 16)
                one.right += max(0.0, needed - one.right - other.left)

    def _end_room(self, column):
        """Return the room that words at the ends of a line need, outward."""
        line = self.layout.lines[column.line]
        room = 0.0
        for wanted, key, side in (
            (column.first, line.elements[0], "enter"), (column.last, line.elements[-1], "leave"),
        ):
            element = self.layout.elements[key]
            text = self.stubs.get((key, getattr(element, side)))
            if wanted and text:
                room = max(room, 12 + min(text_width(text, PORT_SIZE), LABEL_WIDTH) + 8)
        return room

    def _label_width(self, element):
        return _widest(label_lines(element, self.id_text(element.id), self.also(element)))

    def _side_room(self, spot):
        """Return the room that the side ports of an element need, outward."""
        room = 22.0
        for port in spot.ports.sides:
            room = max(room, 22 + text_width(port, PORT_SIZE) + 6)
            if port in (spot.element.settings["loads"] or ()):
                room = max(room, 22 + spot.lead_to_load(port) + LOAD + 6)
            text = self.stubs.get((spot.element.id, port))
            if text:
                words = min(text_width(text, PORT_SIZE), LABEL_WIDTH)
                room = max(room, 22 + stub_length(port) + words + 8)
        return room

    def _place_spots(self):
        for column in self.sheet.columns:
            for run in column.leg.runs:
                for element in run.stops:
                    spot = self.sheet.spots[element.id]
                    spot.x = column.x
                    row = self.rows.row(element.id)
                    spot.y = self.row_top(run.stage, row) + size_of(element) * ROW / 2
        for plan in self.sheet.plans:
            for one in plan.walk():
                if one.port is not None and one.near.beside:
                    host = self.sheet.spots[one.port[0]]
                    self.sheet.spots[one.near_run[0].id].y = host.at(one.port[1])[1]
        self._place_turns()
        for spot in self.sheet.spots.values():
            self.sheet.labels.append(self._label(spot))

    def _place_turns(self):
        """Place what stands where a line turns, between its two legs."""
        for plan in self.sheet.plans:
            for one in plan.walk():
                for here, ahead in pairwise(one.columns):
                    if here.leg.turn is not None:
                        self._place_turn(here, ahead)

    def _place_turn(self, here, ahead):
        element, stage = here.leg.turn, here.leg.runs[-1].stage
        flow = RIGHT if ahead.x > here.x else LEFT
        spot = Spot(element, stage, ports_of(element), flow, 1, label_side=0)
        spot.faint = here.depth > 0
        spot.x, spot.y = (here.x + ahead.x) / 2, self.turn_height(here.leg)
        self.sheet.spots[element.id] = spot

    def turn_height(self, leg):
        """Return the y at which a line turns from this leg into the next."""
        band = self.sheet.bands[leg.runs[-1].stage]
        if leg.turn is None:
            return band.bottom - TURN / 2 if leg.down else band.top + TURN / 2
        return band.bottom - TURN - PAD - ROW / 2 if leg.down else band.top + PAD + ROW / 2

    def _label(self, spot):
        element = spot.element
        lines = label_lines(element, self.id_text(element.id), self.also(element))
        if spot.label_side == 0:
            return Label(lines[:3], spot.x, spot.y + 16, 0, spot.faint)
        y = spot.y - LEADING * len(lines) / 2
        return Label(lines, spot.x + spot.label_side * BESIDE, y, spot.label_side, spot.faint)

    def _place_span_labels(self):
        for (place, index), (span, gap, lines) in self._span_labels.items():
            column = self.sheet.columns[place]
            top, bottom = self.sheet.bands[gap].bottom, self.sheet.bands[gap + 1].top
            middle = (top + bottom) / 2
            side = -column.outward
            y = middle - LEADING * len(lines) / 2
            self.sheet.labels.append(
                Label(lines, column.x + side * 12, y, side, column.depth > 0)
            )
            self.sheet.spans[place, index] = (span.cable, column.x, middle)


def _widest(lines):
    return max((text_width(t, size, bold=bold) for t, size, bold in lines), default=0.0)
