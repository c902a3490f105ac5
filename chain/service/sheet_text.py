"""A service as a person at the cryostat reads it, as plain text."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from chain.service.cautions import AUTHORITY, PRACTICE
from chain.service.equal_steps import shown_steps
from chain.service.notes import (
    BACK,
    SIGNED,
    STOP,
    checks_text,
    letters_text,
    notes_of,
    one_torque,
)
from chain.writing.foreign_text import one_line
from chain.writing.text import Result, wrapped

if TYPE_CHECKING:
    from chain.service.equal_steps import ShownStep

_SIGN = "date ________________   name ______________________   signature ______________________"
_FOUND = "as found ____________   initials ______   time ______"
_LEFT = "as left ____________   initials ______   time ______"
_BOXES_A_LINE = 12


def service_text(found: Result) -> str:
    """Return the sheet of a Service as plain text."""
    lines = [one_line(found.layout.title), "", f"to take out: {one_line(found.what)}", "",
             wrapped(AUTHORITY, ""), ""]
    lines += [wrapped(f"{name}: {text}") for name, text in found.cautions]
    lines += [f"  ({PRACTICE})", ""]
    if not found.undo:
        return "\n".join([*lines, "Nothing in this layout has to be disconnected for it."])
    notes = notes_of(found)
    lines += [wrapped(f"comes out: {found.removed_text}", ""), "", "CAUTIONS AND CHECKS", ""]
    lines += [_hanging(letter, text) for text, letter in notes.items()]
    lines += ["", wrapped(STOP, ""), wrapped(SIGNED, ""), ""]
    torque = one_torque(found)
    lines += [wrapped(torque, ""), ""] if torque else []
    lines += ["DISASSEMBLY (write the joint's name on a tag on both sides first)", ""]
    lines += _steps_text(found, found.undo, notes)
    lines += [f"REASSEMBLY ({BACK[0].lower()}{BACK[1:-1]})", ""]
    lines += _steps_text(found, found.redo, notes)
    lines += _holds_text(found)
    return "\n".join([*lines, _SIGN])


def _hanging(letter, text):
    return textwrap.fill(f"{letter:<2} {text}", 96, initial_indent="  ", subsequent_indent=" " * 5)


def _steps_text(found, steps, notes):
    """Return steps under the rungs that they stand on, equal copies once."""
    lines, rung, turn, torques = [], None, "", {step.torque for step in steps if step.torque}
    for shown in shown_steps(found.layout, steps):
        step = shown.step
        if step.rung != rung:
            rung = step.rung
            lines += [f"-- {rung}", ""]
        if shown.turn not in ("", turn):
            lines.append(wrapped(shown.turn, ""))
        turn = shown.turn
        at = f"  at {step.stage}" if step.stage else ""
        lines.append(f"[ ] {shown.number:>3}. {step.joint}{at}  cautions "
                     f"{letters_text(step, notes)}")
        torque = f"torque {step.torque}" if len(torques) > 1 and step.torque else ""
        said = ["" if step.checks else step.why, torque,
                f"tool {one_line(step.tool)}" if step.tool else "", step.then,
                _serials(step)]
        lines += [wrapped(text, " " * 9) for text in said if text]
        if step.checks:
            lines.append(wrapped(f"[ ] check {checks_text(step, notes)}", " " * 9))
        lines += [" " * 9 + text for text in _written(shown)]
    return [*lines, ""]


def _serials(step):
    return f"serial numbers: {', '.join(step.serials)}" if step.serials else ""


def _written(shown: ShownStep) -> list[str]:
    """Return lines to write on: as found or left, initials, time; boxes for every copy."""
    line = _LEFT if shown.step.checks else _FOUND
    if shown.step.reading is not None:
        line = line.replace("as left", "read ________ dB   as left")
    boxes = [f"{number} [ ]" for number in shown.copies]
    rows = [boxes[i:i + _BOXES_A_LINE] for i in range(0, len(boxes), _BOXES_A_LINE)]
    return [*("n = " + "  ".join(row) if i == 0 else "    " + "  ".join(row)
              for i, row in enumerate(rows)), line]


def _holds_text(found):
    lines = ["HOLD POINTS (nobody closes a can before its hold point is signed)", ""] \
        if found.holds else []
    if not lines:
        return []
    checks = found.holds[0].checks
    lines += [_hanging(str(i), text) for i, text in enumerate(checks, 1)]
    boxes = "  ".join(f"{i} [ ]" for i, _ in enumerate(checks, 1))
    for hold in found.holds:
        lines += ["", wrapped(f"[ ] HOLD {hold.name}", ""),
                  f"         {boxes}   initials ______   second person ______   time ______"]
    return [*lines, ""]
