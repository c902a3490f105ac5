"""Photons that arrive at devices from either side, and which emitters they come from."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from chain.layout.equal_networks import equal_networks
from chain.network.emitted import arrived, commutators
from chain.network.stability import oscillation
from chain.power.self_heating import heating_of, noise_network

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from chain.layout.layout import Layout, Port
    from chain.network.assembly import Network
    from components.arrays import FloatArray


@dataclass(frozen=True)
class Arrivals:
    """What arrives at one port of a device above the vacuum; arrays run over frequency."""

    port: str
    """The port, `id.port`."""
    frequency_hz: FloatArray
    photons: dict[str, FloatArray]
    """Photons by the element that emits them; they add up to `total_photons`.  Not a number where
    a loop may oscillate, so that there is no mean."""
    total_photons: FloatArray
    alike: tuple[str, ...]
    """The same port of equal copies, which get the same."""
    layout: Layout = field(kw_only=True, repr=False)


def arrivals(
    layout: Layout, devices: Collection[str] | None = None, *,
    frequency_hz: ArrayLike | None = None,
) -> tuple[Arrivals, ...]:
    """Return the Arrivals at every port of the devices (ids; all of them where none are named).

    Of devices asked for in equal copies of a network the first stands for all.  `frequency_hz`
    (array, Hz) is the middle of the band where it is not given.  Raises LayoutError.
    """
    wanted = [e.id for e in layout.elements.values() if e.kind.is_device] \
        if devices is None else list(devices)
    band = layout.band
    middle = (band.start_hz + band.stop_hz) / 2 if frequency_hz is None else frequency_hz
    f = np.atleast_1d(np.asarray(middle, dtype=float))
    groups = equal_networks(
        layout, (layout.connected(key) for key in wanted), heated=heating_of(layout)
    )
    found = []
    for ids, *copies in groups:
        network = noise_network(layout, ids[0], f)
        unstable, _ = oscillation(network)
        for key in ids:
            if key not in wanted:
                continue
            same = [other[ids.index(key)] for other in copies]
            for port in layout.elements[key].ports:
                photons, total = photons_at(network, (key, port))
                if unstable.any():
                    total = np.where(unstable, np.nan, total)
                    photons = {own: np.where(unstable, np.nan, v) for own, v in photons.items()}
                found.append(Arrivals(
                    f"{key}.{port}", f, photons, total, tuple(f"{one}.{port}" for one in same),
                    layout=layout,
                ))
    return tuple(found)


def noise_at(network: Network, port: Port) -> tuple[dict[str, FloatArray], FloatArray]:
    """Return ({id: quanta}, in all) of the noise that arrives at a port; shape (points,)."""
    transfers = network.adjoint(network.arriving(port))
    shares = {}
    for block in network.blocks:
        mean = network.mean(arrived(block, transfers).whole)
        shares[block.id] = shares.get(block.id, 0.0) + mean
    return shares, sum(shares.values(), np.zeros(len(network.frequency_hz)))


def photons_at(network: Network, port: Port) -> tuple[dict[str, FloatArray], FloatArray]:
    """Return ({id: photons}, in all) of what arrives at a port above the vacuum; (points,).

    An emitter's vacuum is half its part of the wave's commutator, so the parts add up.
    """
    shares, _ = noise_at(network, port)
    parts = commutators(network, network.arriving(port))
    for block, part in zip(network.blocks, parts, strict=True):
        shares[block.id] = shares[block.id] - network.mean(part) / 2.0
    return shares, sum(shares.values(), np.zeros(len(network.frequency_hz)))
