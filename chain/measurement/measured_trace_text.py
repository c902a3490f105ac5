"""A measured trace beside a layout as a person reads it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chain.layout.naming import title_of
from chain.writing.foreign_text import one_line
from chain.writing.text import TextTable, wrapped

if TYPE_CHECKING:
    from chain.writing.text import Result


MAX_SUSPECTS = 6


def _location(found):
    """Return where it may be, and what to open next."""
    lines = ["", "where it may be", ""]
    lines += [wrapped(text, "") for text in found.evidence]
    if found.located:
        table = TextTable(["joint or piece", "weight"], left={"joint or piece"})
        for one in found.suspects[:MAX_SUSPECTS]:
            table.add(one.where, f"{100 * one.weight:.0f} %")
        lines += ["", table.text(), ""]
    else:
        lines.append(wrapped("Nothing in the file tells one joint from another: neither an echo "
                             "(a reflection with its phases) nor a ripple.", ""))
    if found.unknown:
        lines.append(wrapped(f"The layout does not say how long {', '.join(found.unknown)} is: "
                             "beyond it places are not known (length:).", ""))
    if found.open_next is not None:
        why = "most suspicious" if found.suspects[0] is found.open_next else \
            "it parts what is left most evenly"
        lines.append(wrapped(
            f"open next: {found.open_next.where} ({why}); look at it, then measure from both its "
            f"ends: chain warm LAYOUT --open {'.'.join(found.open_next.joint[0])}. Before that the "
            "cautions of chain service.", ""))
    return lines


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
    lines += _location(found.location) if found.location is not None else []
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
