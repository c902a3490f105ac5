"""Whether an amplifier can oscillate with what stands around it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from chain.advice.changes import put_in, set_value, typed
from chain.advice.rules import WARNING, Remark, rule
from chain.network.stability import oscillation

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection


@rule(
    "may-oscillate", WARNING,
    why="a loop around an amplifier that comes round with one or more oscillates in some phase; "
    "what it then gives, nothing here can say",
    source="H. Nyquist, Regeneration theory, Bell Syst. Tech. J. 11, 126 (1932)",
)
def may_oscillate(inspection: Inspection) -> Iterator[Remark]:
    """Look at the loop gain around every amplifier, over every phase that nobody knows."""
    for first in dict.fromkeys(inspection.layout.connected(key)[0] for key in inspection.ids):
        network = inspection.network(first)
        for said in oscillation(network)[1] if network is not None else ():
            key, _, says = said.partition(" ")
            yield Remark(
                (key,), f"{key} {says}",
                _calmer(inspection, key),
            )


def _calmer(inspection, key):
    """Yield Remedies for an amplifier with a loop around it."""
    element = inspection.element(key)
    for port, outward in ((element.ports[-1], True), (element.ports[0], False)):
        if element.stage is not None:
            side = "behind" if outward else "before"
            if len(element.ports) == 1 and not outward:
                continue
            yield put_in(inspection, f"an isolator {side} {key}", (key, port), "isolation",
                         stage=element.stage, outward=outward)
    gain = element.settings["gain"]
    if hasattr(gain, "value"):
        less = typed(inspection, key, "gain", f"{gain.value - 6:g} dB")
        yield set_value(inspection, f"6 dB less gain of {key}", key, gain=less)
    yield "put more isolation beside it, match it better, or lower its gain"
