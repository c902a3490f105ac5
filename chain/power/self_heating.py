"""Resistors that tones warm above their stage, and the networks whose noise counts them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.network.assembly import Network
from chain.network.generators import generators_of

if TYPE_CHECKING:
    from chain.layout.layout import Element, Layout
    from chain.network.assembly import Choices
    from components.arrays import FloatArray


def heated_k(layout: Layout) -> dict[str, float]:
    """Return {id: K} of elements whose own resistors tones warm, as far as the layout states how.

    Worked out once for a layout.  Raises LayoutError where a tone's level cannot be.
    """
    return layout.remembered("heated_k", lambda: _heated_k(layout))


def _heated_k(layout):
    heated = [e for e in layout.elements.values() if e.kind.has_hot_resistor(e.settings)]
    if not heated or not layout.tones:
        return {}
    from chain.power.tones import power  # most layouts have no part that tones warm

    absorbed_w = power(layout).absorbed_w
    return {
        element.id: element.kind.hot_k(
            element.settings, temperature_k=layout.temperature_k(element),
            absorbed_w=absorbed_w.get(element.id, 0.0),
        )
        for element in heated
    }


def noise_temperature_k(layout: Layout, element: Element) -> float:
    """Return the temperature (K) of the noise that an element emits: its stage's, or more."""
    return heated_k(layout).get(element.id) or layout.temperature_k(element)


def noise_network(
    layout: Layout, start: str, frequency_hz: FloatArray, choices: Choices | None = None
) -> Network:
    """Return the Network around an element with what tones warm and bring: the one for noise.

    Raises LayoutError where an element cannot say what it does, or a tone's level cannot be.
    """
    return Network(
        layout, start, frequency_hz, choices, heated_k=heated_k(layout),
        generators=generators_of(layout),
    )
