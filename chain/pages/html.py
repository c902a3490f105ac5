"""Pages as HTML: one file each, no script, nothing loaded from elsewhere."""

import html as markup
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
from chain.writing.foreign_text import one_line, visible

STYLE = """
:root { --ink: #1c1c1c; --soft: #5a5a5a; --rule: #c4c4c4; --pale: #f3f4f6; }
* { box-sizing: border-box; }
html { font: 15px/1.45 system-ui, sans-serif; color: var(--ink); background: #fff; }
body { margin: 0 auto; padding: 1.2rem 1.5rem 3rem; max-width: 68rem; }
header { border-bottom: 2px solid var(--ink); margin-bottom: 1rem; }
h1 { font: bold 1.6rem/1.2 serif; margin: .2rem 0 .3rem; }
h2 { font: bold 1.2rem/1.25 serif; margin: 2rem 0 .6rem; border-bottom: 1px solid var(--rule); }
h3 { font: bold 1rem/1.3 serif; margin: 1.4rem 0 .4rem; }
p, li { max-width: 46rem; margin: .4rem 0; }
p, li, td, th, h1, h2, h3, figcaption, .provenance { unicode-bidi: isolate;
  overflow-wrap: break-word; }
p, li, h1, h2, h3, figcaption, .long { overflow-wrap: anywhere; }
.provenance { color: var(--soft); font-size: .8rem; margin: 0 0 .5rem; max-width: none; }
nav { font-size: .87rem; margin: 0 0 .6rem; }
nav a { margin-right: .9rem; display: inline-block; }
a { color: inherit; text-decoration: underline; text-underline-offset: .15em; }
p.note { color: var(--soft); font-size: .87rem; }
p.warning { border-left: 4px solid var(--ink); padding: .25rem .7rem; background: var(--pale); }
table { border-collapse: collapse; font-size: .8rem; line-height: 1.35; margin: .4rem 0 1rem;
  font-variant-numeric: tabular-nums; }
th, td { padding: .2rem .45rem; border-bottom: 1px solid var(--rule); vertical-align: top;
  text-align: right; }
th { font-weight: bold; vertical-align: bottom; border-bottom: 1.5px solid var(--ink); }
td { white-space: nowrap; }
th.l, td.l { text-align: left; }
td.w { white-space: normal; }
th:first-child, td:first-child { padding-left: 0; }
td.across { text-align: left; font-style: italic; background: var(--pale); white-space: normal;
  padding-left: .3rem; }
.table { overflow-x: auto; }
.n { white-space: nowrap; }
figure { margin: .8rem 0 1.2rem; }
figure svg { max-width: 100%; height: auto; display: block; }
figcaption { font-size: .87rem; color: var(--soft); margin-top: .3rem; }
pre { font: .8rem/1.4 monospace; background: var(--pale); border: 1px solid var(--rule);
  padding: .6rem .8rem; white-space: pre-wrap; overflow-wrap: anywhere; unicode-bidi: isolate; }
.labels { display: grid; grid-template-columns: repeat(auto-fill, minmax(11.5rem, 1fr));
  gap: 0; }
.label { border: 1px dashed var(--soft); padding: .35rem .5rem; margin: -1px 0 0 -1px;
  overflow-wrap: anywhere; break-inside: avoid; }
.label b { font: bold 1rem/1.2 monospace; display: block; }
.label span { display: block; font-size: .74rem; color: var(--soft); unicode-bidi: isolate; }
p.line { border-bottom: 1px solid var(--ink); width: 22rem; margin-top: 1.6rem; }
.box { display: inline-block; width: .85em; height: .85em; border: 1.3px solid var(--ink);
  vertical-align: -.05em; }
@media (max-width: 60rem) {
  table { font-size: .73rem; }
  th, td { padding: .2rem .22rem; }
  th { font-size: .66rem; }
}
@media (max-width: 40rem) {
  body { padding: .8rem .8rem 2rem; }
  .table, figure { overflow-x: auto; }
  figure svg { max-width: none; }
  td.w { min-width: 9rem; }
  th:first-child, td:first-child { position: sticky; left: 0; background: #fff; z-index: 1; }
  td.w:first-child { min-width: 6rem; max-width: 8rem; overflow-wrap: anywhere; }
  td.across:first-child { position: static; max-width: none; background: var(--pale); }
  figure svg.chart { width: 35rem; }
  /* A shade at the right while there is more to scroll to. */
  .table { background:
    linear-gradient(to left, #fff 40%, #fff0) right / 2.5rem 100% no-repeat local,
    linear-gradient(to left, #0004, #0000) right / .7rem 100% no-repeat scroll; }
  figcaption { position: sticky; left: 0; max-width: calc(100vw - 2rem); }
  pre { font-size: .73rem; }
}
@media print {
  @page { margin: 14mm 13mm; }
  html { font-size: 10pt; }
  body { max-width: none; padding: 0; }
  nav { display: none; }
  h2, h3, p.before { break-after: avoid; }
  table { font-size: 8pt; }
  .table { overflow: visible; }
  thead { display: table-header-group; }
  tr, figure, p, li, .lines { break-inside: avoid; }
  tr.across, tbody tr:nth-child(-n+2):not(:last-child) { break-after: avoid; }
  tbody tr:nth-last-child(-n+2):not(:first-child) { break-before: avoid; }
  figure svg { max-height: 205mm; max-width: 100%; margin: 0 auto; }
  pre { border: 0; padding: 0; background: none; font-size: 8pt; }
  a { text-decoration: none; }
}
"""

