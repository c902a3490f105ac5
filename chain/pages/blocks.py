"""What a page is made of, whichever form it is written in."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TypeAlias


@dataclass(frozen=True)
class Link:
    """A cell or an item that leads to another page; `page` is its name without an ending."""

    text: str
    page: str


@dataclass(frozen=True)
class Heading:
    """A heading; level 2 begins a section, 3 a part of one."""

    text: str
    level: int = 2


@dataclass(frozen=True)
class Paragraph:
    """A paragraph of plain text; `weight` is `plain`, `note` or `warning`."""

    text: str
    weight: str = "plain"


@dataclass(frozen=True)
class Listing:
    """Items of text or Links, one under the other."""

    items: tuple


@dataclass(frozen=True)
class Table:
    """Rows of cells (text or Links) under headings; a row of one cell runs across."""

    headings: tuple[str, ...]
    rows: tuple[tuple, ...]
    left: frozenset = frozenset()
    """Headings whose columns are set left; the others hold numbers."""
    caption: str = ""
    data: str = ""
    """Name of the CSV file that holds the same, without its ending; none where empty."""
    csv: str | None = None
    """The CSV text where it holds more than the cells."""
    tight: bool = False
    """True for a table without a heading row."""


@dataclass(frozen=True)
class Figure:
    """A picture; `name` is that of its file, without ending."""

    svg: str
    caption: str
    name: str


@dataclass(frozen=True)
class Copy:
    """A file as it is, put beside the pages: under `file`, shown where a page can hold it."""

    data: bytes
    caption: str
    file: str


@dataclass(frozen=True)
class LabelSheet:
    """Labels to cut out: (large text, small texts)."""

    labels: tuple[tuple[str, tuple[str, ...]], ...]
    data: str = ""


@dataclass(frozen=True)
class Lines:
    """Lines to write on by hand, each under its name."""

    names: tuple[str, ...]


Block: TypeAlias = Heading | Paragraph | Listing | Table | Figure | Copy | LabelSheet | Lines
"""What a page is made of."""


@dataclass(frozen=True)
class Page:
    """A page under its name (that of its files, without ending)."""

    name: str
    title: str
    blocks: tuple[Block, ...]
    provenance: str = ""
    """What every page says at its top: the layout, its hash, the version."""
    links: tuple[Link, ...] = field(default=())
    """Other pages."""
    paper: str = ""
    """Paper that each picture of the page fills when it is printed; empty for ordinary pages."""


def without_empty(table, *, also=()):
    """Return a Table without the columns that say nothing; `also`: cells that say nothing too."""
    nothing = {"", *also}
    full = [row for row in table.rows if len(row) == len(table.headings)]
    kept = [
        place for place, _ in enumerate(table.headings)
        if any(row[place] not in nothing for row in full)
    ]
    if not full or len(kept) == len(table.headings):
        return table
    rows = tuple(
        tuple(row[place] for place in kept) if len(row) == len(table.headings) else row
        for row in table.rows
    )
    return replace(table, headings=tuple(table.headings[place] for place in kept), rows=rows)


def from_text_table(table, *, caption="", data="", csv=None):
    """Return a chain.writing.text.TextTable as a Table."""
    headings = tuple(heading.replace("\n", " ").strip() for heading in table.headings)
    left = frozenset(h for h, own in zip(headings, table.headings, strict=True)
                     if own in table.left)
    rows = tuple(
        tuple(row) if len(row) == len(headings) else (row[0].removeprefix("-- "),)
        for row in table.rows
    )
    return without_empty(Table(headings, rows, left, caption, data, csv))
