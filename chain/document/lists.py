"""Parts, joints, labels: what is bought, what is screwed together, what is written on it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from chain.layout.equal_lines import PERSONAL
from chain.layout.joints import MAKER, connector_text, joint_name, stage_of, torque_of
from chain.layout.naming import where_text
from chain.pages.blocks import Heading, LabelSheet, Link, Paragraph, Table, without_empty
from chain.pages.sheets import as_csv
from chain.writing.numbers import si
from chain.writing.text import Result
from chain.writing.value_text import given, value_text

if TYPE_CHECKING:
    from chain.layout.equal_lines import EqualLines
    from chain.layout.layout import Joint, Layout
    from chain.pages.blocks import Block

# -- joints -------------------------------------------------------------------------------------

_JOINT = ("joint", "line", "stage", "connectors", "torque")


def joint_rows(layout: Layout, joints: Iterable[Joint]) -> list[tuple[str, ...]]:
    """Return rows of a joint list: the tag, line, stage, connectors, torque."""
    rows: list[tuple[str, ...]] = []
    for joint in joints:
        sides = [connector_text(layout, port) or "?" for port in (joint.first, joint.second)]
        connectors = "" if sides == ["?", "?"] else " to ".join(sides)
        torque, source = torque_of(layout, joint)
        rows.append((
            joint_name(joint), layout.elements[joint.first[0]].line, stage_of(layout, joint) or "",
            connectors, f"{torque} ({source})" if source else torque,
        ))
    return rows


def joint_table(
    layout: Layout, joints: Iterable[Joint], *, caption: str = "", data: str = ""
) -> Table:
    """Return the Table of joints; where all take the maker's torque, that is said once."""
    rows = joint_rows(layout, joints)
    csv = as_csv(_JOINT, rows) if data else None
    headings, notes = list(_JOINT), []
    for name, empty in (("connectors", ""), ("torque", MAKER)):
        place = headings.index(name)
        if rows and all(row[place] == empty for row in rows):
            headings.pop(place)
            rows = [(*row[:place], *row[place + 1:]) for row in rows]
            notes.append(name)
    said = caption
    if "torque" in notes:
        said = f"{caption} Torque: {MAKER}.".strip()
    if "connectors" in notes:
        said = f"{said} The layout does not say which connectors.".strip()
    return Table(tuple(headings), tuple(rows), frozenset(headings), said, data, csv)


# -- parts --------------------------------------------------------------------------------------


_MARKS = ("tag", "serial", "note")
"""What is told of each element by itself."""


def part_blocks(layout: Layout) -> list[Block]:
    """Return the parts list: equal parts on one row, costs added up."""
    headings = ("count", "spares", "part", "kind", "values", "connectors", "cost each", "cost",
                "ids", ", ".join(_MARKS))
    rows = [_part_row(group) for group in _part_groups(layout)]
    totals = [("in all", *row) for row in _totals(layout)]
    # A page has room for the cost of all alike; the file of the table has that of each too.
    each = headings.index("cost each")
    shown = headings[:each] + headings[each + 1:]
    blocks = [
        Heading("Parts"),
        without_empty(Table(
            shown, tuple((*row[:each], *row[each + 1:]) for row in rows),
            frozenset(shown) - {"count", "spares", "cost"}, data="parts",
            csv=as_csv(headings, rows),
        )),
    ]
    if totals:
        blocks.append(Table(("", "cost", "of elements"), tuple(totals), frozenset(("",)),
                            "Costs that the layout gives"))
    missing = sum(1 for e in layout.elements.values() if not e.settings.given("cost"))
    if totals and missing:
        blocks.append(Paragraph(
            f"{missing} of {len(layout.elements)} elements have no cost in the layout.", "note"
        ))
    return [*blocks, *_length_blocks(layout)]


def _part_groups(layout):
    groups = {}
    for element in layout.elements.values():
        values = tuple(item for item in given(element) if item[0] not in PERSONAL)
        cost = element.settings.values.get("cost")
        groups.setdefault((element.part, element.kind.name, values, cost), []).append(element)
    return list(groups.values())


