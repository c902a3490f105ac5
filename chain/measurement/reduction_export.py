"""A reduction as JSON and CSV: what programs, `diagnose` and a later comparison read."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any

from chain.pages.provenance import Provenance
from chain.version import VERSION
from chain.writing.value_text import given

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from chain.writing.text import Result

CONVENTION = (
    "noise in quanta (hf per hertz), symmetrised: a matched load at T emits N = 1/2 coth(hf/2kT), "
    "the vacuum's 1/2 counted; added noise is everything but what comes through the plane at the "
    "signal frequency"
)


def reduction_dict(r: Result) -> dict[str, Any]:
    """Return a reduction under the names that programs lean on."""
    found = {
        "signal": r.signal, "from": r.plane, "to": r.to_port, "source": r.source,
        "frequency_hz": r.frequency_hz,
        **_estimates(r),
        "predicted_added_quanta": r.predicted.added_quanta,
        "predicted_gain_db": r.predicted.gain_db,
        "predicted_added_quanta_sigma": r.predicted.added_quanta_sigma,
        "predicted_gain_db_sigma": r.predicted.gain_db_sigma,
        "added_missed_sigma": r.added_missed_sigma, "gain_missed_sigma": r.gain_missed_sigma,
        "added_noise_k": r.added_noise_k,
        "band": r.band,
        "common_errors": {
            name: {"gain_db": r.gain.effects[name], "added_quanta": r.added.effects[name]}
            for name in r.added.effects
        },
        "error_budget": [
            {"error": name, "size": size, "added_quanta": r.added.mean_effects[name],
             "gain_db": r.gain.mean_effects[name]}
            for name, size in error_sizes(r)
        ],
        "lasting_errors": [error.name for error in r.errors if error.lasting],
        "steps": [
            {"load_k": kelvin, "place": str(r.readings.place(step))}
            for step, kelvin in enumerate(r.readings.step_k)
        ],
        "files": list(r.readings.files),
        "sigma_from": r.sigma_from, "chi2": r.chi2, "freedom": r.freedom,
        "loss_to_plane_db": r.loss_db,
        "convention": CONVENTION,
        "layout": layout_dict(r.layout),
    }
    if r.bend is not None:
        found["missing_when_hottest"] = {"part": r.bend.missing, "sigma": r.bend.sigma}
    if r.off is not None:
        found["off"] = {"frequency_hz": r.off.frequency_hz, **_estimates(r.off), "band": r.off.band}
    return {**found, "warnings": list(r.warnings), "laws": r.laws.as_dict()}


def error_sizes(r: Result) -> Any:
    """Return (name, size) of every common error in the order in which they matter to the mean."""
    sizes = {error.name: error.size for error in r.errors}
    order = sorted(r.added.mean_effects, key=lambda name: -abs(r.added.mean_effects[name]))
    return [(name, sizes.get(name, "")) for name in order]


def _estimates(r):
    return {
        "gain_db": r.gain_db, "gain_db_sigma": r.gain_db_sigma,
        "added_quanta": r.added_quanta, "added_quanta_sigma": r.added_quanta_sigma,
        "added_quanta_common": r.added_quanta_common, "gain_db_common": r.gain_db_common,
        "added_quanta_own": r.added.own, "gain_db_own": r.gain.own,
        "added_quanta_68": list(r.added.interval_68),
        "added_quanta_95": list(r.added.interval_95),
        "gain_db_68": list(r.gain.interval_68), "gain_db_95": list(r.gain.interval_95),
    }


def layout_dict(layout: Layout) -> dict[str, Any]:
    """Return what says which layout a result is about, and its toleranced and other values."""
    provenance = Provenance(layout)
    return {
        "path": provenance.file_name(layout.path), "title": layout.title,
        "sha256": provenance.digest, "version": VERSION,
        "files": dict(provenance.files), "changes": list(layout.changes),
        "values": dict(_values(layout)),
    }


def _values(layout):
    for key, element in layout.elements.items():
        yield f"{key}.kind", element.kind.name
        for name, text in given(element):
            yield f"{key}.{name}", text
    for name, stage in layout.stages.items():
        yield f"stages.{name}.temperature", f"{stage.temperature_k:g} K"
    for name, tone in layout.tones.items():
        yield f"tones.{name}.frequency", f"{tone.frequency_hz:.12g} Hz"
        if tone.power_w is not None:
            yield f"tones.{name}.power", f"{tone.power_w:.9g} W"
        else:
            (key, port), watt = tone.arriving
            yield f"tones.{name}.arriving", f"{key}.{port}: {watt:.9g} W"


COLUMNS = ("frequency_hz", "gain_db", "gain_db_sigma", "gain_db_common", "added_quanta",
           "added_quanta_sigma", "added_quanta_common", "predicted_gain_db",
           "predicted_added_quanta", "added_quanta_68_low", "added_quanta_68_high",
           "added_quanta_95_low", "added_quanta_95_high", "added_missed_sigma", "gain_missed_sigma")


def reduction_csv(r: Result) -> str:
    """Return a reduction as CSV, one row a frequency; what is not known is empty."""
    (low, high), (low2, high2) = r.added.interval_68, r.added.interval_95
    ends = {"added_quanta_68_low": low, "added_quanta_68_high": high,
            "added_quanta_95_low": low2, "added_quanta_95_high": high2}
    columns = [ends[name] if name in ends else getattr(r, name) for name in COLUMNS]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for values in zip(*columns, strict=True):
        writer.writerow(["" if not abs(v) < float("inf") else repr(float(v)) for v in values])
    return out.getvalue()
