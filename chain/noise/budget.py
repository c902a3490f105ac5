"""How much noise a line adds, which element adds it, and what gain it has."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from chain.errors import LayoutError
from chain.layout.cautions import cautions
from chain.layout.equal_networks import copy_key, position
from chain.layout.signals import chosen_signal
from chain.network.assembly import phase_draws
from chain.network.laws import Laws, equilibrium, worst
from chain.noise.budget_export import budget_dict
from chain.noise.shares import NetworkSolution, signal_solution
from chain.power.self_heating import heated_k, noise_network, noise_temperature_k
from components.constants import T0, VACUUM
from components.quantities import decibels
from components.thermal_noise import kelvin_per_quantum

CHUNK = 16384
"""Draws times points that are solved at once: what a processor's cache holds comfortably."""

MAX_VALUES = 4_000_000
"""Elements times draws times points that are solved at once, to bound the memory it takes."""

class NothingArrives(LayoutError):
    """A signal whose start and end are joined, but nothing gets through."""


def nothing_arrives(signal):
    """Return the NothingArrives of a signal."""
    return NothingArrives.at(
        signal.place, f"nothing that leaves {'.'.join(signal.from_port)} arrives at "
        f"{'.'.join(signal.to_port)}", "look for an isolator or an amplifier that is reversed, "
        "or for a state that breaks the line",
    )


@dataclass(frozen=True)
class Row:
    """One element as the signal meets it."""

    id: str
    kind: str
    where: str
    """`incoming`, `path` or `side`."""
    gain_db: np.ndarray | None
    """Gain of the wave between entering and leaving the element; None off the path."""
    cumulative_db: np.ndarray | None
    """Gain from the start to the wave that leaves the element; None off the path."""
    own_noise_k: np.ndarray | None
    """Its noise temperature, referred to its input, a matched source there, kelvin."""
    noise_temperature_k: tuple[float, ...] = ()
    """Temperature of the noise that it emits, kelvin: of a cable those of its two ends."""


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
    """Output noise: all that arrives at the end, quanta."""
    system_noise_quanta: np.ndarray | None
    """The same referred to the start, quanta."""
    incoming_quanta: np.ndarray | None
    """The part that comes through the wave at the start at the signal frequency, quanta."""
    added_quanta: np.ndarray | None
    """The rest, quanta."""
    shares_quanta: Mapping[str, np.ndarray]
    """Each element's part of the system noise (of the output noise without a start)."""
    idler_shares_quanta: Mapping[str, np.ndarray]
    """The part of each share that came through the idler."""
    idler_hz: np.ndarray | None
    rows: tuple[Row, ...]
    laws: Laws
    ripple: Mapping[str, tuple[np.ndarray, np.ndarray]]
    """Least and most of gain_db and system_noise_quanta over unknown phases; empty without any."""
    warnings: tuple[str, ...] = ()
    layout: object = field(default=None, repr=False)
    said_of_solution: bool = field(default=False, repr=False)
    """True where a warning comes of the solution, and not of the layout alone."""

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
        """Thermal and other photons arriving at the end: output noise less the vacuum's 1/2."""
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

    def as_dict(self):
        """Return the budget under the names that programs lean on."""
        return budget_dict(self)

    def __str__(self):
        from chain.noise.budget_text import budget_text

        return budget_text(self)

    def _repr_html_(self):
        from chain.noise.budget_text import budget_html

        return budget_html(self)


def budgets(layout, signal=None, *, frequency_hz=None):
    """Return {name: Budget} of one signal, or of every signal of the layout.

    `frequency_hz` (array, Hz) replaces the band.  Signals of one network share its solution, and
    equal copies of a line that of the first.  Raises LayoutError.
    """
    chosen = [chosen_signal(layout, signal)] if signal is not None else layout.signals.values()
    f = layout.band.frequency_hz if frequency_hz is None else np.atleast_1d(frequency_hz)
    networks = {}
    for each in chosen:
        networks.setdefault(layout.connected(each.to_port[0]), []).append(each)
    found, solved = {}, {}
    for ids, signals in networks.items():
        alike = (
            copy_key(layout, ids, heated_k=heated_k(layout)),
            tuple(position(ids, each) for each in signals),
        )
        copied = solved.get(alike)
        if copied is None:
            copied = solved[alike] = ids, _of_network(layout, signals, f)
        found |= _renamed(layout, *copied, ids, signals, f)
    return {each.name: found[each.name] for each in chosen}


def budget(layout, signal=None, *, frequency_hz=None):
    """Return the Budget of a signal (of the only one where none is named).

    `frequency_hz` (array, Hz) replaces the band.  Raises LayoutError.
    """
    chosen = chosen_signal(layout, signal)
    return budgets(layout, chosen.name, frequency_hz=frequency_hz)[chosen.name]


def _of_network(layout, signals, f):
    """Return [Budget] of signals in one network, solved for some of the frequencies at a time."""
    start = signals[0].to_port[0]
    solved, pieces = [], [[] for _ in signals]
    for part in _parts(layout, start, f):
        network = noise_network(layout, start, part)
        for place, signal in enumerate(signals):
            pieces[place].append(signal_solution(network, signal))
        solved.append(NetworkSolution.of(network))
    even = equilibrium(layout, start, f)
    return [
        _joined(layout, signal, f, solved, own, even)
        for signal, own in zip(signals, pieces, strict=True)
    ]


