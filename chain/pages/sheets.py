"""Tables of pages as CSV."""

import csv
import io

from chain.pages.blocks import LabelSheet, Link, Table
from chain.writing.foreign_text import one_line

_FORMULA = ("=", "+", "-", "@")


def page_sheets(page):
    """Return {name: CSV text} of a Page's tables that have a name."""
    found = {}
    for block in page.blocks:
        if isinstance(block, Table) and block.data:
            found[block.data] = block.csv if block.csv is not None else as_csv(
                block.headings, (row for row in block.rows if len(row) == len(block.headings))
            )
        elif isinstance(block, LabelSheet) and block.data:
            found[block.data] = as_csv(
                ("label", "beside"), ((large, ", ".join(small)) for large, small in block.labels)
            )
    return found


def as_csv(headings, rows):
    """Return CSV text; cells that a spreadsheet would take for a formula begin with '."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(headings)
    for row in rows:
        writer.writerow([_cell(cell) for cell in row])
    return out.getvalue()


def _cell(cell):
    if isinstance(cell, float | int):
        return "" if cell != cell else f"{cell:.9g}"  # not a number: not known
    if cell is None:
        return ""
    text = one_line(cell.text if isinstance(cell, Link) else cell)
    risky = text.startswith(_FORMULA) and text != "-" and not _is_number(text)
    return f"'{text}" if risky else text


def _is_number(text):
    try:
        float(text.split(" ")[0])
    except ValueError:
        return False
    return all(word.isalpha() or "/" in word for word in text.split(" ")[1:2])
