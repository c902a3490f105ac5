"""Pages as Markdown that reads well as text and changes line by line in a repository."""

import re

from chain.pages.blocks import (
    Copy,
    Figure,
    Heading,
    LabelSheet,
    Lines,
    Link,
    Listing,
    Paragraph,
    Table,
)
from chain.writing.foreign_text import one_line

_SPECIAL = re.compile(r"([\\`*\[\]<>|~]|(?<![A-Za-z0-9])_|_(?![A-Za-z0-9]))")
_LIKE_A_LIST = re.compile(r"(\d*)([-+=#.)])")


def page_markdown(page):
    """Return a Page as a Markdown file."""
    parts = [f"# {plain(page.title)}", plain(page.provenance)]
    if page.links:
        parts.append(" · ".join(_link(link) for link in page.links))
    parts += [_BLOCKS[type(block)](block) for block in page.blocks]
    return "\n\n".join(part for part in parts if part) + "\n"


def plain(text):
    """Return a line of text with all that Markdown or HTML would take for itself made harmless."""
    found = _LIKE_A_LIST.match(one_line(text))
    escaped = _inside(text)
    return f"{found[1]}\\{escaped[len(found[1]):]}" if found else escaped


def _link(link):
    return f"[{plain(link.text)}]({link.page}.md)"


def _cell(cell):
    return _link(cell) if isinstance(cell, Link) else _inside(cell).replace(_BOX, "☐")


def _inside(text):
    escaped = _SPECIAL.sub(r"\\\1", one_line(text).replace("&", "&amp;"))
    return escaped.replace("\\<", "&lt;").replace("\\>", "&gt;")


_BOX = _inside("[ ]")


def _heading(block):
    return f"{'#' * block.level} {_inside(block.text)}"


def _paragraph(block):
    text = plain(block.text)
    return f"> {text}" if block.weight == "warning" else text


def _listing(block):
    return "\n".join(f"- {_cell(item)}" for item in block.items)


def _table(block):
    marks = [":--" if heading in block.left else "--:" for heading in block.headings]
    lines = [_line([_inside(h) for h in block.headings]), _line(marks)]
    for row in block.rows:
        cells = [_cell(cell) for cell in row]
        lines.append(_line(cells + [""] * (len(block.headings) - len(cells))))
    caption = f"{plain(block.caption)}\n\n" if block.caption else ""
    return caption + "\n".join(lines)


def _line(cells):
    return f"| {' | '.join(cells)} |"


def _figure(block):
    return f"![{_inside(block.caption)}](figures/{block.name}.svg)"


def _copy(block):
    # Fenced text would be the only place where foreign text is not escaped.
    return f"[{_inside(block.caption)}]({block.file})"


def _labels(block):
    rows = [_line([_inside(large), _inside(", ".join(small))]) for large, small in block.labels]
    return "\n".join(["| label | beside |", "| :-- | :-- |", *rows])


def _lines(block):
    return "\n\n".join(f"{_inside(name)}: {chr(92)}{'_' * 30}" for name in block.names)


_BLOCKS = {
    Heading: _heading, Paragraph: _paragraph, Listing: _listing, Table: _table, Figure: _figure,
    Copy: _copy, LabelSheet: _labels, Lines: _lines,
}
