"""What the heat of tones does to the temperatures of cables and of what absorbs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from components.conditions import Conditions
from components.heating import Heated, Heating
from components.hot_films import EITHER_WAY, TYPICAL, electron_time_s
from components.profile import Warming
from components.thermal_noise import quanta

if TYPE_CHECKING:
    from chain.layout.layout import Element, Layout
    from chain.writing.text import Result
    from components.hot_films import HotLaw

UNMOVED = 1e-6
"""Change of what a part emits, over what it emits with its vacuum, below which it is left alone."""

NOTICED = 1.05
"""Ratio of temperatures above which warming is worth a row, or a word where it is not counted."""

UNKNOWN_W = 1e-12
"""What a cable without known materials absorbs before it is named: the thinnest, coldest cables of
the catalogue would notice that."""


@dataclass(frozen=True)
class CableHeat:
    """A stretch of a cable between neighbouring anchors that its tones warm."""

    id: str
    first: str
    """Stage at its start."""
    second: str
    """Stage at its end."""
    peak_k: float
    """Highest temperature along it."""
    at_m: float
    """Where that is, from the cable's start."""
    anchors_k: tuple[float, float]
    """Temperatures of its two ends."""
    ratio: float
    """The most by which tones multiply the temperature of a place of it."""
    beyond: bool
    """True where its materials have no data so high: then the peak is a lower bound."""


STEADY, AVERAGE, PEAK, EITHER = "steady", "average", "peak", "either"
"""What of its tones a film follows: see FilmHeat."""


@dataclass(frozen=True)
class FilmHeat:
    """An absorber, or the matched load on one of its ports, that its tones warm."""

    id: str
    port: str | None
    """The port whose load it is; None for the element itself."""
    stage_k: float
    absorbed_w: float
    """Average power of all tones."""
    kelvin: float
    """Its noise temperature."""
    low_k: float
    """The same with an assumed P0 ten times as large; `kelvin` where P0 is given."""
    high_k: float
    """With a tenth of it."""
    assumed: bool
    """True where nothing measured is given."""
    on_k: float | None = None
    """Of pulsed tones: its temperature while they are on, if its electrons follow; else None."""
    follows: str = STEADY
    """What of pulsed tones it follows, and `kelvin` holds for: AVERAGE, PEAK, or EITHER (no `pulse`
    is given: `kelvin` is of the average)."""


@dataclass(frozen=True)
class Warmed:
    """Everything that the tones of a network, or of a layout, warm."""

    heated: Heated = field(default_factory=dict)
    """What emits, and what cables lose, follows from it."""
    guesses: tuple[Heated, Heated] = ({}, {})
    """What `heated` would have otherwise, were every assumed film cooled ten times better or ten
    times worse."""
    cables: tuple[CableHeat, ...] = ()
    films: tuple[FilmHeat, ...] = ()
    not_counted: Mapping[str, float] = field(default_factory=dict)
    """Elements that absorb noticeably and of which nobody states how they warm: {id: W}."""
    unknown_cables: Mapping[str, float] = field(default_factory=dict)
    """Cables that absorb and are given by their loss alone: {id: W}."""
    moved: float = 0.0
    """By how much the loss of cables moved against that which the tones met, over that loss."""
    steady: bool = True
    """False where temperatures and levels do not come to rest."""
    why: str = ""
    """Why nothing is known of it, where that is so."""

    def renamed(self, called: Mapping[str, str]) -> Warmed:
        """Return the same in an equal network whose elements are `called` otherwise."""
        if not (self.heated or self.not_counted or self.unknown_cables):
            return self

        def of_ids(found):
            return {called[key]: value for key, value in found.items()}

        def of_rows(rows):
            return tuple(replace(row, id=called[row.id]) for row in rows)

        low, high = self.guesses
        return replace(
            self, heated=of_ids(self.heated), guesses=(of_ids(low), of_ids(high)),
            cables=of_rows(self.cables), films=of_rows(self.films),
            not_counted=of_ids(self.not_counted), unknown_cables=of_ids(self.unknown_cables),
        )

    def guessed(self, side: int) -> Heated:
        """Return what is warm with assumed films cooled ten times better (0) or worse (1)."""
        return {**self.heated, **self.guesses[side]}

    @classmethod
    def together(cls, parts: list[Warmed]) -> Warmed:
        """Return those of several networks as one."""
        def joined(name):
            return {key: value for part in parts for key, value in getattr(part, name).items()}

        low, high = ({k: v for part in parts for k, v in part.guesses[i].items()} for i in (0, 1))
        return cls(
            joined("heated"), (low, high), tuple(row for part in parts for row in part.cables),
            tuple(row for part in parts for row in part.films), joined("not_counted"),
            joined("unknown_cables"), max((part.moved for part in parts), default=0.0),
            all(part.steady for part in parts),
        )


NOTHING = Warmed()
"""What a layout without tones has."""


