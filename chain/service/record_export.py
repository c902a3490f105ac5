"""The record of a service as CSV to type into."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from chain.pages.sheets import as_csv
from chain.service.equal_steps import shown_steps
from chain.writing.text import Result

UNDO, REDO, HOLD = "open", "close", "hold"

STATED = ("way", "step", "line", "stage", "joint", "from", "to", "opened", "frequency_hz",
          "expected_db", "low_db", "high_db")
"""Columns that the sheet fills in."""
TYPED = ("as_found", "as_left", "measured_db", "serial", "initials", "time", "note")
"""Columns that people fill in."""


def record_csv(found: Result) -> str:
    """Return the record of a Service to type into: a row for each joint and each hold point."""
    rows = [
        [*_row(found, way, number, step), *("" for _ in TYPED)]
        for way, steps in ((UNDO, found.undo), (REDO, found.redo))
        for number, step in numbered(found, steps)
    ]
    rows += [[HOLD, None, "", hold.stage, hold.name, *[None] * 7, *("" for _ in TYPED)]
             for hold in found.holds]
    return as_csv((*STATED, *TYPED), rows)


def numbered(found: Result, steps: Sequence[Result]) -> Iterator[tuple[int, Result]]:
    """Yield (number on the sheet, step) in the order in which the steps are taken."""
    number = {
        step.joint: shown.number
        for shown in shown_steps(found.layout, steps) for step in shown.steps
    }
    for step in steps:
        yield number[step.joint], step


def _row(found, way, number, step):
    line = found.layout.elements[step.elements[0]].line
    head = [way, number, line, step.stage, step.joint]
    reading = step.reading
    if reading is None:
        return [*head, *[None] * 7]
    levels = (reading.expected_db, reading.low_db, reading.high_db)
    return [*head, reading.first, reading.second, " ".join(reading.opened), reading.frequency_hz,
            *(level if math.isfinite(level) else None for level in levels)]
