"""Wires of a drawing: straight down and up the legs, round the turns, over to joined lines."""

import functools
from dataclasses import dataclass

from chain.drawing.family import ends_of, joins_of
from chain.drawing.stubs import stub_at

STEP = 9.0
"""How far a wire leaves a port that looks up or down before it goes across."""
CLEAR = 1.5
"""Pixels by which a wire has to miss symbols and words that are not its own."""


@dataclass
class Wire:
    """A wire through points, straight and at right angles."""

    points: list
    faint: bool = False
    dashed: bool = False

    def segments(self):
        """Yield ((x1, y1), (x2, y2)) of every stretch that has a length."""
        for one, other in zip(self.points, self.points[1:], strict=False):
            if one != other:
                yield one, other


class Wiring:
    """The wires of a Sheet; `undrawn` are joints for which there is no clear route."""

    def __init__(self, layout, placing, stubs, inside):
        self.layout, self.placing, self.sheet, self.stubs = layout, placing, placing.sheet, stubs
        self.wires, self.undrawn, self.ends = [], [], {}
        self._joined = set()
        for plan in self.sheet.plans:
            for one in plan.walk():
                self._legs(one)
        for plan in self.sheet.plans:
            for one in plan.walk():
                self._join_to_host(one)
        self._loose_joints(inside)

    # -- along the legs -------------------------------------------------------------------------

    def _legs(self, plan):
        cursor = None
        for place, column in enumerate(plan.columns):
            leg = column.leg
            faint = column.depth > 0
            if place:
                cursor = self._turn(plan.columns[place - 1], column, cursor, faint)
            for index, run in enumerate(leg.runs):
                for element in run.stops:
                    spot = self.sheet.spots[element.id]
                    if cursor is not None and element.enter in spot.ports.anchors:
                        self._wire([cursor, spot.at(element.enter)], faint, leg, index)
                    elif cursor is None and element.enter in spot.ports.anchors:
                        self._note_end(plan, element.id, element.enter, spot)
                    cursor = self._leaving(spot, element)
                if cursor is None and not run.stops and index < len(leg.spans):
                    cursor = self._bare_end(plan, column, run, "first")
            if column.last and cursor is not None:
                cursor = self._finish(plan, column, cursor)

    def _leaving(self, spot, element):
        port = element.leave
        if port is None or port not in spot.ports.anchors:
            return None
        if port == element.enter and not spot.flipped:
            return None
        return spot.at(port)

    def _wire(self, points, faint, leg, index):
        span = leg.spans[index - 1] if index else None
        dashed = bool(span and span.cable is not None and not span.cable.ports)
        self.wires.append(Wire(points, faint, dashed))

    def _bare_end(self, plan, column, run, which):
        """Return where a line begins or ends with nothing but a cable's end on a stage."""
        line = self.layout.lines[plan.line].elements
        element = self.layout.elements[line[0] if which == "first" else line[-1]]
        port = element.enter if which == "first" else element.leave
        band = self.sheet.bands[run.stage]
        y = self._end_height(plan, column, band)
        facing = (0, -1) if (which == "first") == column.leg.down else (0, 1)
        self.ends[element.id, port] = ((column.x, y), facing, column)
        return column.x, y

    def _end_height(self, plan, column, band):
        """Return the height at which a cable's bare end lies: that of the port it is joined to."""
        if plan.port is not None and column is plan.near and plan.port[0] in self.sheet.spots:
            host = self.sheet.spots[plan.port[0]]
            _, y = host.at(plan.port[1])
            _, dy = host.faces(plan.port[1])
            if band.top <= y <= band.bottom:
                return y + dy * STEP
        return (band.top + band.bottom) / 2

    def _note_end(self, plan, key, port, spot):
        column = next(c for c in plan.columns if c.x == spot.x)
        self.ends[key, port] = (spot.at(port), spot.faces(port), column)

    def _finish(self, plan, column, cursor):
        line = self.layout.lines[plan.line].elements
        last = self.layout.elements[line[-1]]
        spot = self.sheet.spots.get(last.id)
        if spot is not None:
            self._note_end(plan, last.id, last.leave, spot)
            return None
        end = self._bare_end(plan, column, column.leg.runs[-1], "last")
        self._wire([cursor, end], column.depth > 0, column.leg, len(column.leg.runs) - 1)
        return None

    def _turn(self, before, column, cursor, faint):
        """Draw the turn between two legs; return where the next one begins."""
        y = self.placing.turn_height(before.leg)
        turn = before.leg.turn
        start = cursor or (before.x, y)
        if turn is None:
            self.wires.append(Wire([start, (before.x, y), (column.x, y)], faint))
            return column.x, y
        spot = self.sheet.spots[turn.id]
        self.wires.append(Wire([start, (before.x, y), spot.at(turn.enter)], faint))
        if turn.leave is None or turn.leave == turn.enter:
            return None
        self.wires.append(Wire([spot.at(turn.leave), (column.x, y)], faint))
        return column.x, y

    # -- over to other lines --------------------------------------------------------------------

    def port_end(self, port):
        """Return (point, facing, column) of a joined port on the page."""
        if port in self.ends:
            return self.ends[port]
        spot = self.sheet.spots.get(port[0])
        if spot is None or port[1] not in spot.ports.anchors:
            return None
        return spot.at(port[1]), spot.faces(port[1]), None

    def _join_to_host(self, plan):
        if plan.port is None:
            return
        begin, end = ends_of(self.layout, self.layout.lines[plan.line])
        own = end if plan.by_last else begin
        self._join(own, plan.port, faint=plan.near.depth > 0)

    def _loose_joints(self, inside):
        for plan in self.sheet.plans:
            for one in plan.walk():
                for own, other in joins_of(self.layout, self.layout.lines[one.line], inside):
                    if frozenset((own, other)) in self._joined or (own in self.stubs):
                        continue
                    self._join(own, other, faint=one.columns[0].depth > 0)

    def _join(self, own, other, *, faint):
        key = frozenset((own, other))
        if own in self.stubs or other in self.stubs or key in self._joined:
            return
        self._joined.add(key)
        here, there = self.port_end(own), self.port_end(other)
        if here is None or there is None:
            self.undrawn.append((own, other))
            return
        for points in _ways(here, there):
            wire = Wire(points, faint)
            if self._clear(wire):
                self.wires.append(wire)
                return
        self.undrawn.append((own, other))

    @functools.cached_property
    def _boxes(self):
        """Everything that a wire must not run through."""
        boxes = [label.box for label in self.sheet.labels]
        for spot in self.sheet.spots.values():
            boxes += [spot.box, *spot.load_boxes(), *(box for _, box in spot.name_boxes())]
        for port, text in self.stubs.items():
            stub = self.stub(port, text)
            if stub is not None:
                boxes += stub.boxes
        return boxes

    def stub(self, port, text):
        """Return the Stub with words at a port, or None where the port is not on the page."""
        end = self.port_end(port)
        bare = port[0] not in self.sheet.spots
        return None if end is None else stub_at(end, text, port[1], bare=bare)

    def _clear(self, wire):
        boxes = self._boxes
        for segment in wire.segments():
            if any(_meets(segment, box) for box in boxes):
                return False
            for other in self.wires:
                if any(_along(segment, theirs) for theirs in other.segments()):
                    return False
        return True


