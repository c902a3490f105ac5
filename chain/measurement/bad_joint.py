"""Which joint or piece of a path explains a measured deviation, and what to open next.

Every joint of the path lies at a delay from either end, by what the elements between delay.  A
reflection in the reflection at a port tells its delay from there, a ripple in the transmission the
delay between two reflections.  Joints are weighed by how well they lie there, pieces of cable by
whether they hold the place at all; what the file does not tell leaves them alike.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.measurement.ripple import find_echoes, find_ripple
from chain.network.assembly import scattering_network
from chain.network.path import least_loss_path

if TYPE_CHECKING:
    from chain.layout.layout import Layout, Port
    from chain.measurement.ripple import Echo, Ripple
    from components.arrays import ComplexArray, FloatArray

WARM_VELOCITY, COLD_VELOCITY = 0.01, 0.025
"""Relative doubt of wave speeds in PTFE coax: 0.690 to 0.702 of light by its permittivity; cold
what its contraction may do, no source for its cold permittivity."""

PART_S = 0.1e-9
"""Delay of a connector or block without a length, some 2 cm (common practice, no source)."""

PIECE = 0.2
"""Odds of a kink inside a cable against a bad joint (common practice, no source)."""

STRAY = 0.05
"""Part of the weight that is spread evenly, for what the file shows by chance."""

GOOD_RETURN_DB = 20.0
"""Return loss of a joint that nobody would open for it (common practice, no source)."""

LEAST_DB = -3.0
"""Return loss below which an echo is more than everything sent back, doubts of levels counted."""

ELSEWHERE = 1e-3
"""Density (over PART_S) of an echo that fits no place of the layout."""

LEVEL_DB = 3.0
"""Doubt of a return loss seen through the path (common practice, no source)."""

ONE_PLACE = 0.3
"""Overlap of two echoes' densities from which on they are taken for one place."""


@dataclass(frozen=True)
class Place:
    """A joint on the path."""

    joint: tuple[Port, Port]
    from_first_s: float | None
    """Delay from the file's port 1; None beyond an element whose length nobody says."""
    from_second_s: float | None
    parts: int
    """Elements between port 1 and it."""

    @property
    def name(self) -> str:
        """Its tag."""
        return " / ".join(".".join(port) for port in self.joint)


@dataclass(frozen=True)
class Suspect:
    """A joint, or a piece of the path, with its weight; all weights add up to one."""

    where: str
    """A joint's tag, or `inside W1`."""
    elements: tuple[str, ...]
    weight: float
    joint: tuple[Port, Port] | None

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        return {"where": self.where, "elements": list(self.elements), "weight": self.weight}


@dataclass(frozen=True)
class Location:
    """What explains a deviation, as far as the file tells."""

    evidence: tuple[str, ...]
    """What was seen, in words."""
    suspects: tuple[Suspect, ...]
    """Most suspicious first."""
    open_next: Suspect | None
    """The joint to open next; None where the path has none."""
    located: bool
    """True where something in the file tells places apart."""
    unknown: tuple[str, ...]
    """Elements of the path whose length the layout does not say."""

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        return {
            "located": self.located, "evidence": list(self.evidence),
            "suspects": [one.as_dict() for one in self.suspects],
            "open_next": None if self.open_next is None else self.open_next.where,
            "unknown_length": list(self.unknown),
        }


