"""Margins that are given for one run, beside those of the layout."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from chain.errors import LayoutError, Place
from chain.layout.margins import BY_NAME
from chain.reading.context import ReadContext
from chain.reading.nodes import Scalar
from chain.reading.problems import MistakeError, Problems
from chain.reading.values import read
from chain.suggestions import choose
from components.quantities import Quantity

if TYPE_CHECKING:
    from typing import Any


def read_margin(text: str) -> tuple[str, Any]:
    """Return (name, Quantity) of a margin's `NAME=VALUE`; raises LayoutError."""
    name, equals, value = (part.strip() for part in text.partition("="))
    place = Place(f"--margin {text}")
    if not equals or name not in BY_NAME:
        raise LayoutError.at(
            place, f"there is no margin {name!r}" if equals else f"{text!r} is no NAME=VALUE",
            choose(name, BY_NAME, "margins"),
        )
    node = Scalar(place.file, 1, len(name) + 2, value)
    try:
        return name, read(node, BY_NAME[name].reads, ReadContext(Problems()), name)
    except MistakeError as mistake:
        raise LayoutError.at(mistake.place, mistake.what, mistake.instead) from mistake


def read_margins(margins: Mapping[str, Quantity | str | float]) -> dict[str, Quantity]:
    """Return margins, {name: text with its unit, or Quantity}, as quantities.

    Raises LayoutError.
    """
    return dict(
        (name, value) if name in BY_NAME and isinstance(value, Quantity)
        else read_margin(f"{name}={value}") for name, value in margins.items()
    )
