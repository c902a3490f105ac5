"""A log of levels that were typed in, as a person reads it, and as CSV."""

from __future__ import annotations

import csv
import io
import math

from chain.layout.naming import title_of
from chain.writing.foreign_text import one_line
from chain.writing.text import Result, TextTable, wrapped


def log_text(found: Result) -> str:
    """Return the text of a BenchLog."""
    lines = [f"{title_of(found.layout)}: {one_line(found.path)}", ""]
    lines += [wrapped(text, "") for text in found.layout.remarks] + [""]
    table = TextTable(
        ["from", "to", "GHz", "measured\ndB", "expected\ndB", "", "initials", "time", "open"],
        left={"from", "to", "", "initials", "time", "open"},
    )
    for one in found.readings:
        reading = one.reading
        table.add(
            reading.first, reading.second, f"{reading.frequency_hz / 1e9:g}",
            f"{reading.measured_db:.1f}", _expected(one), one.verdict, reading.initials,
            reading.time, " ".join(reading.opened),
        )
    outside = sum(one.verdict == "outside" for one in found.readings)
    said = "all inside their intervals, or not known" if not outside else \
        f"{outside} of {len(found.readings)} outside: find out why before anything more is closed"
    return "\n".join([*lines, table.text(), "", said])


def _expected(one):
    if one.verdict == "not known":
        return ""
    if not math.isfinite(one.expected_db):
        return "nothing" if not math.isfinite(one.high_db) else f"below {one.high_db:.1f}"
    return f"{one.expected_db:.1f} ({one.low_db:.1f} .. {one.high_db:.1f})"


def log_csv(found: Result) -> str:
    """Return a BenchLog as CSV, one row a level."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    rows = [one.as_dict() for one in found.readings]
    writer.writerow(rows[0])
    for row in rows:
        row["opened"] = " ".join(row["opened"])
        writer.writerow(_cell(value) for value in row.values())
    return out.getvalue()


def _cell(value):
    if isinstance(value, float):
        return repr(value) if math.isfinite(value) else ""
    text = one_line(value)
    return f"'{text}" if text.startswith(("=", "+", "-", "@")) else text
