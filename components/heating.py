"""What the heat of tones changes of one element."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeAlias

from components.profile import Warming


@dataclass(frozen=True)
class Heating:
    """Temperatures that one element has above its stage; equal ones are equal as keys."""

    part_k: float | None = None
    """Temperature of its resistors, kelvin; None where it is its stage's."""
    loads_k: tuple[tuple[str, float], ...] = ()
    """(port, kelvin) of the matched loads on its ports that are warm."""
    along: Warming | None = None
    """Of a cable: what tones add along it."""

    def load_k(self, port: str) -> float | None:
        """Return the temperature (K) of the load on a port, None where it is the element's."""
        return dict(self.loads_k).get(port)


UNHEATED = Heating()
"""An element at the temperature of its stage."""

Heated: TypeAlias = Mapping[str, Heating]
"""The Heating of every element that tones warm, by id."""

NOTHING_HEATED: Heated = MappingProxyType({})
"""Every element at the temperature of its stage."""
