"""What a network analyser shows between connectors, joints opened for it where asked."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError, Place
from chain.layout.equal_networks import equal_networks
from chain.layout.layout import Element, Joint
from chain.layout.limits import check_work
from chain.network.assembly import Choices, scattering_network
from chain.network.draws import Draws
from chain.network.path import least_loss_path
from chain.suggestions import choose
from components.declaration import outside_kind
from components.nport import magnitude2
from components.quantities import decibels
from components.settings import Settings

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from chain.layout.layout import Layout, Port
    from components.arrays import FloatArray

DRAWS = 400
"""Draws of tolerances and unknown phases that make an interval."""

WITHIN_DB = 0.5
"""What connections and calibration may add in either direction (common practice, no source)."""

INTERVAL_PERCENTILES = (2.5, 97.5)
"""The interval holds what lies between these percentiles of the draws: 95 of 100 realisations."""

PATH_POINTS = 41
"""Frequencies by which the path from one connector to another is found."""

POINTS_AT_ONCE = 16_384
"""Draws times points that are solved at once."""

TRANSMISSION, REFLECTION = "transmission", "reflection"


@dataclass(frozen=True)
class Trace:
    """One scattering parameter between two connectors (or at one), in decibels over frequency."""

    first: str
    """Where the wave goes in: an outside connector's id, or the port at which a joint is open."""
    second: str
    """Where it comes out: the same as `first` for a reflection."""
    frequency_hz: FloatArray
    expected_db: FloatArray
    """With every value as written; averaged over unknown phases; -inf where nothing comes."""
    low_db: FloatArray
    """Lower end of the interval: 95 of 100 realisations by tolerances and phases, and what the
    connections may add."""
    high_db: FloatArray
    through: tuple[str, ...]
    """Elements in the path; those seen, for a reflection, are not listed."""
    opened: tuple[str, ...] = ()
    """Ports at which joints are open for it."""
    alike: tuple[tuple[str, str], ...] = ()
    """(first, second) of equal copies that show the same."""
    within_db: float = WITHIN_DB
    """What connections and calibration may add in either direction, part of the interval."""
    phases: bool = False
    """True where reflections of unknown phase are part of the interval."""

    @property
    def what(self) -> str:
        """`transmission` or `reflection`."""
        return REFLECTION if self.first == self.second else TRANSMISSION

    @property
    def is_reflection(self) -> bool:
        """True where the wave comes back out where it went in."""
        return self.first == self.second

    @property
    def name(self) -> str:
        """The trace as text names it."""
        if self.is_reflection:
            return f"reflection at {self.first}"
        return f"{self.first} to {self.second}"

    @property
    def dark(self) -> bool:
        """True where nothing comes at any frequency, whatever the draws."""
        return not np.any(np.isfinite(self.high_db))

    def as_dict(self) -> dict[str, Any]:
        """Return the trace under the names that programs lean on."""
        return {
            "from": self.first, "to": self.second, "what": self.what,
            "opened": list(self.opened), "through": list(self.through),
            "alike": [list(pair) for pair in self.alike],
            "frequency_hz": self.frequency_hz, "expected_db": self.expected_db,
            "low_db": self.low_db, "high_db": self.high_db,
        }


@dataclass(frozen=True)
class Opened:
    """A layout with some joints open, and a connector on each of the ends."""

    layout: Layout
    ends: Mapping[str, str]
    """Connector by the port at which it stands: {`D1.in`: its element's id}."""
    ports: tuple[str, ...] = field(default=())
    """The ports at which joints were asked to be open."""


# -- opening joints -------------------------------------------------------------------------


