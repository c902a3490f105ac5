"""How much noise a line adds, which element adds it, and what gain it has."""

from __future__ import annotations

import contextlib
import functools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError
from chain.layout.asked import asked_frequencies
from chain.layout.cautions import cautions
from chain.layout.equal_networks import copy_key, position
from chain.layout.limits import check_work
from chain.layout.signals import chosen_signal
from chain.network.assembly import phase_draws, pump_remarks
from chain.network.at_once import parts_of_band
from chain.network.generators import generator_remarks
from chain.network.laws import Laws, equilibrium, missed, worst
from chain.noise.budget_export import budget_dict
from chain.noise.generator_floor import GeneratorFloor, generator_floors
from chain.noise.shares import NetworkSolution, signal_solution
from chain.power.self_heating import heating_of, noise_network, noise_temperature_k, warmed_in
from chain.power.tones import network_power, tone_cautions
from chain.power.warming import NOTHING, Warmed
from chain.power.warming_text import uncounted
from components.constants import T0
from components.quantities import decibels
from components.thermal_noise import kelvin_per_quantum

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from chain.layout.layout import Layout, Signal
    from components.arrays import FloatArray

class NothingArrives(LayoutError):
    """A signal whose start and end are joined, but nothing gets through."""


def nothing_arrives(signal: Signal) -> NothingArrives:
    """Return the NothingArrives of a signal."""
    return NothingArrives.at(
        signal.place, f"nothing that leaves {'.'.join(signal.start)} arrives at "
        f"{'.'.join(signal.to_port)}", "look for an isolator or an amplifier that is reversed, "
        "or for a state that breaks the line",
    )


BY_IDLER = 0.01
"""Part of the largest share by the idler from which an element is asked about the idler."""

LEAST_GAIN, MOST_GAIN = 1e-200, 1e25
"""Power gains between which an answer is one: 2000 dB of loss, and a wave shut in losslessly."""


def unanswered(signal: Signal, gain: FloatArray | None, noise: FloatArray) -> LayoutError | None:
    """Return why gain and noise at a signal's end say nothing, or None; arrays (points,)."""
    if gain is not None and np.any(gain < LEAST_GAIN):
        return nothing_arrives(signal)
    whole = noise if gain is None else np.where(gain > MOST_GAIN, np.inf, noise)
    if np.all(np.isfinite(whole)):
        return None
    return LayoutError.at(
        signal.place, f"on the way to {'.'.join(signal.to_port)} a wave is shut in: all of it "
        "comes back at both ends and nothing takes it up",
        "give what reflects there a loss, or what stands between",
    )


@dataclass(frozen=True)
class Row:
    """One element as the signal meets it."""

    id: str
    kind: str
    where: str
    """`incoming`, `path` or `side`."""
    gain_db: FloatArray | None
    """Gain of the wave between entering and leaving the element; None off the path."""
    cumulative_db: FloatArray | None
    """Gain from the start to the wave that leaves the element; None off the path."""
    own_noise_k: FloatArray | None
    """Its noise temperature, referred to its input, a matched source there, kelvin."""
    noise_temperature_k: tuple[float, ...] = ()
    """Temperature of the noise that it emits, kelvin: of a cable those of its two ends."""


