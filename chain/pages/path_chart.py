"""Noise temperature and gain along a signal path as SVG, place by place."""

import math

from chain.drawing.svg import escape, path, tag, text_width, title, wrap
from chain.pages.charts import BAR, INK, RULE, SOFT, WIDTH, nice_ticks, svg_of, word
from chain.writing.numbers import number, si

_LEFT, _TOP, _GAIN, _NOISE, _GAP = 64.0, 46.0, 100.0, 190.0, 38.0
_NAMES = 96.0
"""Room for the names of places, upright."""
_DECADES = 5
"""Decades below the system noise that are drawn."""
_SHADE = "#f0f1f3"


def path_chart(found):
    """Return an SVG of a PathNoise: cumulative gain above, noise referred to the start below."""
    stations = found.stations
    step = (WIDTH - _LEFT - 8) / len(stations)
    middles = [_LEFT + (place + 0.5) * step for place in range(len(stations))]
    floor_of_noise = _TOP + _GAIN + _GAP + _NOISE
    heading = f"Noise temperature and gain along {found.signal}"
    parts = [
        *_stages(stations, middles, step, floor_of_noise),
        *_gain(stations, middles, step),
        *_noise(found, middles, step, floor_of_noise),
        *_names(stations, middles, floor_of_noise),
    ]
    return svg_of(parts, WIDTH, floor_of_noise + _NAMES, heading, heading)


def _stages(stations, middles, step, floor):
    """Shade every other stage, its name above; where names are wide, at two heights in turn."""
    runs, start = [], 0
    for place in range(1, len(stations) + 1):
        if place == len(stations) or stations[place].stage != stations[start].stage:
            if stations[start].stage:
                runs.append((stations[start].stage, middles[start] - step / 2,
                             step * (place - start)))
            start = place
    crowded = any(text_width(name, 10) > width for name, _, width in runs)
    parts = []
    for number_of, (name, x, width) in enumerate(runs):
        if number_of % 2 == 0:
            parts.append(tag("rect", x=x, y=_TOP, width=width, height=floor - _TOP, fill=_SHADE))
        y = _TOP - (17 if crowded and number_of % 2 else 5)
        room = 1.9 * width if crowded else width
        parts += [word(line, x + width / 2, y, "middle", size=10, fill=SOFT)
                  for line in wrap(name, room, 10, most=1)]
    return parts


def _gain(stations, middles, step):
    known = [(x, s) for x, s in zip(middles, stations, strict=True) if s.cumulative_db is not None]
    levels = [0.0, *(s.cumulative_db for _, s in known)]
    ticks = nice_ticks(min(levels), max(levels), count=4)
    low, high = ticks[0], ticks[-1]
    bottom = _TOP + _GAIN

    def at(db):
        return bottom - (db - low) / (high - low) * _GAIN

    parts = [word("cumulative gain (dB)", 2, 12, bold=True), *_ticks(
        [(at(tick), f"{tick:g}") for tick in ticks]
    )]
    points = [(known[0][0] - 1.5 * step, at(0.0))] if known else []
    for x, station in known:
        points += [(x - step / 2, points[-1][1]), (x - step / 2, at(station.cumulative_db))]
    if known:
        points.append((known[-1][0] + step / 2, points[-1][1]))
        parts.append(tag("path", d=path(points), fill="none", stroke=INK, stroke_width=1.6))
    parts += [
        _told(f"{s.name}: {s.gain_db:.2f} dB, from the start {s.cumulative_db:.2f} dB",
              x, at(s.cumulative_db), step)
        for x, s in known
    ]
    return parts


