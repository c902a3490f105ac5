"""The page of the whole cryostat, and the pages of lists and labels."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.document.findings import accepted_blocks, finding_blocks
from chain.document.lists import label_blocks, line_link, list_blocks
from chain.document.noise import residual_text, signal_table
from chain.document.photons import photon_table_blocks
from chain.document.sources import convention_blocks, layout_blocks, source_blocks
from chain.document.unknown import Unknown
from chain.drawing import draw_in_parts, legend, posters
from chain.heat.by_line import DARK, MAX_ROWS, heat_by_line
from chain.heat.heat_text import contribution_table, stage_table
from chain.pages.blocks import (
    Figure,
    Heading,
    Link,
    Listing,
    Page,
    Paragraph,
    Table,
    from_text_table,
    without_empty,
)
from chain.pages.charts import bars
from chain.pages.heat_map import heat_map
from chain.pages.sheets import as_csv
from chain.power.levels import level_warnings
from chain.power.power_text import frequency_text, level_table, rating_table
from chain.power.power_text import stage_table as tone_stage_table
from chain.power.ratings import rating_warnings
from chain.power.remarks import alike_tones, cascade_lines, dbm, dumped_cold, leaks
from chain.writing.numbers import number, si
from chain.writing.text import Result

if TYPE_CHECKING:
    from chain.pages.blocks import Block

MAX_DRAWINGS = 8
"""Drawings on the page of the cryostat; where there are more, each line's page has its own."""


def cryostat_page(facts: Result, links: tuple[Link, ...]) -> Page:
    """Return the Page of the cryostat."""
    blocks = [
        *_drawing_blocks(facts),
        *finding_blocks(facts, facts.advice.findings), *accepted_blocks(facts),
        *_line_blocks(facts), *_signal_blocks(facts), *photon_table_blocks(facts),
        *_heat_blocks(facts), *_tone_blocks(facts), *convention_blocks(),
        *source_blocks(facts), *layout_blocks(facts),
    ]
    return Page("index", facts.layout.title, tuple(blocks), facts.provenance, links)


def lists_page(facts: Result, links: tuple[Link, ...]) -> Page:
    """Return the Page of parts and joints."""
    return _side_page(facts, "lists", "Parts and joints", list_blocks(facts), links)


def poster_page(facts: Result, links: tuple[Link, ...]) -> Page:
    """Return the Page of the drawing to pin up, on A3."""
    sheets = posters(facts.layout, facts.groups, facts.provenance)
    name = "poster" if len(sheets) == 1 else "poster-{}"
    note = Paragraph("For A3; print it without margins of the printer's own.", "note")
    figures = [
        Figure(svg, "", name.format(place)) for place, (svg, _) in enumerate(sheets, 1)
    ]
    paper = "A3 landscape" if sheets[0][1] else "A3 portrait"
    return Page("poster", "Drawing to pin up", (note, *figures), facts.provenance, links, paper)


def labels_page(facts: Result, links: tuple[Link, ...]) -> Page:
    """Return the Page of labels."""
    return _side_page(facts, "labels", "Labels", label_blocks(facts), links)


def _side_page(facts, name, title, blocks, links):
    return Page(name, title, tuple(blocks), f"{facts.layout.title} · {facts.provenance}", links)


def _line_blocks(facts):
    layout, rows = facts.layout, []
    for group in facts.groups:
        line = layout.lines[group.first]
        rows.append((
            line_link(facts, group.first), str(group.count), _way(layout, line),
            str(len(line.elements)),
            ", ".join(facts.signal_text(name) for name in facts.signals_of(group)),
            line.note or "",
        ))
    headings = ("line", "count", "stages", "elements", "signals", "note")
    left = frozenset(("line", "stages", "signals", "note"))
    return [Heading("Lines"), without_empty(Table(headings, tuple(rows), left, data="lines"))]


def _way(layout, line):
    """Return the stages at which a line begins, is coldest and ends."""
    order = {name: place for place, name in enumerate(layout.stages)}
    met = [name for key in line.elements for name in _stages(layout.elements[key])]
    if not met:
        return ""
    turns = [met[0], max(met, key=order.__getitem__), met[-1]]
    return " to ".join(a for a, b in zip(turns, [*turns[1:], None], strict=True) if a != b)


def _stages(element):
    """Return the stages of an element in the order in which its line meets them."""
    if element.from_stage is None:
        return [element.stage] if element.stage else []
    ends = [element.from_stage, element.to_stage]
    turned = len(element.ports) > 1 and element.enter == element.ports[-1]
    return ends[::-1] if turned else ends


def _drawing_blocks(facts):
    pictures = []
    for picture in draw_in_parts(facts.layout, facts.groups):
        pictures.append(picture)
        if len(pictures) > MAX_DRAWINGS:
            return [Heading("Drawing"), Paragraph(
                f"The {len(facts.groups)} lines need more drawings than fit here: the drawing to "
                "pin up has them all, each line's page its own."
            ), Listing((Link("Drawing to pin up (A3)", "poster"),)), _legend(facts)]
    blocks: list[Block] = [Heading("Drawing")]
    for place, picture in enumerate(pictures, 1):
        part = f", part {place} of {len(pictures)}" if len(pictures) > 1 else ""
        blocks.append(Figure(
            picture, f"All lines{part}: stages from warm to cold, equal lines once with their "
            "count. A ring on a wire is a cable, a block on it an anchor.",
            "cryostat" if len(pictures) == 1 else f"cryostat-{place}",
        ))
    return [*blocks, _legend(facts)]