def opened(layout: Layout, ports: Iterable[str]) -> Opened:
    """Return the Opened of a layout, a connector at both ends of every joint named by a port.

    `ports` are written like `D1.in` (`R1` for what has one port).  Raises LayoutError.
    """
    elements, joints, ends = dict(layout.elements), list(layout.joints), {}
    stage = next(iter(layout.stages), None)
    # One for all connectors: copies are found alike by the settings that they share.
    settings = Settings(outside_kind(), {} if stage is None else {"stage": stage})
    for text in ports:
        here = port_named(layout, text)
        if ".".join(here) in ends:
            continue
        there = layout.partners[here]
        joint = next(j for j in joints if {j.first, j.second} == {here, there})
        joints.remove(joint)
        for port in (here, there):
            key = ".".join(port)
            end = elements[key] = _connector(elements[port[0]], port[1], settings, stage)
            joints.append(Joint((key, end.ports[0]), port, joint.place))
            ends[key] = key
    made = replace(layout, elements=elements, joints=tuple(joints))
    return Opened(made, ends, tuple(ports))


def _connector(beside, port, settings, stage):
    """Return an outside connector that stands where an element's port was joined."""
    key, kind = f"{beside.id}.{port}", settings.kind
    ports = kind.ports(settings)
    return Element(
        key, kind, settings, beside.line, beside.place, ports, ports[0], None, stage,
        copy_of=None if beside.copy_of is None else f"{beside.copy_of}.{port}",
        number=beside.number,
    )


def port_named(layout: Layout, text: str, option: str = '--open') -> Port:
    """Return (id, port) of a joined port written like `D1.in`; raises LayoutError."""
    key, _, port = text.partition(".")
    place = Place(option)
    if key not in layout.elements:
        raise LayoutError.at(
            place, f"there is no element {key!r}", choose(key, layout.elements, "elements")
        )
    ports = layout.elements[key].ports
    if not port and len(ports) == 1:
        port = ports[0]
    if port not in ports:
        raise LayoutError.at(
            place, f"{key} has no free port {port!r}" if port else f"{key} has more than one port",
            choose(port, ports, "ports"),
        )
    return key, port


def connectors(layout: Layout) -> list[str]:
    """Return the ids of all outside connectors of a layout, opened ends among them."""
    return [key for key, element in layout.elements.items() if element.kind.outside]


# -- traces ---------------------------------------------------------------------------------


def traces(
    view: Opened, *, frequency_hz: ArrayLike | None = None, draws: int = DRAWS, seed: int = 0,
    within_db: float = WITHIN_DB, only: Collection[str] | None = None, both_ways: bool = False,
    progress: Callable[[int, int], object] | None=None,
) -> list[Trace]:
    """Return the Traces between all connectors of an Opened that are connected, and at each.

    `frequency_hz` (Hz) replaces the band; `only` names connectors of which each trace has one;
    transmission is listed in one direction where it is the same in both, unless `both_ways`.
    Equal copies are listed once.
    `progress` is called with the number of networks done and in all.  Raises LayoutError.
    """
    layout = view.layout
    f = layout.band.frequency_hz if frequency_hz is None else np.atleast_1d(frequency_hz)
    groups = {}
    for key in connectors(layout):
        groups.setdefault(layout.connected(key), []).append(key)
    asked = (
        ids for ids, keys in groups.items() if only is None or any(key in only for key in keys)
    )
    alike, found = equal_networks(layout, asked, heated={}), []
    for done, equal in enumerate(alike):
        copies = [(ids, groups[ids]) for ids in equal]
        if progress is not None:
            progress(done, len(alike))
        ids, keys = copies[0]
        check_work(layout, elements=len(ids) * len(keys), points=f.size, draws=draws, kept=False)
        intervals = _Intervals(layout, copies[0], f, draws, seed, both_ways)
        found += _of_network(view, intervals, copies, within_db, only)
    return found


