"""Where and at which frequencies an element is asked what it does."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from components.arrays import ComplexLike, FloatArray, FloatLike
from components.heating import UNHEATED, Heating
from components.thermal_noise import quanta

if TYPE_CHECKING:
    from components.generators import GeneratorNoise

Change: TypeAlias = FloatLike | Callable[[FloatLike], FloatLike]
"""What is added to a value, or a function from the value to the changed one."""


def no_phase(port: str) -> float:
    """Return the phasor of reflections where no phases are drawn."""
    return 1.0


@dataclass(frozen=True)
class Conditions:
    """Where and at which frequencies an element is asked what it does."""

    frequency_hz: FloatArray
    """Shape (points,)."""
    temperature_k: float
    """Temperature of the element; of a cable with a profile, that of its start."""
    anchors: tuple[tuple[float, float], ...] = ()
    """Cables: (distance from the start over length, kelvin), start to end."""
    pump_hz: float | None = None
    """Frequency of the pump that acts on the element, or None where no pump is on."""
    phase: Callable[[str], ComplexLike] = field(default=no_phase)
    """Unit phasor of a port's reflection where only its size is known: (draws, 1) or a number."""
    vary: Mapping[str, Change] = field(default_factory=lambda: MappingProxyType({}))
    """Changes of parameters by name, added to their values: shape (draws, 1), base units.

    A change can also be a function from the value to the changed one.  Either is held inside the
    bounds that the parameter is declared with.
    """
    generators: tuple[GeneratorNoise, ...] = ()
    """Outside connectors: the noise of what sends tones in."""
    heating: Heating = UNHEATED
    """What tones warm in it: `temperature_k` is that of the warm element already."""
    uniform_k: float | None = None
    """Set for the equilibrium law: every part of every element is at this temperature."""
    shared: Shared = field(default_factory=lambda: Shared(), repr=False, compare=False)
    """What elements asked at the same frequencies can share."""

    @property
    def emitted(self) -> FloatArray:
        """Quanta that a matched load at the element's temperature emits."""
        if np.ndim(self.temperature_k):
            return quanta(frequency_hz=self.frequency_hz, temperature_k=self.temperature_k)
        return self.shared.emitted(self.frequency_hz, self.temperature_k)

    def emitted_by_load(self, port: str) -> FloatArray:
        """Return quanta that the matched load on a port emits."""
        kelvin = self.heating.load_k(port)
        return self.emitted if kelvin is None else self.shared.emitted(self.frequency_hz, kelvin)

    def at_frequency(self, frequency_hz: FloatArray) -> Conditions:
        """Return the same conditions at other frequencies (Hz, shape (points,))."""
        return Conditions(
            np.asarray(frequency_hz, float), self.temperature_k, self.anchors, self.pump_hz,
            self.phase, self.vary, self.generators, self.heating, self.uniform_k, self.shared,
        )


class Shared:
    """What follows from frequencies alone, worked out once for the elements of a network."""

    def __init__(self) -> None:
        self._found = {}

    def emitted(self, frequency_hz: FloatArray, temperature_k: float) -> FloatArray:
        """Return the quanta that a matched load at a temperature (K) emits."""
        return self._once(
            frequency_hz, temperature_k,
            lambda: quanta(frequency_hz=frequency_hz, temperature_k=temperature_k),
        )

    def grid(self, frequency_hz: FloatArray) -> bytes:
        """Return the frequencies as bytes: equal for equal frequencies."""
        return self._once(frequency_hz, "grid", frequency_hz.tobytes)

    def _once(self, frequency_hz, what, work_out):
        # The array is kept beside the result, so that its id stays its own.
        key = (id(frequency_hz), what)
        if key not in self._found:
            self._found[key] = frequency_hz, work_out()
        return self._found[key][1]