_POSTER = """
figure { overflow-x: auto; }
figure svg { max-width: none; }
@media print {
  @page { size: PAPER; margin: 0; }
  header, nav, p { display: none; }
  body, main, figure { margin: 0; padding: 0; }
  figure { overflow: hidden; break-after: page; }
  figure:last-child { break-after: avoid; }
  figure svg { max-width: none; max-height: none; margin: 0; }
  figcaption { display: none; }
}
"""
"""What a page adds whose pictures fill whole sheets."""


def page_html(page):
    """Return a Page as a whole HTML file."""
    links = "".join(f'<a href="{_href(link)}">{_text(link.text)}</a>' for link in page.links)
    style = STYLE + (_POSTER.replace("PAPER", page.paper) if page.paper else "")
    body = "\n".join(_BLOCKS[type(block)](block) for block in page.blocks)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{_text(page.title)}</title>\n<style>{style}</style>\n</head>\n<body>\n"
        f"<header>\n<h1>{_text(page.title)}</h1>\n"
        f'<p class="provenance">{_text(page.provenance)}</p>\n</header>\n'
        + (f"<nav>{links}</nav>\n" if links else "")
        + f"<main>\n{body}\n</main>\n</body>\n</html>\n"
    )


def _text(text):
    return markup.escape(one_line(text), quote=True)


_COPY = re.compile(r"(?<![\w-])[A-Za-z]\w{0,59}-\d+(?![\w-])")


def _running(text):
    """Return text as HTML in which no line breaks inside an id of a copy, as `P1-7`."""
    return _COPY.sub(r'<span class="n">\g<0></span>', _text(text))


def _href(link):
    return markup.escape(f"{link.page}.html", quote=True)


def _cell(cell):
    if isinstance(cell, Link):
        return f'<a href="{_href(cell)}">{_text(cell.text)}</a>'
    text = _running(cell) if len(cell) > _SHORT else _text(cell)
    return _BOXED.sub(r'<span class="n">\1<span class="box"></span></span>', text)


_BOXED = re.compile(r"(\d*)\[ \]")

BOX = "[ ]"
"""A cell or text that is a box to tick."""


def _heading(block):
    return f"<h{block.level}>{_text(block.text)}</h{block.level}>"


def _paragraph(block):
    weight = "" if block.weight == "plain" else f' class="{block.weight}"'
    return f"<p{weight}>{_running(block.text)}</p>"


def _listing(block):
    return "<ul>" + "".join(f"<li>{_cell(item)}</li>" for item in block.items) + "</ul>"


def _table(block):
    sides = [' class="l"' if heading in block.left else "" for heading in block.headings]
    head = "".join(
        f"<th{side}>{_text(heading)}</th>"
        for heading, side in zip(block.headings, sides, strict=True)
    )
    rows = "\n".join(_row(row, block) for row in block.rows)
    caption = f'<p class="note before">{_text(block.caption)}</p>\n' if block.caption else ""
    top = "" if block.tight else f"<thead><tr>{head}</tr></thead>\n"
    return (f'{caption}<div class="table"><table>{top}<tbody>\n{rows}\n</tbody></table></div>')


def _row(row, block):
    if len(row) != len(block.headings):
        across = f'colspan="{len(block.headings)}"'
        return f'<tr class="across"><td class="across" {across}>{_cell(row[0])}</td></tr>'
    cells = "".join(
        f"<td{_class(cell, heading in block.left)}>{_cell(cell)}</td>"
        for cell, heading in zip(row, block.headings, strict=True)
    )
    return f"<tr>{cells}</tr>"


_SHORT, _LONGEST_WORD = 22, 28
"""Characters of a cell that stays on one line, and of a word that is not broken."""


def _class(cell, left):
    """Return the class of a cell: only long texts are wrapped, only endless words are broken."""
    text = cell.text if isinstance(cell, Link) else cell
    names = ["l"] if left else []
    if len(text) > _SHORT:
        names.append("w")
        if max(map(len, text.split()), default=0) > _LONGEST_WORD:
            names.append("long")
    return f' class="{" ".join(names)}"' if names else ""


def _figure(block):
    caption = f"<figcaption>{_text(block.caption)}</figcaption>\n" if block.caption else ""
    return f"<figure>\n{block.svg}{caption}</figure>"


def _copy(block):
    text = visible(block.data.decode("utf-8-sig", "replace"))
    return f'<p class="note">{_text(block.caption)}</p><pre>{markup.escape(text)}</pre>'


def _labels(block):
    found = []
    for large, small in block.labels:
        lines = "".join(f"<span>{_text(line)}</span>" for line in small)
        found.append(f'<div class="label"><b>{_text(large)}</b>{lines}</div>')
    return '<div class="labels">\n' + "\n".join(found) + "\n</div>"


def _lines(block):
    lines = "".join(f'<p class="line">{_text(name)}</p>' for name in block.names)
    return f'<div class="lines">{lines}</div>'


_BLOCKS = {
    Heading: _heading, Paragraph: _paragraph, Listing: _listing, Table: _table, Figure: _figure,
    Copy: _copy, LabelSheet: _labels, Lines: _lines,
}
