"""Along a signal path: noise and limits of every element, compression and intercept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chain.network.assembly import Network, pumps_of
from chain.network.emitted import arrived
from chain.network.generators import generator_network
from chain.power.levels import Headroom, compression_w
from components.constants import H
from components.heating import NOTHING_HEATED, Heated
from components.nport import magnitude2

if TYPE_CHECKING:
    from chain.layout.layout import Element, Layout, Signal
    from chain.writing.text import Result


@dataclass(frozen=True)
class Cascade:
    """Compression and intercept of a whole signal path referred to its start."""

    signal: str
    frequency_hz: float
    p1db_w: float | None
    """Power at the start at which the first element compresses by 1 dB (each alone)."""
    first: str | None
    """The element that does."""
    ip3_w: float | None
    """Third-order intercept at the start, the elements' products in phase (worst case)."""


@dataclass(frozen=True)
class PathLevels:
    """The outgoing wave of each element along a signal path, at the middle of the band."""

    signal: str
    ids: tuple[str, ...]
    """Elements in the order of the path."""
    ports: tuple[str, ...]
    """The port by which the path leaves each of them, `id.port`."""
    noise_w_hz: np.ndarray
    """Noise power of each outgoing wave, the vacuum counted, W/Hz, shape (elements,)."""
    p1db_out_w: tuple[float | None, ...]
    """Compression point at the output of each amplifier or paramp; None where there is none."""


def cascade(
    layout: Layout, signal: Signal, frequency_hz: float, heated: Heated = NOTHING_HEATED
) -> Cascade:
    """Return the Cascade of a signal at one frequency (Hz); `heated` is what tones warm.

    Compression of each amplifier alone, referred to the start; intercepts as 1/P3 = sum of
    G_k / P3_k at the outputs, products in phase (D. M. Pozar, Microwave Engineering, 3rd ed.,
    ch. 10, from memory).
    """
    network = Network(layout, signal.to_port[0], np.array([frequency_hz]), heated=heated)
    start = (*signal.start, 1)
    waves = network.forward({start: 1.0})
    first: str | None = None
    least: float | None = None
    inverse = 0.0
    for key in dict.fromkeys(w[0] for w in network.path(start, network.arriving(signal.to_port))):
        element = layout.elements[key]
        settings = element.settings
        if not network.amplifies(element) or "p1db_out" not in element.kind.declared():
            continue
        out = waves[key, element.leave or element.enter or "", 1]
        gain = float(np.mean(magnitude2(out)))
        at_output = compression_w(settings, middle_gain_db(layout, element))
        if at_output is not None and (least is None or at_output / gain * 10**0.1 < least):
            # One decibel more at the start: there the gain in front of the limit is still whole.
            first, least = key, at_output / gain * 10**0.1
        if settings["ip3_out"] is not None:
            inverse += gain / settings["ip3_out"].value
    return Cascade(signal.name, frequency_hz, least, first, 1.0 / inverse if inverse else None)


def path_levels(
    layout: Layout, signal: Signal, heated: Heated = NOTHING_HEATED
) -> PathLevels:
    """Return the PathLevels of a signal with a start, `heated` by tones; raises LayoutError."""
    middle = np.array([(layout.band.start_hz + layout.band.stop_hz) / 2])
    network = generator_network(layout, signal.to_port[0], middle, heated)
    waves = network.path((*signal.start, 1), network.arriving(signal.to_port))
    outgoing = list({wave[0]: wave for wave in waves}.values())
    noise_w_hz = []
    for wave in outgoing:
        transfers = network.adjoint(wave)
        quanta = sum(
            np.mean(network.mean(arrived(block, transfers).whole)) for block in network.blocks
        )
        noise_w_hz.append(float(quanta) * H * middle[0])
    return PathLevels(
        signal.name, tuple(wave[0] for wave in outgoing),
        tuple(f"{wave[0]}.{wave[1]}" for wave in outgoing), np.array(noise_w_hz),
        tuple(_limit_w(layout, layout.elements[wave[0]]) for wave in outgoing),
    )


def _limit_w(layout, element):
    if not element.kind.amplifies(element.settings) or element.settings["gain"] is None:
        return None
    return compression_w(element.settings, middle_gain_db(layout, element))


def headrooms(power: Result) -> list[Headroom]:
    """Return a Headroom for every amplifier and paramp in working order of a Power's layout."""
    layout = power.layout
    found = []
    for element in layout.elements.values():
        settings = element.settings
        if not element.kind.amplifies(settings) or "p1db_out" not in element.kind.declared():
            continue
        pump = settings["pump"] if element.kind.pumps(settings) else None
        counted = [
            tone for name, tone in power.tones.items()
            if name != pump and f"{element.id}.{element.enter}" in tone.arriving_w
        ]
        into = [tone.arriving_w[f"{element.id}.{element.enter}"] for tone in counted]
        leave = element.leave or element.enter
        out = [tone.outgoing_w[f"{element.id}.{leave}"] for tone in counted]
        on_in, on_out = (
            [tone.while_on_w(watt) for watt, tone in zip(powers, counted, strict=True)]
            for powers in (into, out)
        )
        amplitudes = sum(
            np.sqrt(watt * len(tone.frequency_hz))
            for watt, tone in zip(on_out, counted, strict=True)
        )
        gain_db = middle_gain_db(layout, element)
        found.append(Headroom(
            element.id, sum(into), sum(out), sum(on_in), sum(on_out), float(amplitudes) ** 2,
            compression_w(settings, gain_db),
            None if settings["ip3_out"] is None else settings["ip3_out"].value,
        ))
    return found


def middle_gain_db(layout: Layout, element: Element) -> float | None:
    """Return an element's gain at the middle of the layout's band, dB, or None."""
    settings = element.settings
    if element.kind.pumps(settings):
        settings = pumps_of(layout)[element.id].settings
    gain = settings["gain"]
    if gain is None:
        return None
    middle = np.array([(layout.band.start_hz + layout.band.stop_hz) / 2])
    return float(np.max(gain.at(middle)))
