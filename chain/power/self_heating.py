"""What tones warm above its stage, and the networks whose noise counts it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.errors import LayoutError
from chain.network.assembly import Network
from chain.network.generators import generators_of
from chain.power.tones import network_power
from chain.power.warming import Warmed

if TYPE_CHECKING:
    from chain.layout.layout import Element, Layout
    from chain.network.assembly import Choices
    from components.arrays import FloatArray
    from components.heating import Heated


def warmed_in(layout: Layout, ids: tuple[str, ...]) -> Warmed:
    """Return what tones warm in the network of elements `ids`, in layout order.

    Nothing, and why, where a tone's level cannot be worked out.  Worked out once.
    """
    return layout.remembered(("warmed", ids), lambda: _warmed_in(layout, ids))


def _warmed_in(layout, ids):
    try:
        return network_power(layout, ids).warmed
    except LayoutError as error:
        return Warmed(why=(
            f"what tones warm is not known and not counted: {error.problems[0].what}"
        ))


def heating_of(layout: Layout, ids: tuple[str, ...] | None = None) -> Heated:
    """Return the Heating of elements that tones warm: of one network, or of the whole layout."""
    if ids is not None:
        return warmed_in(layout, ids).heated
    networks = dict.fromkeys(layout.connected(tone.into) for tone in layout.tones.values())
    return {
        key: one for network in networks for key, one in warmed_in(layout, network).heated.items()
    }


def noise_temperature_k(layout: Layout, element: Element) -> float:
    """Return the temperature (K) of the noise that an element emits: its stage's, or more."""
    heating = heating_of(layout, layout.connected(element.id)).get(element.id)
    return (heating and heating.part_k) or layout.temperature_k(element)


def noise_network(
    layout: Layout, start: str, frequency_hz: FloatArray, choices: Choices | None = None
) -> Network:
    """Return the Network around an element with what tones warm and bring: the one for noise.

    Raises LayoutError where an element cannot say what it does.
    """
    heated = heating_of(layout, layout.connected(start))
    return Network(
        layout, start, frequency_hz, choices, heated=heated, generators=generators_of(layout)
    )
