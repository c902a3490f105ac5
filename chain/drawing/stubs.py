"""Words at a port whose joint is not drawn: a short arrow, and where it leads."""

from dataclasses import dataclass

from chain.drawing.labels import LABEL_WIDTH, PORT_SIZE
from chain.drawing.svg import text_width, wrap

STUB = 14.0
"""Length of the arrow, pixels."""
_LEADING = 11.0


@dataclass(frozen=True)
class Stub:
    """An arrow from `start` to `tip`, and lines of text beside the tip."""

    start: tuple
    tip: tuple
    facing: tuple
    lines: tuple
    x: float
    y: float
    """Base line of the first line of text."""
    outward: int

    @property
    def boxes(self):
        """(left, top, right, bottom) of the arrow and of the words."""
        (x1, y1), (x2, y2) = self.start, self.tip
        width = max(text_width(line, PORT_SIZE) for line in self.lines)
        left = self.x if self.outward > 0 else self.x - width
        top = self.y - PORT_SIZE
        return (
            (min(x1, x2) - 3, min(y1, y2) - 3, max(x1, x2) + 3, max(y1, y2) + 3),
            (left, top, left + width, top + _LEADING * len(self.lines) + 2),
        )


def stub_length(port):
    """Return the length of the arrow at a side port: the port's name stands above it."""
    return max(STUB, text_width(port, PORT_SIZE) + 8)


def stub_at(end, text, port, *, bare=False):
    """Return the Stub at an end, (point, facing, column or None), of the port of that name.

    `bare` where it is a cable's end and no symbol stands there.
    """
    (x, y), (dx, dy), column = end
    outward = dx or (column.outward if column else 1)
    length = stub_length(port) if dx else STUB
    tip = (x + dx * length, y + dy * length)
    lines = wrap(text, LABEL_WIDTH, PORT_SIZE, most=2 if dy else 1)
    at = tip[0] + (4 * outward if dx else 8 * outward)
    # Beside an arrow up or down the words stand clear of the symbol that it leaves.
    top = {0: y + 3, 1: y + 12, -1: y - 4 - _LEADING * (len(lines) - 1)}[dy]
    if bare:
        top = y + 3 - _LEADING / 2 * (len(lines) - 1)
    return Stub((x, y), tip, (dx, dy), tuple(lines), at, top, outward)
