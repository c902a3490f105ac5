"""What keeps amplifiers from the device and from each other: isolation, and its sense."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from chain.advice.changes import amplifiers_along, put_in, reverse, set_value
from chain.advice.remedies import Remedy
from chain.advice.rules import CAUSE, ERROR, LACK, WARNING, Remark, rule
from chain.layout import edits
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


def guards(inspection: Inspection) -> dict[tuple[Port, Port], float]:
    """Return {(port of a device or paramp, input of the amplifier behind it): isolation in dB}."""
    return {
        (start, entry): isolation_db(network, entry, start)
        for start in [*_device_ports(inspection), *_paramp_outputs(inspection)]
        if (network := inspection.network(start[0])) is not None
        and (entry := next_amplifier(inspection, network, start)) is not None
    }


def _device_ports(inspection):
    return [(device.id, port) for device in inspection.devices for port in device.ports]


def _paramp_outputs(inspection):
    return [(paramp.id, _output(paramp)) for paramp in inspection.paramps]


def _unguarded(inspection, starts):
    """Yield (start, amplifier's input, isolation in dB) where that is below the margin."""
    for (start, entry), found in inspection.remembered("guards", guards).items():
        if start in starts and found < inspection.margin("isolation"):
            yield start, entry, found


def _isolate(inspection, start):
    """Yield Remedies for too little isolation behind a port."""
    layout = inspection.layout
    for key in layout.connected(start[0]):
        element = inspection.element(key)
        if element.kind.serves == "isolation" and element.settings["state"] != "ok":
            yield set_value(inspection, f"repair {key}", key, state="ok")
    stage = inspection.element(start[0]).stage
    if stage is None:
        return
    where = f"an isolator behind {'.'.join(start)} on {stage}"
    yield put_in(inspection, f"put {where}", start, "isolation", stage=stage)


@rule(
    "no-isolation", WARNING, cause=LACK, margins=("isolation",),
    why="what an amplifier emits from its input, and what it reflects, goes back into the device: "
    "photons that it did not ask for, and a standing wave",
    source="common practice, no source; about 20 dB an isolator",
)
def no_isolation(inspection: Inspection) -> Iterator[Remark]:
    """Look for isolation between every device and the first amplifier behind it."""
    for start, entry, found in _unguarded(inspection, _device_ports(inspection)):
        if _as_cold(inspection, start[0], entry[0]):
            continue
        yield Remark(
            (start[0], entry[0]),
            f"only {max(found, 0.0):.1f} dB between the input of {entry[0]} and {'.'.join(start)}",
            _isolate(inspection, start), about=(("isolation", ".".join(start)),),
        )


AS_COLD = 1.5
"""Times the device's temperature up to which an amplifier's stage sends it nothing that its own
does not (common practice, no source)."""


def _as_cold(inspection, device, amplifier):
    """Tell whether a transistor amplifier stands about as cold as the device itself."""
    kelvin = [inspection.layout.temperature_k(inspection.element(k)) for k in (device, amplifier)]
    return not inspection.element(amplifier).kind.parametric and kelvin[1] <= AS_COLD * kelvin[0]


@rule(
    "paramp-unguarded", WARNING, cause=LACK, margins=("isolation",),
    why="a parametric amplifier passes waves backward, so what the next amplifier emits and "
    "reflects comes back to it, is amplified again and goes on to the device",
)
def paramp_unguarded(inspection: Inspection) -> Iterator[Remark]:
    """Look for isolation between every paramp and the amplifier behind it."""
    for start, entry, found in _unguarded(inspection, _paramp_outputs(inspection)):
        yield Remark(
            (start[0], entry[0]),
            f"only {max(found, 0.0):.1f} dB between the input of {entry[0]} and {'.'.join(start)}",
            _isolate(inspection, start), about=(("isolation", ".".join(start)),),
        )


@rule(
    "nothing-behind-paramp", WARNING, cause=LACK,
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
            (paramp.id,), f"no amplifier follows {paramp.id}", _behind(inspection, paramp),
        )


def _behind(inspection, paramp):
    """Yield Remedies for a paramp with no amplifier behind it."""
    for path in inspection.paths:
        ids = [hop.id for hop in path.hops]
        if paramp.id in ids and not path.tone:
            yield from amplifiers_along(
                inspection, path.hops[ids.index(paramp.id) + 1 :], warm=False)
    yield "put a low-noise amplifier behind it, on a stage that can cool its bias"


def _output(paramp):
    return "out" if "out" in paramp.ports else "in"


@rule(
    "reversed", ERROR, cause=CAUSE,
    why="a part that passes waves in one direction only is installed against the signal path",
    source="its own scattering",
)
def reversed_part(inspection: Inspection) -> Iterator[Remark]:
    """Look along every signal and tone for what passes more in the opposite direction.

    Not where the other signals and tones pass the part as it stands, by those ports: then it is
    their sense that is meant, and this path is the leak.
    """
    seen = set()
    meant = _passages(inspection)
    for path in inspection.paths:
        for hop in path.hops:
            # A reflection off one port has no direction, nor does a paramp's gain tell of one.
            if hop.id in seen or hop.enter == hop.leave or hop.back <= 0:
                continue
            if hop.gain > 0 and decibels(hop.back / hop.gain) < LEAST_DIFFERENCE_DB:
                continue
            element = inspection.element(hop.id)
            if meant.get(hop.id) and len(element.kind.ports(element.settings)) > 2:
                continue
            seen.add(hop.id)
            yield Remark(
                (hop.id,), _against(path, hop, element), _turn(inspection, path, hop, element),
                about=(("gain", path.name),) if not path.tone else (),
            )


def _passages(inspection):
    """Return {id: passages} by which signals and tones pass parts the way they are meant to be."""
    found = {}
    for path in inspection.paths:
        for hop in path.hops:
            if hop.enter != hop.leave and hop.gain > 0 and hop.back < hop.gain:
                found.setdefault(hop.id, set()).add((hop.enter, hop.leave))
    return found


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


def _turn(inspection, path, hop, element):
    """Yield Remedies for a part that stands against the path: turned, its values exchanged."""
    swapped = _swapped(inspection, element)
    if swapped is not None:
        yield swapped
    ports = element.kind.ports(element.settings)
    if len(ports) == 2:
        yield reverse(inspection, hop.id)
        return
    yield Remedy(
        f"exchange what is joined to {hop.id}.{hop.enter} and {hop.id}.{hop.leave}",
        lambda layout: edits.exchanged_ports(layout, hop.id, hop.enter, hop.leave),
    )


def _swapped(inspection, element):
    """Return the Remedy that exchanges insertion loss and isolation, where the loss is more."""
    settings = element.settings
    if not (settings.given("insertion_loss") and settings.given("isolation")):
        return None
    loss, isolation = settings["insertion_loss"], settings["isolation"]
    if not (hasattr(loss, "value") and hasattr(isolation, "value")) or \
            loss.value <= isolation.value:
        return None
    return set_value(
        inspection, f"exchange insertion_loss ({loss.text}) and isolation ({isolation.text}) of "
        f"{element.id}", element.id, insertion_loss=isolation, isolation=loss,
    )
