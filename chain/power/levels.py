"""How near amplifiers come to compression, and what they and the device see of the tones."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING

from chain.layout.margins import margin
from components.constants import H
from components.quantities import watt_to_dbm

if TYPE_CHECKING:
    from chain.writing.text import Result
    from components.arrays import FloatLike
    from components.settings import Settings


@dataclass(frozen=True)
class Headroom:
    """The level at one amplifier or paramp against its compression point."""

    id: str
    total_in_w: float
    """All tones together arriving at its input (a paramp's own pump not counted), on average."""
    total_out_w: float
    """All tones together at its output, on average."""
    on_in_w: float
    """At its input while all tones are on."""
    on_out_w: float
    """At its output while all tones are on."""
    peak_out_w: float
    """The same where all tones' amplitudes add in phase for a moment."""
    p1db_out_w: float | None
    """Compression point at the output, from `p1db_out`, or `p1db_in` and the gain less 1 dB."""
    ip3_out_w: float | None

    @property
    def headroom_db(self) -> float | None:
        """How far all tones lie below the compression point, dB, or None where unknown."""
        if self.p1db_out_w is None or self.on_out_w <= 0:
            return None
        return float(watt_to_dbm(self.p1db_out_w) - watt_to_dbm(self.on_out_w))


def compression_w(settings: Settings, gain_db: float | None) -> float | None:
    """Return the output power at which the gain has dropped by 1 dB, watt, or None.

    At the compression point the output is the input times the gain less one decibel.
    """
    if settings.given("p1db_out"):
        return settings["p1db_out"].value
    if settings.given("p1db_in") and gain_db is not None:
        return settings["p1db_in"].value * 10 ** ((gain_db - 1.0) / 10)
    return None


def photons_per_second(watt: FloatLike, frequency_hz: FloatLike) -> FloatLike:
    """Return the photon rate of a power (watt) at a frequency (Hz)."""
    return watt / (H * frequency_hz)


def level_warnings(power: Result) -> list[str]:
    """Return a sentence for every amplifier nearer to compression than the layout's margin."""
    margin_db, said = margin(power.layout, "compression"), []
    for level in power.headrooms:
        left = level.headroom_db
        if left is not None and left < margin_db:
            how = "is over its compression point by" if left < 0 else "has headroom of only"
            said.append(
                f"{level.id} {how} {abs(left):.1f} dB: all tones give "
                f"{float(watt_to_dbm(level.on_out_w)):.1f} dBm at its output, 1 dB compression "
                f"is at {float(watt_to_dbm(level.p1db_out_w)):.1f} dBm (margin {margin_db:g} dB)"
            )
    return said


def tones_at(
    power: Result, port: str, *, skip: Collection[str] = ()
) -> list[tuple[str, float, float]]:
    """Return [(tone, watt while on, photons per second on average)] at a port, most first.

    The port is `id.port`.
    """
    rows = [
        (name, tone.while_on_w(tone.arriving_w[port]),
         float(photons_per_second(tone.arriving_w[port], float(tone.frequency_hz.mean()))))
        for name, tone in power.tones.items()
        if name not in skip and tone.arriving_w.get(port, 0.0) > 0
    ]
    return sorted(rows, key=lambda row: -row[1])
