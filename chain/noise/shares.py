"""One signal in one network: its gain, and each element's share of the noise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.network.elimination import RESIDUAL
from chain.network.emitted import Through, arrived, commutators
from chain.network.laws import commutation, energy
from chain.network.stability import oscillation
from chain.power.warming import NOTHING, Warmed
from components.nport import magnitude2
from components.thermal_noise import kelvin_per_quantum

if TYPE_CHECKING:
    from chain.layout.layout import Signal
    from chain.network.assembly import Network
    from components.arrays import FloatArray, FloatLike


SMALLEST = 1e-200
"""Power ratio, -2000 dB, below which nothing is left: what is referred to it would overflow."""


@dataclass(frozen=True)
class NetworkSolution:
    """What holds for every signal of a network, at some of the frequencies."""

    frequency_hz: FloatArray
    idler_hz: FloatArray | None
    draws: int
    ids: tuple[str, ...]
    own_noise_k: dict
    """{id: noise that the element adds to a matched source at its input, kelvin, or None}."""
    commutation: float | None
    unstable: np.ndarray
    """True where some phase makes a loop of one or more, so that there is no mean, (points,)."""
    warnings: list

    @classmethod
    def of(cls, network: Network) -> NetworkSolution:
        """Return it for a network."""
        return cls(
            network.frequency_hz, network.idler_hz, network.draws, network.ids,
            _own_noise_k(network), commutation(network), *oscillation(network),
        )


@dataclass(frozen=True)
class SignalSolution:
    """One signal at some of the frequencies, arriving at the end, averaged over phases."""

    gain: FloatArray | None
    shares: dict
    """{id: quanta at the end}; what an idler brought is counted here too."""
    idler: dict
    incoming: dict
    """{id: |g u|^2 at the end}, of emitters that send anything through the start."""
    interference: dict
    """{id: 2 Re(g u v*) at the end}, of the same emitters."""
    past: frozenset
    """Ids of emitters of which something comes past the start."""
    least: dict
    """{id: what a passive emitter gives at the end at 0 K too, at signal and idler, quanta}."""
    vacuum: np.ndarray
    """Half the commutator of the wave that arrives at the end, quanta."""
    path: list
    """[(id, gain of the element, gain from the start on)] along the signal path, power ratios."""
    energy: float | None
    gain_draws: FloatLike | None
    """Gain for each phase, shape (draws, points) or less."""
    noise_draws: FloatLike
    """Quanta at the end for each phase, shape (draws, points) or less."""
    gain_error: np.ndarray
    noise_error: np.ndarray
    """By how much the means over phases may be off, shape (points,)."""
    heating: dict
    """Quanta at the end that what tones warm adds: `as_it_is`, and at `least` and at `most` as
    assumed films may be cooled; empty where nothing is warm."""


@dataclass(frozen=True)
class Received:
    """The noise that arrives at an observed wave of a network, emitter by emitter."""

    transfers: dict
    gain: FloatLike | None
    """Power gain from the start, shape (draws, points) or less; None without a start."""
    noise: FloatLike
    """All of it, quanta, with what the end's own receiver adds."""
    parts: dict
    """{id: [Arrived of its blocks]}."""
    added: FloatLike | None
    """What the end's own receiver adds, or None."""
    past: frozenset
    """Ids of emitters of which something comes past the start."""


def received(network: Network, signal: Signal) -> Received:
    """Return the Received of a signal, nothing averaged."""
    start = None if signal.from_port is None else (*signal.from_port, 1)
    end = network.arriving(signal.to_port)
    transfers = network.adjoint(end)
    through = None
    if start is not None and start in transfers:
        through = Through.of(network, start, end, transfers)
    total: FloatLike = 0.0
    parts, past = {}, set()
    for block in network.blocks:
        part = arrived(block, transfers, through)
        total = total + part.whole
        parts.setdefault(block.id, []).append(part)
        if through is None or any(wave in through.past for wave in block.waves):
            past.add(block.id)
    own = network.layout.elements[signal.to_port[0]]
    added = own.kind.own_noise(own.settings, network.conditions(own, network.frequency_hz))
    if added is not None:
        total = total + added
    gain = None if start is None else magnitude2(transfers.get(start, 0.0))
    return Received(transfers, gain, total, parts, added, frozenset(past))


