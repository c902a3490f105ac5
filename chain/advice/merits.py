"""The numbers by which a layout is judged: heat, photons, noise, gain, isolation, headroom.

A finding names those that it is about, and a tried remedy is judged by what becomes of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chain.advice.protection import guards
from chain.advice.remedies import Effect

if TYPE_CHECKING:
    from chain.advice.inspection import Inspection

Key = tuple[str, ...]
"""What a merit is of: ("heat", stage), ("photons", "D1.in"), ("noise", signal), ..."""


@dataclass(frozen=True)
class Merit:
    """One number by which a layout is judged."""

    what: str
    value: float
    unit: str
    """W, photons, quanta or dB."""
    limit: float | None = None
    """From where on it is found, None where nothing bounds it."""
    more_is_better: bool = False

    def to(self, other: Merit) -> Effect:
        """Return the Effect of a change from this to another."""
        return Effect(
            other.what, self.value, other.value, other.unit, other.limit, other.more_is_better
        )

    @property
    def counts(self) -> bool:
        """True where it is near enough to its limit to be worth a word."""
        if self.unit == "dB":
            return self.limit is not None and self.value < self.limit + 5.0
        return self.unit == "quanta" if self.limit is None else self.value > 0.2 * self.limit


def merits(inspection: Inspection) -> dict[Key, Merit]:
    """Return every Merit of a layout that can be worked out."""
    works = _heat, _photons, _signals, _levels, _isolations
    return {key: merit for work in works for key, merit in work(inspection)}


def _heat(inspection):
    for name, row in (inspection.heat.stages.items() if inspection.heat else ()):
        if row.total_w is not None:
            yield ("heat", name), Merit(name, row.total_w, "W", row.cooling_w)


def _photons(inspection):
    for port, found in inspection.excess.items():
        name = ".".join(port)
        yield ("photons", name), Merit(name, found.worst, "photons", found.limit)


def _signals(inspection):
    for signal in inspection.signals:
        budget = inspection.budget(signal.name)
        if budget is None or budget.gain_db is None:
            continue
        gain = float(np.min(budget.gain_db))
        if np.isfinite(gain):
            yield ("gain", signal.name), Merit(
                f"gain of {signal.name}", gain, "dB", more_is_better=True)
        if signal in inspection.received and budget.system_noise_quanta is not None:
            worst = float(np.max(budget.system_noise_quanta))
            yield ("noise", signal.name), Merit(f"system noise of {signal.name}", worst, "quanta")


def _levels(inspection):
    if not inspection.power:
        return
    for level in inspection.power.headrooms:
        if level.headroom_db is not None and level.id in inspection.ids:
            yield ("headroom", level.id), Merit(
                f"headroom of {level.id}", level.headroom_db, "dB",
                inspection.margin("compression"), more_is_better=True,
            )
    for tone in inspection.power.tones.values():
        for key, watt in tone.absorbed_w.items():
            if watt > 0 and key in inspection.ids:
                yield ("absorbed", key, tone.name), Merit(
                    f"{key} (of {tone.name})", watt, "W",
                    inspection.may_absorb_w(key),
                )
        for device in inspection.devices:
            watt = sum(tone.arriving_w.get(f"{device.id}.{p}", 0.0) for p in device.ports)
            if watt > 0:
                yield ("at device", device.id, tone.name), Merit(
                    f"{tone.name} at {device.id}", watt, "W")


def _isolations(inspection):
    for (start, _), found in inspection.remembered("guards", guards).items():
        yield ("isolation", ".".join(start)), Merit(
            f"isolation of {'.'.join(start)}", min(found, 200.0), "dB",
            inspection.margin("isolation"), more_is_better=True,
        )