@dataclass(frozen=True)
class Budget:
    """Noise and gain of one signal; arrays run over frequency."""

    signal: str
    from_port: str | None
    to_port: str
    frequency_hz: FloatArray
    gain_db: FloatArray | None
    """Gain from the wave at the start to the wave at the end, dB."""
    noise_at_to_quanta: FloatArray
    """Output noise: all that arrives at the end, quanta."""
    system_noise_quanta: FloatArray | None
    """The same referred to the start, quanta."""
    incoming_quanta: FloatArray | None
    """The part that comes through the wave at the start at the signal frequency, quanta."""
    added_quanta: FloatArray | None
    """The rest, quanta: interference and what comes past the start."""
    interference_quanta: np.ndarray | None
    """Between what emitters send through the start and past it, quanta; can be negative."""
    vacuum_at_to_quanta: np.ndarray
    """Half the commutator of the wave that arrives at the end, quanta: 1/2 where it is matched."""
    shares_quanta: Mapping[str, np.ndarray]
    """Each element's part of the system noise (of the output noise without a start)."""
    idler_shares_quanta: Mapping[str, np.ndarray]
    """The part of each share that came through the idler."""
    vacuum_shares_quanta: Mapping[str, np.ndarray]
    """The part of each share that the emitter gives at 0 K too, through the idler as well."""
    incoming_shares_quanta: Mapping[str, np.ndarray]
    """The part of each share that came by the wave at the start, at the signal frequency."""
    interference_shares_quanta: Mapping[str, np.ndarray]
    """The part of each share that is interference of that with what came past the start."""
    idler_hz: FloatArray | None
    """Idler frequency at each signal frequency; None without a pumped paramp."""
    rows: tuple[Row, ...]
    laws: Laws
    ripple: Mapping[str, tuple[FloatArray, FloatArray]]
    """Least and most of gain_db and system_noise_quanta over unknown phases; empty without any."""
    mean_error: Mapping[str, np.ndarray]
    """By how much the means over unknown phases may be off for want of draws, by the same names;
    empty without any."""
    warmed: Warmed = NOTHING
    """What tones warm in the signal's network."""
    heating_quanta: Mapping[str, np.ndarray] = field(default_factory=dict)
    """What that adds, referred like the shares, quanta: `as_it_is`, and at `least` and at `most`,
    as assumed films may be cooled ten times better or worse; empty where nothing is warm."""
    warnings: tuple[str, ...] = ()
    layout: Layout = field(kw_only=True, repr=False)
    said_of_solution: bool = field(default=False, repr=False)
    """True where a warning comes of the solution, and not of the layout alone."""

    @property
    def system_noise_k(self) -> FloatArray | None:
        """System noise as a temperature, kelvin."""
        if self.system_noise_quanta is None:
            return None
        return self.system_noise_quanta * kelvin_per_quantum(frequency_hz=self.frequency_hz)

    @property
    def added_noise_k(self) -> FloatArray | None:
        """Added noise as a temperature, kelvin; None for a signal without a start."""
        if self.added_quanta is None:
            return None
        return self.added_quanta * kelvin_per_quantum(frequency_hz=self.frequency_hz)

    @property
    def photons_at_to(self) -> FloatArray:
        """Photons arriving at the end: noise there less half the commutator of the wave.

        In a passive network that is what is above the same network at 0 K.
        """
        return self.noise_at_to_quanta - self.vacuum_at_to_quanta

    @property
    def past_quanta(self) -> FloatArray | None:
        """What comes past the start, quanta: added noise less the interference."""
        if self.added_quanta is None or self.interference_quanta is None:
            return None
        return self.added_quanta - self.interference_quanta

    @property
    def noise_figure_db(self) -> FloatArray | None:
        """Noise figure, 1 + T_added / 290 K, dB; None for a signal without a start."""
        added_k = self.added_noise_k
        return None if added_k is None else decibels(1.0 + added_k / T0)

    @property
    def idler_quanta(self) -> FloatArray:
        """All that came through the idler, referred like the shares, quanta."""
        zero = np.zeros_like(self.frequency_hz)
        return sum(self.idler_shares_quanta.values(), zero)

    @functools.cached_property
    def generator_floors(self) -> tuple[GeneratorFloor, ...]:
        """How quiet the generators have to be whose noise the layout does not state."""
        return generator_floors(self)

    def as_dict(self) -> dict[str, Any]:
        """Return the budget under the names that programs lean on."""
        return budget_dict(self)

    def __str__(self):
        from chain.noise.budget_text import budget_text

        return budget_text(self)


