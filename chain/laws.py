"""The three laws that every run checks: equilibrium, energy, commutation."""

from dataclasses import dataclass

import numpy as np

from chain.network import Choices, Network
from components.nport import lossiness, magnitude2
from components.thermal_noise import quanta

EQUILIBRIUM_POINTS = 9
"""Frequencies at which equilibrium is checked; it needs a network of its own."""


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

    def as_dict(self):
        """Return the residuals for --json."""
        return {
            "equilibrium": self.equilibrium,
            "energy": self.energy,
            "commutation": self.commutation,
        }

    def worst(self, other):
        """Return the worse of two runs, law by law."""
        pairs = zip(self.as_dict().items(), other.as_dict().values(), strict=True)
        return Laws(**{name: worst((mine, its)) for (name, mine), its in pairs})


def worst(residuals):
    """Return the largest of some residuals, those that are None left out; None without any."""
    return max((value for value in residuals if value is not None), default=None)


def outside_waves(network):
    """Return the waves that arrive at matched outside ports of a network, at the signal."""
    found = []
    for block in network.blocks:
        if not network.layout.elements[block.id].kind.outside or -1 in block.nport.sidebands:
            continue
        if not block.nport.scattering:
            found.append(network.arriving((block.id, block.nport.ports[0])))
    return found


def commutation(network):
    """Return the worst departure from one of the commutators at the matched outside ports."""
    missed = []
    losses = [lossiness(block.nport.scattering, block.nport.sidebands) for block in network.blocks]
    for wave in outside_waves(network):
        # Unchecked: a solution that is off misses the law, which is what is asked here.
        transfers = network.adjoint(wave, checked=False)
        total, size = 0.0, 0.0
        for block, loss in zip(network.blocks, losses, strict=True):
            part = _quadratic(loss, block.waves, transfers)
            total, size = total + part, size + np.abs(part)
        # A gain of 80 dB leaves one as the difference of terms of 1e8: rounding scales with them.
        missed.append(float(np.max(np.abs(total - 1.0) / np.maximum(size, 1.0))))
    return worst(missed)


def _quadratic(hermitian, waves, transfers):
    total = 0.0
    for (i, j), entry in hermitian.items():
        first, second = transfers.get(waves[i]), transfers.get(waves[j])
        if first is None or second is None:
            continue
        if i == j:
            total = total + magnitude2(first) * np.real(entry)
        else:
            total = total + 2.0 * np.real(first * np.conj(second) * entry)
    return total


def equilibrium(layout, start, frequency_hz, temperature_k=1.0):
    """Return the worst relative departure from N(f, T) at the matched outside ports.

    Every amplifier is off and every part at one temperature (kelvin); None where a measured part
    amplifies and cannot be switched off, or where there is no matched outside port.
    """
    elements = [layout.elements[key] for key in layout.connected(start)]
    if any(e.kind.amplifies(e.settings.with_values(state="off")) for e in elements):
        return None
    f = np.asarray(frequency_hz, float)
    some = f[np.unique(np.linspace(0, f.size - 1, min(EQUILIBRIUM_POINTS, f.size)).astype(int))]
    network = Network(layout, start, some, Choices(powered=False, uniform_k=temperature_k))
    expected = quanta(frequency_hz=some, temperature_k=temperature_k)
    missed = []
    for wave in outside_waves(network):
        transfers = network.adjoint(wave)
        noise = sum(network.noise_of(block, transfers)[0] for block in network.blocks)
        missed.append(float(np.max(np.abs(noise / expected - 1.0))))
    return worst(missed)


def energy(network, waves, sources):
    """Return the worst relative residual of the balance of a forward solution.

    Sum over elements of a^H (J - S^H J S) a, what each absorbs, against what the sources put in;
    idler waves count negative, as photons made in pairs do.
    """
    balance, largest = 0.0, 0.0
    for block in network.blocks:
        arriving = {}
        for index, (key, port, side) in enumerate(block.waves):
            wave = waves.get((*network.partner[key, port], side))
            if wave is not None:
                arriving[index] = wave
        for index, wave in enumerate(block.waves):
            side = block.nport.sidebands[index]
            out = waves.get(wave, 0.0)
            into = arriving.get(index, 0.0)
            scattered = sum(
                entry * arriving[j]
                for (i, j), entry in block.nport.scattering.items()
                if i == index and j in arriving
            )
            sent = magnitude2(out) - magnitude2(scattered) if wave in sources else 0.0
            absorbed = magnitude2(into) - magnitude2(scattered)
            balance = balance + side * (absorbed - sent)
            largest = np.maximum(largest, np.maximum(magnitude2(out), magnitude2(into)))
    lost = [wave for wave in network.index if network.arrives_nowhere(wave)]
    balance = balance + sum(
        wave[2] * magnitude2(waves[wave]) for wave in lost if wave in waves
    )
    return float(np.max(np.abs(balance) / np.where(largest > 0, largest, 1.0)))
