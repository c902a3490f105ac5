"""The heat of a layout for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chain.power.warming_text import warmed_dict

if TYPE_CHECKING:
    from chain.writing.text import Result


def heat_dict(heat: Result, more: Result | None = None) -> dict[str, Any]:
    """Return the answer under the names that programs lean on."""
    result = {
        "stages": {name: _stage_dict(heat, name) for name in heat.stages},
        "elements": {
            key: {
                stage: {
                    "conduction_w": one.conduction_w, "conduction_in_w": one.conduction_in_w,
                    "bias_w": one.bias_w, "tones_w": one.tones_w,
                    "currents_w": one.currents_w, "total_w": one.total_w,
                }
                for stage, one in by_stage.items()
            }
            for key, by_stage in heat.elements.items()
        },
        "currents": {name: one.as_dict() for name, one in heat.currents.items()},
        "over": list(heat.over),
        "self_heating": warmed_dict(heat.warmed),
        "no_steady_state": list(heat.steady_state.no_steady_state),
    }
    if more is not None:
        result["more"] = more.as_dict()
    return {**result, "warnings": list(heat.warnings), "laws": dict(heat.laws)}


def _stage_dict(heat, name):
    one, steady = heat.stages[name], heat.steady_state.stages[name]
    return {
        "conduction_w": one.conduction_w, "conduction_in_w": one.conduction_in_w,
        "bias_w": one.bias_w, "tones_w": one.tones_w, "currents_w": one.currents_w,
        "other_w": one.other_w,
        "total_w": one.total_w, "cooling_w": one.cooling_w, "margin_w": one.margin_w,
        "settled_k": one.settled_k, "temperature_k": one.temperature_k, "state": one.state,
        "settled_total_w": steady.load_w if one.settled_k is not None else None,
        "known_w": one.known_w, "unknown": list(one.unknown), "over": one.over,
    }
