"""Elements joined at given frequencies: what each does there, as the blocks of a network."""

from __future__ import annotations

import copy
import functools
from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from chain.errors import LayoutError, reported
from chain.layout.limits import check_phases
from chain.network.emitted import losses_of
from chain.network.phases import PhaseSet, RandomPhases
from chain.network.pumps import pumped
from chain.network.system import WaveSystem
from chain.network.unknown import Unknown
from chain.network.waves import Block
from components import response
from components.arrays import ComplexArray, FloatLike
from components.conditions import Conditions, Shared, no_phase
from components.heating import NOTHING_HEATED, UNHEATED, Heated
from components.phases import declared_phases, given_phase, turned, unknown_reflections

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chain.layout.layout import Element, Layout
    from chain.network.pumps import Pumped
    from components.arrays import FloatArray
    from components.generators import GeneratorNoise
    from components.settings import Settings


class Varied(Protocol):
    """What changes from draw to draw, on the first axis of a solve."""

    draws: int

    def vary(self, element: str) -> Mapping[str, Any]:
        """Return the changes of an element's parameters, by name, shape (draws, 1)."""


class Drawn(Varied, Protocol):
    """The same, which draws unknown phases too."""

    def phasor(self, element: str, name: str) -> ComplexArray:
        """Return the phasor of one of an element's unknown phases, shape (draws, 1)."""


@dataclass(frozen=True)
class Choices:
    """How a network is to be built from its elements."""

    powered: bool = True
    """False to leave every amplifier off: a passive network."""
    uniform_k: float | None = None
    """A temperature for every part of every element, kelvin."""
    at_pump: bool = False
    """True where the frequency is the pump's own: paramps pass it as they pass their pump."""
    every_idler: bool = False
    """True to keep every wave at the idler, as a tone's levels need."""
    phases: bool = True
    """False to take the phase zero, and not the whole set, for everything of unknown phase."""
    draws: Varied | None = None
    """Draws of toleranced values (chain.network.draws), and of unknown phases in place of the
    phase set."""


