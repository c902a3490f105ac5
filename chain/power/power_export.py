"""The power of tones for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chain.power.levels import level_warnings
from chain.power.ratings import rating_warnings
from chain.power.remarks import dumped_cold
from chain.power.warming_text import uncounted, warmed_dict
from components.quantities import watt_to_dbm

if TYPE_CHECKING:
    from chain.writing.text import Result


def _dbm(watt):
    return float(watt_to_dbm(watt)) if watt > 0 else None


def power_dict(power: Result) -> dict[str, Any]:
    """Return the answer under the names that programs lean on."""
    return {
        "tones": {
            name: {
                "frequency_hz": (
                    float(tone.frequency_hz[0]) if len(tone.frequency_hz) == 1
                    else tone.frequency_hz
                ),
                "injected_w": tone.injected_w,
                "arriving_dbm": tone.arriving_dbm,
                "absorbed_w": dict(tone.absorbed_w),
                "by_stage_w": dict(tone.dissipated_by_stage_w),
                "leaving_w": dict(tone.exiting_w),
                "given_w": tone.given_w,
                "closure": tone.closure,
                "duty": tone.duty,
                "pulse_s": tone.pulse_s,
                "idler_of": power.idler_of.get(name),
            }
            for name, tone in power.tones.items()
        },
        "by_stage_w": power.dissipated_by_stage_w,
        "cooling_w": power.cooling_w,
        "over": list(power.over),
        "levels": [
            {
                "id": level.id, "total_in_w": level.total_in_w, "total_out_w": level.total_out_w,
                "total_in_dbm": _dbm(level.on_in_w), "total_out_dbm": _dbm(level.on_out_w),
                "p1db_out_w": level.p1db_out_w, "headroom_db": level.headroom_db,
            }
            for level in power.headrooms
        ],
        "dumped_cold": dumped_cold(power),
        "ratings": [one.as_dict() for one in power.ratings],
        "self_heating": warmed_dict(power.warmed),
        "warnings": [
            *level_warnings(power), *rating_warnings(power), *power.warnings,
            *uncounted(power.layout, power.warmed),
        ],
        "laws": {"energy": max((tone.closure for tone in power.tones.values()), default=None)},
    }
