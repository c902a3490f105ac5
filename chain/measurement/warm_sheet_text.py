"""The warm sheet as a person at the bench reads it, to tick off, and as CSV."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

import numpy as np

from chain.layout.naming import title_of
from chain.writing.text import TextTable, accepted_text, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chain.writing.text import Result
    from components.arrays import FloatArray

FLOOR_DB = -100.0
"""Level below which most analysers show their own noise (common practice, no source)."""

CAUTIONS = (
    "Before the analyser is connected: set its power within what every amplifier and paramp in "
    "the path withstands, discharge static; connectors clean, dry and turned at the nut alone. The "
    "makers' instructions and local rules go before this sheet.",
)


def sheet_text(found: Result) -> str:
    """Return the sheet as text: a box and a row a trace, at the ends and the middle of the band."""
    layout = found.layout
    f = layout.band.frequency_hz
    lines = [f"{title_of(layout)}: what the analyser should show", ""]
    lines += [wrapped(text, "") for text in layout.remarks]
    lines += [wrapped(
        f"In brackets what 95 of 100 realisations show by tolerances and unknown phases "
        f"({found.draws} draws), and +/- {found.within_db:g} dB for connections and "
        "calibration.", ""), ""]
    lines += [wrapped(text, "") for text in CAUTIONS] + [""]
    lines += _section("every joint closed", found.closed, f)
    if found.ports:
        named = ", ".join(found.ports)
        lines += _section(f"joints open at {named}", found.open, f)
    lines += _hints(found)
    lines.append("measured by ____________________   date ______________   analyser "
                 "____________________")
    lines += ["", *accepted_text(layout.accepted)] if layout.accepted else []
    return "\n".join(lines)


def _section(heading, rows, f):
    return [heading, "", trace_table(rows, f).text(), ""]


def trace_table(rows: Sequence[Result], f: FloatArray) -> TextTable:
    """Return the TextTable of traces, at the ends and the middle of frequencies f (Hz)."""
    places = sorted({0, len(f) // 2, len(f) - 1})
    table = TextTable(
        ["", "from", "to", "what", *(f"at {f[i] / 1e9:g} GHz\ndB" for i in places), "measured\ndB",
         "through"],
        left={"", "from", "to", "what", "through"},
    )
    left_out = 0
    for trace in rows:
        if _unseen(trace):
            left_out += 1
            continue
        to = "" if trace.is_reflection else trace.second
        also = f" (and {len(trace.alike)} alike)" if trace.alike else ""
        table.add(
            "[ ]", trace.first + also, to, trace.what, *(_level(trace, i) for i in places),
            "________", _through(trace),
        )
    if left_out:
        table.add(f"-- {left_out} more show nothing above {FLOOR_DB:g} dB")
    return table


def _unseen(trace):
    return not np.any(trace.high_db > FLOOR_DB)


def _level(trace, index):
    expected, low, high = (
        float(values[index]) for values in (trace.expected_db, trace.low_db, trace.high_db)
    )
    if high < FLOOR_DB:
        return f"below {FLOOR_DB:g}"
    return f"{expected:.1f} ({max(low, -999.9):.1f} .. {high:.1f})"


def _through(trace, most=6):
    ids = trace.through
    if len(ids) <= most:
        return " ".join(ids)
    return f"{' '.join(ids[:3])} .. {' '.join(ids[-2:])} ({len(ids)})"


def _hints(found):
    """Return lines on what would show more: joints at devices, return losses."""
    lines = []
    dark = [t for t in found.closed if not t.is_reflection and _unseen(t)]
    devices = [key for key, element in found.layout.elements.items()
               if element.kind.is_device and len(element.ports) == 2
               and any(key in t.through for t in dark)]
    if devices and not found.ports:
        opens = " ".join(f"--open {devices[0]}.{port}" for port in
                         found.layout.elements[devices[0]].ports)
        lines.append(wrapped(
            f"Through {devices[0]} nothing is seen: open its joints to see the input and the "
            f"output line apart ({opens}).", ""))
    if any(t.is_reflection and t.dark for t in found.traces):
        lines.append(wrapped(
            "Reflections are listed only where a part in the path has a return_loss or a file; "
            "what is not given counts as matched.", ""))
    return [*lines, ""] if lines else []


def sheet_csv(found: Result) -> str:
    """Return every trace as CSV, one row a frequency; equal copies have rows of their own."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["opened", "from", "to", "what", "frequency_hz", "expected_db", "low_db",
                     "high_db"])
    for trace in found.traces:
        for first, second in ((trace.first, trace.second), *trace.alike):
            head = [" ".join(trace.opened), first, second, trace.what]
            rows = zip(trace.frequency_hz, trace.expected_db, trace.low_db, trace.high_db,
                       strict=True)
            for row in rows:
                writer.writerow([*head, *(repr(float(v)) if np.isfinite(v) else "" for v in row)])
    return out.getvalue()
