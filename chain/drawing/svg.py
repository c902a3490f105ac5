"""SVG as text: everything escaped, numbers short, text widths estimated on the safe side."""

import html
import re

from chain.writing.foreign_text import one_line

_GROUPS = (
    (0.38, "ijlI'|.,:; "),
    (0.51, "ftr()[]-/\\\"`J!"),
    (0.80, "ABCDEGHKNOQRUVXYZ&"),
    (1.04, "mwMW@%+<>=~#^"),
)
_ORDINARY = 0.68
_BEYOND_LATIN = 1.1
"""Widths in em, a little above those of a wide system font, so that text fits in any of them."""

_UNIT = re.compile(r"\d [A-Za-zµ%]{1,3}(?![A-Za-z])")
"""The end of a number and its unit, which stay on one line."""

_WIDTH_OF = {character: em for em, characters in _GROUPS for character in characters}


def text_width(text, size, *, bold=False):
    """Return a width in pixels that `text` at a font size in pixels does not exceed."""
    em = sum(
        _WIDTH_OF.get(c, _ORDINARY if c < "\u0250" else _BEYOND_LATIN) for c in text
    )
    return em * size * (1.1 if bold else 1.0)


def wrap(text, width, size, *, most=3, bold=False):
    """Return `text` in at most `most` lines of `width` pixels, `…` where some is left out."""
    lines, rest = [], one_line(text)
    while rest and len(lines) < most:
        cut = _fitting(rest, width, size, bold)
        if cut < len(rest):
            cut = _break_before(rest, cut)
        lines.append(rest[:cut].rstrip())
        rest = rest[cut:].lstrip()
    if rest:
        last = lines[-1]
        while last and text_width(f"{last}…", size, bold=bold) > width:
            last = last[:-1]
        lines[-1] = f"{last.rstrip()}…"
    return lines


def _fitting(text, width, size, bold):
    """Return how many characters of `text` fit, at least one."""
    used, factor = 0.0, size * (1.1 if bold else 1.0)
    for place, character in enumerate(text):
        used += factor * _WIDTH_OF.get(
            character, _ORDINARY if character < "\u0250" else _BEYOND_LATIN
        )
        if used > width:
            return max(place, 1)
    return len(text)


def _break_before(text, cut):
    """Return the last good place to break `text` at or before `cut`."""
    for place in range(cut, max(cut // 3, 1), -1):
        blank = place if text[place] == " " else place - 1
        if text[blank] in " -,/" and not _UNIT.match(text, max(blank - 1, 0)):
            return place
    return cut


def number(value):
    """Return a coordinate in at most two decimals."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def escape(text):
    """Return foreign text for an SVG or HTML text or attribute, on one line."""
    return html.escape(one_line(text), quote=True)


def tag(name, content=None, **attributes):
    """Return an SVG element; `content` is SVG, attribute values are escaped here."""
    written = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{_attribute(value)}"'
        for key, value in attributes.items() if value is not None
    )
    return f"<{name}{written}/>" if content is None else f"<{name}{written}>{content}</{name}>"


def _attribute(value):
    if isinstance(value, int | float):
        return number(value)
    return escape(value)


def paper(width, height):
    """Return white paper for a picture to lie on, so that it reads on a dark page too."""
    return tag("rect", width=width, height=height, fill="#fff")


def title(text):
    """Return a <title>: what a pointer resting there, or a reader of screens, tells."""
    return f"<title>{escape(text)}</title>"


def path(points):
    """Return the `d` of a path through points, straight."""
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)
