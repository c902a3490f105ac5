"""What paramps are given of their pumps, and what they do with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.layout.margins import margin
from components.nport import magnitude2
from components.quantities import LevelTable, decibels, watt_to_dbm
from components.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Callable

    from chain.layout.layout import Element, Layout, Port, Tone
    from components.arrays import FloatArray

HOLDS, OFF, UNKNOWN, NOT_WIRED = "holds", "off", "unknown", "not wired"

GAINS = ("gain", "gain_over_off")

LEAST_PART = 1e-200
"""Part of a tone below which nothing of it arrives: 2000 dB."""


@dataclass(frozen=True)
class Pumped:
    """A paramp, the pump that arrives at it, and the settings that follow."""

    id: str
    tone: str
    level_dbm: float | None
    """What arrives, dBm; None for nothing, or where the layout does not wire the pump to it."""
    stated_dbm: float | None
    """The level at which its stated gain holds, dBm; None where there is none."""
    state: str
    """HOLDS, OFF (the pump is lost), UNKNOWN (its gain is), NOT_WIRED (taken as arriving)."""
    settings: Settings
    margin_db: float = 0.0
    """How far the level may be off for the stated gain to hold."""

    @property
    def says(self) -> str | None:
        """What is to be said of it, or None where all is as it should be."""
        arrives = "nothing" if self.level_dbm is None else f"{self.level_dbm:.1f} dBm"
        of = "" if self.stated_dbm is None else f", not the {self.stated_dbm:.1f} dBm of its gain"
        if self.state == OFF:
            return f"{self.id} has lost its pump ({arrives} of {self.tone}{of}) and counts as off"
        if self.state == UNKNOWN:
            return (
                f"the gain of {self.id} is not known: {arrives} of {self.tone} arrives{of} "
                f"(+/- {self.margin_db:g} dB); what follows takes the nearest gain that is stated"
            )
        if self.state == NOT_WIRED:
            return f"the layout does not wire {self.tone} to {self.id}: it is taken as arriving"
        return None


def pumped(layout: Layout, network_of: Any) -> Any:
    """Return {id: Pumped} of every paramp of a layout that is switched on.

    A stated gain holds at the level that arrives in the layout as it was written, within the margin
    `pump_level`; where the gain itself has been changed, at the level that arrives.  A table over
    levels says it at each.  `network_of(layout, tone)` makes the network of a tone.  Worked out
    once.
    """
    return layout.remembered("pumped", lambda: _pumped(layout, network_of))


def _pumped(layout, network_of):
    found = {}
    written = layout.written or layout
    for element in layout.elements.values():
        if not element.kind.pumps(element.settings):
            continue
        tone = layout.tones[element.settings["pump"]]
        if element.id not in layout.connected(tone.into):
            found[element.id] = Pumped(
                element.id, tone.name, None, None, NOT_WIRED, element.settings
            )
            continue
        level = _level_w(layout, element, network_of, written)
        stated = None if layout is written else stated_w(element, written, network_of)
        margins = margin(layout, "pump_level"), margin(layout, "pump_lost")
        found[element.id] = _of_level(
            element, tone.name, level, level if stated is None else stated, margins
        )
    return found


def _same_gain(element, written):
    """Tell whether the layout as written has the paramp with the same gain and a wired pump."""
    other = written.elements.get(element.id)
    if other is None or other.kind is not element.kind:
        return False
    tone = written.tones.get(other.settings["pump"])
    if tone is None or element.id not in written.connected(tone.into):
        return False
    return all(other.settings[name] == element.settings[name] for name in (*GAINS, "data"))


def is_lost(level_dbm: Any, stated_dbm: Any, table: LevelTable | None, lost_db: float) -> Any:
    """Tell whether so little of a pump arrives that its paramp counts as off (arrays too).

    `level_dbm` is -inf where nothing arrives; `stated_dbm` nan where no level is stated.
    """
    least_dbm = stated_dbm if table is None else table.power_dbm[0]
    return np.isneginf(level_dbm) | (level_dbm < least_dbm - lost_db)


def gain_table(settings: Settings) -> tuple[str | None, LevelTable | None]:
    """Return (the parameter that gives a paramp's gain, its table over levels or None)."""
    name = settings.first(*GAINS)
    value = settings[name] if name is not None else None
    return name, value if isinstance(value, LevelTable) else None


def _of_level(element, tone, level_w, stated_w, margins):
    near_db, lost_db = margins
    settings = element.settings
    level, stated = (float(watt_to_dbm(w)) if w > 0 else None for w in (level_w, stated_w))
    name, table = gain_table(settings)
    if level is None or is_lost(level, np.nan if stated is None else stated, table, lost_db):
        settings = settings.with_values(state="off")
        stated = None if table is not None else stated
        return Pumped(element.id, tone, level, stated, OFF, settings, near_db)
    if table is not None and name is not None:
        state = HOLDS if table.reaches(level) else UNKNOWN
        settings = settings.with_values(**{name: table.at_level(level)})
        return Pumped(element.id, tone, level, None, state, settings, near_db)
    state = HOLDS if stated is not None and abs(level - stated) <= near_db else UNKNOWN
    return Pumped(element.id, tone, level, stated, state, settings, near_db)


def _level_w(layout, element, network_of, written):
    """Return the power of its pump that arrives at a paramp, watt."""
    tone = layout.tones[element.settings["pump"]]
    reached = transfers(layout, tone, network_of)
    usual_w = None if layout is written else usual_sent_w(written, tone.name, network_of)
    return float(arriving_w(layout, element, tone, reached, usual_w))


def stated_w(element: Element, written: Layout, network_of: Any) -> float | None:
    """Return the power (watt) at which a paramp's stated gain holds: as in the layout as written.

    None where that has it with another gain, or no pump wired to it.
    """
    if not _same_gain(element, written):
        return None
    return _level_w(written, written.elements[element.id], network_of, written)


def arriving_w(
    layout: Layout, element: Element, tone: Tone, reached: Any, usual_w: float | None
) -> FloatArray:
    """Return the power of its pump that arrives at a paramp, watt, by whichever port has most.

    `reached` is a function from a port to the part of the tone that arrives there, a number or an
    array; `usual_w` as in `given_w`.
    """
    ports = ("pump",) if "pump" in element.ports else element.ports
    each_w = given_w(layout, tone, reached, usual_w)
    part = np.maximum.reduce([reached((element.id, port)) for port in ports])
    return np.where(np.isnan(each_w), 0.0, each_w * part)


def pumps_with(layout: Layout, tone: Tone) -> bool:
    """Tell whether the tone is at the pump frequency of paramps that it may reach."""
    for key in layout.connected(tone.into):
        element = layout.elements[key]
        if element.kind.pumps(element.settings):
            return layout.tones[element.settings["pump"]].frequency_hz == tone.frequency_hz
    return False


def sent_w(
    layout: Layout, tone: Tone, network_of: Any, written: Layout | None = None
) -> float | None:
    """Return the power of each line of a tone at its connector, watt; None where none arrives.

    See `given_w`.  `network_of` is as in `pumped`.
    """
    if tone.arriving is None:
        return tone.power_w
    written = written or layout.written or layout
    usual_w = None if layout is written else usual_sent_w(written, tone.name, network_of)
    found = float(given_w(layout, tone, transfers(layout, tone, network_of), usual_w))
    return None if np.isnan(found) else found


def given_w(layout: Layout, tone: Tone, reached: Any, usual_w: float | None) -> FloatArray:
    """Return what a tone's source gives for each line, watt; NaN where what has to arrive cannot.

    Where the layout says what has to arrive it is what that takes, unless it is more than the
    margin `pump_lost` over `usual_w`, what the layout as written takes: nobody turns a source up
    against a break.  `reached` is as in `arriving_w`.
    """
    found = _taken_w(tone, reached)
    if usual_w is None or tone.arriving is None:
        return found
    more_db = decibels(found / usual_w)
    return np.where(more_db <= margin(layout, "pump_lost"), found, usual_w)


def _taken_w(tone, reached):
    if tone.arriving is None:
        return np.asarray(tone.power_w)
    port, wanted_w = tone.arriving
    part = np.asarray(reached(port))
    return np.divide(wanted_w, part, out=np.full(part.shape, np.nan), where=part > LEAST_PART)


def usual_sent_w(written: Layout, name: str, network_of: Any) -> float | None:
    """Return what a tone's source gives in the layout as written, watt, or None."""
    tone = written.tones.get(name)
    if tone is None:
        return None
    found = float(_taken_w(tone, transfers(written, tone, network_of)))
    return None if np.isnan(found) else found


def transfers(layout: Layout, tone: Tone, network_of: Any) -> Callable[[Port], float]:
    """Return the function from a port to the part of a tone's power that arrives there."""
    network = network_of(layout, tone)
    source = (tone.into, layout.elements[tone.into].ports[0], 1)
    waves = network.forward({source: 1.0})

    def reached(port):
        wave = waves.get(network.arriving(port))
        return 0.0 if wave is None else float(np.mean(network.mean(magnitude2(wave))))

    return reached
