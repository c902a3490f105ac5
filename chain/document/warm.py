"""The page of the warm sheet: what an analyser should show before the cryostat closes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chain.document.unknown import Unknown
from chain.measurement.warm_sheet_text import CAUTIONS, FLOOR_DB
from chain.pages.blocks import Heading, Lines, Listing, Page, Paragraph, Table
from chain.pages.sheets import as_csv
from chain.writing.text import Result

if TYPE_CHECKING:
    from chain.pages.blocks import Block, Link

MAX_ROWS_SHOWN = 3
"""Frequencies at which levels are listed."""


def warm_page(facts: Result, links: tuple[Link, ...]) -> Page:
    """Return the Page of the warm sheet: every joint closed, then those at devices open."""
    blocks: list[Block] = [Paragraph(text, "warning") for text in CAUTIONS]
    if isinstance(facts.warm, Unknown):
        blocks.append(Paragraph(f"It cannot be worked out: {facts.warm.why}", "warning"))
    else:
        blocks += [
            Listing(tuple(facts.said(text) for text in facts.warm.remarks)),
            Paragraph("In brackets what 95 of 100 realisations show by tolerances and unknown "
                      "phases, and what connections and calibration may add.", "note"),
            *_section(facts, (), "Every joint closed", "warm"),
        ]
        ports = _at_devices(facts.layout)
        if ports:
            blocks += _section(facts, ports, "Joints at devices open", "warm-open")
        blocks += [
            Paragraph("Part by part: chain warm LAYOUT --open PORT.", "note"),
            Heading("Done"), Lines(("date", "name", "analyser")),
        ]
    provenance = f"{facts.layout.title} · {facts.provenance}"
    return Page("warm", "Warm sheet", tuple(blocks), provenance, links)


def _at_devices(layout):
    """Return the joined ports of all devices: through one little can be seen."""
    return [
        f"{element.id}.{port}" for element in layout.elements.values()
        if element.kind.is_device for port in element.ports
    ]


def _traces(facts, ports):
    f = facts.layout.band.frequency_hz
    at = f[np.unique(np.linspace(0, f.size - 1, MAX_ROWS_SHOWN).round().astype(int))]
    found = facts.warm_traces(ports, at)
    if isinstance(found, Unknown):
        return found
    # What a device shows to itself is for who made it.
    return [trace for trace in found if not {trace.first, trace.second} <= set(ports)]


def _section(facts, ports, heading, data):
    """Return what is seen with the joints at `ports` open."""
    found = _traces(facts, ports)
    if isinstance(found, Unknown):
        return [Heading(heading), Paragraph(f"It cannot be worked out: {found.why}", "warning")]
    shown = [trace for trace in found if np.any(trace.high_db > FLOOR_DB)]
    blocks: list[Block] = [Heading(heading)]
    if shown:
        f = found[0].frequency_hz / 1e9
        headings = ("", "what", *(f"at {x:g} GHz, dB" for x in f), "measured, dB", "through")
        blocks.append(Table(
            headings, tuple(_row(trace) for trace in shown),
            frozenset(("", "what", "through")), data=data, csv=_csv(found),
        ))
    unseen = len(found) - len(shown)
    if unseen:
        more = f"{unseen} more show" if shown else "Nothing is seen: all show"
        blocks.append(Paragraph(f"{more} nothing above {FLOOR_DB:g} dB.", "note"))
    elif not shown:
        blocks.append(Paragraph("There are no outside connectors to see it from.", "note"))
    return blocks


def _row(trace):
    many = f" (and {len(trace.alike)} alike)" if trace.alike else ""
    return ("[ ]", trace.name + many,
            *(_level(trace, i) for i in range(trace.frequency_hz.size)), "",
            _through(trace.through))


def _through(ids):
    return ", ".join(ids) if len(ids) < 4 else f"{ids[0]} to {ids[-1]} ({len(ids)} parts)"


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
