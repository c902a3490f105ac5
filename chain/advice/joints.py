"""What holds parts together: connectors that mate, clamps that keep their grip in the cold."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from chain.advice.rules import ERROR, NOTE, WARNING, Remark, rule
from components.connectors import UnknownConnector, connector
from components.materials import named

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection


@rule(
    "no-mate", ERROR,
    why="two connectors that do not mate cannot be joined, and forcing them breaks both",
    source="names and families of IEC 61169 and IEEE 287, from memory",
)
def no_mate(inspection: Inspection) -> Iterator[Remark]:
    """Look at type and sex on both sides of every joint where both are stated."""
    for joint in inspection.layout.joints:
        sides = [_connector(inspection, port) for port in (joint.first, joint.second)]
        if None in sides or sides[0].mates(sides[1]):
            continue
        first, second = (".".join(port) for port in (joint.first, joint.second))
        yield Remark(
            (joint.first[0], joint.second[0]),
            f"{first} is {sides[0]} and {second} is {sides[1]}",
            "order one of them with the other connector, or write the adapter that joins them as "
            "an element of its own, with its loss",
            _place(inspection, joint.second),
        )


def _connector(inspection, port):
    said = inspection.element(port[0]).settings["connectors"] or {}
    try:
        return connector(said[port[1]]) if port[1] in said else None
    except UnknownConnector:
        return None


def _place(inspection, port):
    return inspection.element(port[0]).place_of("connectors")


@rule(
    "connector-unknown", WARNING,
    why="what is not known cannot be checked against its neighbour",
    source="names of IEC 61169 and IEEE 287, from memory",
)
def connector_unknown(inspection: Inspection) -> Iterator[Remark]:
    """Look for connectors that name no known type and sex."""
    for key in inspection.ids:
        for port, text in (inspection.element(key).settings["connectors"] or {}).items():
            try:
                connector(text)
            except UnknownConnector as error:
                place = _place(inspection, (key, port))
                yield Remark((key,), f"{key}.{port}: {error.what}", error.instead, place)


@rule(
    "clamp-loosens", WARNING, margins=("clamp",),
    why="a body that shrinks more than the screws through it is loose when cold, and its joint no "
    "longer carries heat; brass screws keep their grip in copper",
    source="contractions 293 to 4 K: J. W. Ekin, Experimental Techniques for Low-Temperature "
    "Measurements (2006), appendix 6, and the other sources of the catalogue",
)
def clamp_loosens(inspection: Inspection) -> Iterator[Remark]:
    """Look at the contraction of every clamped body against that of its screws."""
    for key, said, shrinks in _clamps(inspection):
        body, screws = shrinks["body"], shrinks["screws"]
        if not body or not screws or max(body) - min(screws) <= inspection.margin("clamp"):
            continue
        yield Remark(
            (key,),
            f"{key}: {said['body']} shrinks by {100 * max(body):.3f} % from 293 to 4 K and its "
            f"{said['screws']} screws by {100 * min(screws):.3f} %: the clamp loosens as it cools",
            _better_screws(inspection.layout.materials, max(body)),
            inspection.element(key).place_of("clamp"),
        )


@rule(
    "clamp-unknown", NOTE,
    why="without both contractions nobody can say whether the joint holds when cold",
    source="the catalogue",
)
def clamp_unknown(inspection: Inspection) -> Iterator[Remark]:
    """Look for clamps of a metal whose contraction is not known."""
    for key, said, shrinks in _clamps(inspection):
        for part, values in shrinks.items():
            if not values:
                yield Remark(
                    (key,), f"{key}: the contraction of its {part}, {said[part]}, is not known",
                    f"add it: materials: {{{said[part]}: {{contraction: 0.3 %}}}}",
                    inspection.element(key).place_of("clamp"),
                )


def _clamps(inspection):
    """Yield (id, what is stated, {part: contractions of the rows that it names})."""
    for key in inspection.ids:
        said = inspection.element(key).settings["clamp"]
        if said:
            yield key, said, {
                part: [
                    row.contraction for row in named(word, inspection.layout.materials)
                    if row.contraction is not None
                ]
                for part, word in said.items()
            }


def _better_screws(materials, body):
    fit = sorted(
        name for name, row in materials.items()
        if row.contraction is not None and row.resistivity is not None and row.contraction >= body
        and not name.startswith("copper")
    )
    names = f" ({', '.join(fit)})" if fit else ""
    return (
        f"use screws that shrink as much or more{names}, or spring washers, or a sleeve of a metal "
        "that shrinks less under the heads"
    )
