"""What tones warm by themselves: cables along their length, films whose cooling is a guess."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.advice.inspection import Inspection
from chain.advice.rules import NOTE, RULES, WARNING, Remark, rule
from chain.network.emitted import arrived
from chain.writing.numbers import number, si
from components.hot_films import EITHER_WAY

if TYPE_CHECKING:
    from chain.network.assembly import Network
    from chain.network.waves import Wave
    from components.arrays import FloatArray

IN_NOISE = frozenset({"photons", "side_port_noise", "load", "behind", "idler"})
"""Margins that bound noise: what a warmer film can break."""


@rule(
    "self-heated-cable", WARNING, margins=("photons", "coax"),
    why="a tone warms the cable that it runs through between its anchors, most where it is thin, "
    "long and conducts badly; what the cable emits follows that peak and not its anchors",
    source="theta'' = -q: H. S. Carslaw, J. C. Jaeger, Conduction of Heat in Solids, 1959, from "
    "memory",
)
def self_heated_cable(inspection: Inspection) -> Iterator[Remark]:
    """Look at what the warmth of each cable adds at devices and to the noise of signals."""
    peaks = {}
    for row in inspection.power.warmed.cables if inspection.power else ():
        if row.id not in peaks or row.peak_k > peaks[row.id].peak_k:
            peaks[row.id] = row
    for key, row in peaks.items():
        if key not in inspection.ids:
            continue
        said = _at_devices(inspection, key) or _in_signals(inspection, key)
        if said is not None:
            yield Remark(
                (key,),
                f"tones warm {key} to {si(row.peak_k, 'K', 3)} between {row.first} "
                f"({si(row.anchors_k[0], 'K', 3)}) and {row.second} "
                f"({si(row.anchors_k[1], 'K', 3)}), which brings {said}",
                f"anchor {key} once more in between, take a coax that conducts heat better or "
                "loses less, attenuate behind it, or send less of the tones",
            )


def _at_devices(inspection, key):
    """Return what a cable's warmth brings to the port of a device, as text, or None."""
    network = inspection.network(key)
    for device in inspection.devices if network else ():
        for port in device.ports if device.id in network.ids else ():
            moved = _moved(network, key, network.arriving((device.id, port)))
            if moved.max() > inspection.margin("photons"):
                return f"{number(float(moved.max()), 3)} photons more to {device.id}.{port}"
    return None


def _in_signals(inspection, key):
    for signal in inspection.received:
        budget = inspection.budget(signal.name)
        network = inspection.network(signal.to_port[0])
        if budget is None or network is None or key not in network.ids:
            continue
        moved = _moved(network, key, network.arriving(signal.to_port)) / 10 ** (budget.gain_db / 10)
        if moved.max() > inspection.least_share("coax", inspection.noise_quanta(signal.name)):
            return f"{number(float(moved.max()), 3)} quanta more to the noise of {signal.name}"
    return None


def _moved(network: Network, key: str, wave: Wave) -> FloatArray:
    """Return the quanta that an element's warmth adds to a wave, shape (points,)."""
    transfers: Any = network.adjoint(wave)
    cold = {other: one for other, one in network.heated.items() if other != key}
    total = np.zeros(len(network.frequency_hz))
    for warm, unheated in network.reheated(cold):
        total = total + network.mean(arrived(warm, transfers).whole)
        total = total - network.mean(arrived(unheated, transfers).whole)
    return total


@rule(
    "film-guess", NOTE, variants=True, margins=tuple(sorted(IN_NOISE)),
    why="how hot a resistive film gets is a guess to a factor of ten in its cooling where nobody "
    "measured it, and here that decides whether a margin holds",
    source="Sigma of F. C. Wellstood, C. Urbina, J. Clarke, Phys. Rev. B 49, 5942 (1994), "
    "abstract; the film's volume is our assumption",
)
def film_guess(inspection: Inspection) -> Iterator[Remark]:
    """Look at what the rules about noise would find, were assumed films cooled ten times worse."""
    films = inspection.power.warmed.films if inspection.power else ()
    assumed = {row.id: row for row in films if row.assumed and row.id in inspection.ids}
    if not assumed:
        return
    worse = Inspection(replace(inspection.layout, films_cooled=1 / EITHER_WAY))
    for one in RULES.values():
        if one.remarks in (film_guess, self_heated_cable) or not IN_NOISE & set(one.margins):
            continue
        known = {remark.elements[:1] for remark in one.remarks(inspection)}
        for remark in worse.attempt(list, one.remarks(worse)) or ():
            if remark.elements[:1] not in known:
                yield _guess(remark, one.code, assumed)


def _guess(remark, code, assumed):
    named = [key for key in remark.elements if key in assumed] or list(assumed)
    films = ", ".join(
        f"{key} at {si(assumed[key].high_k, 'K', 3)} and not {si(assumed[key].kelvin, 'K', 3)}"
        for key in named[:3]
    )
    return Remark(
        (*remark.elements[:1], *named[:1]),
        f"were films cooled ten times worse than is assumed ({films}), {code} would say: "
        f"{remark.says}",
        f"state what is measured of {' and '.join(named[:3])} (hot_power, hot_temperature), or "
        "send less of the tones there",
    )
