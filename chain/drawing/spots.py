"""Where each port of a symbol lies, lying and on the page."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from chain.drawing.labels import PORT_SIZE
from chain.drawing.svg import text_width
from chain.drawing.symbols import LOAD, REACH, SIDE

if TYPE_CHECKING:
    from chain.layout.layout import Element

PITCH = 16.0
"""Distance between side ports, pixels, where there are more than two."""

DOWN, UP, LEFT, RIGHT = (0, 1), (0, -1), (-1, 0), (1, 0)


@dataclass(frozen=True)
class Ports:
    """The ports of an element, lying symbol: where each is, and how far the symbol reaches."""

    anchors: dict
    reach: float

    @property
    def sides(self):
        """Names of the ports off the line."""
        return [port for port, (_, y) in self.anchors.items() if y]


def ports_of(element):
    """Return the Ports of an element as its line goes through it."""
    every = list(element.kind.ports(element.settings))
    enter, leave = element.enter, element.leave
    sides = [port for port in every if port not in (enter, leave)]
    if enter in every and leave in every and every.index(enter) > every.index(leave):
        sides.reverse()
    reach = REACH if len(sides) <= 2 else max(REACH, PITCH * len(sides) / 2 + 4)
    step = REACH if len(sides) == 2 else PITCH
    anchors = {}
    if enter is not None:
        anchors[enter] = (-reach, 0.0)
    if leave is not None and leave != enter:
        anchors[leave] = (reach, 0.0)
    for place, port in enumerate(sides):
        anchors[port] = ((place - (len(sides) - 1) / 2) * step, SIDE)
    return Ports(anchors, reach)


@dataclass
class Spot:
    """An element on the page."""

    element: Element
    stage: int
    ports: Ports
    flow: tuple[int, int]
    """Direction in which the line goes through it, before a turn round of a line's first part."""
    outward: int
    """Side of its further ports: 1 right, -1 left."""
    flipped: bool = False
    """True for a part with one port at the beginning of a line: its port looks ahead."""
    x: float = 0.0
    y: float = 0.0
    label_side: int = 0
    """Where its label stands: -1 left, 1 right, 0 below."""
    faint: bool = False
    stubs: dict = field(default_factory=dict)
    """Text at ports whose joint is not drawn."""

    @property
    def matrix(self):
        """(a, b, c, d) of the turn from lying to the page: x' = a x + c y, y' = b x + d y."""
        fx, fy = (-self.flow[0], -self.flow[1]) if self.flipped else self.flow
        # Side ports lie outward of a line that runs up or down, below one that runs across.
        sx, sy = (self.outward, 0) if fx == 0 else (0, 1)
        return fx, fy, sx, sy

    def at(self, port):
        """Return where a port lies on the page."""
        a, b, c, d = self.matrix
        x, y = self.ports.anchors[port]
        return self.x + a * x + c * y, self.y + b * x + d * y

    def faces(self, port):
        """Return the direction in which a port looks, on the page."""
        a, b, c, d = self.matrix
        x, y = self.ports.anchors[port]
        if y:
            return c, d
        sign = math.copysign(1, x)
        return int(sign * a), int(sign * b)

    def lead_to_load(self, port):
        """Return how long the wire to a load on a side port is: its name stands above it."""
        return text_width(port, PORT_SIZE) + 6

    def name_boxes(self):
        """Yield (port, (left, top, right, bottom)) of the names beside side ports."""
        for port in self.ports.sides:
            x, y = self.at(port)
            dx, dy = self.faces(port)
            width = text_width(port, PORT_SIZE)
            if dy:
                yield port, (x + 4, y + 4 * dy - 6, x + 4 + width, y + 4 * dy + 4)
            else:
                left = x + 3 if dx > 0 else x - 3 - width
                yield port, (left, y - 3 - PORT_SIZE, left + width, y - 2)

    def load_boxes(self):
        """Yield (left, top, right, bottom) of the loads on side ports, and of the wires to them."""
        for port in self.ports.sides:
            if port in (self.element.settings["loads"] or ()):
                lead = self.lead_to_load(port)
                yield self._along(port, 0.0, lead, 1.5)
                yield self._along(port, lead, lead + LOAD, 7.0)

    def _along(self, port, near, far, half):
        """Return the box from `near` to `far` outward of a port, `half` to either side."""
        x, y = self.at(port)
        dx, dy = self.faces(port)
        ends = sorted((x + dx * near, x + dx * far)), sorted((y + dy * near, y + dy * far))
        return (ends[0][0] - half * abs(dy), ends[1][0] - half * abs(dx),
                ends[0][1] + half * abs(dy), ends[1][1] + half * abs(dx))

    @property
    def box(self):
        """(left, top, right, bottom) of the symbol."""
        reach, half = self.ports.reach, 14.0
        across = self.flow[0] != 0
        dx, dy = (reach, half) if across else (half, reach)
        return self.x - dx, self.y - dy, self.x + dx, self.y + dy