def budgets(
    layout: Layout, signal: str | None = None, *, frequency_hz: ArrayLike | None = None
) -> dict[str, Budget]:
    """Return {name: Budget} of one signal, or of every signal of the layout.

    `frequency_hz` (array, Hz) replaces the band, signals' own ones too.  Signals of one network and
    band share its solution, and equal copies of a line that of the first.  Raises LayoutError.
    """
    chosen = [chosen_signal(layout, signal)] if signal is not None else layout.signals.values()
    bands: dict[tuple, list[Signal]] = {}
    for each in chosen:
        own = None if frequency_hz is not None else each.band
        key = () if own is None else (own.start_hz, own.stop_hz, own.points)
        bands.setdefault(key, []).append(each)
    found: dict[str, Budget] = {}
    for group in bands.values():
        found |= _in_one_band(layout, group, asked_frequencies(layout, frequency_hz, group[0]))
    return {each.name: found[each.name] for each in chosen}


def _in_one_band(layout, chosen, f):
    """Return {name: Budget} of signals at the same frequencies."""
    networks: dict[tuple[str, ...], list[Signal]] = {}
    for each in chosen:
        networks.setdefault(layout.connected(each.to_port[0]), []).append(each)
    alike = {
        ids: (
            copy_key(layout, ids, heated=heating_of(layout, ids)),
            tuple(position(ids, each) for each in signals),
        )
        for ids, signals in networks.items()
    }
    first = {key: ids for ids, key in reversed(alike.items())}
    check_work(
        layout, elements=sum(len(ids) * len(networks[ids]) for ids in first.values()),
        points=f.size, draws=max((phase_draws(layout, ids) for ids in first.values()), default=1),
    )
    found, solved = {}, {}
    for ids, signals in networks.items():
        key = alike[ids]
        if key not in solved:
            solved[key] = ids, _of_network(layout, signals, f)
        from_ids, of_first = solved[key]
        found |= _renamed(layout, from_ids, of_first, ids, signals, f)
    return found


def budgets_that_arrive(
    layout: Layout, names: Iterable[str] | None = None, *, frequency_hz: ArrayLike | None = None
) -> tuple[dict[str, Budget], dict[str, NothingArrives]]:
    """Return {name: Budget} of signals (all, or `names`), and why there is none of others.

    Raises LayoutError for what is wrong with more than a signal of which nothing arrives.
    """
    asked = list(layout.signals if names is None else names)
    if names is None:
        with contextlib.suppress(NothingArrives):
            return budgets(layout, frequency_hz=frequency_hz), {}
    found: dict[str, Budget] = {}
    missing: dict[str, NothingArrives] = {}
    for name in asked:
        try:
            found |= budgets(layout, name, frequency_hz=frequency_hz)
        except NothingArrives as error:
            missing[name] = error
    return found, missing


def budget(
    layout: Layout, signal: str | None = None, *, frequency_hz: ArrayLike | None = None
) -> Budget:
    """Return the Budget of a signal (of the only one where none is named).

    `frequency_hz` (array, Hz) replaces the band.  Raises LayoutError.
    """
    chosen = chosen_signal(layout, signal)
    return budgets(layout, chosen.name, frequency_hz=frequency_hz)[chosen.name]


def _of_network(layout, signals, f):
    """Return [Budget] of signals in one network, solved for some of the frequencies at a time."""
    start = signals[0].to_port[0]
    warmed = warmed_in(layout, layout.connected(start))
    solved, pieces = [], [[] for _ in signals]
    for part in parts_of_band(layout, layout.connected(start), f):
        network = noise_network(layout, start, part)
        for place, signal in enumerate(signals):
            pieces[place].append(signal_solution(network, signal, warmed))
        solved.append(NetworkSolution.of(network))
    even = equilibrium(layout, start, f)
    return [
        _joined(layout, signal, f, solved, own, even, warmed)
        for signal, own in zip(signals, pieces, strict=True)
    ]


