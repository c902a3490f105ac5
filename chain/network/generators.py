"""What generators send beside their tones, from the power that each tone takes."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

import numpy as np

from chain.layout.equal_networks import tone_key
from chain.network.assembly import Choices, Network, scattering_network
from chain.network.pumps import pumps_with, sent_w
from components.generators import GeneratorNoise
from components.heating import NOTHING_HEATED, Heated

if TYPE_CHECKING:
    from chain.layout.layout import Layout, Tone
    from components.arrays import FloatArray

Generators = dict[str, tuple[GeneratorNoise, ...]]
"""Noise of what sends tones in, by the id of the outside connector."""


def generators_of(layout: Layout) -> Generators:
    """Return the noise beside every tone that states it, worked out once for a layout.

    Its power is what the tone takes at its connector; a tone of which nothing arrives where it is
    wanted sends what the layout as written takes, or is left out.  Raises LayoutError.
    """
    return layout.remembered("generators", lambda: _generators(layout))


def _generators(layout):
    found = {}
    for tone in layout.noisy_tones:
        each_w = generator_w(layout, tone)
        if each_w:
            noise = GeneratorNoise(tone.declared_name, tone.lines_hz, each_w, tone.noise)
            found.setdefault(tone.into, []).append(noise)
    return {key: tuple(noises) for key, noises in found.items()}


def generator_network(
    layout: Layout, start: str, frequency_hz: FloatArray, heated: Heated = NOTHING_HEATED
) -> Network:
    """Return the Network around an element with what generators send, `heated` by tones.

    For levels of noise; chain.power.self_heating.noise_network knows what tones warm.
    """
    return Network(
        layout, start, frequency_hz, heated=heated, generators=generators_of(layout)
    )


def generator_w(layout: Layout, tone: Tone) -> float | None:
    """Return the power of each line of a tone at its connector, watt, while it is on.

    None where nothing arrives where it is wanted.  Worked out once for equal tones in equal
    networks.  Raises LayoutError.
    """
    return layout.remembered(
        ("sent", tone_key(layout, tone)), lambda: sent_w(layout, tone, network_of_tone)
    )


def network_of_tone(layout: Layout, tone: Tone) -> Network:
    """Return the Network at a tone's frequencies, of idlers what comes back to them."""
    choices = Choices(at_pump=pumps_with(layout, tone))
    return scattering_network(layout, tone.into, np.array(tone.lines_hz), choices)


def generator_remarks(
    layout: Layout, ids: Collection[str], frequency_hz: FloatArray, idler_hz: FloatArray | None
) -> list[str]:
    """Return sentences on how the noise beside tones counts in a network of elements `ids`."""
    said = []
    for tone in layout.noisy_tones:
        if tone.into not in ids:
            continue
        if tone.duty < 1:
            said.append(
                f"the noise beside {tone.name} is that while it is on, {100 * tone.duty:.3g} % of "
                "the time"
            )
        if idler_hz is not None and np.allclose(
            frequency_hz + idler_hz, 2 * tone.frequency_hz, rtol=1e-9
        ):
            said.append(
                f"the noise of {tone.name} above and below it is taken as uncorrelated: of phase "
                "or amplitude noise alone, a four-wave paramp that folds both onto each other may "
                "see up to twice as much"
            )
    return said