def signal_solution(
    network: Network, signal: Signal, warmed: Warmed = NOTHING
) -> SignalSolution:
    """Return the SignalSolution of a signal in a network; `warmed` is what tones warm in it."""
    found = received(network, signal)
    end = network.arriving(signal.to_port)
    shares, idler, incoming, interference = {}, {}, {}, {}
    for key, parts in found.parts.items():
        shares[key] = _summed(network, [part.whole for part in parts])
        if network.idler_hz is not None:
            idler[key] = _summed(network, [part.idler for part in parts])
        if any(np.ndim(part.incoming) for part in parts):
            incoming[key] = _summed(network, [part.incoming for part in parts])
            interference[key] = _summed(network, [part.interference for part in parts])
    if found.added is not None:
        own = signal.to_port[0]
        shares[own] = shares[own] + network.mean(found.added)
    of_blocks = [network.mean(part) / 2.0 for part in commutators(network, end)]
    vacuum = sum(of_blocks, np.zeros_like(network.frequency_hz))
    least: dict[str, Any] = dict.fromkeys(shares, np.zeros_like(network.frequency_hz))
    for block, part in zip(network.blocks, of_blocks, strict=True):
        if len(set(block.nport.sidebands)) == 1:
            least[block.id] = least[block.id] + np.abs(part)
    of_noise = network.error_of_mean(found.noise)
    if found.gain is None:
        return SignalSolution(
            None, shares, idler, incoming, interference, found.past, least, vacuum, [],
            None, None, found.noise, np.zeros_like(of_noise), of_noise,
            _heating(network, found.transfers, warmed),
        )
    start = (*signal.start, 1)
    waves, balance = _forward(network, start)
    return SignalSolution(
        network.mean(found.gain), shares, idler, incoming, interference, found.past, least, vacuum,
        _path(network, waves, start, end), balance, found.gain, found.noise,
        network.error_of_mean(found.gain), of_noise, _heating(network, found.transfers, warmed),
    )


def _heating(network, transfers, warmed):
    """Return what warm parts add at the end, their emission alone changed, the waves as they are.
    """
    if not warmed.heated:
        return {}

    def over_stages(blocks):
        return sum(
            (network.mean(arrived(one, transfers).whole) for one in blocks),
            np.zeros_like(network.frequency_hz),
        )

    as_it_is, cold = zip(*network.reheated({}), strict=True)
    base = over_stages(cold)
    found = {"as_it_is": over_stages(as_it_is) - base}
    for name, side in (("least", 0), ("most", 1)):
        changed = network.reheated(warmed.guessed(side))
        more = over_stages(one for _, one in changed) - over_stages(one for one, _ in changed)
        found[name] = found["as_it_is"] + more
    return found


def _summed(network, parts):
    return sum(network.mean(part) for part in parts)


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


def _path(network, waves, start, end):
    rows: list[tuple[str, FloatArray, FloatArray]] = []
    before: FloatLike = 1.0
    for wave in network.path(start, end)[1:]:
        now = network.mean(magnitude2(waves[wave]))
        if rows and rows[-1][0] == wave[0]:
            rows[-1] = (wave[0], rows[-1][1] * _ratio(now, before), now)
        else:
            rows.append((wave[0], _ratio(now, before), now))
        before = now
    return rows


def _ratio(now, before):
    """Return a step's power ratio; NaN, not known, where nothing is left to compare with."""
    now, before = np.broadcast_arrays(now, before)
    return np.divide(now, before, out=np.full(now.shape, np.nan), where=before > SMALLEST)


def _own_noise_k(network):
    """Return what each element's emission amounts to at its input, kelvin, or None."""
    per_quantum = kelvin_per_quantum(frequency_hz=network.frequency_hz)
    found = {}
    for block in network.blocks:
        if block.id not in found:
            quanta = _own_quanta(network.layout.elements[block.id], block.nport)
            found[block.id] = None if quanta is None else network.mean(quanta) * per_quantum
    return found


def _own_quanta(element, nport):
    ports = nport.ports[: len(set(nport.ports))]
    if element.enter not in ports or element.leave not in ports:
        return None
    leave, enter = ports.index(element.leave), ports.index(element.enter)
    if (leave, enter) not in nport.scattering:
        return None
    through = magnitude2(nport.scattering[leave, enter])
    if not np.all(through > SMALLEST):
        return None  # what lets nothing pass has no noise temperature
    emitted = nport.emission.get((leave, leave), 0.0)
    return np.real(emitted) / through