def _legend(facts):
    return Figure(legend(facts.layout), "Symbols: after IEC 60617 and IEEE 315 from memory where "
                  "they have one, else a box.", "symbols")


def _signal_blocks(facts):
    if not facts.paths:
        return []
    return [Heading("Signals"), signal_table(facts)]


# -- heat ---------------------------------------------------------------------------------------


def _heat_blocks(facts):
    heat = facts.heat
    if not facts.layout.stages:
        return []
    if isinstance(heat, Unknown):
        return [Heading("Heat"), Paragraph(f"It cannot be worked out: {heat.why}", "warning")]
    blocks = [
        Heading("Heat"),
        without_empty(
            from_text_table(stage_table(heat), data="heat", csv=_heat_csv(heat)), also=("0 W",)
        ),
    ]
    rows = [_heat_bar(name, one) for name, one in heat.stages.items()
            if one.cooling_w is not None]
    if rows:
        blocks.append(Figure(
            bars(rows, "Heat load of each stage, percent of its cooling power", mark=100.0),
            "Heat load of each stage over its cooling power; dashed: all of it", "heat",
        ))
        blocks.append(_heat_map(heat))
    blocks.append(without_empty(
        from_text_table(
            contribution_table(heat), caption="Largest contributions", data="heat-contributions"
        ),
        also=("0 W",),
    ))
    return blocks + [Paragraph(facts.said(text), "warning") for text in heat.warnings]


def _heat_map(heat):
    found = heat_by_line(heat)
    rows, more = found.largest(MAX_ROWS)
    stages = heat.layout.stages
    cells = [
        (row, [(found.words(row, stage), found.shade(row, stage),
                f"{row} at {stage}: {', '.join(found.words(row, stage))}")
               for stage in found.stages])
        for row in rows
    ]
    left_out = f" {more} lines that bring less are left out." if more else ""
    return Figure(
        heat_map(
            [(name, si(stages[name].temperature_k, "K", 3)) for name in found.stages], cells,
            "Heat of each line at each stage", dark=DARK,
        ),
        "Heat of each line at each stage, and its part of the stage's cooling power: the darker, "
        f"the more.{left_out}", "heat-lines",
    )


def _heat_bar(name, one):
    if one.total_w is None:
        return (name, None, "unknown")
    used = 100 * one.total_w / one.cooling_w if one.cooling_w else 0.0
    return (name, used, f"{number(used, 3)} %, {si(one.total_w, 'W', 3)}")


def _heat_csv(heat):
    stages = heat.as_dict()["stages"]
    headings = ["stage"]
    for one in stages.values():
        headings += [key for key in one if key not in (*headings, "unknown")]
    rows = [
        (name, *(str(one[key]) if isinstance(one[key], bool) else one[key] for key in headings[1:]))
        for name, one in stages.items()
    ]
    return as_csv(headings, rows)


# -- tones --------------------------------------------------------------------------------------


def _tone_blocks(facts):
    power = facts.power
    if not facts.layout.tones:
        return []
    if isinstance(power, Unknown):
        return [Heading("Tones"), Paragraph(f"They cannot be worked out: {power.why}", "warning")]
    blocks = [Heading("Tones"), _sent(power)]
    if facts.layout.stages:
        blocks.append(from_text_table(
            tone_stage_table(power), caption="Power dissipated at each stage", data="tones-stages",
        ))
    levels = level_table(power)
    if levels is not None:
        blocks.append(from_text_table(
            levels, caption="Levels at amplifiers (a paramp's own pump not counted)",
            data="tones-levels",
        ))
    if power.ratings:
        blocks.append(from_text_table(
            rating_table(power), caption="Tones and noise against ratings", data="tones-ratings",
        ))
    warnings = [
        *dumped_cold(power), *level_warnings(power), *rating_warnings(power), *power.warnings
    ]
    blocks += [Paragraph(facts.said(text), "warning") for text in warnings]
    return blocks + [Paragraph(text) for text in [*leaks(power), *cascade_lines(power)]]


def _sent(power):
    rows = []
    for label, (name, *more) in alike_tones(power).items():
        tone, made = power.tones[name], power.idler_of.get(name)
        into = f"made of {made} by the paramp" if made else power.layout.tones[name].into
        rows.append((
            label, frequency_text(tone), f"{into} (and {len(more)} alike)" if more else into,
            "" if made else dbm(tone.while_on_w(tone.injected_w)),
            si(tone.injected_w, "W", 3), si(tone.given_w, "W", 3),
            si(sum(tone.absorbed_w.values()), "W", 3), si(sum(tone.exiting_w.values()), "W", 3),
            residual_text(tone.closure),
        ))
    headings = ("tone", "frequency", "into", "sent dBm", "sent", "given by amplifiers", "absorbed",
                "exiting", "balance residual")
    return Table(headings, tuple(rows), frozenset(("tone", "frequency", "into")), data="tones")
