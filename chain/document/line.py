"""The page of one line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.document.lists import element_table, joint_table, line_link
from chain.document.noise import signal_blocks
from chain.document.photons import photon_blocks
from chain.document.unknown import Unknown
from chain.drawing import draw_line
from chain.pages.blocks import Figure, Heading, Page, Paragraph, Table
from chain.power.power_text import frequency_text
from chain.power.remarks import SMALLEST_W, dbm
from chain.writing.numbers import si
from chain.writing.text import Result

if TYPE_CHECKING:
    from chain.layout.equal_lines import EqualLines
    from chain.pages.blocks import Block, Link


def line_page(facts: Result, group: EqualLines, links: tuple[Link, ...]) -> Page:
    """Return the Page of a group of equal lines."""
    layout, stem = facts.layout, facts.page_of[group.first]
    line = layout.lines[group.first]
    blocks: list[Block] = []
    if group.count > 1:
        blocks.append(Paragraph(
            f"{group.many}: {', '.join(group.lines)}. The drawing and the tables stand for every "
            "one of them; n is its number."
        ))
    if line.note:
        blocks.append(Paragraph(line.note))
    picture = draw_line(layout, group.first, facts.groups, facts.series)
    blocks += [
        Figure(picture, _caption(facts, group), stem),
        Heading("Elements"), element_table(facts, group), *_joined(facts, group),
    ]
    for signal in facts.signals_of(group):
        blocks += signal_blocks(facts, signal, stem)
    blocks += photon_blocks(facts, group)
    blocks += [*_tone_blocks(facts, group), *_finding_blocks(facts, group)]
    own = set(line.elements)
    joints = [j for j in layout.joints if j.first[0] in own or j.second[0] in own]
    blocks += [Heading("Joints"), joint_table(
        layout, joints, caption="Of the first of these lines." if group.count > 1 else "",
    )]
    provenance = f"{layout.title} · {facts.provenance}"
    return Page(stem, f"Line {group.name}", tuple(blocks), provenance, links)


def _caption(facts, group):
    many = f", {group.count} equal lines" if group.count > 1 else ""
    return (f"Line {group.name}{many}: stages from warm to cold, lines joined to it in grey. "
            "Rest the pointer on a symbol for its values.")


def _joined(facts, group):
    """Return the Table of the lines joined to this one."""
    layout, rows = facts.layout, []
    own = layout.lines[group.first].elements
    for key in own:
        for port in layout.elements[key].ports:
            other = layout.partners.get((key, port))
            if other is None or layout.elements[other[0]].line == group.first:
                continue
            rows.append((
                f"{facts.id_text(key)}.{port}", f"{facts.id_text(other[0])}.{other[1]}",
                line_link(facts, layout.elements[other[0]].line),
            ))
    if not rows:
        return []
    headings = ("port", "joined to", "of line")
    return [Heading("Joined lines", 3), Table(headings, tuple(rows), frozenset(headings))]


def _tone_blocks(facts, group):
    """Return the levels of every tone along the line."""
    power = facts.power
    if isinstance(power, Unknown):
        return [Heading("Tones"), Paragraph(f"They cannot be worked out: {power.why}", "warning")]
    rows = []
    for name, tone in power.tones.items():
        own = _levels(facts, group, tone)
        if own:
            rows += [(f"{name}, {frequency_text(tone)}",), *own]
    if not rows:
        return []
    headings = ("element", "port", "arriving dBm", "outgoing dBm", "absorbed")
    stem = facts.page_of[group.first]
    return [
        Heading("Tones"),
        Table(headings, tuple(rows), frozenset(("element", "port")), data=f"{stem}--tones",
              csv=_tone_csv(facts, group)),
    ]


def _levels(facts, group, tone):
    rows = []
    for key in facts.layout.lines[group.first].elements:
        element = facts.layout.elements[key]
        for place, port in enumerate(element.ports):
            name = f"{key}.{port}"
            into, out = (
                tone.while_on_w(waves.get(name, 0.0))
                for waves in (tone.arriving_w, tone.outgoing_w)
            )
            if max(into, out) < SMALLEST_W:
                continue
            absorbed = tone.absorbed_w.get(key) if place == 0 else None
            if tone.exiting_w.get(key, 0.0) > SMALLEST_W:
                said = f"exits {si(tone.exiting_w[key], 'W', 3)}"
            else:
                said = si(absorbed, "W", 3) if absorbed and absorbed > SMALLEST_W else ""
            rows.append((facts.id_text(key), port, dbm(into), dbm(out), said))
    return rows


def _tone_csv(facts, group):
    from chain.pages.sheets import as_csv

    rows = []
    for name, tone in facts.power.tones.items():
        for key in facts.layout.lines[group.first].elements:
            for port in facts.layout.elements[key].ports:
                port_name = f"{key}.{port}"
                if port_name in tone.arriving_w:
                    rows.append((
                        name, key, port, float(tone.arriving_w[port_name]),
                        float(tone.outgoing_w[port_name]),
                        float(tone.absorbed_w.get(key, 0.0)),
                    ))
    return as_csv(("tone", "element", "port", "arriving_w", "outgoing_w", "absorbed_w"), rows)


def _finding_blocks(facts, group):
    from chain.document.findings import finding_blocks

    own = {key for name in group.lines for key in facts.layout.lines[name].elements}
    found = [f for f in facts.advice.findings if own & set(f.elements)]
    return finding_blocks(facts, found, silent=True)
