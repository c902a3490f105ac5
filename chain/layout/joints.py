"""Joints as people name, find and tighten them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.writing.value_text import value_text
from components.connectors import UnknownConnector, connector

if TYPE_CHECKING:
    from chain.layout.layout import Joint, Layout, Port
    from components.connectors import ConnectorType

MAKER = "as specified by the connector's maker"


def joint_name(joint: Joint) -> str:
    """Return a joint's name, which is also the tag to write on it: `A1.out / W2.in`."""
    return " / ".join(".".join(port) for port in (joint.first, joint.second))


def stage_of(layout: Layout, joint: Joint) -> str | None:
    """Return the name of the stage at which a joint is made, or None where nothing says it."""
    for key, port in (joint.first, joint.second):
        element = layout.elements[key]
        if element.from_stage is not None:
            return element.from_stage if port == element.ports[0] else element.to_stage
        if element.stage is not None:
            return element.stage
    return None


def connector_text(layout: Layout, port: Port) -> str:
    """Return what the layout says of the connector at a port (id, name); empty where nothing."""
    return (layout.elements[port[0]].settings["connectors"] or {}).get(port[1], "")


def connector_type(layout: Layout, port: Port) -> ConnectorType | None:
    """Return the ConnectorType of a port, or None where the layout does not say a known one."""
    text = connector_text(layout, port)
    try:
        return connector(text).type if text else None
    except UnknownConnector:
        return None


def torque_of(layout: Layout, joint: Joint) -> tuple[str, str]:
    """Return (torque, its source) of a joint: the layout's, a standard's, or the maker's."""
    for key, _ in (joint.first, joint.second):
        said = layout.elements[key].settings["torque"]
        if said is not None:
            return value_text(said), "the layout"
    for port in (joint.first, joint.second):
        kind = connector_type(layout, port)
        if kind is not None and kind.torque_n_m is not None:
            low, high = kind.torque_n_m
            return f"{low:g} to {high:g} N m", kind.torque_source
    return MAKER, ""


def pushed_on(layout: Layout, joint: Joint) -> bool:
    """Tell whether a joint is pushed on, as far as the layout states its connectors."""
    kinds = (connector_type(layout, port) for port in (joint.first, joint.second))
    return any(kind is not None and kind.push_on for kind in kinds)
