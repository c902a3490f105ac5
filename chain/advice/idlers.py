"""The band that a parametric amplifier mixes in: its idler."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from chain.advice.changes import move, pads_along
from chain.advice.rules import WARNING, Remark, rule
from chain.network.path import least_loss_path
from chain.noise.arrivals import noise_at
from chain.power.self_heating import noise_network
from chain.writing.numbers import number
from components.nport import magnitude2
from components.quantities import decibels
from components.thermal_noise import quanta

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection


@rule(
    "idler-warmer", WARNING, variants=True, margins=("idler", "share"),
    why="a phase-preserving amplifier adds what arrives at its idler: half a quantum if that is "
    "cold, more if it is not",
    source="C. M. Caves, Quantum limits on noise in linear amplifiers, Phys. Rev. D 26, 1817 "
    "(1982)",
)
def idler_warmer(inspection: Inspection) -> Iterator[Remark]:
    """Look at the noise that arrives at every paramp in its idler band and in its signal band."""
    for paramp, at_signal, at_idler in _both_bands(inspection):
        port = (paramp.id, "in")
        (_, signal), (shares, idler) = noise_at(at_signal, port), noise_at(at_idler, port)
        # A stage gives less at a higher frequency: only what is above its own counts.
        kelvin = inspection.layout.temperature_k(paramp)
        above = [
            float(np.mean(found - quanta(frequency_hz=net.frequency_hz, temperature_k=kelvin)))
            for found, net in ((signal, at_signal), (idler, at_idler))
        ]
        if above[1] - above[0] <= max(
                inspection.margin("idler"), inspection.margin("share") * float(idler.mean())):
            continue
        most = max(shares, key=lambda key: float(shares[key].mean()))
        yield Remark(
            (paramp.id, most),
            f"{number(float(idler.mean()), 3)} quanta arrive at {paramp.id} in its idler band, "
            f"{_span(at_idler)}, and {number(float(signal.mean()), 3)} in the signal band (means; "
            f"most at the idler from {most})",
            _quieter_idler(inspection, paramp, most),
            about=_noise_of(inspection, paramp),
        )


def _noise_of(inspection, paramp):
    """Return the merits of the signals that a paramp amplifies."""
    return tuple(
        ("noise", signal.name) for signal in inspection.received
        if (path := inspection.path_of(signal)) is not None and paramp.id in path.ids
    )


def _quieter_idler(inspection, paramp, most):
    """Yield Remedies for what comes in at a paramp's idler: pads on its way, colder or more."""
    element = inspection.element(most)
    order = list(inspection.layout.stages)
    if element.kind.absorbs and element.stage is not None:
        for stage in order[order.index(element.stage) + 1 :][::-1]:
            yield move(inspection, most, stage)
    network = inspection.network(paramp.id)
    for key in inspection.layout.lines[element.line].elements if network is not None else ():
        if not inspection.element(key).kind.outside:
            continue
        hops = least_loss_path(network, (key, inspection.element(key).ports[0]), (paramp.id, "in"))
        own = [hop for hop in hops if inspection.element(hop.id).line == element.line]
        cut = next((n for n, hop in enumerate(own)
                    if inspection.element(hop.id).kind.is_device), len(own))
        yield from pads_along(inspection, own[:cut], 10.0)
        break
    yield "filter or attenuate its idler band as well as its signal band, or load it cold"


@rule(
    "idler-less-attenuated", WARNING, variants=True, margins=("idler_loss", "photons"),
    why="what stands at the outside comes down to the paramp in its idler band with less "
    "attenuation than in the band that the line was designed for, and turns up at the signal",
    source="C. M. Caves, Phys. Rev. D 26, 1817 (1982)",
)
def idler_less_attenuated(inspection: Inspection) -> Iterator[Remark]:
    """Look at the path from every outside connector to a paramp in both bands."""
    for paramp, at_signal, at_idler in _both_bands(inspection):
        port = (paramp.id, "in")
        losses = [_losses(inspection, network, port) for network in (at_signal, at_idler)]
        shares, _ = noise_at(at_idler, port)
        for key, loss_db in losses[1].items():
            less = losses[0].get(key, np.inf) - loss_db
            counts = float(shares.get(key, np.zeros(1)).max()) > inspection.margin("photons")
            if less <= inspection.margin("idler_loss") or not counts:
                continue
            yield Remark(
                (paramp.id, key),
                f"{key} is attenuated by {loss_db:.1f} dB on the path to {paramp.id} in the idler "
                f"band, {_span(at_idler)}, {less:.1f} dB less than in the signal band",
                _quieter_idler(inspection, paramp, key), about=_noise_of(inspection, paramp),
            )


def _both_bands(inspection):
    """Yield (paramp, Network at its signals, Network at its idlers), paramps switched off."""
    for paramp in inspection.paramps:
        if not paramp.kind.pumps(paramp.settings) or inspection.network(paramp.id) is None:
            continue
        connected = inspection.layout.connected(paramp.id)
        off = {
            key: {"state": "off"} for key in connected
            if inspection.element(key).kind.pumps(inspection.element(key).settings)
        }
        layout, f = inspection.layout.with_settings(off), inspection.frequency_hz
        idler = paramp.kind.idler_hz(
            paramp.settings, signal_hz=f, pump_hz=inspection.layout.tones[paramp.settings["pump"]]
            .frequency_hz,
        )
        networks = [
            inspection.attempt(noise_network, layout, paramp.id, np.sort(hz)) for hz in (f, idler)
        ]
        if None not in networks:
            yield paramp, *networks


def _losses(inspection, network, port):
    """Return {outside connector: mean loss in dB from it to a port}."""
    transfers = network.adjoint(network.arriving(port))
    found = {}
    for key in network.ids:
        wave = (key, inspection.element(key).ports[0], 1)
        if inspection.element(key).kind.outside and wave in transfers:
            passed = float(np.mean(magnitude2(transfers[wave])))
            if passed > 0:
                found[key] = float(-decibels(passed))
    return found


def _span(network):
    low, high = network.frequency_hz[0], network.frequency_hz[-1]
    return f"{low / 1e9:.4g} to {high / 1e9:.4g} GHz"
