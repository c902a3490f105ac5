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
    from chain.layout.layout import Layout, Tone

HOLDS, OFF, UNKNOWN, NOT_WIRED = "holds", "off", "unknown", "not wired"

GAINS = ("gain", "gain_over_off")


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
        stated = level
        if layout.written is not None and _same_gain(element, written):
            stated = _level_w(written, written.elements[element.id], network_of, written)
        margins = margin(layout, "pump_level"), margin(layout, "pump_lost")
        found[element.id] = _of_level(element, tone.name, level, stated, margins)
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


def _of_level(element, tone, level_w, stated_w, margins):
    near_db, lost_db = margins
    settings = element.settings
    level, stated = (float(watt_to_dbm(w)) if w > 0 else None for w in (level_w, stated_w))
    name = settings.first(*GAINS)
    table = settings[name] if name is not None else None
    if isinstance(table, LevelTable):
        return _of_table(element.id, tone, level, settings, name, table, margins)
    off = settings.with_values(state="off")
    if level is None or (stated is not None and level < stated - lost_db):
        return Pumped(element.id, tone, level, stated, OFF, off, near_db)
    if stated is None or abs(level - stated) > near_db:
        return Pumped(element.id, tone, level, stated, UNKNOWN, settings, near_db)
    return Pumped(element.id, tone, level, stated, HOLDS, settings, near_db)


def _of_table(key, tone, level, settings, name, table, margins):
    near_db, lost_db = margins
    if level is None or level < table.power_dbm[0] - lost_db:
        return Pumped(key, tone, level, None, OFF, settings.with_values(state="off"), near_db)
    state = HOLDS if table.reaches(level) else UNKNOWN
    settings = settings.with_values(**{name: table.at_level(level)})
    return Pumped(key, tone, level, None, state, settings, near_db)


def _level_w(layout, element, network_of, written):
    """Return the power of its pump that arrives at a paramp, watt, by whichever port has most.

    Where the layout says what has to arrive, the source gives what that takes, unless it is more
    than the margin `pump_lost` over what the layout as written takes: nobody turns a source up
    against a break.
    """
    tone = layout.tones[element.settings["pump"]]
    ports = ("pump",) if "pump" in element.ports else element.ports
    each_w = sent_w(layout, tone, network_of, written)
    if each_w is None:
        return 0.0
    reached = _transfers(layout, tone, network_of)
    return each_w * max(reached((element.id, port)) for port in ports)


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

    Where the layout says what has to arrive it is what that takes, unless it is more than the
    margin `pump_lost` over what the layout as written takes: nobody turns a source up against a
    break.  `network_of` is as in `pumped`.
    """
    written = written or layout.written or layout
    found = _taken_w(layout, tone, network_of)
    if layout is written or tone.arriving is None:
        return found
    usual = written.tones.get(tone.name)
    usual_w = None if usual is None else _taken_w(written, usual, network_of)
    if usual_w is None:
        return found
    if found is None or decibels(found / usual_w) > margin(layout, "pump_lost"):
        return usual_w
    return found


def _taken_w(layout, tone, network_of):
    if tone.arriving is None:
        return tone.power_w
    port, wanted_w = tone.arriving
    part = _transfers(layout, tone, network_of)(port)
    return wanted_w / part if part > 0 else None


def _transfers(layout, tone, network_of):
    """Return the function from a port to the part of a tone's power that arrives there."""
    network = network_of(layout, tone)
    source = (tone.into, layout.elements[tone.into].ports[0], 1)
    waves = network.forward({source: 1.0})

    def reached(port):
        wave = waves.get(network.arriving(port))
        return 0.0 if wave is None else float(np.mean(network.mean(magnitude2(wave))))

    return reached
