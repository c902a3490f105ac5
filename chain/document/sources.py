"""Sections on what stands behind the numbers: conventions, sources, the layout itself."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from chain.heat.heat_text import CONVENTIONS as HEAT_CONVENTIONS
from chain.noise.conventions import CONVENTIONS
from chain.pages.blocks import Copy, Heading, Listing, Paragraph, Table, without_empty
from chain.writing.text import Result
from components.catalogue import sources

if TYPE_CHECKING:
    from chain.pages.blocks import Block


def convention_blocks() -> list[Block]:
    """Return what numbers mean."""
    return [Heading("Conventions"), Listing(tuple(
        text.replace("`", "") for text in (*CONVENTIONS, *HEAT_CONVENTIONS)
    ))]


def source_blocks(facts: Result) -> list[Block]:
    """Return where the catalogue values that the layout uses come from."""
    used = _used(facts)
    if not used:
        return []
    numbers = {}
    for _, _, row in used:
        for key in row.sources:
            numbers.setdefault(key, str(len(numbers) + 1))
    rows = tuple(
        (name, by, ", ".join(numbers[key] for key in row.sources), row.note)
        for name, by, row in used
    )
    headings = ("used", "by", "sources", "remark")
    return [
        Heading("Sources of catalogue values"),
        without_empty(Table(headings, rows, frozenset(headings), data="catalogue")),
        Table(("", "source"), tuple((number, _said(key)) for key, number in numbers.items()),
              frozenset(("source",)), data="sources"),
        Paragraph("Values that the layout gives stand in the tables as the layout gives them; "
                  "their source is the layout.", "note"),
    ]


def _used(facts):
    """Return (name, who uses it, row) of each coax that a cable names and each material in it."""
    coax, materials = {}, {}
    for element in facts.layout.elements.values():
        named, shown = element.settings.values.get("coax"), facts.id_text(element.id)
        if named is not None:
            coax.setdefault(named.name, (named, {}))[1][shown] = True
            for _, material, _ in named.sections:
                materials.setdefault(material.name, (material, {}))[1][named.name] = True
        wire = element.settings.values.get("material")
        if hasattr(wire, "pieces"):
            materials.setdefault(wire.name, (wire, {}))[1][shown] = True
    return [
        (f"{kind} {name}", ", ".join(by), row)
        for kind, found in (("coax", coax), ("material", materials))
        for name, (row, by) in sorted(found.items())
    ]


def _said(key):
    known = sources().get(key)
    return str(known) if known is not None else key


def layout_blocks(facts: Result) -> list[Block]:
    """Return the layout's own text, its hash, what was changed for this run."""
    rows = tuple((name, digest) for name, digest in facts.files)
    blocks: list[Block] = [
        Heading("The layout itself"),
        Table(("file", "SHA-256"), rows, frozenset(("file", "SHA-256")), data="files"),
    ]
    if facts.layout.changes:
        blocks.append(Paragraph(
            "Changed for these pages, not in the file: " + ", ".join(facts.layout.changes),
            "warning",
        ))
    taken = set()
    for path, data in facts.layout.sources.items():
        name = facts.file_name(path)
        blocks.append(Copy(data, name, f"layout/{_own_name(name, taken)}"))
    return blocks


def _own_name(name, taken):
    """Return a plain file name that no other copy has."""
    plain = re.sub(r"[^A-Za-z0-9._-]", "_", name.rpartition("/")[2]).lstrip(".") or "layout"
    found, number = plain, 2
    while found.lower() in taken:
        found, number = f"{number}-{plain}", number + 1
    taken.add(found.lower())
    return found
