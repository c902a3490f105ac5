"""How near amplifiers come to compression, and what they and the device see of the tones."""

from dataclasses import dataclass

import numpy as np

from chain.network.assembly import pumps_of, scattering_network
from components.constants import H
from components.nport import magnitude2
from components.quantities import watt_to_dbm

MARGIN_DB = 10.0
"""Headroom below which a level is warned of (common practice, no source)."""


@dataclass(frozen=True)
class Headroom:
    """The level at one amplifier or paramp against its compression point."""

    id: str
    total_in_w: float
    """All tones together arriving at its input (a paramp's own pump not counted)."""
    total_out_w: float
    """All tones together leaving its output."""
    peak_out_w: float
    """The same where all tones' amplitudes add in phase for a moment."""
    p1db_out_w: float | None
    """Compression point at the output, from `p1db_out`, or `p1db_in` and the gain less 1 dB."""
    ip3_out_w: float | None

    @property
    def headroom_db(self):
        """How far the total lies below the compression point, dB, or None where unknown."""
        if self.p1db_out_w is None or self.total_out_w <= 0:
            return None
        return float(watt_to_dbm(self.p1db_out_w) - watt_to_dbm(self.total_out_w))


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


def headrooms(power):
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
        into = sum(tone.arriving_w[f"{element.id}.{element.enter}"] for tone in counted)
        leave = element.leave or element.enter
        out = [tone.leaving_ports_w[f"{element.id}.{leave}"] for tone in counted]
        amplitudes = sum(
            np.sqrt(watt * len(tone.frequency_hz)) for watt, tone in zip(out, counted, strict=True)
        )
        gain_db = _gain_db(layout, element)
        found.append(Headroom(
            element.id, into, sum(out), float(amplitudes) ** 2, compression_w(settings, gain_db),
            None if settings["ip3_out"] is None else settings["ip3_out"].value,
        ))
    return found


def _gain_db(layout, element):
    settings = element.settings
    if element.kind.pumps(settings):
        settings = pumps_of(layout)[element.id].settings
    gain = settings["gain"]
    if gain is None:
        return None
    middle = np.array([(layout.band.start_hz + layout.band.stop_hz) / 2])
    return float(np.max(gain.at(middle)))


def compression_w(settings, gain_db):
    """Return the output power at which the gain has dropped by 1 dB, watt, or None.

    At the compression point the output is the input times the gain less one decibel.
    """
    if settings.given("p1db_out"):
        return settings["p1db_out"].value
    if settings.given("p1db_in") and gain_db is not None:
        return settings["p1db_in"].value * 10 ** ((gain_db - 1.0) / 10)
    return None


def cascade(layout, signal, frequency_hz):
    """Return the Cascade of a signal at one frequency (Hz).

    Compression of each amplifier alone, referred to the start; intercepts as 1/P3 = sum of
    G_k / P3_k at the outputs, products in phase (D. M. Pozar, Microwave Engineering, 3rd ed.,
    ch. 10, from memory).
    """
    network = scattering_network(layout, signal.to_port[0], np.array([frequency_hz]))
    start = (*signal.from_port, 1)
    waves = network.forward({start: 1.0})
    first, least, inverse = None, None, 0.0
    for key in dict.fromkeys(w[0] for w in network.path(start, network.arriving(signal.to_port))):
        element = layout.elements[key]
        settings = element.settings
        if not network.amplifies(element) or "p1db_out" not in element.kind.declared():
            continue
        out = waves[key, element.leave or element.enter, 1]
        gain = float(np.mean(magnitude2(out)))
        at_output = compression_w(settings, _gain_db(layout, element))
        if at_output is not None and (least is None or at_output / gain * 10**0.1 < least):
            # One decibel more at the start: there the gain in front of the limit is still whole.
            first, least = key, at_output / gain * 10**0.1
        if settings["ip3_out"] is not None:
            inverse += gain / settings["ip3_out"].value
    return Cascade(signal.name, frequency_hz, least, first, 1.0 / inverse if inverse else None)


def photons_per_second(watt, frequency_hz):
    """Return the photon rate of a power (watt) at a frequency (Hz)."""
    return watt / (H * frequency_hz)


def level_warnings(power, margin_db=MARGIN_DB):
    """Return a sentence for every amplifier nearer to compression than the margin."""
    said = []
    for level in headrooms(power):
        left = level.headroom_db
        if left is not None and left < margin_db:
            how = "is over its compression point by" if left < 0 else "has headroom of only"
            said.append(
                f"{level.id} {how} {abs(left):.1f} dB: all tones give "
                f"{float(watt_to_dbm(level.total_out_w)):.1f} dBm at its output, 1 dB compression "
                f"is at {float(watt_to_dbm(level.p1db_out_w)):.1f} dBm (margin {margin_db:g} dB)"
            )
    return said


def tones_at(power, port, *, skip=()):
    """Return [(tone, watt, photons per second)] arriving at a port (`id.port`), most first."""
    rows = [
        (name, tone.arriving_w[port],
         photons_per_second(tone.arriving_w[port], float(np.mean(tone.frequency_hz))))
        for name, tone in power.tones.items()
        if name not in skip and tone.arriving_w.get(port, 0.0) > 0
    ]
    return sorted(rows, key=lambda row: -row[1])