def warmed(layout: Layout, tones: Mapping[str, Result], met: Heated) -> Warmed:
    """Return what tones ({name: TonePower}) warm; `met` is what was warm when they were worked out.

    Powers are averages.  Nothing with `self_heating: off`.
    """
    if not layout.self_heating:
        return NOTHING
    absorbed = defaultdict(list)
    for tone in tones.values():
        for key, watt in tone.absorbed_w.items():
            if watt > 0:
                absorbed[key].append((tone, watt))
    cables, films = _Cables(layout, met), _Films(layout)
    for key, shares in absorbed.items():
        element = layout.elements[key]
        (cables if element.kind.warms_along else films).take(element, shares)
    along = {key: Heating(along=one) for key, one in cables.warmings.items()}
    return Warmed(
        {**along, **films.heated}, (films.low, films.high), tuple(cables.found),
        tuple(films.found), films.not_counted, cables.unknown, cables.moved,
    )


def lowest_hz(layout: Layout) -> float:
    """Return the lowest frequency at which noise counts, Hz: of the band, or of an idler."""
    return layout.remembered("lowest frequency", lambda: _lowest_hz(layout))


def _lowest_hz(layout):
    band = np.array([layout.band.start_hz, layout.band.stop_hz])
    found = list(band)
    for element in layout.elements.values():
        if element.kind.pumps(element.settings):
            pump_hz = layout.tones[element.settings["pump"]].frequency_hz
            found += list(element.kind.idler_hz(
                element.settings, signal_hz=band, pump_hz=pump_hz
            ))
    return float(min(f for f in found if f > 0))


class _Cables:
    """The cables that tones warm."""

    def __init__(self, layout: Layout, met: Heated) -> None:
        self.layout, self.met = layout, met
        self.lowest_hz = lowest_hz(layout)
        self.warmings, self.unknown, self.found, self.moved = {}, {}, [], 0.0

    def take(self, element: Element, shares: list[tuple[Any, float]]) -> None:
        """Note what tones do to a cable: [(tone, W that it absorbs)]."""
        settings, total_w = element.settings, sum(watt for _, watt in shares)
        if settings.given("temperature"):
            return
        if not (settings.given("coax") and settings.given("length")):
            if total_w >= UNKNOWN_W:
                self.unknown[element.id] = total_w
            return
        anchors = self.layout.anchors(element)
        if not anchors:
            here_k = self.layout.temperature_k(element)
            anchors = (0.0, here_k), (1.0, here_k)
        length_m = settings["length"].value
        kind: Any = element.kind
        if length_m <= 0 or total_w <= kind.unmoved_w(settings, anchors, self.lowest_hz, UNMOVED):
            return
        before = self.met[element.id].along if element.id in self.met else None
        warming = self._warming(element, shares, anchors, before)
        self.warmings[element.id] = warming
        self._note_moved(kind, settings, anchors, before, warming)
        names = [stage for _, stage in element.anchored] or [element.stage or ""] * 2
        peaks = _peaks(kind, settings, anchors, warming, length_m)
        for (first, second), found in zip(pairwise(names), peaks, strict=True):
            if found["ratio"] > NOTICED:
                self.found.append(CableHeat(element.id, first, second, **found))

    @staticmethod
    def _warming(element, shares, anchors, before):
        """Return the Warming of a cable by what its tones leave in each slice of it."""
        kind, settings = element.kind, element.settings
        slices_w: Any = 0.0
        for tone, watt in shares:
            at = _at(anchors, before or Warming.none(len(anchors) - 1), tone.frequency_hz)
            first, last = kind.absorbed_slices(settings, at)
            waves = [tone.arriving_w.get(f"{element.id}.{port}", 0.0) for port in ("in", "out")]
            into, back = (wave / sum(waves) for wave in waves)
            seen = into * first.mean(axis=-1) + back * last.mean(axis=-1)
            slices_w = slices_w + watt * seen
        lengths_m = np.diff([part for part, _ in anchors]) * settings["length"].value
        return Warming.of(slices_w, lengths_m)

    def _note_moved(self, kind, settings, anchors, before, warming):
        anywhere = np.array([self.lowest_hz])
        was, now = (
            kind.loss_along(settings, _at(anchors, one, anywhere))
            for one in (before or Warming.none(len(anchors) - 1), warming)
        )
        whole = np.abs(now).max(axis=-1, keepdims=True)
        moved = np.max(np.abs(now - was) / np.where(whole > 0, whole, 1.0))
        self.moved = max(self.moved, float(moved))


def _at(anchors, warming, frequency_hz):
    return Conditions(frequency_hz, anchors[0][1], anchors, heating=Heating(along=warming))


