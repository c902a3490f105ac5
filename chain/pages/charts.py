"""Bars and curves as SVG; what a pointer rests on tells its value, and so does the table beside."""

import math

from chain.drawing.svg import escape, number, paper, path, tag, text_width, title, wrap

FONT, INK, SOFT, RULE, BAR = "system-ui, sans-serif", "#1c1c1c", "#5a5a5a", "#d0d0d0", "#54677c"
WIDTH = 720.0
SIZE = 11
_ROW = 19.0
_LABEL_ROOM, _VALUE_ROOM = 170.0, 150.0


def svg_of(parts, width, height, heading, description):
    """Return an SVG of parts on white paper, with what it is for those who do not see it."""
    return tag(
        "svg", "\n".join([
            title(heading), tag("desc", escape(description)), paper(width, height), *parts,
        ]),
        xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {number(width)} {number(height)}",
        width=width, height=height, role="img", font_family=FONT, class_="chart",
    ) + "\n"


def word(text, x, y, anchor="start", *, size=SIZE, fill=INK, bold=False):
    """Return a text of an SVG."""
    return tag("text", escape(text), x=x, y=y, font_size=size, text_anchor=anchor, fill=fill,
               font_weight="bold" if bold else None)


def bars(rows, heading, *, most=30, mark=None):
    """Return an SVG of lying bars: rows of (label, value, text of the value); None has no bar.

    `mark` draws a dashed line at that value: what must not be passed.
    """
    shown = list(rows)[:most]
    largest = max([mark or 0.0, *(value or 0.0 for _, value, _ in shown)]) or 1.0
    room = WIDTH - _LABEL_ROOM - _VALUE_ROOM
    widths = [max(value or 0.0, 0.0) / largest * room for _, value, _ in shown]
    at = mark / largest * room if mark else -1.0
    ends = [width + 6 + text_width(said, SIZE)
            for width, (_, _, said) in zip(widths, shown, strict=True)]
    # Where a value would lie on the mark, all values stand behind it, one under the other.
    behind = any(width < at + 4 and end > at - 4
                 for width, end in zip(widths, ends, strict=True))
    parts = [
        _bar(label, said, width, 6.0 + place * _ROW, max(width, at) if behind else width)
        for place, (width, (label, _, said)) in enumerate(zip(widths, shown, strict=True))
    ]
    end = 6.0 + len(shown) * _ROW
    if mark:
        x = _LABEL_ROOM + mark / largest * room
        parts.append(tag("path", d=path([(x, 2), (x, end)]), stroke=INK, stroke_dasharray="4 3"))
    parts.append(tag("path", d=path([(_LABEL_ROOM, 2), (_LABEL_ROOM, end)]), stroke=INK))
    return svg_of(parts, WIDTH, end + 4, heading, heading)


def _bar(label, said, width, y, reach):
    # A short bar is hard to point at, so the whole row answers.
    target = tag("rect", x=0, y=y - 3, width=WIDTH, height=_ROW, fill="#fff", fill_opacity=0)
    bar = tag("rect", x=_LABEL_ROOM, y=y, width=max(width, 0.6), height=_ROW - 6, fill=BAR)
    parts = [title(f"{label}: {said}"), target, bar]
    for text, room, x, anchor in (
        (label, _LABEL_ROOM - 10, _LABEL_ROOM - 6, "end"),
        (said, _VALUE_ROOM - 12, _LABEL_ROOM + reach + 6, "start"),
    ):
        parts += [word(line, x, y + 10, anchor) for line in wrap(text, room, SIZE, most=1)]
    return tag("g", "".join(parts))


DASHES = (None, "7 4", "2 3", "10 3 2 3")
"""Strokes of curves, told apart without colour."""
_PANEL, _LEFT, _BOTTOM = 190.0, 64.0, 22.0