def _renamed(layout, ids, budgets_found, to_ids, signals, f):
    """Return {signal: Budget} of a network that is a copy of another: `ids` become `to_ids`."""
    if ids == to_ids:
        return {b.signal: b for b in budgets_found}
    called = dict(zip(ids, to_ids, strict=True))
    found = {}
    for signal, b in zip(signals, budgets_found, strict=True):
        if b.said_of_solution:
            found |= {signal.name: _of_network(layout, [signal], f)[0]}
            continue
        shares = {
            name: {called[key]: share for key, share in getattr(b, name).items()} for name in (
                "shares_quanta", "idler_shares_quanta", "vacuum_shares_quanta",
                "incoming_shares_quanta", "interference_shares_quanta",
            )
        }
        said = _cautions(layout, to_ids, f, b.idler_hz, shares["idler_shares_quanta"])
        found[signal.name] = replace(
            b, signal=signal.name,
            from_port=None if b.from_port is None else ".".join(signal.from_port),
            to_port=".".join(signal.to_port),
            rows=tuple(replace(row, id=called[row.id]) for row in b.rows),
            warmed=b.warmed.renamed(called),
            warnings=(
                *generator_remarks(layout, to_ids, f, b.idler_hz), *said, *layout.remarks,
            ),
            **shares,
        )
    return found


def _stack(parts):
    return np.atleast_1d(parts[0]) if len(parts) == 1 else np.concatenate(parts)


def _stacked(dicts, scale):
    """Return {id: values over all frequencies}, referred by `scale`."""
    return {key: _stack([part[key] for part in dicts]) / scale for key in dicts[0]}


def _cautions(layout, ids, f, idler_hz, by_idler):
    """Return what elements say of the frequencies at which they are used: signal, idler, tones."""
    said = cautions(layout, ids, frequency_hz=f)
    if idler_hz is not None:
        largest = max((float(np.max(share)) for share in by_idler.values()), default=0.0)
        heard = [k for k, share in by_idler.items() if np.max(share) > BY_IDLER * largest]
        said += cautions(layout, heard, frequency_hz=idler_hz)
    # Where a tone's level cannot be worked out, what tones warm is not known, which is said there.
    with contextlib.suppress(LayoutError):
        said += tone_cautions(layout, network_power(layout, ids).tones.values())
    return list(dict.fromkeys(said))


def _joined(layout, signal, f, solved, pieces, even, warmed):
    """Return the Budget of a signal from its pieces."""
    gain = None if pieces[0].gain is None else _stack([piece.gain for piece in pieces])
    unstable = _stack([part.unstable for part in solved])
    noise = sum(_stacked([piece.shares for piece in pieces], 1.0).values(), np.zeros(f.size))
    error = unanswered(
        signal, gain if gain is None else np.where(unstable, 1.0, gain),
        np.where(unstable, 0.0, noise),
    )
    if error is not None:
        raise error
    # Where some phase oscillates there is no mean: nothing is stated there, and said to be so.
    gain = gain if gain is None or not unstable.any() else np.where(unstable, np.nan, gain)
    scale = 1.0 if gain is None else gain
    scale = np.where(unstable, np.nan, scale) if unstable.any() else scale
    shares = _stacked([piece.shares for piece in pieces], scale)
    incoming, interference = (
        _stacked([getattr(piece, name) for piece in pieces], scale)
        for name in ("incoming", "interference")
    )
    total = sum(shares.values(), np.zeros(f.size))
    came, crossed = (
        None if gain is None else sum(of.values(), np.zeros(f.size))
        for of in (incoming, interference)
    )
    by_idler = _stacked([piece.idler for piece in pieces], scale)
    pumped = solved[0].idler_hz is not None
    idler_hz = _stack([part.idler_hz for part in solved]) if pumped else None
    of_solution = list(dict.fromkeys(text for part in solved for text in part.warnings))
    of_solution += _degenerate(f, idler_hz)
    of_solution += pump_remarks(layout, solved[0].ids)
    of_solution += uncounted(layout, warmed)
    if not warmed.steady:
        of_solution.append(network_power(layout, solved[0].ids).warnings[-1])
    laws = Laws(
        even, worst(piece.energy for piece in pieces), worst(part.commutation for part in solved)
    )
    of_solution += missed(laws.as_dict())
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
        interference_quanta=crossed,
        vacuum_at_to_quanta=_stack([piece.vacuum for piece in pieces]),
        shares_quanta=shares,
        idler_shares_quanta=by_idler,
        vacuum_shares_quanta=_stacked([piece.least for piece in pieces], scale),
        incoming_shares_quanta=incoming,
        interference_shares_quanta=interference,
        idler_hz=idler_hz,
        rows=_rows(layout, signal, solved, pieces),
        laws=laws,
        ripple=_ripple(solved, pieces, gain, unstable),
        mean_error=_mean_error(solved, pieces, gain, total),
        warmed=warmed,
        heating_quanta=_stacked([piece.heating for piece in pieces], scale),
        warnings=(
            *of_solution, *generator_remarks(layout, solved[0].ids, f, idler_hz),
            *_cautions(layout, solved[0].ids, f, idler_hz, by_idler), *layout.remarks,
        ),
        layout=layout,
        said_of_solution=bool(of_solution),
    )


