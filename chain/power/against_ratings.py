"""What tones and noise put parts, generators and receivers to, beside their ratings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chain.layout.margins import margin
from chain.network.emitted import arrived
from chain.network.generators import generator_network, network_of_tone
from chain.network.path import least_loss_path
from chain.power.ratings import CREST, FULL_SCALE, MAX_OUTPUT, MAX_POWER, Demand, Rating
from components.constants import H
from components.quantities import decibels

if TYPE_CHECKING:
    from chain.layout.layout import Element, Tone
    from chain.writing.text import Result

POINTS = 41
"""Frequencies over the band at which the noise at a receiver is worked out."""


def ratings(power: Result) -> tuple[Rating, ...]:
    """Return a Rating for every rating that the layout states.  Raises LayoutError."""
    found = []
    for element in power.layout.elements.values():
        settings = element.settings
        if settings.given(MAX_POWER):
            arriving = {f"{element.id}.{port}": 0.0 for port in element.ports}
            for tone in power.tones.values():
                for port in arriving:
                    arriving[port] += tone.arriving_w.get(port, 0.0)
            most = max(arriving, key=lambda port: arriving[port])
            limit_w = settings[MAX_POWER].value
            found.append(Rating(element.id, MAX_POWER, most, arriving[most], limit_w))
        if not element.kind.outside:
            continue
        port = f"{element.id}.{element.ports[0]}"
        if settings.given(MAX_OUTPUT):
            sent_w = sum(_sent_w(power, tone) for tone in _into(power, element))
            limit_w = settings[MAX_OUTPUT].value
            found.append(Rating(element.id, MAX_OUTPUT, port, sent_w, limit_w))
        if settings.given(FULL_SCALE):
            level_w, limit_w = _received_w(power, element), settings[FULL_SCALE].value
            found.append(Rating(element.id, FULL_SCALE, port, level_w, limit_w))
    return tuple(found)


def demands(power: Result) -> tuple[Demand, ...]:
    """Return a Demand for every tone that takes more than its connector's `max_output`.

    Where the layout states none, more than the margin `generator`.  Of copies the first one.
    """
    found = {}
    for tone in power.layout.tones.values():
        sent_w = _sent_w(power, tone)
        rated = power.layout.elements[tone.into].settings[MAX_OUTPUT]
        most_w = margin(power.layout, "generator") if rated is None else rated.value
        if sent_w > most_w and (tone.declared_name, sent_w) not in found:
            blame = _most_lost(power.layout, tone)
            found[tone.declared_name, sent_w] = Demand(tone.name, tone.into, sent_w, *blame)
    return tuple(found.values())


def _into(power: Result, element: Element):
    return [tone for tone in power.layout.tones.values() if tone.into == element.id]


def _sent_w(power, tone: Tone) -> float:
    found = power.tones[tone.name]
    return found.while_on_w(found.injected_w)


def _received_w(power, element: Element) -> float:
    """Return the power of the sine that peaks where tones in phase and noise do, watt."""
    port = f"{element.id}.{element.ports[0]}"
    volts = sum(
        np.sqrt(tone.while_on_w(tone.arriving_w[port]) * len(tone.frequency_hz))
        for tone in power.tones.values() if port in tone.arriving_w
    )
    return float(volts + np.sqrt(CREST * _noise_w(power.layout, element))) ** 2


def _noise_w(layout, element: Element) -> float:
    """Return the noise power that arrives at a connector over the layout's band, watt."""
    f = layout.band.frequency_hz
    f = f[np.unique(np.linspace(0, len(f) - 1, min(POINTS, len(f))).astype(int))]
    network = generator_network(layout, element.id, f)
    transfers = network.adjoint(network.arriving((element.id, element.ports[0])))
    quanta = sum(
        (network.mean(arrived(block, transfers).whole) for block in network.blocks),
        np.zeros(len(f)),
    )
    w_hz = quanta * H * f
    return float(np.sum(np.diff(f) * (w_hz[1:] + w_hz[:-1]) / 2))


def _most_lost(layout, tone: Tone) -> tuple[str | None, float]:
    """Return (element, dB) that loses most on the path to where a tone is wanted."""
    if tone.arriving is None:
        return None, 0.0
    start = tone.into, layout.elements[tone.into].ports[0]
    hops = least_loss_path(network_of_tone(layout, tone), start, tone.arriving[0])
    if not hops:
        return None, 0.0
    worst = min(hops, key=lambda hop: hop.gain)
    return worst.id, float(-decibels(worst.gain))
