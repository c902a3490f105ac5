"""A service as pages with boxes to tick and room to write: one sheet, or one a line and a stage."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from chain.layout.equal_lines import equal_lines
from chain.pages.blocks import Heading, Lines, Link, Page, Paragraph, Table, without_empty
from chain.pages.html import page_html
from chain.pages.markdown import page_markdown
from chain.pages.provenance import provenance_of
from chain.service.cautions import AUTHORITY, PRACTICE
from chain.service.equal_steps import shown_steps
from chain.service.notes import (
    BACK,
    SIGNED,
    STOP,
    TAG,
    checks_text,
    letters_text,
    notes_of,
    one_torque,
)
from chain.writing.text import Result

if TYPE_CHECKING:
    from chain.pages.blocks import Block

_WRITE = "________"
"""A cell to write in: its width keeps the column open."""


def service_page(found: Result) -> Page:
    """Return the sheet as a Page with boxes to tick and room to sign."""
    return Page("service", f"Service: {found.what}", _blocks(found), provenance_of(found.layout))


def _blocks(
    found: Result, belongs: Callable[[Result], bool] | None = None
) -> tuple[Block, ...]:
    """Return what a sheet holds, or the part of it to which steps belong, numbered as the whole."""
    whole = belongs is None
    blocks: list[Block] = [
        Paragraph(AUTHORITY, "warning"),
        Table(("about", "before anything is opened"), found.cautions,
              frozenset(("about", "before anything is opened"))),
        Paragraph(f"Cautions: {PRACTICE}, unless one is named.", "note"),
    ]
    if not found.undo:
        return (*blocks, Paragraph("Nothing in this layout has to be disconnected for it."))
    notes = notes_of(found)
    undo, redo = (
        [shown for shown in shown_steps(found.layout, steps)
         if belongs is None or any(map(belongs, shown.steps))]
        for steps in (found.undo, found.redo)
    )
    used = notes_of(found.steps(belongs)) if belongs else notes
    letters = tuple((letter, text) for text, letter in notes.items() if text in used)
    torque = one_torque(found)
    blocks += [
        *((Heading("Comes out"), Paragraph(found.removed_text)) if whole else ()),
        Heading("Cautions and checks"),
        Table(("", "caution or check"), letters, frozenset(("", "caution or check")), tight=True),
        *([Paragraph(torque)] if torque else []),
        Paragraph(f"{STOP} {SIGNED}", "warning"),
        Heading("Disassembly"), Paragraph(TAG, "note"), _table(undo, notes),
        Heading("Reassembly"), Paragraph(BACK, "note"), _table(redo, notes),
        *(_hold_blocks(found) if whole else ()),
        Heading("Done"), Lines(("date", "name", "signature")),
    ]
    return tuple(blocks)


def _table(every, notes):
    """Return the Table of ShownSteps, a row across for each rung and each turn of copies."""
    back = bool(every[0].step.checks)
    headings = ("done", "no.", "joint and tag", "stage", "cautions", "why here", "torque", "tool",
                "before" if back else "then", "check", "well",
                *(("read, dB",) if back else ()),
                f"as {'left' if back else 'found'}, initials, time")
    rows: list[tuple[str, ...]] = []
    rung, turn, torques = None, "", {shown.step.torque for shown in every if shown.step.torque}
    for shown in every:
        step = shown.step
        if step.rung != rung:
            rung = step.rung
            rows.append((rung,))
        if shown.turn not in ("", turn):
            rows.append((shown.turn,))
        turn = shown.turn
        boxes = " ".join(f"{number}[ ]" for number in shown.copies) or "[ ]"
        rows.append((
            boxes, str(shown.number), _with_serials(step), step.stage, letters_text(step, notes),
            "" if back else step.why, step.torque if len(torques) > 1 else "", step.tool,
            step.then, checks_text(step, notes), "[ ]" if back else "",
            *((_WRITE if step.reading is not None else "",) if back else ()), _WRITE,
        ))
    return without_empty(Table(headings, tuple(rows), frozenset(headings) - {"no."}))


def _with_serials(step):
    """Return the joint of a step with the serial numbers of what it joins, where they are known."""
    return f"{step.joint} (serial {', '.join(step.serials)})" if step.serials else step.joint


def _hold_blocks(found):
    if not found.holds:
        return
    yield Heading("Hold points")
    yield Paragraph("Nobody closes a can before its hold point is signed.", "warning")
    checks = found.holds[0].checks
    numbers = tuple(str(i) for i, _ in enumerate(checks, 1))
    yield Table(("", "checked at each"), tuple(zip(numbers, checks, strict=True)),
                frozenset(("", "checked at each")))
    boxes = " ".join(f"{i}[ ]" for i in numbers)
    headings = ("hold point", "checked", "initials", "second person", "time")
    rows = tuple((f"HOLD {hold.name}", boxes, _WRITE, _WRITE, _WRITE) for hold in found.holds)
    yield Table(headings, rows, frozenset(headings))


# -- a page a line and a stage ------------------------------------------------------------------


def service_pages(found: Result) -> list[Page]:
    """Return the whole sheet and a Page for each line and each stage with the steps there."""
    layout = found.layout
    parts: list[tuple[str, str, Callable]] = []
    for group in equal_lines(layout):
        own = {key for name in group.lines for key in layout.lines[name].elements}
        parts.append((f"line-{group.first}", f"Line {group.name}",
                      lambda step, own=own: bool(own & set(step.elements))))
    for place, stage in enumerate(layout.stages):
        parts.append((f"stage-{place}", f"Stage {stage}",
                      lambda step, stage=stage: step.stage == stage))
    kept = [part for part in parts if any(map(part[2], found.undo))]
    links = (Link("Whole sheet", "index"), *(Link(title, name) for name, title, _ in kept))
    head = provenance_of(layout)
    return [
        Page("index", f"Service: {found.what}", _blocks(found), head, links[1:]),
        *(Page(name, f"{title}: {found.what}", _blocks(found, belongs), head,
               tuple(link for link in links if link.page != name))
          for name, title, belongs in kept),
    ]


def service_files(found: Result) -> dict[str, str | bytes]:
    """Return {file name: text} of all pages of a service, HTML and Markdown, and its record."""
    from chain.service.record_export import record_csv

    files: dict[str, str | bytes] = {"record.csv": record_csv(found)}
    for page in service_pages(found):
        files[f"{page.name}.html"] = page_html(page)
        files[f"{page.name}.md"] = page_markdown(page)
    return files


def sheet_file(found: Result, path: str) -> str:
    """Return the sheet as HTML or Markdown, by the ending of a file's name."""
    write = page_html if path.lower().endswith((".html", ".htm")) else page_markdown
    return write(service_page(found))