class Network(WaveSystem):
    """The elements connected to the element `start`, at frequencies (Hz, shape (points,)).

    Where a parametric amplifier is pumped the unknowns are the waves at the signal frequency and
    the conjugate waves at its idler; of the latter only those that can come back to the signal are
    kept, so a part behind ideal isolation needs no data over the idler band.  `heated` is
    what tones warm above its stage: chain.power.self_heating.noise_network knows it, and what
    `generators` send beside tones; scattering_network needs neither.
    Raises LayoutError where an element cannot say what it does.
    """

    def __init__(
        self, layout: Layout, start: str, frequency_hz: FloatArray, choices: Choices | None = None,
        *, heated: Heated,
        generators: Mapping[str, tuple[GeneratorNoise, ...]] = MappingProxyType({}),
    ) -> None:
        self.layout = layout
        self.heated = heated
        self.generators = generators
        self.frequency_hz = np.asarray(frequency_hz, float)
        self.choices = choices or Choices()
        self.ids = layout.connected(start)
        self.partner = layout.partners
        self._shared = Shared()
        self.pump = self._pump()
        self.phases: PhaseSet | RandomPhases | None = None
        self._turning: dict[str, dict[Any, Any]] = {}
        self.idler_hz = self._idler_frequencies()
        self.blocks = self._blocks()
        self._number()
        self._turn()
        self._unsolved()
        self.commutators_of = {}
        """{wave: each block's part of its commutator}, as far as asked (chain.network.emitted)."""
        self.active = any(self.amplifies(layout.elements[key]) for key in self.ids)

    @property
    def draws(self) -> int:
        """Number of phases, or of draws, that the first axis runs over."""
        if self.choices.draws is not None:
            return self.choices.draws.draws
        return 1 if self.phases is None else self.phases.draws

    def mean(self, values: Any) -> FloatArray:
        """Return the mean over phases (or draws) of what is linear in power, shape (points,)."""
        points = len(self.frequency_hz)
        if np.ndim(values) == 1 and len(values) == points:
            return values
        whole = np.broadcast_to(values, np.broadcast_shapes(np.shape(values), (1, points)))
        weights = None if self.phases is None else self.phases.weights
        if weights is None or len(whole) == 1:
            return whole.mean(axis=0)
        return (whole * weights).mean(axis=0)

    def error_of_mean(self, values: FloatLike) -> FloatArray:
        """Return by how much `mean` may be off for want of draws of phases, (points,)."""
        points = len(self.frequency_hz)
        if not isinstance(self.phases, PhaseSet) or np.ndim(values) < 2:
            return np.zeros(points)
        return self.phases.error_of_mean(np.broadcast_to(values, (self.draws, points)))

    # What the elements do -----------------------------------------------------------------------

    def settings(self, element: Element) -> Settings:
        """Return an element's settings: off where the choices or a lost pump say so.

        A paramp's gain is that of the pump that arrives (chain.network.pumps).
        """
        settings = element.settings
        if not element.kind.amplifies(settings):
            return settings
        if not self.choices.powered:
            return settings.with_values(state="off")
        if self.choices.at_pump or not element.kind.pumps(settings):
            return settings
        return pumps_of(self.layout)[element.id].settings

    def amplifies(self, element: Element) -> bool:
        """Tell whether an element gives power here: not a paramp at its pump's frequency."""
        settings = self.settings(element)
        if self.choices.at_pump and element.kind.pumps(settings):
            return False
        return element.kind.amplifies(settings)

    def _pumps(self, element):
        return not self.choices.at_pump and element.kind.pumps(self.settings(element))

    def _pump(self):
        """Return the tone that pumps the network, or None; refuse two frequencies."""
        pumped = [self.layout.elements[key] for key in self.ids]
        pumped = [element for element in pumped if self._pumps(element)]
        if not pumped:
            return None
        tones = [self.layout.tones[element.settings["pump"]] for element in pumped]
        for element, tone in zip(pumped, tones, strict=True):
            if tone.frequency_hz != tones[0].frequency_hz:
                raise LayoutError.at(
                    element.place_of("pump"),
                    f"{element.id} and {pumped[0].id} are in one network and are pumped at "
                    f"{tone.frequency_hz / 1e9:g} GHz and {tones[0].frequency_hz / 1e9:g} GHz",
                    "give the paramps of one network one pump frequency, or switch one off",
                )
        return tones[0]

    def _idler_frequencies(self):
        if self.pump is None:
            return None
        found = None
        for key in self.ids:
            element = self.layout.elements[key]
            if not self._pumps(element):
                continue
            idler = element.kind.idler_hz(
                element.settings, signal_hz=self.frequency_hz, pump_hz=self.pump.frequency_hz
            )
            if np.any(idler <= 0):
                above = self.frequency_hz[idler <= 0].min() / 1e9
                raise LayoutError.at(
                    element.place_of("pump"),
                    f"{element.id} has no idler from {above:g} GHz on: the pump at "
                    f"{self.pump.frequency_hz / 1e9:g} GHz is too low",
                    "raise the pump's frequency, or end the band below it",
                )
            if found is not None and np.any(found != idler):
                raise LayoutError.at(
                    element.place_of("mixing"),
                    f"{element.id} mixes by another rule than the other paramps of its network",
                    "give them the same mixing",
                )
            found = idler
        return found

    def _turn(self):
        """Draw the unknown phases that matter, and turn what hangs on them."""
        unknown = Unknown.of(self) if self.choices.phases else None
        names = [] if unknown is None else unknown.that_matter()
        check_phases(self.layout, self.ids[0], noted=0, count=len(names))
        if unknown is None or not names:
            return
        if self.choices.draws is not None:
            self.phases = RandomPhases(names, self.choices.draws)
        else:
            self.phases = PhaseSet(names, unknown.loops(names), len(self.frequency_hz))
        self._where_idler_is_signal(names, self.phases.phasors)
        of_element = self._turning
        for name in names:
            of_element.setdefault(name[:2], {})[name] = unknown.turning[name]
        phasors = self.phases.phasors
        self.blocks = [self._turned(block, of_element, phasors) for block in self.blocks]
        self._number()

    def _where_idler_is_signal(self, names, phasors):
        """Give the idler the signal's phase where they are one frequency."""
        if self.idler_hz is None:
            return
        same = np.abs(self.idler_hz - self.frequency_hz) < 1.0
        for key, side, name in names if np.any(same) else ():
            if side < 0 and (key, 1, name) in phasors:
                phasors[key, side, name] = np.where(
                    same, phasors[key, 1, name], phasors[key, side, name]
                )

    def _turned(self, block, of_element, phasors):
        nport = block.nport
        sides = sorted(set(nport.sidebands), reverse=True)
        turning = {}
        for side in sides:
            turning |= of_element.get((block.id, side), {})
        if not turning:
            return block
        if any(unknown is None for unknown in turning.values()):
            element = self.layout.elements[block.id]
            if len(sides) > 1:
                nport = self._respond_pumped(element)
            else:
                nport = self._respond(element, idler=sides == [-1])
        for name, unknown in turning.items():
            if unknown is not None:
                nport = turned(nport, unknown, phasors[name], name[1])
        return Block(block.id, nport, block.waves)

    def without_reflections(self, block: Block) -> Any:
        """Return (a block's NPort without its `return_loss`, {side: amplitude of that})."""
        element = self.layout.elements[block.id]
        settings = self.settings(element)
        bare = settings.without("return_loss")
        sides = sorted(set(block.nport.sidebands), reverse=True)
        at = {
            side: self.conditions(element, self.frequency_hz if side > 0 else self.idler_hz, side)
            for side in sides
        }
        return self._nport(element, bare, at), {
            side: settings.lets_through("return_loss", here) for side, here in at.items()
        }

    def reheated(self, heated: Heated) -> list[tuple[Block, Block]]:
        """Return [(block, the same with `heated`)] of the blocks that differ then."""
        other = copy.copy(self)
        other.heated = heated
        return [
            (block, other._anew(block)) for block in self.blocks
            if heated.get(block.id, UNHEATED) != self.heated.get(block.id, UNHEATED)
        ]

    def _anew(self, block):
        element, sides = self.layout.elements[block.id], set(block.nport.sidebands)
        if len(sides) > 1:
            nport = self._respond_pumped(element)
        else:
            nport = self._respond(element, idler=sides == {-1})
        return self._turned(Block(block.id, nport, block.waves), self._turning, self._phasors())

    def _phasors(self):
        return {} if self.phases is None else self.phases.phasors

    def without_loads(self, block: Block) -> Any:
        """Return a block's NPort with the ports under `loads` there, nothing on them."""
        element = self.layout.elements[block.id]
        bare = self.settings(element).with_values(loads=())
        sides = sorted(set(block.nport.sidebands), reverse=True)
        at = {
            side: self.conditions(element, self.frequency_hz if side > 0 else self.idler_hz, side)
            for side in sides
        }
        return self._nport(element, bare, at)

    def _nport(self, element, settings, at):
        """Return the NPort of an element with other settings; `at` are Conditions by side."""
        with reported(element):
            if len(at) > 1:
                return response.respond_with_idler(element.kind, settings, at[1], at[-1])
            (side, here), = at.items()
            if self._passes_pump(element):
                nport = response.respond_to_pump(element.kind, settings, here)
            else:
                nport = response.respond(element.kind, settings, here)
            return nport if side > 0 else nport.conjugate()

    def _passes_pump(self, element):
        return self.choices.at_pump and element.kind.pumps(self.settings(element))

    def _phase(self, element, side):
        """Return the function from the name of a reflection to its phasor."""
        if self.phases is None:
            return no_phase
        if not unknown_reflections(element.kind, self.settings(element)):
            return no_phase
        phasors = self.phases.phasors
        return lambda name: phasors.get((element.id, side, name), 1.0)

    def conditions(self, element: Element, frequency_hz: FloatArray, side: int = 1) -> Conditions:
        """Return the Conditions under which an element works here."""
        own = {"phase": self._phase(element, side)}
        if self.choices.draws is not None:
            own["vary"] = self.choices.draws.vary(element.id)
        heating = self.heated.get(element.id, UNHEATED)
        at = Conditions(
            frequency_hz=frequency_hz,
            temperature_k=heating.part_k or self.layout.temperature_k(element),
            anchors=self.layout.anchors(element),
            heating=heating,
            pump_hz=None if self.pump is None else self.pump.frequency_hz,
            generators=self.generators.get(element.id, ()),
            shared=self._shared,
            **own,
        )
        if self.choices.uniform_k is not None:
            at = response.uniform(at, self.choices.uniform_k)
        return at

    def _respond(self, element, *, idler=False):
        settings = self.settings(element)
        at = self.conditions(element, self.frequency_hz)
        if idler:
            at = self.conditions(element, self.idler_hz, -1)
        with reported(element):
            if self._passes_pump(element):
                nport = response.respond_to_pump(element.kind, settings, at)
            else:
                nport = response.respond(element.kind, settings, at)
        return nport.conjugate() if idler else nport

    def _respond_pumped(self, element):
        at = self.conditions(element, self.frequency_hz)
        with reported(element):
            return response.respond_with_idler(
                element.kind, self.settings(element), at,
                self.conditions(element, self.idler_hz, -1),
            )

    def _blocks(self):
        blocks = []
        pumped = []
        for key in self.ids:
            element = self.layout.elements[key]
            if self._pumps(element):
                nport = self._respond_pumped(element)
                pumped.append(key)
            else:
                nport = self._respond(element)
            waves = zip(nport.ports, nport.sidebands, strict=True)
            blocks.append(Block(key, nport, tuple((key, port, side) for port, side in waves)))
        return blocks + self._idler_blocks(blocks, pumped)

    def _idler_blocks(self, blocks, pumped):
        """Return blocks of the idler's waves that reach a paramp, found backward from it."""
        if not pumped:
            return []
        if self.choices.every_idler:
            return [self._idler_block(key) for key in self.ids if key not in pumped]
        shape = {block.id: block.nport for block in blocks}
        needed, queue = {}, deque()
        for key in pumped:
            queue.extend(self.partner[key, port] for port in _mixing_ports(shape[key]))
        seen = set()
        while queue:
            key, port = queue.popleft()
            if (key, port) in seen or key in pumped:
                continue
            seen.add((key, port))
            needed[key] = True
            nport = shape[key]
            row = nport.ports.index(port)
            for i, j in nport.scattering:
                if i == row:
                    queue.append(self.partner[key, nport.ports[j]])
        return [self._idler_block(key) for key in self.ids if key in needed]

    def _idler_block(self, key):
        nport = self._respond(self.layout.elements[key], idler=True)
        return Block(key, nport, tuple((key, port, -1) for port in nport.ports))

    @functools.cached_property
    def losses(self) -> Any:
        """J - S J S^H of every block, whose commutators its emission has to carry."""
        return losses_of(self.blocks)


