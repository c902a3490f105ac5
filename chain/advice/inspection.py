"""What rules inspect: a layout with its networks, budgets and levels, each worked out once."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.advice.rules import ERROR, WARNING
from chain.errors import LayoutError
from chain.heat.stages import heat
from chain.layout.cooling import cooling_w
from chain.layout.equal_networks import equal_networks
from chain.layout.margins import margins_of
from chain.network.path import Hop, least_loss_path
from chain.noise.arrivals import photons_at
from chain.noise.budget import budget
from chain.power.self_heating import heating_of, noise_network
from chain.power.tones import power, tone_network
from components.thermal_noise import photons as thermal_photons

if TYPE_CHECKING:
    from chain.heat.stages import Heat
    from chain.layout.layout import Element, Layout, Port, Signal
    from chain.network.assembly import Network
    from chain.noise.budget import Budget
    from chain.power.tones import Power
    from components.arrays import FloatArray
    from components.quantities import Quantity

POINTS = 41
"""Frequencies over the band that rules inspect."""


PHOTON_HZ = 1e9
"""Below it lines carry currents (flux, gates, bias), and nobody counts the photons of noise on
them (common practice, no source)."""


@dataclass(frozen=True)
class Excess:
    """Photons that arrive at a device above those that its own stage gives."""

    worst: float
    """Where it is worst against its limit."""
    limit: float
    """From where on it is found: the margin, or a part of what the stage itself gives."""
    own: float
    """What the device's own stage gives there."""
    at: int
    """Number of that frequency."""


@dataclass(frozen=True)
class SignalPath:
    """The path of a signal or tone through a layout."""

    name: str
    start: tuple[str, str]
    """The port by which the wave leaves its first element."""
    end: tuple[str, str]
    """The port at which it arrives."""
    hops: tuple[Hop, ...]
    """What it passes in between; empty where it cannot get there."""
    tone: bool = False

    @property
    def ids(self) -> list[str]:
        """Every element on the path, its ends too, in order."""
        return list(dict.fromkeys([self.start[0], *(hop.id for hop in self.hops), self.end[0]]))


