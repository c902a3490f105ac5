"""A measured trace beside a layout as a person reads it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chain.layout.naming import title_of
from chain.writing.foreign_text import one_line
from chain.writing.text import TextTable, wrapped

if TYPE_CHECKING:
    from chain.writing.text import Result


def measured_trace_text(found: Result) -> str:
    """Return the comparison as text: each parameter's verdict, and where it leaves its interval."""
    ports = ", ".join(f"port {i + 1} is {port}" for i, port in enumerate(found.ports))
    lines = [f"{title_of(found.layout)}: {one_line(found.path)} ({ports})", ""]
    lines += [overlay_table(found).text(), ""]
    for overlay in found.overlays:
        lines += [wrapped(text, "") for text in overlay.words]
    if not found.overlays:
        lines.append("the layout states nothing of what the file shows: no path between its ports, "
                     "and no reflection at them")
    lines += ["", *(wrapped(text, "") for text in found.remarks)]
    return "\n".join(lines).rstrip("\n")


def overlay_table(found: Result) -> TextTable:
    """Return the TextTable of every parameter: how much of it lies inside its interval."""
    table = TextTable(
        ["", "from", "to", "points\ninside", "points", "furthest out\ndB"], left={"", "from", "to"}
    )
    for overlay in found.overlays:
        trace = overlay.trace
        out = np.maximum(trace.low_db - overlay.measured_db, overlay.measured_db - trace.high_db)
        table.add(
            overlay.parameter, trace.first, trace.second if trace.second != trace.first else "",
            str(int(np.count_nonzero(out <= 0))), str(len(out)),
            f"{max(float(out.max()), 0.0):.1f}",
        )
    return table
