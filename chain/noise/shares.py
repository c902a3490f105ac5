"""One signal in one network: its gain, and each element's share of the noise."""

from dataclasses import dataclass

import numpy as np

from chain.network.elimination import RESIDUAL
from chain.network.laws import commutation, energy
from chain.network.stability import oscillation_warnings
from components.nport import magnitude2
from components.thermal_noise import kelvin_per_quantum


@dataclass(frozen=True)
class NetworkSolution:
    """What holds for every signal of a network, at some of the frequencies."""

    frequency_hz: np.ndarray
    idler_hz: np.ndarray | None
    draws: int
    ids: tuple[str, ...]
    own_noise_k: dict
    """{id: noise that the element adds to a matched source at its input, kelvin, or None}."""
    commutation: float | None
    warnings: list

    @classmethod
    def of(cls, network):
        """Return it for a network."""
        return cls(
            network.frequency_hz, network.idler_hz, network.draws, network.ids,
            _own_noise_k(network), commutation(network),
            oscillation_warnings(network) if network.active else [],
        )


@dataclass(frozen=True)
class SignalSolution:
    """One signal at some of the frequencies, arriving at the end, averaged over phases."""

    gain: np.ndarray | None
    shares: dict
    """{id: quanta at the end}; what an idler brought is counted here too."""
    idler: dict
    incoming: dict
    path: list
    """[(id, gain of the element, gain from the start on)] along the signal path, power ratios."""
    energy: float | None
    gain_draws: np.ndarray | None
    """Gain for each phase, shape (draws, points) or less."""
    noise_draws: np.ndarray
    """Quanta at the end for each phase, shape (draws, points) or less."""


def signal_solution(network, signal):
    """Return the SignalSolution of a signal in a network."""
    start = None if signal.from_port is None else (*signal.from_port, 1)
    end = network.arriving(signal.to_port)
    transfers = network.adjoint(end)
    shares, idler, incoming, total = _shares(network, transfers, start, end)
    own = network.layout.elements[signal.to_port[0]]
    added = own.kind.own_noise(own.settings, network.conditions(own, network.frequency_hz))
    if added is not None:
        total = total + added
        shares[own.id] = shares[own.id] + mean(network, added)
    if start is None:
        return SignalSolution(None, shares, idler, incoming, [], None, None, total)
    gain = magnitude2(transfers.get(start, 0.0))
    waves, balance = _forward(network, start)
    return SignalSolution(
        mean(network, gain), shares, idler, incoming, _path(network, waves, start, end),
        balance, gain, total,
    )


def _forward(network, start):
    """Return the waves of a unit at the start, and how far their energy balance is off.

    The balance is what a check of the solution would ask, so it is checked only if that is off.
    """
    waves = network.forward({start: 1.0}, checked=False)
    balance = energy(network, waves, {start})
    if network.active and not balance <= RESIDUAL:
        waves = network.forward({start: 1.0}, checked=True)
        balance = energy(network, waves, {start})
    return waves, balance


def mean(network, values):
    """Return the mean over phases, shape (points,)."""
    if np.ndim(values) == 1 and len(values) == len(network.frequency_hz):
        return values
    shape = np.broadcast_shapes(np.shape(values), (1, len(network.frequency_hz)))
    return np.broadcast_to(values, shape).mean(axis=0)


def _shares(network, transfers, start, end):
    """Return each element's output noise, its idler part, what came by the start, the sum.

    An element's noise is incoming where every path of it to the end leads through the start.
    """
    direct = network.reaching(end, without=start)
    shares, idler, incoming, total = {}, {}, {}, 0.0
    for block in network.blocks:
        noise, by_idler = network.noise_of(block, transfers)
        total = total + noise
        averaged = mean(network, noise)
        shares[block.id] = shares[block.id] + averaged if block.id in shares else averaged
        if network.idler_hz is not None:
            brought = mean(network, by_idler)
            idler[block.id] = idler[block.id] + brought if block.id in idler else brought
        emitting = emitting_waves(block) & transfers.keys()
        if start is not None and emitting and not direct & emitting:
            incoming[block.id] = averaged if network.idler_hz is None else averaged - brought
    return shares, idler, incoming, total


def emitting_waves(block):
    """Return the signal waves of a block by which it emits."""
    return {
        block.waves[i] for i, j in block.nport.emission if i == j and block.nport.sidebands[i] == 1
    }


def _path(network, waves, start, end):
    rows, before = [], 1.0
    for wave in network.path(start, end)[1:]:
        now = mean(network, magnitude2(waves[wave]))
        if rows and rows[-1][0] == wave[0]:
            rows[-1] = (wave[0], rows[-1][1] * now / before, now)
        else:
            rows.append((wave[0], now / before, now))
        before = now
    return rows


def _own_noise_k(network):
    """Return what each element's emission amounts to at its input, kelvin, or None."""
    per_quantum = kelvin_per_quantum(frequency_hz=network.frequency_hz)
    found = {}
    for block in network.blocks:
        if block.id not in found:
            quanta = _own_quanta(network.layout.elements[block.id], block.nport)
            found[block.id] = None if quanta is None else mean(network, quanta) * per_quantum
    return found


def _own_quanta(element, nport):
    ports = nport.ports[: len(set(nport.ports))]
    if element.enter not in ports or element.leave not in ports:
        return None
    leave, enter = ports.index(element.leave), ports.index(element.enter)
    if (leave, enter) not in nport.scattering:
        return None
    through = magnitude2(nport.scattering[leave, enter])
    if not np.all(through):
        return None  # what lets nothing pass has no noise temperature
    emitted = nport.emission.get((leave, leave), 0.0)
    return np.real(emitted) / through
