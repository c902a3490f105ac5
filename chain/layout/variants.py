"""Variants of a layout: changes of a few elements with a name, and what else is known of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from chain.layout.layout import Layout


@dataclass(frozen=True)
class Variant:
    """A change of a layout: a failure, a remedy, an explanation, one arrangement of many."""

    name: str
    settings: Mapping[str, Mapping[str, object]] = field(default_factory=dict)
    """Typed values by element and parameter, as Layout.with_settings takes them."""
    temperature_k: Mapping[str, float] = field(default_factory=dict)
    """Temperatures of stages, kelvin."""
    note: str | None = None
    """What a person should know of it."""
    odds: float | None = None
    """How likely it is beforehand, a probability or a weight to be normalised; None: not said."""
    price: float | None = None
    """What it costs, in the unit of who compares prices; None: not said."""

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the change made."""
        if self.settings:
            layout = layout.with_settings(self.settings)
        return layout.with_temperatures(self.temperature_k) if self.temperature_k else layout
