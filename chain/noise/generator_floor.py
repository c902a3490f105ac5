"""How quiet generators have to be whose noise the layout does not state."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.layout.equal_networks import copy_key, position
from chain.network.assembly import scattering_network
from chain.network.generators import generator_w
from chain.power.self_heating import heating_of
from components.constants import H, K
from components.nport import magnitude2
from components.quantities import decibels, watt_to_dbm

if TYPE_CHECKING:
    from chain.layout.layout import Layout, Port, Signal, Tone
    from chain.network.assembly import Network
    from chain.writing.text import Result
    from components.arrays import FloatArray

POINTS = 41
"""Frequencies over the band at which floors are worked out."""

PART = 0.1
"""Part of the system noise that a generator may add: our convention."""

PHOTONS = 1e-3
"""Photons that a generator may bring to a device: what S. Krinner et al., EPJ Quantum Technology
6:2 (2019) aim at for qubits (second-hand)."""

POOR_DBC_HZ = -125.0
"""Floor of a poor generator, a small phase-locked source (from memory, poorly known: -125 to -145;
laboratory synthesizers -140 to -160)."""

FAR_DB = 20.0
"""A generator that may be this much louder than a poor one is far from mattering."""


@dataclass(frozen=True)
class GeneratorFloor:
    """The white noise beside a tone at which its generator begins to matter to a signal."""

    tone: str
    declared: str
    """The tone's name without the number of its copy."""
    port: str
    """Id of the connector that it is sent into."""
    tone_w: float
    """What the generator sends, watt, while it is on."""
    limit_w_hz: float | None
    """The most at its output, on top of kT, W/Hz; None where none of it arrives."""
    photons_at: str | None
    """The device's port that PHOTONS of it reach first; None where it is PART of system noise."""
    kt_w_hz: float
    """kT of the connector's temperature, W/Hz."""

    @property
    def limit_dbm_hz(self) -> float | None:
        """The same, dBm/Hz."""
        return None if self.limit_w_hz is None else float(watt_to_dbm(self.limit_w_hz))

    @property
    def limit_dbc_hz(self) -> float | None:
        """The same over the power of the tone, dBc/Hz."""
        if self.limit_w_hz is None or self.tone_w <= 0:
            return None
        return float(decibels(self.limit_w_hz / self.tone_w))

    @property
    def below_kt(self) -> bool:
        """True where it is less than the noise of a matched load: no generator is that quiet."""
        return self.limit_w_hz is not None and self.limit_w_hz < self.kt_w_hz

    @property
    def far(self) -> bool:
        """True where a generator louder by FAR_DB than a poor one would do."""
        dbc_hz = self.limit_dbc_hz
        return dbc_hz is None or dbc_hz > POOR_DBC_HZ + FAR_DB

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        return {
            "tone": self.tone, "into": self.port, "tone_w": self.tone_w,
            "limit_w_hz": self.limit_w_hz, "limit_dbm_hz": self.limit_dbm_hz,
            "limit_dbc_hz": self.limit_dbc_hz, "photons_at": self.photons_at,
            "kt_w_hz": self.kt_w_hz, "below_kt": self.below_kt, "far": self.far,
        }


def generator_floors(budget: Result) -> tuple[GeneratorFloor, ...]:
    """Return a GeneratorFloor for every tone in a signal's network that states no noise.

    The stricter of PART of the system noise and PHOTONS at a device that the signal starts or ends
    at, over the band.  A connector that says what it `emits` is known.  Raises LayoutError.
    """
    layout: Layout = budget.layout
    signal = layout.signals[budget.signal]
    ids = layout.connected(signal.to_port[0])
    inside = set(ids)
    tones = [
        tone for tone in layout.tones.values() if tone.into in inside and tone.noise is None
        and not layout.elements[tone.into].settings.given("emits")
    ]
    if not tones:
        return ()
    into = tuple(dict.fromkeys(ids.index(tone.into) for tone in tones))
    alike = ("floors", copy_key(layout, ids, heated=heating_of(layout, ids)), position(ids, signal),
             into, budget.frequency_hz.tobytes())
    found = layout.remembered(alike, lambda: _limits(budget, signal, ids, into))
    return tuple(
        _floor(layout, tone, found[ids.index(tone.into)], ids) for tone in tones
    )


def _floor(layout: Layout, tone: Tone, found, ids):
    limit, device = found
    each_w = generator_w(layout, tone)
    return GeneratorFloor(
        tone.name, tone.declared_name, tone.into, (each_w or 0.0) * tone.count, limit,
        None if device is None else f"{ids[device[0]]}.{device[1]}",
        K * layout.temperature_k(layout.elements[tone.into]),
    )


def _limits(budget, signal: Signal, ids, into):
    """Return {place of a connector: (most W/Hz or None, (place, port) of the device or None)}."""
    layout = budget.layout
    count = budget.frequency_hz.size
    some = np.unique(np.linspace(0, count - 1, min(POINTS, count)).astype(int))
    network = scattering_network(layout, ids[0], budget.frequency_hz[some])
    observed: list[tuple[Port, Any, bool]] = [(signal.to_port, PHOTONS, True)]
    if not layout.elements[signal.to_port[0]].kind.is_device:
        observed = [(signal.to_port, PART * budget.noise_at_to_quanta[some], False)]
    if signal.from_port is not None and layout.elements[signal.from_port[0]].kind.is_device:
        start = layout.elements[signal.from_port[0]]
        observed += [((start.id, port), PHOTONS, True) for port in start.ports]
    found: dict[int, tuple[float | None, tuple[int, str] | None]] = dict.fromkeys(
        into, (None, None)
    )
    for (key, port), quanta, is_device in observed:
        transfers = network.adjoint(network.arriving((key, port)))
        for place in into:
            limit = _limit_w_hz(network, transfers, ids[place], quanta)
            least, _ = found[place]
            if limit is not None and (least is None or limit < least):
                found[place] = limit, (ids.index(key), port) if is_device else None
    return found


def _limit_w_hz(network: Network, transfers, key: str, quanta) -> float | None:
    """Return the white density (W/Hz) that gives `quanta` where the transfers are observed."""
    element = network.layout.elements[key]
    given: FloatArray = np.zeros(len(network.frequency_hz))
    for side, f in ((1, network.frequency_hz), (-1, network.idler_hz)):
        passed = transfers.get((key, element.ports[0], side))
        if f is not None and passed is not None:
            given = given + network.mean(magnitude2(passed)) / (H * f)
    if not np.any(given > 0):
        return None
    limits = np.divide(quanta, given, out=np.full(given.shape, np.inf), where=given > 0)
    limits = limits[np.isfinite(limits)]
    return float(limits.min()) if limits.size else None
