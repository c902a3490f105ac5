"""Sections on the photons that arrive at devices, and where they come from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.document.unknown import Unknown
from chain.layout.naming import called
from chain.noise.copies import together
from chain.pages.blocks import Figure, Heading, Paragraph, Table
from chain.pages.charts import bars
from chain.pages.sheets import as_csv
from chain.writing.numbers import number
from chain.writing.text import Result

if TYPE_CHECKING:
    from chain.layout.equal_lines import EqualLines
    from chain.pages.blocks import Block

_LEAST = 1e-3
"""Part of all photons below which an emitter is counted with the others."""

_MOST = 3
"""Emitters that the table of all devices names."""


def photon_table_blocks(facts: Result) -> list[Block]:
    """Return the photons at every port of every device, with what most of them come from."""
    found = facts.arrivals
    if isinstance(found, Unknown):
        return [Heading("Photons at devices"),
                Paragraph(f"They cannot be worked out: {found.why}", "warning")]
    if not found:
        return []
    rows, data = [], []
    for one in found:
        total, ordered = _ordered(one)
        most = [f"{_ids_text(facts, ids)} {100 * value / total:.3g} %"
                for ids, value in ordered[:_MOST] if value >= _LEAST * total > 0]
        rows.append((_port_text(facts, one), number(total, 3), ", ".join(most)))
        data += [(one.port, key, float(values[0])) for key, values in one.photons.items()]
    headings = ("port", "photons", "most of them from")
    ghz = f"{found[0].frequency_hz[0] / 1e9:g}"
    return [Heading("Photons at devices"), Table(
        headings, tuple(rows), frozenset((headings[0], headings[2])),
        f"Arriving above the vacuum, at {ghz} GHz", "photons",
        as_csv(("port", "from", "photons"), data),
    )]


def photon_blocks(facts: Result, group: EqualLines) -> list[Block]:
    """Return a picture for each port of a device on a line: its photons by emitter."""
    if isinstance(facts.arrivals, Unknown):
        return []
    own, blocks = set(facts.layout.lines[group.first].elements), []
    for one in facts.arrivals:
        device = one.port.partition(".")[0]
        total, ordered = _ordered(one)
        if device not in own or not total > 0:
            continue
        rows = [(_ids_text(facts, ids), value) for ids, value in ordered
                if value >= _LEAST * total]
        rest = total - sum(value for _, value in rows)
        rows += [("all others", rest)] if rest > _LEAST * total else []
        name = _port_text(facts, one)
        blocks.append(Figure(
            bars([(name_of, value, f"{number(value, 3)}  ({100 * value / total:.3g} %)")
                  for name_of, value in rows], f"Photons arriving at {name}, by what emits them"),
            f"Photons above the vacuum that arrive at {name} at "
            f"{one.frequency_hz[0] / 1e9:g} GHz, {number(total, 3)} in all, by what emits them",
            f"{facts.page_of[group.first]}--photons-{len(blocks) + 1}",
        ))
    return [Heading("Photons at the device"), *blocks] if blocks else []


def _ordered(one):
    """Return (photons in all, [(ids of copies that give the same, photons)] largest first)."""
    by_id = [(ids, float(values[0])) for ids, values in together(one.layout, one.photons).items()]
    return float(one.total_photons[0]), sorted(by_id, key=lambda item: -item[1])


def _ids_text(facts, ids):
    return facts.id_text(ids[0]) if len(ids) == 1 else called(facts.layout, ids)


def _port_text(facts, one):
    device, _, port = one.port.partition(".")
    return f"{facts.id_text(device)}.{port}"