def _noise(found, middles, step, bottom):
    stations, top = found.stations, bottom - _NOISE
    own = [s.own_noise_k for s in stations if s.own_noise_k]
    low = math.floor(math.log10(found.system_noise_k)) - _DECADES + 1
    high = math.ceil(math.log10(max([found.system_noise_k, found.quantum_k, *own])) + 0.1)

    def at(kelvin):
        return bottom - (math.log10(kelvin) - low) / (high - low) * _NOISE

    spread = max(1, math.ceil((high - low) / 8))
    parts = [
        word("noise temperature (K)", 2, top - 8, bold=True),
        *_ticks([(at(10.0**k), f"{10.0**k:g}") for k in range(low, high + 1, spread)]),
        *_key(150.0, top - 8),
    ]
    for x, s in zip(middles, stations, strict=True):
        if s.share_k > 10.0**low:
            y = at(s.share_k)
            bar = tag("rect", x=x - 0.33 * step, y=y, width=0.66 * step, height=bottom - y,
                      fill=BAR)
            quanta = number(s.share_k / found.quantum_k, 3)
            parts.append(tag("g", title(
                f"{s.name}: {si(s.share_k, 'K', 3)} of the system noise, {quanta} quanta"
            ) + bar))
    limit = at(found.quantum_k) if found.quantum_k > 10.0**low else None
    if limit is not None:
        parts.append(tag("g", title(f"one quantum: {si(found.quantum_k, 'K', 3)}") + tag(
            "path", d=path([(_LEFT, limit), (WIDTH - 8, limit)]), stroke=INK, stroke_width=1.2,
            stroke_dasharray="7 4")))
    points = []
    for x, s in zip(middles, stations, strict=True):
        y = at(max(s.sum_k, 10.0**low))
        points += [(x - step / 2, y), (x + step / 2, y)]
    parts.append(tag("path", d=path(points), fill="none", stroke="#fff", stroke_width=4))
    parts.append(tag("path", d=path(points), fill="none", stroke=INK, stroke_width=2))
    parts += [
        tag("g", title(f"{s.name}: noise temperature {si(s.own_noise_k, 'K', 4)}")
            + _diamond(x, at(s.own_noise_k)))
        for x, s in zip(middles, stations, strict=True)
        if s.own_noise_k and s.own_noise_k > 10.0**low
    ]
    parts.append(tag("path", d=path([(_LEFT, bottom), (WIDTH - 8, bottom)]), stroke=INK))
    return parts


def _ticks(found):
    parts = []
    for y, text in found:
        parts.append(tag("path", d=path([(_LEFT, y), (WIDTH - 8, y)]), stroke=RULE,
                         stroke_width=0.8))
        parts.append(word(text, _LEFT - 6, y + 4, "end", size=10, fill=SOFT))
    return parts


def _key(x, y):
    """Return what the marks of the noise mean."""
    return [
        _diamond(x + 12, y - 4), word("at its own input", x + 22, y, size=10),
        tag("rect", x=x + 122, y=y - 8, width=18, height=8, fill=BAR),
        word("part of the system noise", x + 146, y, size=10),
        tag("path", d=path([(x + 292, y - 4), (x + 314, y - 4)]), stroke=INK, stroke_width=2),
        word("sum so far", x + 320, y, size=10),
        tag("path", d=path([(x + 396, y - 4), (x + 424, y - 4)]), stroke=INK, stroke_width=1.2,
            stroke_dasharray="7 4"),
        word("one quantum", x + 430, y, size=10),
    ]


def _diamond(x, y):
    corners = [(x, y - 5), (x + 5, y), (x, y + 5), (x - 5, y), (x, y - 5)]
    return tag("path", d=path(corners), fill="#fff", stroke=INK, stroke_width=1.3)


def _told(text, x, y, step):
    wide = tag("rect", x=x - step / 2, y=_TOP, width=step, height=_GAIN, fill="#fff",
               fill_opacity=0)
    return tag("g", title(text) + wide + tag("circle", cx=x, cy=y, r=2.6, fill=INK))


def _names(stations, middles, floor):
    parts = []
    for x, s in zip(middles, stations, strict=True):
        name = wrap(f"{s.name} {s.kind}".strip(), _NAMES - 8, 10, most=1)[0]
        parts.append(tag(
            "text", escape(name), font_size=10, text_anchor="end", fill=INK,
            transform=f"translate({x + 3.5:.2f} {floor + 6:.2f}) rotate(-90)",
        ))
    return parts