def _ways(here, there):
    """Yield routes from one end to another, the plainest first."""
    (a, fa, _), (b, fb, _) = here, there
    a1 = (a[0] + STEP * fa[0] * (fa[0] == 0), a[1] + STEP * fa[1])
    b1 = (b[0], b[1] + STEP * fb[1])
    if a[1] == b[1] or a[0] == b[0]:
        yield [a, b]
    if fa[0] and not fb[0]:
        yield [a, (b[0], a[1]), b]
    if fb[0] and not fa[0]:
        yield [a, (a[0], b[1]), b]
    if fa[0] and fb[0]:
        for out in (14.0, 26.0, 38.0, 50.0):
            reach = max(fa[0] * a[0], fb[0] * b[0]) + out if fa[0] == fb[0] else None
            x = fa[0] * reach if reach is not None else (a[0] + b[0]) / 2
            yield [a, (x, a[1]), (x, b[1]), b]
    if not fa[0] and not fb[0]:
        yield [a, a1, (b[0], a1[1]), b]
        yield [a, (a[0], b1[1]), b1, b]
    if fa[0] and not fb[0]:
        yield [a, (a[0] + 14 * fa[0], a[1]), (a[0] + 14 * fa[0], b1[1]), b1, b]
    if fb[0] and not fa[0]:
        yield [a, a1, (b[0] + 14 * fb[0], a1[1]), (b[0] + 14 * fb[0], b[1]), b]


def _meets(segment, box):
    """Tell whether a stretch runs through a box."""
    (x1, y1), (x2, y2) = segment
    left, top, right, bottom = box
    return (
        min(x1, x2) < right - CLEAR and max(x1, x2) > left + CLEAR
        and min(y1, y2) < bottom - CLEAR and max(y1, y2) > top + CLEAR
    )


def _along(one, other):
    """Tell whether two stretches lie on each other for some length."""
    (ax1, ay1), (ax2, ay2) = one
    (bx1, by1), (bx2, by2) = other
    if ay1 == ay2 and by1 == by2:
        apart = abs(ay1 - by1)
        shared = min(max(ax1, ax2), max(bx1, bx2)) - max(min(ax1, ax2), min(bx1, bx2))
    elif ax1 == ax2 and bx1 == bx2:
        apart = abs(ax1 - bx1)
        shared = min(max(ay1, ay2), max(by1, by2)) - max(min(ay1, ay2), min(by1, by2))
    else:
        return False
    return apart < 4 and shared > 1


def crossings(wires):
    """Return {(wire, stretch): [x, ...]} where a wire across passes another, by their indices."""
    upright = [
        (number, segment) for number, wire in enumerate(wires) for segment in wire.segments()
        if segment[0][0] == segment[1][0]
    ]
    found = {}
    for number, wire in enumerate(wires):
        for place, (one, other) in enumerate(zip(wire.points, wire.points[1:], strict=False)):
            if one[1] != other[1]:
                continue
            low, high = sorted((one[0], other[0]))
            at = sorted(
                x for theirs, ((x, y1), (_, y2)) in upright
                if theirs != number and low + 5 < x < high - 5
                and min(y1, y2) + 2 < one[1] < max(y1, y2) - 2
            )
            if at:
                found[number, place] = at
    return found
