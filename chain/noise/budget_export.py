"""Budgets as JSON and CSV for programs."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from chain.power.warming_text import warmed_dict

if TYPE_CHECKING:
    from chain.writing.text import Result


def budget_dict(budget: Result) -> dict[str, Any]:
    """Return a budget under the names that programs lean on."""
    result: dict[str, Any] = {
        "signal": budget.signal,
        "from": budget.from_port,
        "to": budget.to_port,
        "frequency_hz": budget.frequency_hz,
    }
    if budget.gain_db is not None:
        result["gain_db"] = budget.gain_db
    result["noise_at_to_quanta"] = budget.noise_at_to_quanta
    result["photons_at_to"] = budget.photons_at_to
    if budget.gain_db is not None:
        result |= {
            "system_noise_quanta": budget.system_noise_quanta,
            "system_noise_k": budget.system_noise_k,
            "incoming_quanta": budget.incoming_quanta,
            "added_quanta": budget.added_quanta,
            "interference_quanta": budget.interference_quanta,
            "noise_figure_db": budget.noise_figure_db,
        }
    result |= {
        "shares_quanta": dict(budget.shares_quanta),
        "idler_shares_quanta": dict(budget.idler_shares_quanta),
        "incoming_shares_quanta": dict(budget.incoming_shares_quanta),
        "interference_shares_quanta": dict(budget.interference_shares_quanta),
        "vacuum_shares_quanta": dict(budget.vacuum_shares_quanta),
        "idler_hz": budget.idler_hz,
        "ripple": {name: list(span) for name, span in budget.ripple.items()},
        "mean_error": dict(budget.mean_error),
        "generator_floors": [floor.as_dict() for floor in budget.generator_floors],
        "self_heating": {
            **warmed_dict(budget.warmed),
            "quanta": budget.heating_quanta.get("as_it_is"),
            "least_quanta": budget.heating_quanta.get("least"),
            "most_quanta": budget.heating_quanta.get("most"),
        },
        "warnings": list(budget.warnings),
        "laws": budget.laws.as_dict(),
    }
    return result


def budget_csv(budgets: Mapping[str, Result]) -> str:
    """Return budgets as CSV: one row a signal and frequency, one column a share."""
    ids = list(dict.fromkeys(key for b in budgets.values() for key in b.shares_quanta))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    names = ["gain_db", "noise_at_to_quanta", "system_noise_quanta", "system_noise_k",
             "incoming_quanta", "added_quanta"]
    writer.writerow(["signal", "frequency_hz", *names, *(f"share_quanta {key}" for key in ids)])
    for name, b in budgets.items():
        columns = [getattr(b, column) for column in names]
        shares = [b.shares_quanta.get(key) for key in ids]
        for i, f in enumerate(b.frequency_hz):
            values = [None if c is None else float(c[i]) for c in (*columns, *shares)]
            cells = ["" if v is None or math.isnan(v) else repr(v) for v in values]
            writer.writerow([name, repr(float(f)), *cells])
    return out.getvalue()
