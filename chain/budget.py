"""How much noise a line adds, which element adds it, and what gain it has."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from chain.errors import LayoutError
from chain.laws import Laws, commutation, energy, equilibrium
from chain.network import Network
from chain.stability import oscillation_warnings
from components.constants import T0, VACUUM
from components.nport import magnitude2
from components.quantities import decibels
from components.thermal_noise import kelvin_per_quantum

CHUNK = 16384
"""Draws times points that are solved at once: what a processor's cache holds comfortably."""

CONVENTIONS = (
    "Noise is in quanta (hf per hertz), symmetrised: a matched load at T emits 1/2 coth(hf/2kT), "
    "the vacuum is 1/2 and is counted; photons = quanta - 1/2; kelvin = quanta x hf/k.",
    "System noise is everything that reaches the end, referred to the wave at the start: "
    "incoming (through that wave, at the signal frequency) + added (the rest, idler noise always).",
    "Quantum limit of an amplified signal: 1 quantum (1/2 incoming + 1/2 added). "
    "Noise figure = 1 + T_added / 290 K.",
    "Gain is of a unit wave added at the start, the whole network in place, 50 ohm.",
)


class NothingArrives(LayoutError):
    """A signal whose start and end are joined, but nothing gets through."""


@dataclass(frozen=True)
class Row:
    """One element as the signal meets it."""

    id: str
    kind: str
    where: str
    """`incoming`, `path` or `elsewhere`."""
    gain_db: np.ndarray | None
    """Gain of the wave between entering and leaving the element; None off the path."""
    cumulative_db: np.ndarray | None
    """Gain from the start to the wave that leaves the element; None off the path."""
    own_noise_k: np.ndarray | None
    """Noise that the element itself adds to a matched source at its input, kelvin."""


@dataclass(frozen=True)
class Budget:
    """Noise and gain of one signal; arrays run over frequency."""

    signal: str
    from_port: str | None
    to_port: str
    frequency_hz: np.ndarray
    gain_db: np.ndarray | None
    """Gain from the wave at the start to the wave at the end, dB."""
    noise_at_to_quanta: np.ndarray
    """All noise arriving at the end, quanta."""
    system_noise_quanta: np.ndarray | None
    """The same referred to the start, quanta."""
    incoming_quanta: np.ndarray | None
    """The part that comes through the wave at the start at the signal frequency, quanta."""
    added_quanta: np.ndarray | None
    """The rest, quanta."""
    shares_quanta: Mapping[str, np.ndarray]
    """Each element's part of the system noise (of the noise at the end without a start)."""
    idler_shares_quanta: Mapping[str, np.ndarray]
    """The part of each share that came through the idler."""
    idler_hz: np.ndarray | None
    rows: tuple[Row, ...]
    laws: Laws
    ripple: Mapping[str, tuple[np.ndarray, np.ndarray]]
    """Least and most of gain_db and system_noise_quanta over unknown phases; empty without any."""
    warnings: tuple[str, ...] = ()
    layout: object = field(default=None, repr=False)

    @property
    def system_noise_k(self):
        """System noise as a temperature, kelvin."""
        if self.system_noise_quanta is None:
            return None
        return self.system_noise_quanta * kelvin_per_quantum(frequency_hz=self.frequency_hz)

    @property
    def added_noise_k(self):
        """Added noise as a temperature, kelvin."""
        return self.added_quanta * kelvin_per_quantum(frequency_hz=self.frequency_hz)

    @property
    def photons_at_to(self):
        """Thermal and other photons arriving at the end: noise at the end less the vacuum's 1/2."""
        return self.noise_at_to_quanta - VACUUM

    @property
    def noise_figure_db(self):
        """Noise figure, 1 + T_added / 290 K, dB."""
        return decibels(1.0 + self.added_noise_k / T0)

    @property
    def idler_quanta(self):
        """All that came through the idler, referred like the shares, quanta."""
        zero = np.zeros_like(self.frequency_hz)
        return sum(self.idler_shares_quanta.values(), zero)

    def __str__(self):
        from chain.tables import budget_text

        return budget_text(self)

    def _repr_html_(self):
        from chain.tables import budget_html

        return budget_html(self)


def budgets(layout, signal=None, *, frequency_hz=None):
    """Return {name: Budget} of one signal, or of every signal of the layout.

    `frequency_hz` replaces the band.  Raises LayoutError for a signal that does not exist.
    """
    if signal is not None:
        return {signal: budget(layout, signal, frequency_hz=frequency_hz)}
    return {name: budget(layout, name, frequency_hz=frequency_hz) for name in layout.signals}