def locate(
    layout: Layout, ports: Sequence[str], frequency_hz: FloatArray, *,
    off_db: FloatArray | None, reflections: Sequence[ComplexArray | None], warm: bool,
) -> Location | None:
    """Return the Location of what is wrong between two connectors, or None without a path.

    With one connector the path is the longest from it to where a line ends.

    `off_db` is measured less expected transmission; `reflections` those measured at both ports.
    """
    first = ports[0], layout.elements[ports[0]].ports[0]
    network = scattering_network(layout, ports[0], frequency_hz[[0, len(frequency_hz) // 2, -1]])
    ends = _ends(layout, first) if len(ports) == 1 else [
        (ports[1], layout.elements[ports[1]].ports[0])]
    hops, second = max(
        ((least_loss_path(network, first, end), end) for end in ends),
        key=lambda found: len(found[0]), default=((), first),
    )
    if not hops:
        return None
    path = _Path(layout, network, first, second, hops)
    evidence: list[str] = []
    told: list[list[_Told]] = [[], []]
    doubt = WARM_VELOCITY if warm else COLD_VELOCITY
    for end, reflection in enumerate(reflections):
        if reflection is None:
            continue
        found = (path.of_echo(echo, end, doubt) for echo in find_echoes(frequency_hz, reflection))
        told[end] = [one for one in found if one is not None]
        evidence += [one.words for one in told[end]]
    likelihoods = _from_both_ends(*told)
    ripple = None if off_db is None or not np.all(np.isfinite(off_db)) else find_ripple(
        frequency_hz, off_db)
    if ripple is not None:
        said, likelihood = path.of_ripple(ripple, doubt)
        evidence.append(said)
        likelihoods.append(likelihood)
    suspects = path.suspects(likelihoods)
    return Location(
        tuple(evidence), suspects, _next(path, suspects, bool(likelihoods)), bool(likelihoods),
        path.unknown,
    )


def _ends(layout, first):
    """Return the ports at which the lines joined to a connector end."""
    return [
        (key, layout.elements[key].ports[0]) for key in layout.connected(first[0])
        if key != first[0] and len(layout.elements[key].ports) == 1
    ]


@dataclass(frozen=True)
class _Told:
    """What an echo tells: in words, and how well it lies at each place."""

    words: str
    joints: FloatArray
    """Density by joint."""
    pieces: FloatArray
    """Density by element."""
    own_db: FloatArray
    """Return loss that a joint would have, dB, by joint."""


def _from_both_ends(first: list[_Told], second: list[_Told]) -> list[tuple]:
    """Return the likelihoods of echoes, those from both ends of one place taken together.

    One place has one return loss, whichever end it is seen from.
    """
    found, left = [], list(second)
    for one in first:
        best = max(left, key=lambda other: _overlap(one, other), default=None)
        if best is None or _overlap(one, best) < ONE_PLACE:
            found.append((one.joints, one.pieces))
            continue
        left.remove(best)
        alike = np.exp(-0.5 * ((one.own_db - best.own_db) / LEVEL_DB) ** 2)
        scale = max(float(best.joints.max()), float(best.pieces.max()))
        found.append((one.joints * best.joints / scale * alike, one.pieces * best.pieces / scale))
    return found + [(one.joints, one.pieces) for one in left]


def _overlap(one, other):
    """Return how far two echoes lie at the same places: 1 for the same densities."""
    a, b = (np.concatenate([told.joints, told.pieces]) for told in (one, other))
    whole = float(np.linalg.norm(a) * np.linalg.norm(b))
    return float(a @ b) / whole if whole > 0 else 0.0


class _Path:
    """The joints and elements between two connectors."""

    def __init__(self, layout, network, first, second, hops):
        self.layout, self.hops = layout, hops
        self.delays = [_delay_s(layout, network, hop) for hop in hops]
        self.unknown = tuple(hop.id for hop, delay in zip(hops, self.delays, strict=True)
                             if delay is None)
        ends = [first, *((hop.id, side) for hop in hops for side in (hop.enter, hop.leave)), second]
        joints = list(zip(ends[::2], ends[1::2], strict=True))
        there, back = _sums(self.delays), _sums(self.delays[::-1])[::-1]
        self.places = [Place(joint, there[i], back[i], i) for i, joint in enumerate(joints)]
        gains = [max(hop.gain, 1e-30) for hop in hops]
        backs = [max(hop.back, 1e-30) for hop in hops]
        both = np.cumsum([0.0, *(10 * np.log10(np.multiply(gains, backs)))])
        self.two_way_db = both, both[-1] - both

    def _sigma(self, delay, parts, doubt, own):
        return math.sqrt(own**2 + (doubt * delay) ** 2 + PART_S**2 * max(parts, 1))

    def _parts(self, place, end):
        return place.parts if end == 0 else len(self.hops) - place.parts

    def _delay(self, place, end):
        return place.from_first_s if end == 0 else place.from_second_s

    # -- echoes -----------------------------------------------------------------------------

    def of_echo(self, echo: Echo, end, doubt):
        """Return what an echo tells, None of one that is as good as it may be."""
        weights = []
        for place in self.places:
            delay = self._delay(place, end)
            if delay is None:
                weights.append(0.0)
                continue
            sigma = self._sigma(delay, self._parts(place, end), doubt, echo.sigma_s)
            # What would have to send back more than it gets is not there.
            can = self._own_db(echo, end, place) > LEAST_DB
            weights.append(_normal(echo.delay_s - delay, sigma) if can else 0.0)
        inside = [self._inside(i, end, echo.delay_s) for i in range(len(self.hops))]
        if not any(weights) and not any(inside):
            return None
        own_db = None
        if any(weights):
            nearest = self.places[int(np.argmax(weights))]
            own_db = self._own_db(echo, end, nearest)
            if own_db > self._good_db(nearest):
                return None  # as good as it is said to be
        port = self.places[0].joint[0] if end == 0 else self.places[-1].joint[1]
        strength = "" if own_db is None else \
            f", there a return loss of {max(own_db, 0.0):.0f} dB"
        said = (f"an echo {echo.delay_s * 1e9:.2f} ns from {port[0]} (one way)"
                f"{strength}: {self._near(weights, inside)}")
        every_db = [self._own_db(echo, end, place) for place in self.places]
        return _Told(said, np.array(weights), np.array(inside), np.array(every_db))

    def _own_db(self, echo, end, place):
        """Return the return loss at a place that makes an echo, dB."""
        return -20 * math.log10(echo.amplitude) + float(self.two_way_db[end][place.parts])

    def _good_db(self, place):
        """Return the return loss that a joint may have: as stated at it, or good practice."""
        stated = [
            float(np.min(value.at(self.layout.band.frequency_hz)))
            for key, _ in place.joint
            if (value := self.layout.elements[key].settings["return_loss"]) is not None
        ]
        return min([GOOD_RETURN_DB, *(one - 6.0 for one in stated)])

    def _inside(self, i, end, delay_s):
        """Return the density of a place inside an element, evenly along it; 0 outside it."""
        ends = [self._delay(self.places[j], end) for j in (i, i + 1)]
        if None in ends or not self.delays[i]:
            return 0.0
        return 1 / abs(ends[1] - ends[0]) if min(ends) < delay_s < max(ends) else 0.0

    def _near(self, weights, inside):
        if any(weights):
            return f"nearest is {self.places[int(np.argmax(weights))].name}"
        return f"inside {self.hops[int(np.argmax(inside))].id}"

    # -- ripple -----------------------------------------------------------------------------

    def of_ripple(self, ripple: Ripple, doubt):
        """Return (words, likelihood by suspect) of a ripple: places that lie as far apart."""
        pairs, weights = [], [0.0] * len(self.places)
        for j, i in combinations(range(len(self.places)), 2):
            apart = self._apart(i, j)
            if apart is None:
                continue
            density = _normal(ripple.delay_s - apart,
                              self._sigma(apart, i - j, doubt, ripple.sigma_s))
            weights[i] += density
            weights[j] += density
            pairs.append((density, j, i))
        said = (f"a ripple of {ripple.height_db:.2g} dB every {ripple.period_hz / 1e6:.4g} MHz: "
                f"two reflections {ripple.delay_s * 1e9:.2f} ns apart (one way), their product "
                f"{ripple.product:.2g}")
        best = max(pairs, default=(0.0, 0, 0))
        if best[0] > 0:
            said += (f", as {self.places[best[1]].name} and {self.places[best[2]].name}")
        return said, (weights, [0.0] * len(self.hops))

    def _apart(self, i, j):
        between = self.delays[j:i]
        return None if None in between else sum(between)

    # -- together ---------------------------------------------------------------------------

    def suspects(self, likelihoods):
        """Return every Suspect by its weight."""
        priors = np.array([1.0] * len(self.places) + [
            PIECE if self.layout.elements[hop.id].kind.spans_stages else 0.0 for hop in self.hops])
        # Several echoes are several places, so each is a mixture over suspects, averaged.
        even = priors / priors.sum()
        parts = []
        for joints, pieces in likelihoods:
            raw = priors * (np.array([*joints, *pieces]) + ELSEWHERE / PART_S)
            parts.append(raw / raw.sum())
        weights = even if not parts else \
            STRAY * even + (1 - STRAY) * np.mean(parts, axis=0)
        found = [
            Suspect(place.name, tuple(key for key, _ in place.joint), float(weight), place.joint)
            for place, weight in zip(self.places, weights, strict=False)
        ]
        found += [
            Suspect(f"inside {hop.id}", (hop.id,), float(weight), None)
            for hop, weight in zip(self.hops, weights[len(self.places):], strict=True) if weight > 0
        ]
        return tuple(sorted(found, key=lambda one: -one.weight))

    def along(self, suspect):
        """Return where a suspect stands on the path, from port 1, counted in joints."""
        for i, place in enumerate(self.places):
            if suspect.joint == place.joint:
                return float(i)
        return [hop.id for hop in self.hops].index(suspect.elements[0]) + 0.5


def _next(path, suspects, located):
    """Return the joint to open: the first suspect, or where none stands out what halves them."""
    joints = [one for one in suspects if one.joint is not None]
    inner = [one for one in joints
             if one.joint not in (path.places[0].joint, path.places[-1].joint)] or joints
    if not joints:
        return None
    if located and suspects[0].joint is not None:
        return suspects[0]

    def uneven(one):
        before = sum(other.weight for other in suspects if path.along(other) < path.along(one))
        return abs(before + one.weight / 2 - 0.5)

    return min(inner, key=uneven)


def _sums(delays):
    """Return the sum before each joint; None from what is not known on."""
    found: list[float | None] = [0.0]
    for delay in delays:
        before = found[-1]
        found.append(None if delay is None or before is None else before + delay)
    return found


def _delay_s(layout, network, hop):
    """Return an element's delay, by the turn of its phase over the band; None where not known."""
    element = layout.elements[hop.id]
    settings = element.settings
    if element.kind.spans_stages and not settings.given("length") and not settings.given("data"):
        return None
    f = np.linspace(0.0, 1e6, 3) + network.frequency_hz[1]
    close = scattering_network(layout, hop.id, f)
    block = next(one for one in close.blocks if one.id == hop.id)
    places = {port: i for i, port in enumerate(block.nport.ports)}
    entry = block.nport.scattering.get((places[hop.leave], places[hop.enter]))
    if entry is None:
        return 0.0
    values = np.atleast_2d(np.broadcast_to(entry, (*np.shape(entry)[:-1], len(f))))[0]
    turns = [np.angle(b / a) for a, b in pairwise(values) if a != 0]
    if not turns:
        return 0.0
    return max(float(-np.mean(turns) / (2 * np.pi * (f[1] - f[0]))), 0.0)


def _normal(x, sigma):
    return math.exp(-0.5 * (x / sigma) ** 2) / (sigma * math.sqrt(2 * math.pi))
