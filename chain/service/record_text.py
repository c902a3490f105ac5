"""A service with its record as a person reads it: what stands out, what comes next, the log."""

from __future__ import annotations

from chain.layout.naming import title_of
from chain.service.cautions import AUTHORITY
from chain.writing.foreign_text import one_line
from chain.writing.text import Result, TextTable, wrapped

_TYPED = ("as_found", "as_left", "serial", "note")


def resumed_text(found: Result) -> str:
    """Return the text of a Resumed: remarks, what comes next, the log."""
    service = found.service
    of = len(service.undo) + len(service.redo) + len(service.holds)
    lines = [title_of(service.layout), "", f"to take out: {one_line(service.what)}", "",
             wrapped(AUTHORITY, ""), "",
             f"{len(found.entries)} of {of} rows of {one_line(found.path)} are initialled", ""]
    for remark in found.remarks:
        lines.append(wrapped(f"STOP: {remark.entry.joint}: {remark.says} ({remark.entry.place})",
                             ""))
    lines += [""] if found.remarks else []
    lines += [*_next(found), "", "log", "", _log(found).text()]
    return "\n".join(lines)


def _next(found):
    if not found.next_steps and not found.next_holds:
        return ["everything is initialled"]
    if not found.next_steps:
        return [wrapped(f"next: hold point {found.next_holds[0].name}", "")]
    way, number, step = found.next_steps[0]
    lines = [wrapped(
        f"next: {way} step {number}, {step.joint}{f' at {step.stage}' if step.stage else ''}; "
        f"{len(found.next_steps)} steps and {len(found.next_holds)} hold points are left", "")]
    said = [step.then, step.caution, step.check]
    return lines + [wrapped(text) for text in said if text]


def _log(found):
    table = TextTable(["way", "joint", "read\ndB", "initials", "time", "said"],
                      left={"way", "joint", "initials", "time", "said"})
    for entry in found.entries:
        said = "; ".join(f"{name.replace('_', ' ')} {entry.typed[name]}" for name in _TYPED
                         if name in entry.typed)
        level = "" if entry.measured_db is None else f"{entry.measured_db:.1f}"
        table.add(entry.way, entry.joint, level, entry.typed["initials"],
                  entry.typed.get("time", ""), said)
    return table