def _peaks(kind, settings, anchors, warming, length_m):
    """Return the fields of a CableHeat for every stretch of a cable."""
    f, found = np.array([1e9]), []
    cold = Warming.none(len(anchors) - 1)
    distance, kelvin = kind.temperatures(settings, _at(anchors, warming, f))
    _, without = kind.temperatures(settings, _at(anchors, cold, f))
    top_k = settings["coax"].range_k[1]
    parted = (array.reshape(len(anchors) - 1, -1) for array in (distance, kelvin, without))
    ends = pairwise(kelvin for _, kelvin in anchors)
    for place, hot, plain, both in zip(*parted, ends, strict=True):
        beyond = bool(hot.max() >= top_k * (1 - 1e-9))
        at, peak_k = _highest(place, hot)
        found.append({
            "peak_k": min(peak_k, top_k), "at_m": at * length_m, "anchors_k": both,
            "ratio": float(np.max(hot / plain)), "beyond": beyond,
        })
    return found


def _highest(place, kelvin):
    """Return (where, K) of the top: of the parabola through the hottest node and those beside."""
    i = int(np.argmax(kelvin))
    if i in (0, len(kelvin) - 1):
        return float(place[i]), float(kelvin[i])
    x, y = place[i - 1 : i + 2] - place[i], kelvin[i - 1 : i + 2]
    curve, slope, top = np.linalg.solve(np.vander(x, 3), y)
    if curve >= 0:
        return float(place[i]), float(kelvin[i])
    return float(place[i] - slope / (2 * curve)), float(top - slope**2 / (4 * curve))


class _Films:
    """The absorbers that tones warm."""

    def __init__(self, layout: Layout) -> None:
        self.layout, self.lowest_hz = layout, lowest_hz(layout)
        self.heated, self.low, self.high = {}, {}, {}
        self.not_counted, self.found = {}, []

    def take(self, element: Element, shares: list[tuple[Any, float]]) -> None:
        """Note what tones do to an absorber: [(tone, W that it absorbs)]."""
        if element.kind.outside:
            return
        stage_k = self.layout.temperature_k(element)
        in_loads = {
            port: [(tone, tone.loads_w.get(f"{element.id}.{port}", 0.0)) for tone, _ in shares]
            for port in element.settings["loads"] or ()
        }
        in_body = [
            (tone, watt - sum(found[place][1] for found in in_loads.values()))
            for place, (tone, watt) in enumerate(shares)
        ]
        body_w = sum(watt for _, watt in in_body)
        law = element.kind.hot_law(element.settings)
        body = None
        if law is not None:
            body = self._film(element.id, None, law, stage_k, in_body)
        elif body_w > 0 and _noticed(stage_k, body_w):
            self.not_counted[element.id] = body_w
        loads = {
            port: self._film(element.id, port, TYPICAL, stage_k, parts)
            for port, parts in in_loads.items()
        }
        if body is None and not any(loads.values()):
            return
        # The load on a port of a warm part does not take the part's temperature.
        plain = (stage_k,) * 3
        for side, found in enumerate((self.heated, self.low, self.high)):
            found[element.id] = Heating(
                None if body is None else body[side],
                tuple((port, (kelvins or plain)[side]) for port, kelvins in loads.items()),
            )

    def _film(self, key, port, law: HotLaw, stage_k, parts):
        """Return kelvins (as it is, cooled better, cooled worse), or None where nothing moves."""
        either = EITHER_WAY if law.assumed else 1.0
        here = self.layout.films_cooled if law.assumed else 1.0
        watt = sum(part for _, part in parts)
        on_k, follows = _pulsed(law, stage_k, parts, here)
        heats_w = sum(tone.while_on_w(part) for tone, part in parts) if follows == PEAK else watt
        kelvins = tuple(
            law.temperature_k(stage_k=stage_k, absorbed_w=max(heats_w, 0.0), factor=factor)
            for factor in (here, here * either, here / either)
        )
        cold, most = (
            quanta(frequency_hz=self.lowest_hz, temperature_k=k)
            for k in (stage_k, max(kelvins[2], on_k or 0.0))
        )
        if most <= cold * (1 + UNMOVED):
            return None
        if max(kelvins[2], on_k or 0.0) > NOTICED * stage_k:
            kelvin, low_k, high_k = kelvins
            self.found.append(FilmHeat(
                key, port, stage_k, watt, kelvin, low_k, high_k, law.assumed, on_k, follows
            ))
        return kelvins


def _pulsed(law, stage_k, parts, factor):
    """Return (temperature while tones are on if electrons follow, or None; what they follow).

    They follow pulses longer than their time at that temperature; of several pulsed tones the
    longest pulse counts, all being on at once.
    """
    pulses = [tone.pulse_s for tone, watt in parts if tone.duty < 1 and watt > 0]
    if not pulses:
        return None, STEADY
    on_w = sum(tone.while_on_w(watt) for tone, watt in parts)
    on_k = law.temperature_k(stage_k=stage_k, absorbed_w=max(on_w, 0.0), factor=factor)
    if None in pulses:
        return on_k, EITHER
    return on_k, PEAK if max(pulses) >= electron_time_s(on_k) else AVERAGE


def _noticed(stage_k, watt):
    """Tell whether a typical film would be noticeably warmer with this power."""
    return TYPICAL.temperature_k(stage_k=stage_k, absorbed_w=watt) > NOTICED * stage_k
