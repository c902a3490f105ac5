"""How quiet generators have to be, as a person reads it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.writing.text import wrapped
from components.quantities import watt_to_dbm

if TYPE_CHECKING:
    from chain.writing.text import Result


def floor_lines(budget: Result) -> list[str]:
    """Return lines on the generators whose noise the layout does not state; none without any."""
    said, far = {}, {}
    for floor in budget.generator_floors:
        (far if floor.far else said).setdefault(floor.declared, []).append(floor)
    if not said and not far:
        return []
    lines = [wrapped(
        "generators whose noise is not stated (`noise` of a tone, `emits` of its connector), the "
        "most that they may send beside their tone on top of kT, at every offset in the band:", "",
    )]
    for floors in said.values():
        lines.append(wrapped(_sentence(min(floors, key=lambda floor: floor.limit_w_hz), floors)))
    if far:
        names = ", ".join(_names(floors) for floors in far.values())
        lines.append(wrapped(f"20 dB or more from mattering, even from a poor generator: {names}"))
    return [*lines, ""]


def _names(floors):
    first, last = floors[0].tone, floors[-1].tone
    return first if first == last else f"{first} .. {last}"


def _sentence(floor, floors):
    for_what = "10 % more system noise"
    if floor.photons_at is not None:
        for_what = f"0.001 photons at {floor.photons_at}"
    sent = f"{float(watt_to_dbm(floor.tone_w)):.1f} dBm into {floor.port}"
    most = f"{floor.limit_dbm_hz:.1f} dBm/Hz ({floor.limit_dbc_hz:.1f} dBc/Hz)"
    text = f"{_names(floors)}, {sent}: {most} for {for_what}"
    if floor.below_kt:
        kt = float(watt_to_dbm(floor.kt_w_hz))
        text += f"; less than kT itself ({kt:.1f} dBm/Hz): filter or attenuate"
    return text
