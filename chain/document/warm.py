"""The page of the warm sheet: what an analyser should show before the cryostat closes."""

import numpy as np

from chain.analyser import REFLECTION, opened, traces
from chain.document.blocks import Heading, Lines, Listing, Page, Paragraph, Table
from chain.document.facts import Unknown
from chain.document.sheets import as_csv
from chain.errors import LayoutError
from chain.warm_sheet import CAUTIONS, FLOOR_DB

FEW = 3
"""Frequencies at which levels are told."""


def warm_page(facts, ways):
    """Return the Page of the warm sheet, every joint closed."""
    blocks = [Paragraph(text, "warning") for text in CAUTIONS]
    found = _traces(facts)
    if isinstance(found, Unknown):
        blocks.append(Paragraph(f"It cannot be worked out: {found.why}", "warning"))
    elif not found:
        blocks.append(Paragraph("The layout has no outside connectors."))
    else:
        blocks += _sheet(facts, found)
    standing = f"{facts.layout.title} · {facts.standing}"
    return Page("warm", "Warm sheet", tuple(blocks), standing, ways)


def _traces(facts):
    if isinstance(facts.warm, Unknown):
        return facts.warm
    f = facts.layout.band.frequency_hz
    at = f[np.unique(np.linspace(0, f.size - 1, FEW).round().astype(int))]
    try:
        return traces(opened(facts.warm, ()), frequency_hz=at)
    except LayoutError as error:
        return Unknown(facts.said(str(error)))


def _sheet(facts, found):
    shown = [trace for trace in found if np.any(trace.high_db > FLOOR_DB)]
    f = found[0].frequency_hz / 1e9
    headings = ("", "from", "to", "what", *(f"at {x:g} GHz, dB" for x in f), "measured, dB",
                "through")
    rows = tuple(_row(facts, trace) for trace in shown)
    blocks = [
        Listing(tuple(facts.said(text).replace("`", "") for text in facts.warm.remarks)),
        Paragraph("In brackets what 95 of 100 builds show by tolerances and unknown phases, and "
                  "what connections and calibration may add.", "note"),
        Table(headings, rows, frozenset(("", "from", "to", "what", "through")), data="warm",
              csv=_csv(found)),
    ]
    if len(shown) < len(found):
        blocks.append(Paragraph(
            f"{len(found) - len(shown)} more show nothing above {FLOOR_DB:g} dB.", "note"
        ))
    return [
        *blocks,
        Paragraph("Part by part, joints open: chain warm LAYOUT --open PORT.", "note"),
        Heading("Done"), Lines(("date", "name", "analyser")),
    ]


def _row(facts, trace):
    many = f" (and {len(trace.alike)} alike)" if trace.alike else ""
    to = "" if trace.what == REFLECTION else trace.second
    return ("[ ]", trace.first + many, to, trace.what,
            *(_level(trace, i) for i in range(trace.frequency_hz.size)), "",
            ", ".join(trace.through))


def _level(trace, i):
    expected, low, high = (float(v[i]) for v in (trace.expected_db, trace.low_db, trace.high_db))
    if high < FLOOR_DB:
        return f"below {FLOOR_DB:g}"
    return f"{expected:.1f} ({max(low, -999.9):.1f} .. {high:.1f})"


def _csv(found):
    rows = []
    for trace in found:
        for first, second in ((trace.first, trace.second), *trace.alike):
            for x, *levels in zip(trace.frequency_hz, trace.expected_db, trace.low_db,
                                  trace.high_db, strict=True):
                rows.append((first, second, trace.what, float(x),
                             *(float(v) if np.isfinite(v) else None for v in levels)))
    return as_csv(("from", "to", "what", "frequency_hz", "expected_db", "low_db", "high_db"), rows)