def _part_row(elements):
    first = elements[0]
    values = ", ".join(
        f"{name.replace('_', ' ')} {text}" for name, text in given(first)
        if name not in PERSONAL and name != "connectors"
    )
    spares = max((element.settings["spares"] or 0 for element in elements), default=0)
    stated = any(element.settings.given("spares") for element in elements)
    cost = first.settings.values.get("cost")
    each = total = ""
    if cost is not None:
        each, total = _money(cost[0], cost[1]), _money(cost[0] * len(elements), cost[1])
    marks = []
    for element in elements:
        said = [element.settings[name] for name in _MARKS if element.settings[name]]
        if said:
            marks.append(f"{element.id}: {', '.join(said)}")
    connectors = value_text(first.settings["connectors"] or {})
    return (str(len(elements)), str(spares) if stated else "", first.part or "", first.kind.name,
            values, connectors, each, total, ", ".join(element.id for element in elements),
            "; ".join(marks))


def _money(amount, currency):
    return f"{amount:,.2f} {currency}".replace(",", " ")


def _totals(layout):
    sums = {}
    for element in layout.elements.values():
        cost = element.settings.values.get("cost")
        if cost is not None:
            amount, count = sums.get(cost[1], (0.0, 0))
            sums[cost[1]] = (amount + cost[0], count + 1)
    return [(_money(amount, currency), str(count)) for currency, (amount, count) in sums.items()]


def _length_blocks(layout):
    lengths = {}
    for element in layout.elements.values():
        coax = element.settings.values.get("coax")
        if coax is not None and element.settings.given("length"):
            lengths.setdefault(coax.name, []).append(element.settings["length"].value)
    if not lengths:
        return []
    rows = tuple(
        (name, str(len(own)), si(sum(own), "m")) for name, own in sorted(lengths.items())
    )
    return [Table(("coax", "pieces", "length in all"), rows, frozenset(("coax",)),
                  "Cable, without what bends and cuts take", data="cable")]


def list_blocks(facts: Result) -> list[Block]:
    """Return the blocks of the page of lists."""
    layout = facts.layout
    return [
        *part_blocks(layout),
        Heading("Joints"),
        Paragraph("Write the joint's name on a tag on both sides of it before it is opened.",
                  "note"),
        joint_table(layout, layout.joints, data="joints"),
    ]


# -- labels -------------------------------------------------------------------------------------


def label_blocks(facts: Result) -> list[Block]:
    """Return the sheet of labels: one for each element, one for each end of each cable."""
    layout = facts.layout
    labels: list[tuple[str, tuple[str, ...]]] = []
    for element in layout.elements.values():
        name = element.settings["tag"] or element.id
        said = "" if name == element.id else f"{element.id}, "
        beside = (f"{said}{element.kind.name}", f"line {element.line}", where_text(element))
        if not element.kind.spans_stages or not element.ports:
            labels.append((name, beside))
            continue
        for port in element.ports:
            partner = layout.partners.get((element.id, port))
            to = f"to {'.'.join(partner)}" if partner else "free"
            labels.append((f"{name}.{port}", (to, *beside)))
    return [
        Paragraph("Print, cut along the dashes. A cable has a label for each end, which says "
                  "where the end belongs.", "note"),
        LabelSheet(tuple(labels), data="labels"),
    ]


def element_table(facts: Result, group: EqualLines) -> Table:
    """Return the Table of the elements of equal lines."""
    layout, rows = facts.layout, []
    for place, key in enumerate(layout.lines[group.first].elements):
        element = layout.elements[key]
        values = ", ".join(
            f"{name.replace('_', ' ')} {text}" for name, text in given(element)
            if name not in PERSONAL
        )
        copies = [layout.elements[layout.lines[name].elements[place]] for name in group.lines]
        rows.append((facts.id_text(key), element.kind.name, where_text(element), values,
                     _remark(copies)))
    headings = ("id", "kind", "stage", "values", "remarks")
    return without_empty(Table(headings, tuple(rows), frozenset(headings)))


def _remark(copies):
    """Return what is personal to a part; of copies that differ, where to find it."""
    said = []
    for name in ("tag", "serial", "cost", "note"):
        texts = {value_text(e.settings[name]) if e.settings[name] else "" for e in copies}
        if texts == {""}:
            continue
        if len(texts) > 1:
            said.append(f"{name} of each in the parts list")
        else:
            text = texts.pop()
            said.append(text if name == "note" else f"{name} {text}")
    return "; ".join(said)


def line_link(facts: Result, line: str) -> Link:
    """Return the Link to the page of a line."""
    return Link(facts.group_of[line].name, facts.page(line))
