"""Waves and blocks: what a network is made of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from components.nport import NPort

Wave = tuple[str, str, int]
"""A wave leaving an element: its id, its port, and +1 at the signal or -1 at the idler."""


@dataclass(frozen=True)
class Block:
    """One n-port of the network: the element's id, the NPort, the waves that leave its ports."""

    id: str
    nport: NPort
    waves: tuple[Wave, ...]