class Inspection:
    """A layout as rules see it.

    Equal copies of a line are inspected once: `ids`, `paths` and what follows from them hold the
    first of each; `alike` tells the others.
    """

    def __init__(self, layout: Layout, margins: Mapping[str, Quantity] | None=None) -> None:
        # Margins given for this run are the layout's own for it, for whatever judges by them.
        self.layout = layout
        if margins:
            self.layout = replace(layout, margins={**layout.margins, **margins})
        self._networks, self._budgets, self._remembered = {}, {}, {}
        self.problems = {}
        """What cannot be worked out: {Problem: level}."""

    def margin(self, name: str) -> float:
        """Return a margin's value in its base unit."""
        return self.quantities[name].value

    @functools.cached_property
    def quantities(self) -> dict[str, Quantity]:
        """Every margin as a Quantity: the command line's, else the layout's, else the usual."""
        return margins_of(self.layout)

    @functools.cached_property
    def frequency_hz(self) -> FloatArray:
        """The frequencies looked at, Hz."""
        return _some(self.layout.band.frequency_hz)

    def frequencies_of(self, signal: str) -> FloatArray:
        """Return the frequencies looked at of a signal, Hz: over its own band, where it has one."""
        found = self.layout.signals.get(signal)
        if found is None or found.band is None:
            return self.frequency_hz
        return _some(found.band.frequency_hz)

    # -- equal copies -------------------------------------------------------------------------

    @functools.cached_property
    def _groups(self):
        """Connected components: [[ids of each that is like the first]]."""
        layout = self.layout
        networks = (layout.connected(key) for key in layout.elements)
        return equal_networks(layout, networks, heated=heating_of(layout))

    def base(self, key: str) -> str:
        """Return an element's id without the number of its copy."""
        return self.layout.elements[key].declared_id

    @functools.cached_property
    def ids(self) -> tuple[str, ...]:
        """Ids of all elements, of equal copies the first's only, in layout order."""
        kept = {key for group in self._groups for key in group[0]}
        return tuple(key for key in self.layout.elements if key in kept)

    @functools.cached_property
    def _alike(self):
        return {
            key: tuple(other[place] for other in group)
            for group in self._groups for place, key in enumerate(group[0])
        }

    def alike(self, key: str) -> tuple[str, ...]:
        """Return the ids of an element and of its equal copies."""
        return self._alike.get(key, (key,))

    def element(self, key: str) -> Element:
        """Return an element."""
        return self.layout.elements[key]

    def having(self, parameter: str) -> Iterator[Element]:
        """Yield the elements whose kind has a parameter, of equal copies the first."""
        return (e for e in map(self.element, self.ids) if parameter in e.kind.declared())

    @property
    def devices(self) -> list[Element]:
        """The devices under test, of equal copies the first."""
        return [e for e in map(self.element, self.ids) if e.kind.is_device]

    @property
    def paramps(self) -> list[Element]:
        """The parametric amplifiers, switched on or not, of equal copies the first."""
        return [e for e in map(self.element, self.ids) if e.kind.parametric]

    def remembered(self, name: str, work_out: Callable[[Inspection], Any]) -> Any:
        """Return `work_out(self)`, called once for a name."""
        if name not in self._remembered:
            self._remembered[name] = work_out(self)
        return self._remembered[name]

    # -- what is worked out -------------------------------------------------------------------

    def attempt(self, work: Callable[..., Any], *arguments: Any, **options: Any) -> Any:
        """Return work(...), or None with its problems kept where it cannot be worked out."""
        return self._attempt(ERROR, work, *arguments, **options)

    def _attempt(self, level, work, *arguments, **options):
        try:
            return work(*arguments, **options)
        except LayoutError as error:
            for problem in error.problems:
                self.problems.setdefault(problem, level)
            return None

    def network(self, key: str) -> Network | None:
        """Return the Network that an element is in, over `frequency_hz`, or None."""
        first = self.layout.connected(key)[0]
        if first not in self._networks:
            self._networks[first] = self.attempt(noise_network, self.layout, key, self.frequency_hz)
        return self._networks[first]

    def budget(self, signal: str) -> Budget | None:
        """Return the Budget of a signal by name, over `frequency_hz`, or None."""
        if signal not in self._budgets:
            self._budgets[signal] = self.budget_of(self.layout, signal)
        return self._budgets[signal]

    def budget_of(
        self, layout: Layout, signal: str, frequency_hz: FloatArray | None = None
    ) -> Budget | None:
        """Return a signal's Budget in a changed layout (Hz where given, as looked at), or None."""
        f = self.frequencies_of(signal) if frequency_hz is None else frequency_hz
        found = self.attempt(budget, layout, signal, frequency_hz=f)
        # Where some phase oscillates there is no noise to advise on; may-oscillate says so.
        return None if found is None or np.any(np.isnan(found.noise_at_to_quanta)) else found

    @functools.cached_property
    def power(self) -> Power | None:
        """The Power of all tones, or None."""
        return self.attempt(power, self.layout)

    @functools.cached_property
    def heat(self) -> Heat | None:
        """The heat of all stages, or None."""
        # Without it there are still noise and levels, so this alone makes no layout wrong.
        return self._attempt(WARNING, heat, self.layout)

    @functools.cached_property
    def signals(self) -> list[Signal]:
        """Signals with a start, of equal copies the first."""
        known = set(self.ids)
        return [
            signal for signal in self.layout.signals.values()
            if signal.from_port is not None and signal.to_port[0] in known
        ]

    @functools.cached_property
    def received(self) -> list[Signal]:
        """Signals that end at an outside connector and start inside."""
        return [
            signal for signal in self.signals
            if self.element(signal.to_port[0]).kind.outside and signal.from_port is not None
            and not self.element(signal.from_port[0]).kind.outside
        ]

    @functools.cached_property
    def paths(self) -> list[SignalPath]:
        """The SignalPath of every signal and of every tone that is meant to arrive somewhere."""
        found = [
            self._path(s.name, s.from_port, s.to_port, tone=False) for s in self.signals
        ]
        for tone in self.layout.tones.values():
            end = tone.arriving[0] if tone.arriving else self._pumped_by(tone)
            if tone.into in self.ids and end is not None:
                start = (tone.into, self.element(tone.into).ports[0])
                found.append(self._path(tone.name, start, end, tone=True))
        return [one for one in found if one is not None]

    def path_of(self, signal: Signal) -> SignalPath | None:
        """Return the SignalPath of a signal, or None."""
        return next((w for w in self.paths if w.name == signal.name and not w.tone), None)

    def _pumped_by(self, tone):
        for element in self.paramps:
            if element.settings["pump"] == tone.name:
                return element.id, "pump" if "pump" in element.ports else element.enter
        return None

    def _path(self, name, start, end, *, tone):
        network = self._at_tone(name) if tone else self.network(start[0])
        if network is None:
            return None
        return SignalPath(name, start, end, least_loss_path(network, start, end), tone)

    def _at_tone(self, name):
        return self.attempt(tone_network, self.layout, self.layout.tones[name])

    def least_share(self, name: str, whole: float) -> float:
        """Return from how much of a whole (quanta of system noise) a margin's share counts.

        The larger of the margin of that name and of the part `share` of the whole.
        """
        return max(self.margin(name), self.margin("share") * whole)

    def noise_quanta(self, signal: str) -> float:
        """Return the most system noise of a signal over the band, quanta; 0 where not known."""
        budget = self.budget(signal)
        if budget is None or budget.system_noise_quanta is None:
            return 0.0
        return float(budget.system_noise_quanta.max())

    def may_absorb_w(self, key: str) -> float | None:
        """Return how much of a tone (W) an element may absorb, or None where nothing bounds it."""
        stage = self.layout.stages.get(self.element(key).stage or "")
        can = cooling_w(stage, stage.temperature_k) if stage is not None else None
        return self.margin("dumped") * can if can else None

    @functools.cached_property
    def excess(self) -> dict[Port, Excess]:
        """{(device, port): Excess} of the photons that arrive at devices."""
        found = {}
        f = self.frequency_hz
        counted = np.flatnonzero(f >= PHOTON_HZ)
        for port, (_, total) in self.arrivals.items():
            if not counted.size:
                continue
            kelvin = self.layout.temperature_k(self.element(port[0]))
            own = thermal_photons(frequency_hz=f, temperature_k=kelvin)
            limit = np.maximum(self.margin("photons"), self.margin("own_photons") * own)
            above = total - own
            at = int(counted[np.argmax((above / limit)[counted])]) if self.margin(
                "photons") > 0 else int(counted[np.argmax(above[counted])])
            found[port] = Excess(float(above[at]), float(limit[at]), float(own[at]), at)
        return found

    @functools.cached_property
    def arrivals(self) -> dict[Port, tuple[dict[str, FloatArray], FloatArray]]:
        """{(device, port): ({id: photons}, in all)} of what arrives at devices, over frequency.

        Photons are what is above the vacuum: quanta less half the commutator.
        """
        found = {}
        for device in self.devices:
            network = self.network(device.id)
            if network is None:
                continue
            for port in device.ports:
                found[device.id, port] = photons_at(network, (device.id, port))
        return found


def _some(f: FloatArray) -> FloatArray:
    return f[np.unique(np.linspace(0, f.size - 1, min(POINTS, f.size)).astype(int))]
