"""A table with shaded cells as SVG: the darker, the more."""

from chain.drawing.svg import path, tag, text_width, title, wrap
from chain.pages.charts import INK, SIZE, SOFT, WIDTH, svg_of, word

_HEAD, _ROW, _LEADING = 34.0, 32.0, 12.0
_LABEL = 150.0
_LIGHT, _MIDDLE, _DARK = (255, 255, 255), (195, 217, 236), (20, 48, 77)
"""Colours at shade 0, 1/2 and 1: lightness falls evenly, so that it reads in grey."""


def heat_map(columns, rows, heading, *, dark):
    """Return an SVG of shaded cells: `columns` [lines], `rows` [(name, [(lines, shade, told)])].

    Words are white from shade `dark` on; `told` is what a pointer that rests on the cell says.
    """
    labels = min(_LABEL, max((text_width(name, SIZE) for name, _ in rows), default=0.0) + 10)
    across = (WIDTH - labels) / max(len(columns), 1)
    parts = []
    for place, lines in enumerate(columns):
        middle = labels + (place + 0.5) * across
        parts += [
            word(line, middle, 13 + _LEADING * row, "middle", size=10, bold=row == 0,
                 fill=SOFT if row else INK)
            for row, line in enumerate(lines)
        ]
    for place, (name, cells) in enumerate(rows):
        y = _HEAD + place * _ROW
        parts += [word(line, labels - 6, y + _ROW / 2 + 4, "end")
                  for line in wrap(name, labels - 8, SIZE, most=1)]
        for column, (lines, shade, told) in enumerate(cells):
            x = labels + column * across
            parts.append(_cell(lines, shade, told, (x, y, across), shade > dark))
    end = _HEAD + len(rows) * _ROW
    parts.append(tag("rect", x=labels, y=_HEAD, width=WIDTH - labels, height=end - _HEAD,
                     fill="none", stroke=INK, stroke_width=0.8))
    if len(rows) > 1:
        parts.append(tag("path", d=path([(labels, end - _ROW), (WIDTH, end - _ROW)]), stroke=INK,
                         stroke_width=0.8))
    return svg_of(parts, WIDTH, end + 2, heading, heading)


def _cell(lines, shade, told, place, dark):
    (x, y, across), ink = place, "#ffffff" if dark else INK
    top = y + _ROW / 2 - _LEADING * (len(lines) - 1) / 2 + 3.5
    words = [word(line, x + across / 2, top + _LEADING * row, "middle", size=10, fill=ink)
             for row, line in enumerate(lines)]
    ground = tag("rect", x=x + 1, y=y + 1, width=across - 2, height=_ROW - 2, fill=_colour(shade))
    return tag("g", title(told) + ground + "".join(words))


def _colour(shade):
    start, end, part = (_LIGHT, _MIDDLE, 2 * shade) if shade < 0.5 else \
        (_MIDDLE, _DARK, 2 * shade - 1)
    mixed = (round(a + (b - a) * part) for a, b in zip(start, end, strict=True))
    return "#" + "".join(f"{value:02x}" for value in mixed)