def _parts(layout, start, f):
    """Return the frequencies in parts that are solved at once."""
    ids = layout.connected(start)
    values = f.size * phase_draws(layout, ids)
    fit = max(1, min(CHUNK, MAX_VALUES // len(ids)))
    return np.array_split(f, min(f.size, -(-values // fit)))


def _renamed(layout, ids, budgets_found, to_ids, signals, f):
    """Return {signal: Budget} of a network that is a copy of another: `ids` become `to_ids`."""
    if ids == to_ids:
        return {b.signal: b for b in budgets_found}
    called = dict(zip(ids, to_ids, strict=True))
    said = tuple(cautions(layout, to_ids, frequency_hz=f)) + tuple(layout.remarks)
    found = {}
    for signal, b in zip(signals, budgets_found, strict=True):
        if b.said_of_solution:
            found |= {signal.name: _of_network(layout, [signal], f)[0]}
            continue
        found[signal.name] = replace(
            b, signal=signal.name,
            from_port=None if b.from_port is None else ".".join(signal.from_port),
            to_port=".".join(signal.to_port),
            shares_quanta={called[key]: share for key, share in b.shares_quanta.items()},
            idler_shares_quanta={
                called[key]: share for key, share in b.idler_shares_quanta.items()
            },
            rows=tuple(replace(row, id=called[row.id]) for row in b.rows),
            warnings=said,
        )
    return found


def _stack(parts):
    return np.atleast_1d(parts[0]) if len(parts) == 1 else np.concatenate(parts)


def _stacked(dicts, scale):
    """Return {id: values over all frequencies}, referred by `scale`."""
    return {key: _stack([part[key] for part in dicts]) / scale for key in dicts[0]}


def _joined(layout, signal, f, solved, pieces, even):
    """Return the Budget of a signal from its pieces."""
    gain = None if pieces[0].gain is None else _stack([piece.gain for piece in pieces])
    if gain is not None and np.any(gain <= 0):
        raise nothing_arrives(signal)
    scale = 1.0 if gain is None else gain
    shares = _stacked([piece.shares for piece in pieces], scale)
    incoming = _stacked([piece.incoming for piece in pieces], scale)
    total = sum(shares.values(), np.zeros(f.size))
    came = None if gain is None else sum(incoming.values(), np.zeros(f.size))
    pumped = solved[0].idler_hz is not None
    idler_hz = _stack([part.idler_hz for part in solved]) if pumped else None
    of_solution = list(dict.fromkeys(text for part in solved for text in part.warnings))
    of_solution += _degenerate(f, idler_hz)
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
        idler_shares_quanta=_stacked([piece.idler for piece in pieces], scale),
        idler_hz=idler_hz,
        rows=_rows(layout, signal, solved, pieces, incoming),
        laws=Laws(even, worst(piece.energy for piece in pieces),
                  worst(part.commutation for part in solved)),
        ripple=_ripple(solved, pieces, gain),
        warnings=(*of_solution, *cautions(layout, solved[0].ids, frequency_hz=f), *layout.remarks),
        layout=layout,
        said_of_solution=bool(of_solution),
    )


def _rows(layout, signal, solved, pieces, incoming):
    """Return the rows: what feeds the start, the path itself, what comes in by side ports."""
    path = [key for key, _, _ in pieces[0].path]

    def row(key, where, gain_db=None, cumulative_db=None):
        own = [part.own_noise_k[key] for part in solved]
        own = None if own[0] is None else _stack(own)
        element = layout.elements[key]
        return Row(
            key, element.kind.name, where, gain_db, cumulative_db, own,
            _noise_temperatures_k(layout, element),
        )

    rows = [row(key, "incoming") for key in incoming if key not in path]
    for place, key in enumerate(path):
        step = _stack([piece.path[place][1] for piece in pieces])
        level = _stack([piece.path[place][2] for piece in pieces])
        rows.append(row(key, "path", decibels(step), decibels(level)))
    end = signal.to_port[0]
    if end not in path:
        element = layout.elements[end]
        rows.append(Row(
            end, element.kind.name, "path", None, None, None, _noise_temperatures_k(layout, element)
        ))
    shown = {row.id for row in rows}
    rows += [row(key, "side") for key in solved[0].ids if key not in shown]
    return tuple(rows)


def _noise_temperatures_k(layout, element):
    anchors = layout.anchors(element)
    if anchors:
        return anchors[0][1], anchors[-1][1]
    return (noise_temperature_k(layout, element),)


def _ripple(solved, pieces, gain):
    """Return the least and most of gain and system noise over the unknown phases."""
    if solved[0].draws == 1:
        return {}

    def over_draws(name):
        return np.concatenate([
            np.broadcast_to(getattr(own, name), (part.draws, len(part.frequency_hz)))
            for part, own in zip(solved, pieces, strict=True)
        ], axis=1)

    noise = over_draws("noise_draws")
    if gain is None:
        return {"noise_at_to_quanta": (noise.min(axis=0), noise.max(axis=0))}
    gains = over_draws("gain_draws")
    system = noise / gains
    return {
        "gain_db": (decibels(gains.min(axis=0)), decibels(gains.max(axis=0))),
        "system_noise_quanta": (system.min(axis=0), system.max(axis=0)),
    }


def _degenerate(f, idler_hz):
    if idler_hz is not None and np.any(np.abs(idler_hz - f) < 1.0):
        return ["signal and idler coincide at a point of the band: the value there is the "
                "phase-insensitive one"]
    return []