def _rows(layout, signal, solved, pieces):
    """Return the rows: what feeds the start, the path itself, what comes in by side ports."""
    path = [key for key, _, _ in pieces[0].path]

    def row(key, where, gain_db=None, cumulative_db=None):
        by_part = [part.own_noise_k[key] for part in solved]
        own = None if by_part[0] is None else _stack(by_part)
        element = layout.elements[key]
        return Row(
            key, element.kind.name, where, gain_db, cumulative_db, own,
            _noise_temperatures_k(layout, element),
        )

    # What an emitter sends at the idler is not cut at the start, and goes along the same lines.
    past = {key for piece in pieces for key in piece.past}
    fed = [key for key in pieces[0].incoming if key not in path]
    rows = [row(key, "incoming") for key in fed if key not in past or _mostly(pieces, key)]
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


def _mostly(pieces, key):
    """Tell whether most of what an emitter gives at the signal comes by the start."""
    came = sum(float(np.sum(piece.incoming[key])) for piece in pieces)
    idler = sum(float(np.sum(piece.idler.get(key, 0.0))) for piece in pieces)
    whole = sum(float(np.sum(piece.shares[key])) for piece in pieces)
    return came > 0.5 * (whole - idler)


def _mean_error(solved, pieces, gain, total):
    """Return how surely the means over unknown phases are known, by quantity."""
    if solved[0].draws == 1:
        return {}
    noise = _stack([piece.noise_error for piece in pieces])
    if gain is None:
        return {"noise_at_to_quanta": noise}
    of_gain = _stack([piece.gain_error for piece in pieces]) / gain
    return {
        "gain_db": decibels(1.0 + of_gain),
        "system_noise_quanta": noise / gain + total * of_gain,
    }


def _ripple(solved, pieces, gain, unstable):
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
        return {"noise_at_to_quanta": _ends(noise, unstable)}
    gains = over_draws("gain_draws")
    return {
        "gain_db": _ends(decibels(gains), unstable),
        "system_noise_quanta": _ends(noise / gains, unstable),
    }


def _ends(values, unstable):
    """Return least and most over draws; nothing where some phase oscillates."""
    low, high = values.min(axis=0), values.max(axis=0)
    if unstable.any():
        low, high = np.where(unstable, np.nan, low), np.where(unstable, np.nan, high)
    return low, high


def _degenerate(f, idler_hz):
    if idler_hz is not None and np.any(np.abs(idler_hz - f) < 1.0):
        return ["signal and idler coincide at a point of the band: the value there is the "
                "phase-insensitive one"]
    return []