def _of_network(view, intervals, copies, within_db, only):
    (ids, keys), *others = copies
    for i, first in enumerate(keys):
        for second in keys[i:]:
            if only is not None and not {first, second} & set(only):
                continue
            for here, there in intervals.directions(first, second):
                same = tuple(
                    (its[ids.index(here)], its[ids.index(there)]) for its, _ in others
                )
                expected, low, high = intervals.of(here, there)
                yield Trace(
                    here, there, intervals.frequency_hz, expected, low - within_db,
                    high + within_db,
                    intervals.through(here, there), view.ports, same, within_db, intervals.phases,
                )


ALIKE_DB = 0.01
"""Two directions that differ by less are listed once."""


class _Intervals:
    """What one network shows between its connectors."""

    def __init__(self, layout, one, f, draws, seed, both_ways):
        ids, self.keys = one
        self._layout = layout
        self._both_ways = both_ways
        self.frequency_hz = f
        drawn = Draws(layout, ids, count=draws, seed=seed)
        some = f[np.linspace(0, f.size - 1, min(f.size, PATH_POINTS)).astype(int)]
        self._nominal = scattering_network(layout, self.keys[0], some)
        self.phases = self._nominal.phases is not None
        varied = bool(drawn.values) or self.phases
        self._expected = self._of_values(layout, f)
        self._interval = {}
        if varied:
            parts = np.array_split(f, min(f.size, -(-f.size * draws // POINTS_AT_ONCE)))
            choices = Choices(draws=drawn)
            found = [
                self._percentiles(scattering_network(layout, self.keys[0], part, choices))
                for part in parts
            ]
            self._interval = {
                pair: np.concatenate([part[pair] for part in found], axis=1) for pair in found[0]
            }

    def _of_values(self, layout, f):
        """Return {(first, second): power} with every value as written, (points,)."""
        pieces = min(f.size, -(-f.size * self._nominal.draws // POINTS_AT_ONCE))
        parts = [
            self._powers(scattering_network(layout, self.keys[0], part), mean=True)
            for part in np.array_split(f, pieces)
        ]
        return {pair: np.concatenate([part[pair] for part in parts]) for pair in parts[0]}

    def _port(self, key):
        return key, self._layout.elements[key].ports[0]

    def _powers(self, network, *, mean):
        """Return {(first, second): power}, shape (draws, points), or the mean over draws."""
        found, shape = {}, (network.draws, len(network.frequency_hz))
        for second in self.keys:
            transfers = network.adjoint(network.arriving(self._port(second)))
            for first in self.keys:
                transfer = transfers.get((*self._port(first), 1))
                if transfer is None:
                    continue
                power = np.broadcast_to(magnitude2(transfer), shape)
                found[first, second] = network.mean(power) if mean else power
        return found

    def _percentiles(self, network):
        return {
            pair: np.percentile(power, INTERVAL_PERCENTILES, axis=0)
            for pair, power in self._powers(network, mean=False).items()
        }

    def of(self, first, second):
        """Return expected, least and most level in decibels, shape (points,)."""
        nothing = np.zeros(len(self.frequency_hz))
        expected = self._expected.get((first, second), nothing)
        low, high = self._interval.get((first, second), (expected, expected))
        return (
            decibels(expected), decibels(np.minimum(low, expected)),
            decibels(np.maximum(high, expected)),
        )

    def directions(self, first, second):
        """Return the directions to tell of two connectors; where nothing passes, none."""
        if first == second:
            return [(first, first)]
        there, back = (self._expected.get(pair) for pair in
                       ((first, second), (second, first)))
        if there is None or back is None:
            return [pair for pair, power in (((first, second), there), ((second, first), back))
                    if power is not None]
        with np.errstate(invalid="ignore"):
            apart = np.nanmax(np.abs(decibels(there) - decibels(back)), initial=0.0)
        both = [(first, second), (second, first)]
        return both if self._both_ways or apart > ALIKE_DB else both[:1]

    def through(self, first, second):
        """Return the ids in the path from one connector to another."""
        if first == second:
            return ()
        hops = least_loss_path(self._nominal, self._port(first), self._port(second))
        return tuple(dict.fromkeys(hop.id for hop in hops))
