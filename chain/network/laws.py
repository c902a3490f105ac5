"""The three laws that every run checks: equilibrium, energy, commutation."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.network.assembly import Choices, scattering_network
from chain.network.emitted import arrived, commutators
from components.nport import magnitude2
from components.thermal_noise import quanta

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from chain.network.assembly import Network
    from chain.network.waves import Wave
    from components.arrays import FloatArray

EQUILIBRIUM_POINTS = 9
"""Frequencies at which equilibrium is checked; it needs a network of its own."""

MAX_PORTS = 16
"""Outside ports at which laws are checked: each takes a solution of the whole network."""


@dataclass(frozen=True)
class Laws:
    """Worst residuals of the laws over a run; None where a law says nothing about the network."""

    equilibrium: float | None
    """Relative excess of what a matched outside port gets with everything, amplifiers off, at one
    temperature."""
    energy: float | None
    """Power in, less absorbed, plus given, less leaving, over the largest power in the network."""
    commutation: float | None
    """What the commutators of all emitters miss of one at the matched outside ports, over the sum
    of their sizes."""

    def as_dict(self) -> dict[str, float | None]:
        """Return the residuals for --json."""
        return {
            "equilibrium": self.equilibrium,
            "energy": self.energy,
            "commutation": self.commutation,
        }

    def worst(self, other: Laws) -> Laws:
        """Return the worse of two runs, law by law."""
        pairs = zip(self.as_dict().items(), other.as_dict().values(), strict=True)
        return Laws(**{name: worst((mine, its)) for (name, mine), its in pairs})


MISSED = 1e-6
"""Residual of a law from which on it is warned of: rounding stays below 1e-9."""


def missed(residuals: Mapping[str, float | None]) -> list[str]:
    """Return sentences on laws {name: residual} that are missed by more than MISSED."""
    return [
        f"the law of {name} is missed by {value:.1e}: do not trust the numbers"
        for name, value in residuals.items() if value is not None and not value <= MISSED
    ]


def worst(residuals: Iterable[float | None]) -> float | None:
    """Return the largest of some residuals, those that are None left out; None without any."""
    return max((value for value in residuals if value is not None), default=None)


def outside_waves(network: Network) -> list[Wave]:
    """Return the waves that arrive at matched outside ports of a network, at the signal.

    Where there are many, MAX_PORTS of them from all over the network.
    """
    found = []
    for block in network.blocks:
        if not network.layout.elements[block.id].kind.outside or -1 in block.nport.sidebands:
            continue
        if not block.nport.scattering:
            found.append(network.arriving((block.id, block.nport.ports[0])))
    if len(found) <= MAX_PORTS:
        return found
    return [found[i] for i in np.linspace(0, len(found) - 1, MAX_PORTS).astype(int)]


def commutation(network: Network) -> float | None:
    """Return the worst departure from one of the commutators at the matched outside ports."""
    missed = []
    for wave in outside_waves(network):
        parts = commutators(network, wave)
        total, size = sum(parts), sum(np.abs(part) for part in parts)
        # A gain of 80 dB leaves one as the difference of terms of 1e8: rounding scales with them.
        missed.append(float(np.max(np.abs(total - 1.0) / np.maximum(size, 1.0))))
    return worst(missed)


def equilibrium(
    layout: Layout, start: str, frequency_hz: FloatArray, temperature_k: float = 1.0
) -> float | None:
    """Return the worst relative departure from N(f, T) at the matched outside ports.

    Every amplifier is off and every part at one temperature (kelvin); None where a measured part
    amplifies and cannot be switched off, or where there is no matched outside port.
    """
    elements = [layout.elements[key] for key in layout.connected(start)]
    if any(e.kind.amplifies(e.settings.with_values(state="off")) for e in elements):
        return None
    f = np.asarray(frequency_hz, float)
    # No np.unique, which would import numpy.ma: a tenth of the time that a command takes to start.
    places = np.linspace(0, f.size - 1, min(EQUILIBRIUM_POINTS, f.size)).astype(int)
    some = f[sorted(set(places.tolist()))]
    network = scattering_network(
        layout, start, some, Choices(powered=False, uniform_k=temperature_k)
    )
    expected = quanta(frequency_hz=some, temperature_k=temperature_k)
    missed = []
    for wave in outside_waves(network):
        transfers = network.adjoint(wave)
        noise = sum(arrived(block, transfers).whole for block in network.blocks)
        missed.append(float(np.max(np.abs(noise / expected - 1.0))))
    return worst(missed)


def energy(network: Network, waves: Mapping[Wave, Any], sources: Collection[Wave]) -> float:
    """Return the worst relative residual of the balance of a forward solution.

    What elements absorb, a^H (J - S^H J S) a, what leaves, and what sources put in; idler waves
    count negative, as photons made in pairs do.  Every wave that leaves one element arrives at
    another (or goes out), so the sum is over what leaves less what is scattered.
    """
    balance: Any = 0.0
    largest: Any = 0.0
    for block in network.blocks:
        for index, wave in enumerate(block.waves):
            if wave not in waves:
                continue
            leaving = magnitude2(waves[wave])
            largest = np.maximum(largest, leaving)
            if wave in sources:
                # What leaves here is taken off as put in: it cancels.
                continue
            scattered = _scattered(network, block, index, waves)
            balance = balance + wave[2] * (leaving - magnitude2(scattered))
    return float(np.max(np.abs(balance) / np.where(largest > 0, largest, 1.0)))


def _scattered(network, block, index, waves):
    """Return what a block sends out of one port of all that arrives at it."""
    total = 0.0
    for (i, j), entry in block.nport.scattering.items():
        if i == index:
            key, port, side = block.waves[j]
            arriving = waves.get((*network.partner[key, port], side))
            if arriving is not None:
                total = total + entry * arriving
    return total