def curves(x_ghz, panels, heading):
    """Return an SVG of panels over frequency, one above the other.

    `x_ghz` (points,); `panels`: (name of the axis, [(name, values (points,), text of a value)]).
    """
    parts, top = [], 8.0
    for place, (axis, lines) in enumerate(panels):
        last = place == len(panels) - 1
        parts += _panel(x_ghz, axis, lines, top, last)
        top += _PANEL + (_BOTTOM + 24 if last else 26)
    return svg_of(parts, WIDTH, top, heading, heading)


def _panel(x_ghz, axis, lines, top, last):
    height, right = _PANEL - 30, WIDTH - 12
    values = [v for _, ys, _ in lines for v in ys if math.isfinite(v)]
    ticks = nice_ticks(min(values), max(values))
    low, high = ticks[0], ticks[-1]
    start, stop = float(x_ghz[0]), float(x_ghz[-1])
    floor = top + 24 + height

    def at(x, y):
        across = 0.5 if stop == start else (x - start) / (stop - start)
        return _LEFT + across * (right - _LEFT), floor - (y - low) / (high - low) * height

    parts = []
    for tick in ticks:
        y = at(start, tick)[1]
        parts.append(tag("path", d=path([(_LEFT, y), (right, y)]), stroke=RULE, stroke_width=0.8))
        parts.append(word(f"{tick:g}", _LEFT - 6, y + 4, "end", size=10, fill=SOFT))
    parts.append(word(axis, 2, top + 8, bold=True))
    parts += _legend(lines, 30 + text_width(axis, SIZE, bold=True), top + 8)
    for place, (name, ys, form) in enumerate(lines):
        points = [at(x, y) for x, y in zip(x_ghz, ys, strict=True) if math.isfinite(y)]
        parts.append(tag("path", d=path(points), fill="none", stroke=INK, stroke_width=1.6,
                         stroke_dasharray=DASHES[place % len(DASHES)]))
        parts += _points(x_ghz, ys, name, form, at)
    if last:
        for tick in nice_ticks(start, stop):
            if start <= tick <= stop:
                x = at(tick, low)[0]
                parts.append(tag("path", d=path([(x, floor), (x, floor + 4)]), stroke=INK))
                parts.append(word(f"{tick:g}", x, floor + 16, "middle", size=10, fill=SOFT))
        parts.append(word("frequency (GHz)", right, floor + 32, "end", size=10, fill=SOFT))
    parts.append(tag("path", d=path([(_LEFT, floor), (right, floor)]), stroke=INK))
    return parts


def _legend(lines, x, y):
    parts = []
    for place, (name, _, _) in enumerate(lines):
        parts.append(tag("path", d=path([(x, y - 4), (x + 26, y - 4)]), stroke=INK,
                         stroke_width=1.6, stroke_dasharray=DASHES[place % len(DASHES)]))
        parts.append(word(name, x + 31, y, size=10))
        x += 31 + text_width(name, 10) + 18
    return parts


_MAX_POINTS = 31


def _points(x_ghz, ys, name, form, at):
    """Return a spot at some of the points of a curve, each telling its value."""
    step = max(1, math.ceil((len(x_ghz) - 1) / (_MAX_POINTS - 1)))
    found = []
    for index in [*range(0, len(x_ghz), step)]:
        x, y = float(x_ghz[index]), float(ys[index])
        if math.isfinite(y):
            px, py = at(x, y)
            told = title(f"{name} at {x:g} GHz: {form(y)}")
            wide = tag("circle", cx=px, cy=py, r=8, fill="#fff", fill_opacity=0)
            found.append(tag("g", told + wide + tag("circle", cx=px, cy=py, r=1.8, fill=INK)))
    return found


def nice_ticks(low, high, count=5):
    """Return round numbers that span `low` to `high`, about `count` of them."""
    if high - low < 1e-9 * max(abs(low), abs(high), 1e-30):
        half = abs(low) * 0.1 or 1.0
        low, high = low - half, high + half
    raw = (high - low) / (count - 1)
    scale = 10.0 ** math.floor(math.log10(raw))
    step = next(s * scale for s in (1, 2, 2.5, 5, 10) if s * scale >= raw * 0.999)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(step * place, 12) for place in range(first, last + 1)]
