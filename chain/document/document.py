"""From a layout to the files of its pages."""

from __future__ import annotations

from collections.abc import Callable
from os import PathLike
from typing import TYPE_CHECKING

from chain.document.cryostat import cryostat_page, labels_page, lists_page, poster_page
from chain.document.facts import Facts
from chain.document.line import line_page
from chain.document.warm import warm_page
from chain.pages.blocks import Copy, Figure, Link
from chain.pages.folder import write_folder
from chain.pages.html import page_html
from chain.pages.markdown import page_markdown
from chain.pages.sheets import page_sheets

if TYPE_CHECKING:
    from chain.layout.layout import Layout


def document(
    layout: Layout, progress: Callable[[int, int], object] | None=None
) -> dict[str, str | bytes]:
    """Return {file name: text} of all pages of a layout: HTML, Markdown, SVG, CSV.

    The same layout gives the same bytes, wherever and whenever.  `progress(done, of)` is called
    after each page.
    """
    facts = Facts(layout)
    files = {}
    of = len(facts.groups) + len(_OTHERS)
    for done, page in enumerate(_pages(facts), 1):
        _add(files, page)
        if progress is not None:
            progress(done, of)
    return files


def write_document(
    layout: Layout, folder: str | PathLike[str], progress: Callable[[int, int], object] | None=None
) -> None:
    """Write all pages of a layout into `folder`, whole or not at all; raises CannotWrite."""
    write_folder(folder, document(layout, progress), read=layout.files)


_OTHERS = (
    ("index", "Cryostat", cryostat_page),
    ("poster", "Drawing to pin up (A3)", poster_page),
    ("lists", "Parts and joints", lists_page),
    ("labels", "Labels", labels_page),
    ("warm", "Warm sheet", warm_page),
)


def _pages(facts):
    for group in facts.groups:
        yield line_page(facts, group, _links(facts.page_of[group.first]))
    for name, _, make in _OTHERS:
        yield make(facts, _links(name))


def _links(here):
    return tuple(Link(title, name) for name, title, _ in _OTHERS if name != here)


def _add(files, page):
    files[f"{page.name}.html"] = page_html(page)
    files[f"{page.name}.md"] = page_markdown(page)
    for block in page.blocks:
        if isinstance(block, Figure):
            files[f"figures/{block.name}.svg"] = block.svg
        elif isinstance(block, Copy):
            files[block.file] = block.data
    for name, text in page_sheets(page).items():
        files[f"data/{name}.csv"] = text