def scattering_network(
    layout: Layout, start: str, frequency_hz: FloatArray, choices: Choices | None = None
) -> Network:
    """Return the Network around an element to ask for waves alone: its noise knows no tones."""
    return Network(layout, start, frequency_hz, choices, heated=NOTHING_HEATED)


def pumps_of(layout: Layout) -> dict[str, Pumped]:
    """Return {id: Pumped} of a layout's paramps (chain.network.pumps)."""
    return pumped(layout, _of_pump)


def _of_pump(layout, tone):
    return scattering_network(layout, tone.into, np.array(tone.lines_hz), Choices(at_pump=True))


def pump_remarks(layout: Layout, ids: Iterable[str] | None = None) -> list[str]:
    """Return sentences on paramps (`ids`, or all) whose pump is not as their gain asks."""
    return [
        one.says for one in pumps_of(layout).values()
        if one.says and (ids is None or one.id in ids)
    ]


def phase_draws(layout: Layout, ids: Sequence[str]) -> int:
    """Return how many phases a network of these elements runs over; 1 where all are known.

    Found at the ends and the middle of the band.  Raises LayoutError.
    """
    elements = [layout.elements[key] for key in ids]
    if not any(
        unknown_reflections(e.kind, e.settings) or any(
            given_phase(e.settings, one.parameter) is None
            for one in declared_phases(e.kind, e.settings)
        ) for e in elements
    ):
        return 1
    f = layout.band.frequency_hz
    some = np.unique(f[[0, len(f) // 2, -1]])
    return layout.remembered(
        ("phase draws", ids), lambda: scattering_network(layout, ids[0], some).draws
    )


def _mixing_ports(nport):
    """Return the ports whose idler waves go on to other waves: not a flux line's shorted end."""
    return {
        nport.ports[j] for i, j in nport.scattering if i != j and nport.sidebands[j] < 0
    }
