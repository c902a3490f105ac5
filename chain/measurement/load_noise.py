"""What a load's temperature gives at the reference plane of a signal, from the layout.

The plane is the wave that leaves the signal's start.  Between the load and it stand losses, at
temperatures of their own, and past it the load's idler band may come in: all of that is taken from
the network as the budget solves it, so that one program says what is planned and what is measured.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from chain.errors import LayoutError, Place
from chain.layout.layout import Layout
from chain.network.emitted import arrived
from chain.noise.budget import Budget, budget
from chain.power.self_heating import noise_network
from components.arrays import FloatArray, FloatLike
from components.nport import magnitude2
from components.quantities import Quantity, decibels, power_ratio
from components.thermal_noise import quanta

MAX_STAGE_TEMPERATURES = 40
"""Different temperatures of a warmed stage; each asks for a budget of its own."""

RIPPLE_POINTS = 101
"""Frequencies at which the ripple of unknown phases is worked out."""

_REFERENCE_K = 1.0


@dataclass(frozen=True)
class Load:
    """The element whose temperature was changed, and whether its whole stage went with it."""

    id: str
    stage: str | None
    """The stage that was warmed; None where the element alone was."""

    @classmethod
    def of(cls, layout: Layout, key: str, option: str = "--source") -> Load:
        """Return the load that an id names; raises LayoutError."""
        element = layout.elements.get(key)
        if element is None:
            from chain.suggestions import choose

            raise LayoutError.at(
                Place(option), f"there is no element {key!r}",
                choose(key, layout.elements, "elements"),
            )
        if element.settings.given("emits"):
            raise LayoutError.at(
                element.place_of("emits"),
                f"{key} emits a stated density, which no temperature changes",
                f"take it away for this run: --set {key}.emits=",
            )
        ends = element.kind.outside or element.kind.is_load(element.settings)
        alone = ends or element.settings.given("temperature")
        if not alone and element.stage is None:
            raise LayoutError.at(
                element.place, f"{key} runs between two stages and has no one temperature",
                "name a termination, a port, or an attenuator whose stage was warmed",
            )
        if not alone and element.kind.amplifies(element.settings):
            raise LayoutError.at(
                element.place, f"{key} amplifies, and is no load that was hot and cold",
                "name a termination, a port, or an attenuator whose stage was warmed",
            )
        return cls(key, None if alone else element.stage)

    def warmed(self, layout: Layout, temperature_k: float) -> Layout:
        """Return the layout with the load at a temperature, kelvin."""
        if self.stage is not None:
            return layout.with_temperatures({self.stage: temperature_k})
        value = Quantity(float(temperature_k), "temperature", f"{temperature_k:g} K")
        return layout.with_settings({self.id: {"temperature": value}})


@dataclass(frozen=True)
class LoadNoise:
    """Noise at a signal's start, other than what is added, as the load's temperature changes."""

    layout: Layout
    signal: str
    load: Load
    frequency_hz: np.ndarray
    _altered: dict = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def budget(self) -> Budget:
        """The Budget with everything as the layout says: what is predicted."""
        return budget(self.layout, self.signal, frequency_hz=self.frequency_hz)

    @property
    def gain(self) -> FloatArray:
        """Predicted gain from the plane to the end, a power ratio (points,)."""
        return power_ratio(_referred(self.budget.gain_db))

    @property
    def added_quanta(self) -> FloatArray:
        """Predicted added noise at the plane, quanta (points,)."""
        return _referred(self.budget.added_quanta)

    @cached_property
    def _at_reference(self):
        warmed = self.load.warmed(self.layout, _REFERENCE_K)
        return budget(warmed, self.signal, frequency_hz=self.frequency_hz)

    @cached_property
    def reaches(self) -> FloatArray:
        """Part of the load's noise that reaches the plane, a power ratio (points,)."""
        b = self._at_reference
        direct = b.shares_quanta[self.load.id] - b.idler_shares_quanta.get(self.load.id, 0.0)
        return direct / quanta(frequency_hz=self.frequency_hz, temperature_k=_REFERENCE_K)

    @cached_property
    def ripple(self) -> FloatArray:
        """How far unknown phases let `reaches` be off, relative, one sigma, (points,).

        Zero where all phases are known, and for a warmed stage, whose parts reach on their own.
        """
        f = self.frequency_hz
        if self.load.stage is not None or not self._at_reference.ripple:
            return np.zeros(f.size)
        some = f[np.unique(np.linspace(0, f.size - 1, min(f.size, RIPPLE_POINTS)).astype(int))]
        layout = self.load.warmed(self.layout, _REFERENCE_K)
        signal = layout.signals[self.signal]
        network = noise_network(layout, signal.to_port[0], some)
        transfers = network.adjoint(network.arriving(signal.to_port))
        noise: FloatLike = 0.0
        for block in network.blocks:
            if block.id == self.load.id:
                own = arrived(block, transfers)
                noise = noise + own.whole - own.idler
        part = noise / magnitude2(transfers[(*signal.start, 1)])
        part = np.broadcast_to(part, (network.draws, some.size))
        mean = network.mean(part)
        return np.interp(f, some, np.sqrt(network.mean((part - mean) ** 2)) / mean)

    def at(self, temperature_k: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return (quanta, gain ratio) for load temperatures (steps, points), kelvin.

        The quanta are all noise referred to the plane less what the layout as it stands adds: with
        the added noise they make what is read.  The gain ratio is that of the signal to the layout
        as it stands, one where only a load was warmed.
        """
        if self.load.stage is None:
            return self._load_alone(temperature_k), np.ones_like(temperature_k)
        return self._whole_stage(temperature_k)

    def _load_alone(self, temperature_k):
        b, f = self._at_reference, self.frequency_hz
        brought = b.idler_shares_quanta.get(self.load.id, 0.0)
        n = quanta(frequency_hz=f, temperature_k=temperature_k)
        noise = _referred(b.system_noise_quanta) - b.shares_quanta[self.load.id] + self.reaches * n
        if b.idler_hz is not None:
            there, reference = (
                quanta(frequency_hz=b.idler_hz, temperature_k=k)
                for k in (temperature_k, _REFERENCE_K)
            )
            noise = noise + brought * there / reference
        return noise - self.added_quanta

    def _whole_stage(self, temperature_k):
        different = np.unique(temperature_k[np.isfinite(temperature_k)])
        if len(different) > MAX_STAGE_TEMPERATURES:
            raise LayoutError.at(
                Place("--readings"), f"stage {self.load.stage} has {len(different)} different "
                f"temperatures, more than {MAX_STAGE_TEMPERATURES}",
                "give each sweep one load_k, its mean",
            )
        noise = np.full(temperature_k.shape, np.nan)
        gain = np.full(temperature_k.shape, np.nan)
        for kelvin in different:
            warmed = self.load.warmed(self.layout, kelvin)
            b = budget(warmed, self.signal, frequency_hz=self.frequency_hz)
            here = temperature_k == kelvin
            noise = np.where(here, _referred(b.system_noise_quanta) - self.added_quanta, noise)
            change_db = _referred(b.gain_db) - _referred(self.budget.gain_db)
            gain = np.where(here, power_ratio(change_db), gain)
        return noise, gain

    def slope(self, temperature_k: FloatArray) -> FloatArray:
        """Return what the quanta of `at` change by for one kelvin more, (steps, points)."""
        if self.load.stage is None:
            step = 1e-4 * temperature_k + 1e-7
            up, down = (self._load_alone(temperature_k + sign * step) for sign in (1, -1))
            return (up - down) / (2 * step)
        return self._stage_slope(temperature_k)

    def _stage_slope(self, temperature_k):
        found = np.full(temperature_k.shape, np.nan)
        for kelvin in np.unique(temperature_k[np.isfinite(temperature_k)]):
            step = 1e-3 * kelvin
            up, down = (
                _referred(budget(self.load.warmed(self.layout, kelvin + sign * step), self.signal,
                                 frequency_hz=self.frequency_hz).system_noise_quanta)
                for sign in (1, -1)
            )
            found = np.where(temperature_k == kelvin, (up - down) / (2 * step), found)
        return found

    def with_layout(self, layout: Layout) -> LoadNoise:
        """Return the same load and signal in another layout."""
        return LoadNoise(layout, self.signal, self.load, self.frequency_hz)

    def altered(self, name: Hashable, make_layout: Callable[[], Layout]) -> LoadNoise:
        """Return the same in the layout that `make_layout()` gives, made once for a name."""
        if name not in self._altered:
            self._altered[name] = self.with_layout(make_layout())
        return self._altered[name]

    @property
    def reaches_db(self) -> FloatArray:
        """Loss from the load to the plane, dB (points,)."""
        return -decibels(self.reaches)


def _referred(values: FloatArray | None) -> FloatArray:
    """Return what a budget refers to its signal's start, which every signal here has."""
    assert values is not None, "a signal without a start has no plane"
    return values
