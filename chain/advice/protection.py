"""What keeps amplifiers from the device and from each other: isolation, and its sense."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from chain.advice.rules import ERROR, WARNING, Remark, rule
from components.nport import magnitude2
from components.quantities import decibels

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection
    from chain.layout.layout import Port
    from chain.network.assembly import Network

LEAST_DIFFERENCE_DB = 6.0
"""How much more an element has to pass backward than forward to be called reversed."""


def next_amplifier(inspection: Inspection, network: Network, start: Port) -> Port | None:
    """Return (id, port) of the input of the amplifier that the wave leaving `start` meets first.

    None where there is none.  Amplifiers out of order count: they are there to be repaired.
    """
    nearest = None
    for key in network.ids:
        element = inspection.element(key)
        working = element.settings.with_values(state="ok")
        if key == start[0] or not element.kind.amplifies(working):
            continue
        entry = (key, element.kind.ports(working)[0])
        run = network.path((*start, 1), network.arriving(entry))
        if run and (nearest is None or len(run) < nearest[0]):
            nearest = len(run), entry
    return None if nearest is None else nearest[1]


def isolation_db(network: Network, entry: Port, port: Port) -> float:
    """Return the least loss over the band from the wave leaving `entry` to that arriving at `port`.

    Decibels; infinity where nothing gets there.
    """
    transfer = network.adjoint(network.arriving(port)).get((*entry, 1))
    if transfer is None:
        return np.inf
    whole = np.broadcast_shapes(np.shape(transfer), (1, len(network.frequency_hz)))
    passed = np.broadcast_to(magnitude2(transfer), whole).mean(axis=0)
    return float(-decibels(passed.max()))


def _unguarded(inspection, starts):
    """Yield (start, amplifier's input, isolation in dB) where that is below the margin."""
    for start in starts:
        network = inspection.network(start[0])
        entry = None if network is None else next_amplifier(inspection, network, start)
        if entry is None:
            continue
        found = isolation_db(network, entry, start)
        if found < inspection.margin("isolation"):
            yield start, entry, found


@rule(
    "no-isolation", WARNING, margins=("isolation",),
    why="what an amplifier emits from its input, and what it reflects, goes back into the device: "
    "photons that it did not ask for, and a standing wave",
    source="common practice, no source; about 20 dB an isolator",
)
def no_isolation(inspection: Inspection) -> Iterator[Remark]:
    """Look for isolation between every device and the first amplifier behind it."""
    starts = [(d.id, port) for d in inspection.devices for port in d.ports]
    for start, entry, found in _unguarded(inspection, starts):
        yield Remark(
            (start[0], entry[0]),
            f"only {max(found, 0.0):.1f} dB between the input of {entry[0]} and {'.'.join(start)}",
            f"put an isolator, or a circulator with a load on its third port, between {start[0]} "
            f"and {entry[0]}, on the coldest stage",
        )


@rule(
    "paramp-unguarded", WARNING, margins=("isolation",),
    why="a parametric amplifier passes waves backward, so what the next amplifier emits and "
    "reflects comes back to it, is amplified again and goes on to the device",
)
def paramp_unguarded(inspection: Inspection) -> Iterator[Remark]:
    """Look for isolation between every paramp and the amplifier behind it."""
    starts = [(x.id, _output(x)) for x in inspection.paramps]
    for start, entry, found in _unguarded(inspection, starts):
        yield Remark(
            (start[0], entry[0]),
            f"only {max(found, 0.0):.1f} dB between the input of {entry[0]} and {'.'.join(start)}",
            f"put an isolator between {start[0]} and {entry[0]}",
        )


@rule(
    "nothing-behind-paramp", WARNING,
    why="some 20 dB of gain is too little to lift a signal above the noise of the warm stages: "
    "the paramp needs a low-noise amplifier behind it",
)
def nothing_behind_paramp(inspection: Inspection) -> Iterator[Remark]:
    """Look for an amplifier behind every paramp."""
    for paramp in inspection.paramps:
        network = inspection.network(paramp.id)
        if network is None or next_amplifier(inspection, network, (paramp.id, _output(paramp))):
            continue
        yield Remark(
            (paramp.id,), f"no amplifier follows {paramp.id}",
            "put a low-noise amplifier behind it, on a stage that can cool its bias",
        )


def _output(paramp):
    return "out" if "out" in paramp.ports else "in"


@rule(
    "reversed", ERROR,
    why="a part that passes waves in one direction only is installed against the signal path",
    source="its own scattering",
)
def reversed_part(inspection: Inspection) -> Iterator[Remark]:
    """Look along every signal and tone for what passes more in the opposite direction."""
    seen = set()
    for path in inspection.paths:
        for hop in path.hops:
            # A reflection off one port has no direction, nor does a paramp's gain tell of one.
            if hop.id in seen or hop.enter == hop.leave or hop.back <= 0:
                continue
            if hop.gain > 0 and decibels(hop.back / hop.gain) < LEAST_DIFFERENCE_DB:
                continue
            seen.add(hop.id)
            element = inspection.element(hop.id)
            yield Remark((hop.id,), _against(path, hop, element), _turn(element))


def _against(path, hop, element):
    said = (
        f"{path.name} goes through the {element.kind.name} {hop.id} from {hop.enter} "
        f"to {hop.leave}"
    )
    if hop.gain <= 0:
        return f"{said}, where nothing passes"
    lost_db = float(-decibels(hop.back))
    other = f"lose {max(lost_db, 0.0):.1f} dB" if lost_db > -0.05 else f"gain {-lost_db:.1f} dB"
    return f"{said} and loses {-decibels(hop.gain):.1f} dB there; " \
        f"in the opposite direction it would {other}"


def _turn(element):
    if len(element.kind.ports(element.settings)) == 2:
        wanted = "false" if element.settings["reversed"] else "true"
        return f"reverse it: reversed: {wanted}"
    return "exchange the ports by which the line enters and leaves it (enter, leave)"
