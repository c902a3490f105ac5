"""The three laws that every run checks: equilibrium, energy, commutation."""

from __future__ import annotations

import random
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.network.assembly import Choices, scattering_network
from chain.network.emitted import arrived, commutator
from components.nport import magnitude2
from components.thermal_noise import quanta

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from chain.network.assembly import Network
    from chain.network.waves import Wave
    from components.arrays import ComplexArray, FloatArray

EQUILIBRIUM_POINTS = 9
"""Frequencies at which equilibrium is checked; it needs a network of its own."""

QUIETEST_DECADES = 3.0
"""By how much amplitudes of a probe of commutators are spread either way: 120 dB of power."""

_SEED = 20_061


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

    """
    found = []
    for block in network.blocks:
        if not network.layout.elements[block.id].kind.outside or -1 in block.nport.sidebands:
            continue
        if not block.nport.scattering:
            found.append(network.arriving((block.id, block.nport.ports[0])))
    return found


def probe(waves: Sequence[Wave], points: int, decades: float = 0.0) -> dict[Wave, ComplexArray]:
    """Return a random amplitude for each wave at each frequency, {wave: (1, points)}.

    One adjoint solution from all of them at once tells what as many solutions would: a matched
    port's noise and commutator are those of its load and nothing is common to two ports, so the sum
    v^H E v over the misfits E of the law between any two ports has to vanish.  Amplitudes are
    normal, and weighted by up to `decades` either way, so that a quiet port beside one behind
    80 dB of gain is the louder one at some frequencies.
    """
    # Not numpy.random, which would be imported for this alone: it takes a command longer to start.
    chance = np.frombuffer(random.Random(_SEED).randbytes(12 * len(waves) * points), np.uint32)
    size, turn, weight = (chance.reshape(3, len(waves), 1, points) + 0.5) / 2.0**32
    amplitudes = np.sqrt(-np.log(size)) * np.exp(2j * np.pi * turn)
    if decades:
        amplitudes *= 10.0 ** (decades * (2.0 * weight - 1.0))
    return dict(zip(waves, amplitudes, strict=True))


def commutation(network: Network) -> float | None:
    """Return the worst departure from one of the commutators at the matched outside ports.

    Where a signal ends they are known; the others are probed together.  With p of those ports
    equally loud, a port's own misfit shows with half its size or more at one frequency in p, so one
    that is there at a hundred frequencies is missed among 16 ports five times in a thousand; one
    at a single frequency shows with its weight in the draw there.
    """
    waves = outside_waves(network)
    known = [wave for wave in waves if wave in network.commutators_of]
    missed = [_short_of(1.0, network.commutators_of[wave]) for wave in known]
    others = [wave for wave in waves if wave not in network.commutators_of]
    if others:
        amplitudes = probe(others, len(network.frequency_hz), QUIETEST_DECADES)
        transfers = network.adjoint_of(amplitudes, checked=False)
        missed.append(_short_of(
            sum(magnitude2(amplitude) for amplitude in amplitudes.values()),
            [commutator(block, transfers) for block in network.blocks],
        ))
    return worst(missed)


def _short_of(expected, parts):
    """Return what parts miss of their sum, over that or, where it is more, the sum of their sizes.

    A gain of 80 dB leaves one as the difference of terms of 1e8: rounding scales with them.
    """
    total, size = sum(parts), sum(np.abs(part) for part in parts)
    return float(np.max(np.abs(total - expected) / np.maximum(size, expected)))


def equilibrium(
    layout: Layout, start: str, frequency_hz: FloatArray, temperature_k: float = 1.0
) -> float | None:
    """Return the worst relative departure from N(f, T) at the matched outside ports.

    Every amplifier is off and every part at one temperature (kelvin); None where a measured part
    amplifies and cannot be switched off, or where there is no matched outside port.  All ports are
    probed together: a misfit of one of p ports shows as its weight in the draw, below a hundredth
    of its size with chance (p - 1)/100 at one frequency, and at all of them hardly ever.
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
    waves = outside_waves(network)
    if not waves:
        return None
    amplitudes = probe(waves, some.size)
    transfers = network.adjoint_of(amplitudes)
    noise = sum(arrived(block, transfers).whole for block in network.blocks)
    expected = expected * sum(magnitude2(amplitude) for amplitude in amplitudes.values())
    return float(np.max(np.abs(noise / expected - 1.0)))


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
