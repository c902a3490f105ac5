"""Whether a received signal has gain enough, cold enough, and pointed the right way."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from chain.advice.changes import COLD_AMPLIFIER_K, amplifiers_along, more_gain, reverse
from chain.advice.protection import isolation_db
from chain.advice.rules import CAUSE, ERROR, LACK, WARNING, Remark, rule
from chain.writing.numbers import number

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection


def _received(inspection):
    """Yield (signal, its path, its budget, ids of the amplifiers on it in order)."""
    for signal in inspection.received:
        path, budget = inspection.path_of(signal), inspection.budget(signal.name)
        if path is None or budget is None or budget.system_noise_quanta is None:
            continue
        amplifiers = [
            hop.id for hop in path.hops
            if inspection.element(hop.id).kind.amplifies(inspection.element(hop.id).settings)
            and hop.gain > 1.0
        ]
        yield signal, path, budget, amplifiers


@rule(
    "too-little-gain", WARNING, margins=("coax", "share"), cause=LACK,
    why="what stands behind the last amplifier, the receiver first, adds its noise over all the "
    "gain before it: with too little gain it is the receiver that is measured",
    source="H. T. Friis, Noise figures of radio receivers, Proc. IRE 32, 419 (1944)",
)
def too_little_gain(inspection: Inspection) -> Iterator[Remark]:
    """Look at what everything behind the last amplifier gives of a signal's system noise."""
    for signal, path, budget, amplifiers in _received(inspection):
        ids = path.ids
        last = ids.index(amplifiers[-1]) if amplifiers else 0
        behind = ids[last + 1 :]
        shares = {key: budget.shares_quanta[key] for key in behind if key in budget.shares_quanta}
        if not shares:
            continue
        whole = budget.system_noise_quanta
        given = sum(shares.values())
        at = int(np.argmax(given / whole))
        if given[at] <= inspection.least_share("coax", float(whole[at])):
            continue
        most = max(shares, key=lambda key: float(shares[key][at]))
        start = f"behind {amplifiers[-1]}" if amplifiers else "no amplifier stands in its path:"
        yield Remark(
            (most, *amplifiers[-1:]),
            f"{start} {number(float(given[at]), 3)} of {number(float(whole[at]), 4)} quanta of "
            f"system noise of {signal.name} come in, {100 * given[at] / whole[at]:.0f} %, most "
            f"from {most}",
            _more_gain(inspection, path, last, amplifiers),
            about=(("noise", signal.name),),
        )


def _more_gain(inspection, path, last, amplifiers):
    """Yield Remedies for too little gain: an amplifier behind, or more gain in the last one."""
    yield from amplifiers_along(inspection, path.hops[last:], warm=True)
    for key in amplifiers[-1:]:
        yield from more_gain(inspection, key)


@rule(
    "no-cold-amplifier", WARNING, margins=("coax", "share"), cause=LACK,
    why="an amplifier at room temperature adds tens of kelvin, and all that the line up to it "
    "loses: the first one belongs where it is cold",
    source="H. T. Friis, Noise figures of radio receivers, Proc. IRE 32, 419 (1944)",
)
def no_cold_amplifier(inspection: Inspection) -> Iterator[Remark]:
    """Look at where the first amplifier of every signal from a cold device stands."""
    for signal, path, budget, amplifiers in _received(inspection):
        device = inspection.element(signal.start[0])
        # A paramp's 20 dB do not lift a signal over what stands at room temperature.
        amplifiers = [key for key in amplifiers if not inspection.element(key).kind.parametric]
        if inspection.layout.temperature_k(device) > COLD_AMPLIFIER_K or not amplifiers:
            continue
        first = inspection.element(amplifiers[0])
        if first.stage is None or inspection.layout.temperature_k(first) <= COLD_AMPLIFIER_K:
            continue
        share = budget.shares_quanta.get(first.id)
        limit = inspection.least_share("coax", float(budget.system_noise_quanta.max()))
        if share is None or share.max() <= limit:
            continue
        before = path.hops[: [hop.id for hop in path.hops].index(first.id)]
        yield Remark(
            (first.id,),
            f"the first amplifier of {signal.name}, {first.id}, stands on {first.stage} and gives "
            f"{number(float(share.max()), 3)} of "
            f"{number(float(budget.system_noise_quanta[int(np.argmax(share))]), 4)} quanta",
            amplifiers_along(inspection, before, warm=False), about=(("noise", signal.name),),
        )


@rule(
    "amplifier-faces-device", ERROR, margins=("isolation",), cause=CAUSE,
    why="what an amplifier adds leaves by its output, times its gain: at the device that is a hot "
    "source, thousands of photons where a fraction of one is too many",
)
def amplifier_faces_device(inspection: Inspection) -> Iterator[Remark]:
    """Look at the loss from the output of every amplifier to every port of a device."""
    for device in inspection.devices:
        network = inspection.network(device.id)
        if network is None:
            continue
        for key in network.ids:
            element = inspection.element(key)
            if element.kind.parametric or len(element.ports) != 2 or \
                    not element.kind.amplifies(element.settings):
                continue
            out = element.kind.ports(element.settings)[-1]
            for port in device.ports:
                loss = isolation_db(network, (key, out), (device.id, port))
                if loss >= inspection.margin("isolation"):
                    continue
                yield Remark(
                    (key, device.id),
                    f"the output of {key} faces {device.id}.{port} with {max(loss, 0.0):.1f} dB "
                    "between",
                    reverse(inspection, key), about=(("photons", f"{device.id}.{port}"),),
                )