def budget(layout, signal=None, *, frequency_hz=None):
    """Return the Budget of a signal (of the only one where none is named).

    `frequency_hz` (array, Hz) replaces the band.  Raises LayoutError.
    """
    chosen = chosen_signal(layout, signal)
    f = layout.band.frequency_hz if frequency_hz is None else np.atleast_1d(frequency_hz)
    start = chosen.to_port[0]
    first = Network(layout, start, f[:1])
    pieces = [
        _piece(Network(layout, start, part), chosen)
        for part in np.array_split(f, max(1, -(-f.size * first.draws // CHUNK)))
    ]
    return _joined(layout, chosen, f, pieces)


def chosen_signal(layout, name):
    """Return the signal of that name, or the only one; raises LayoutError."""
    if name is None and len(layout.signals) == 1:
        return next(iter(layout.signals.values()))
    known = ", ".join(layout.signals) or "none"
    if name is None:
        raise ValueError(f"the layout has these signals: {known}; name one")
    if name not in layout.signals:
        from chain.errors import Place

        raise LayoutError.at(
            Place(layout.path), f"there is no signal {name!r}", f"the layout has: {known}"
        )
    return layout.signals[name]


@dataclass(frozen=True)
class _Piece:
    """A budget over some of the frequencies, before the average over phases is referred."""

    network: Network
    gain: np.ndarray | None
    shares: dict
    idler: dict
    incoming: dict
    rows: list
    laws: Laws
    warnings: list
    gain_draws: np.ndarray | None
    noise_draws: np.ndarray


def _mean(network, values):
    """Return the mean over phases, shape (points,)."""
    shape = np.broadcast_shapes(np.shape(values), (1, len(network.frequency_hz)))
    return np.broadcast_to(values, shape).mean(axis=0)


def _piece(network, signal):
    start = None if signal.from_port is None else (*signal.from_port, 1)
    end = network.arriving(signal.to_port)
    transfers = network.adjoint(end)
    direct = network.reaching(end, without=start)
    shares, idler, through_start, total = {}, {}, {}, 0.0
    for block in network.blocks:
        noise, by_idler = network.noise_of(block, transfers)
        total = total + noise
        shares[block.id] = shares.get(block.id, 0.0) + _mean(network, noise)
        if network.idler_hz is not None:
            idler[block.id] = idler.get(block.id, 0.0) + _mean(network, by_idler)
        emitting = _emitting(block) & transfers.keys()
        if start is not None and emitting and not direct & emitting:
            through_start[block.id] = _mean(network, noise - by_idler)
    own = network.layout.elements[signal.to_port[0]]
    added = own.kind.own_noise(own.settings, network.conditions(own, network.frequency_hz))
    if added is not None:
        total = total + added
        shares[own.id] = shares[own.id] + _mean(network, added)
    gain_draws = None if start is None else magnitude2(transfers.get(start, 0.0))
    rows, sent = _rows(network, start, end)
    laws = Laws(None, None if start is None else energy(network, sent, {start}),
                commutation(network))
    return _Piece(
        network, None if gain_draws is None else _mean(network, gain_draws), shares, idler,
        through_start, rows, laws, oscillation_warnings(network) if network.active else [],
        gain_draws, total,
    )


def _emitting(block):
    """Return the signal waves of a block by which it emits."""
    return {
        block.waves[i] for i, j in block.nport.emission if i == j and block.nport.sidebands[i] == 1
    }


def _rows(network, start, end):
    """Return [(id, where, gain, cumulative)] along the path, and the forward waves."""
    if start is None:
        return [], {}
    waves = network.forward({start: 1.0})
    rows, before = [], 1.0
    for wave in network.path(start, end)[1:]:
        now = _mean(network, magnitude2(waves[wave]))
        if rows and rows[-1][0] == wave[0]:
            rows[-1] = (wave[0], rows[-1][1] * now / before, now)
        else:
            rows.append((wave[0], now / before, now))
        before = now
    return rows, waves


def _own_noise_k(network, element, key):
    """Return what the element's emission amounts to at its input, kelvin, or None."""
    block = network.block(key)
    enter, leave = element.enter, element.leave
    ports = block.nport.ports[: len(set(block.nport.ports))]
    if enter not in ports or leave not in ports:
        return None
    i, j = ports.index(leave), ports.index(enter)
    if (i, j) not in block.nport.scattering:
        return None
    emitted = block.nport.emission.get((i, i), 0.0)
    quanta = np.real(emitted) / magnitude2(block.nport.scattering[i, j])
    return _mean(network, quanta) * kelvin_per_quantum(frequency_hz=network.frequency_hz)


def _stack(parts):
    return np.concatenate([np.atleast_1d(part) for part in parts])


def _joined(layout, signal, f, pieces):
    gain = None if pieces[0].gain is None else _stack([piece.gain for piece in pieces])
    scale = 1.0 if gain is None else gain
    if gain is not None and np.any(gain <= 0):
        raise NothingArrives.at(
            signal.place, f"nothing that leaves {'.'.join(signal.from_port)} arrives at "
            f"{'.'.join(signal.to_port)}", "look for an isolator or an amplifier that stands the "
            "wrong way round, or for a state that breaks the line",
        )
    shares = {key: _stack([piece.shares[key] for piece in pieces]) / scale
              for key in pieces[0].shares}
    idler = {key: _stack([piece.idler[key] for piece in pieces]) / scale
             for key in pieces[0].idler}
    incoming = {key: _stack([piece.incoming[key] for piece in pieces]) / scale
                for key in pieces[0].incoming}
    total = sum(shares.values(), np.zeros(f.size))
    came = None if gain is None else sum(incoming.values(), np.zeros(f.size))
    laws = pieces[0].laws
    for piece in pieces[1:]:
        laws = laws.worst(piece.laws)
    laws = Laws(equilibrium(layout, signal.to_port[0], f), laws.energy, laws.commutation)
    first = pieces[0].network
    warnings = list(dict.fromkeys(text for piece in pieces for text in piece.warnings))
    warnings += _degenerate(first, f)
    return Budget(
        signal=signal.name,
        from_port=None if gain is None else ".".join(signal.from_port),
        to_port=".".join(signal.to_port),
        frequency_hz=f,
        gain_db=None if gain is None else decibels(gain),
        noise_at_to_quanta=total * scale,
        system_noise_quanta=None if gain is None else total,
        incoming_quanta=came,
        added_quanta=None if gain is None else total - came,
        shares_quanta=shares,
        idler_shares_quanta=idler,
        idler_hz=None if first.idler_hz is None else _stack([p.network.idler_hz for p in pieces]),
        rows=_all_rows(layout, signal, pieces, incoming),
        laws=laws,
        ripple=_ripple(pieces, gain, scale),
        warnings=tuple(warnings),
        layout=layout,
    )


def _all_rows(layout, signal, pieces, incoming):
    """Return the rows: what feeds the start, the path itself, what joins in from elsewhere."""
    path = [key for key, _, _ in pieces[0].rows]
    rows = []

    def own(key):
        noise = [_own_noise_k(p.network, layout.elements[key], key) for p in pieces]
        return None if noise[0] is None else _stack(noise)

    before = [key for key in incoming if key not in path]
    for key in before:
        rows.append(Row(key, layout.elements[key].kind.name, "incoming", None, None, own(key)))
    for place, key in enumerate(path):
        step = _stack([piece.rows[place][1] for piece in pieces])
        level = _stack([piece.rows[place][2] for piece in pieces])
        rows.append(Row(key, layout.elements[key].kind.name, "path", decibels(step),
                        decibels(level), own(key)))
    end = signal.to_port[0]
    if end not in path:
        rows.append(Row(end, layout.elements[end].kind.name, "path", None, None, None))
    shown = {row.id for row in rows}
    for key in pieces[0].network.ids:
        if key not in shown:
            rows.append(Row(key, layout.elements[key].kind.name, "elsewhere", None, None, own(key)))
    return tuple(rows)


def _ripple(pieces, gain, scale):
    """Return the least and most of gain and system noise over the unknown phases."""
    if pieces[0].network.draws == 1:
        return {}
    noise = [np.broadcast_to(p.noise_draws, (p.network.draws, len(p.network.frequency_hz)))
             for p in pieces]
    if gain is None:
        whole = np.concatenate(noise, axis=1)
        return {"noise_at_to_quanta": (whole.min(axis=0), whole.max(axis=0))}
    gains = np.concatenate(
        [np.broadcast_to(p.gain_draws, (p.network.draws, len(p.network.frequency_hz)))
         for p in pieces], axis=1,
    )
    system = np.concatenate(noise, axis=1) / gains
    return {
        "gain_db": (decibels(gains.min(axis=0)), decibels(gains.max(axis=0))),
        "system_noise_quanta": (system.min(axis=0), system.max(axis=0)),
    }


def _degenerate(network, f):
    if network.pump is None:
        return []
    idler = network.idler_hz[0] + network.frequency_hz[0] - f
    if np.any(np.abs(idler - f) < 1.0):
        return ["signal and idler coincide at a point of the band: the value there is the "
                "phase-insensitive one"]
    return []
