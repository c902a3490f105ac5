"""A service as a person at the cryostat reads it: text and page."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from chain.pages.blocks import Heading, Lines, Page, Paragraph, Table, without_empty
from chain.pages.html import page_html
from chain.pages.markdown import page_markdown
from chain.pages.provenance import provenance_of
from chain.service.cautions import AUTHORITY, PRACTICE
from chain.writing.foreign_text import one_line
from chain.writing.text import Result, wrapped

if TYPE_CHECKING:
    from chain.pages.blocks import Block

if TYPE_CHECKING:
    from chain.writing.text import Result

BACK = "Anchors by hand first; tighten them at the last joint of what they hold."

_SIGN = "date ________________   name ______________________   signature ______________________"


def service_text(found: Result) -> str:
    """Return the sheet as plain text."""
    lines = [one_line(found.layout.title), "", f"to take out: {one_line(found.what)}", "",
             wrapped(AUTHORITY, ""), ""]
    lines += [wrapped(f"{name}: {text}") for name, text in found.cautions]
    lines += [f"  ({PRACTICE})", ""]
    if not found.undo:
        return "\n".join([*lines, "Nothing in this layout has to be disconnected for it."])
    notes = notes_of(found)
    lines += [wrapped(f"comes out: {', '.join(found.removed)}", ""), "", "CAUTIONS AND CHECKS", ""]
    lines += [_hanging(letter, text) for text, letter in notes.items()]
    lines += ["", *_torque_lines(found.undo),
              "DISASSEMBLY (write the joint's name on a tag on both sides first)", ""]
    lines += _steps_text(found.undo, notes)
    lines += [f"REASSEMBLY ({BACK[0].lower()}{BACK[1:-1]})", ""]
    lines += _steps_text(found.redo, notes)
    return "\n".join([*lines, _SIGN])


def _hanging(letter, text):
    return textwrap.fill(f"{letter:<2} {text}", 96, initial_indent="  ", subsequent_indent=" " * 5)


def notes_of(found: Result) -> dict[str, str]:
    """Return {text: letter} of all cautions and long checks, in the order in which they come."""
    letters = {}
    for step in (*found.undo, *found.redo):
        for text in (*step.cautions, *(_general(check) for check in step.checks[:1])):
            letters.setdefault(text, _letter(len(letters)))
    return letters


def _letter(place):
    """Return a, b, ... z, aa, ab, ..."""
    text = ""
    while place >= 0:
        text = chr(ord("a") + place % 26) + text
        place = place // 26 - 1
    return text


def _general(check):
    """Return a continuity check without the parts that it is about."""
    return check.rpartition(" (")[0]


def _letters(step, notes):
    return " ".join(notes[text] for text in step.cautions)


def _checks(step, notes):
    """Return the checks of a step with the long first one as its letter."""
    if not step.checks:
        return ""
    first, *more = step.checks
    parts = first.rpartition(" (")[2].rstrip(")")
    return "; ".join([f"{notes[_general(first)]} of {parts}", *more])


def _torque_lines(steps):
    said = {step.torque for step in steps if step.torque}
    return [wrapped(f"torque: {said.pop()}", ""), ""] if len(said) == 1 else []


def _steps_text(steps, notes):
    """Return steps under the rungs that they stand on."""
    lines, rung, torques = [], None, {step.torque for step in steps if step.torque}
    for number, step in enumerate(steps, 1):
        if step.rung != rung:
            rung = step.rung
            lines += [f"-- {rung}", ""]
        at = f"  at {step.stage}" if step.stage else ""
        lines.append(f"[ ] {number:>3}. {step.joint}{at}  cautions {_letters(step, notes)}")
        torque = f"torque {step.torque}" if len(torques) > 1 and step.torque else ""
        said = ["" if step.checks else step.why, torque,
                f"tool {one_line(step.tool)}" if step.tool else "", step.then]
        lines += [wrapped(text, " " * 9) for text in said if text]
        if step.checks:
            lines.append(wrapped(f"[ ] check {_checks(step, notes)}", " " * 9))
    return [*lines, ""]


def service_page(found: Result) -> Page:
    """Return the sheet as a Page with boxes to tick and room to sign."""
    blocks: list[Block] = [
        Paragraph(AUTHORITY, "warning"),
        Table(("about", "before anything is opened"), found.cautions,
              frozenset(("about", "before anything is opened"))),
        Paragraph(f"Cautions: {PRACTICE}, unless one is named.", "note"),
    ]
    if not found.undo:
        blocks.append(Paragraph("Nothing in this layout has to be disconnected for it."))
    else:
        notes = notes_of(found)
        letters = tuple((letter, text) for text, letter in notes.items())
        blocks += [
            Heading("Comes out"), Paragraph(", ".join(found.removed)),
            Heading("Cautions and checks"),
            Table(("", "caution or check"), letters, frozenset(("", "caution or check")),
                  tight=True),
            *(Paragraph(line) for line in _torque_lines(found.undo) if line),
            Heading("Disassembly"),
            Paragraph("Write the joint's name on a tag on both sides first.", "note"),
            _table(found.undo, notes), Heading("Reassembly"),
            Paragraph(BACK, "note"), _table(found.redo, notes),
            Heading("Done"), Lines(("date", "name", "signature")),
        ]
    return Page("service", f"Service: {found.what}", tuple(blocks), provenance_of(found.layout))


def _table(steps, notes):
    """Return the Table of steps, a row across for each rung."""
    headings = ("done", "no.", "joint and tag", "stage", "cautions", "why here", "torque", "tool",
                "before" if steps[0].checks else "then", "check", "well")
    rows: list[tuple[str, ...]] = []
    rung, torques = None, {step.torque for step in steps if step.torque}
    for number, step in enumerate(steps, 1):
        if step.rung != rung:
            rung = step.rung
            rows.append((rung,))
        rows.append((
            "[ ]", str(number), step.joint, step.stage, _letters(step, notes),
            "" if step.checks else step.why,
            step.torque if len(torques) > 1 else "", step.tool, step.then,
            _checks(step, notes), "[ ]" if step.checks else "",
        ))
    return without_empty(Table(headings, tuple(rows), frozenset(headings) - {"no."}))


def sheet_file(found: Result, path: str) -> str:
    """Return the sheet as HTML or Markdown, by the ending of a file's name."""
    write = page_html if path.lower().endswith((".html", ".htm")) else page_markdown
    return write(service_page(found))
