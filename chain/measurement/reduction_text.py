"""A reduction as a person reads it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chain.layout.naming import title_of
from chain.measurement.reduction_export import CONVENTION, error_sizes, layout_dict
from chain.writing.foreign_text import one_line
from chain.writing.numbers import fixed, number
from chain.writing.text import TextTable, wrapped

if TYPE_CHECKING:
    from chain.writing.text import Result

MAX_ROWS = 11
"""Frequencies that the table shows; --csv has all."""

MAX_ERRORS = 8
"""Common errors that are listed by name."""


def reduction_text(r: Result) -> str:
    """Return a Reduction as plain text."""
    title = title_of(r.layout)
    parts = [f"{title}: signal {r.signal}, {r.plane} to {r.to_port}", "", *_readings(r), ""]
    if r.off is not None:
        parts += [
            "with the paramps off", band_table(r.off).text(), "",
            "with the paramps on", band_table(r).text(), "",
        ]
    else:
        parts += [band_table(r).text(), ""]
    parts += [*_verdict(r), "", _over_frequency(r).text(), "", _errors(r).text(), ""]
    parts += [_steps(r if r.off is None else r.off).text(), ""]
    parts += [wrapped(f"warning: {text}", "") for text in r.warnings]
    if r.off is not None:
        parts += [wrapped(f"warning, paramps off: {text}", "")
                  for text in r.off.doubts if text not in r.warnings]
    parts += ["conventions:", wrapped(f"{CONVENTION[0].upper()}{CONVENTION[1:]}."), wrapped(
        f"Referred to the wave that leaves {r.plane}. Intervals hold 68.3 % (one sigma) and 95.4 % "
        "(two); values are medians; means over the band are corrected for skew. Gain is of power "
        "over bandwidth as the instrument says it."
    )]
    return "\n".join(parts)


def _readings(r):
    kelvin = np.unique(np.round(r.readings.step_k, 6))
    loads = ", ".join(_kelvin(k) for k in kelvin[:8]) + (", ..." if len(kelvin) > 8 else "")
    f = r.frequency_hz
    named = ", ".join(one_line(name) for name in r.readings.files)
    files = f", from {named}" if named else ""
    yield wrapped(
        f"{r.source} at {loads}; {len(r.readings.load_k)} sweeps of {len(f)} frequencies, "
        f"{f[0] / 1e9:g} to {f[-1] / 1e9:g} GHz{files}", ""
    )
    low, high = float(np.min(r.loss_db)), float(np.max(r.loss_db))
    span = f"{low:.2f}" if high - low < 0.005 else f"{low:.2f} to {high:.2f}"
    yield f"reference plane: the wave that leaves {r.plane}, {span} dB from {r.source}"


def _kelvin(k):
    return f"{1e3 * k:.4g} mK" if k < 1 else f"{k:.4g} K"


def band_table(r: Result) -> TextTable:
    """Return the TextTable of means over the band, measured and predicted."""
    table = TextTable(
        ["mean over the band", "measured", "+/-", "of it\ncommon", "layout", "+/-",
         "missed by\nsigma"],
        left={"mean over the band"},
    )
    b = r.band
    for label, name, unit in (("gain", "gain_db", "dB"), ("added noise", "added_quanta", "quanta")):
        if b:
            table.add(
                f"{label}, {unit}", fixed(b[name], 3), number(b[f"{name}_sigma"], 2),
                number(b[f"{name}_common"], 2), fixed(b[f"predicted_{name}"], 3),
                number(b[f"predicted_{name}_sigma"], 2), f"{b[f'{name}_missed_sigma']:+.1f}",
            )
    return table


def _verdict(r):
    """Yield in words what the layout predicted and by how much it is missed."""
    b = r.band
    if not b:
        yield "the readings determine neither gain nor noise"
        return
    off = b["added_quanta_missed_sigma"]
    ratio = b["added_quanta"] / b["predicted_added_quanta"] if b["predicted_added_quanta"] else None
    if abs(off) < 2:
        yield wrapped(
            f"added noise {b['added_quanta']:.3g} quanta: within {abs(off):.1f} sigma of the "
            f"{b['predicted_added_quanta']:.3g} that the layout predicts", ""
        )
    else:
        times = "" if ratio is None else f", {ratio:.2g} times"
        side = "more" if off > 0 else "less"
        yield wrapped(
            f"added noise {b['added_quanta']:.3g} quanta is {side} than the layout's "
            f"{b['predicted_added_quanta']:.3g} by {abs(off):.1f} sigma{times}", ""
        )


def _over_frequency(r):
    table = TextTable(
        ["GHz", "gain\ndB", "+/-", "added noise\nquanta", "+/-", "of it\ncommon", "68 % interval",
         "95 % interval", "layout", "missed by\nsigma", "gain missed\nsigma"],
    )
    count = len(r.frequency_hz)
    for i in np.unique(np.linspace(0, count - 1, min(count, MAX_ROWS)).round().astype(int)):
        ghz = f"{r.frequency_hz[i] / 1e9:.4g}"
        if not np.isfinite(r.added_quanta[i]):
            table.add(ghz, *["-"] * 7, fixed(r.predicted.added_quanta[i], 3), "-", "-")
            continue
        table.add(
            ghz, fixed(r.gain_db[i]), number(r.gain_db_sigma[i], 2), fixed(r.added_quanta[i], 3),
            number(r.added_quanta_sigma[i], 2), number(r.added_quanta_common[i], 2),
            _interval(r.added.interval_68, i), _interval(r.added.interval_95, i),
            fixed(r.predicted.added_quanta[i], 3), f"{r.added_missed_sigma[i]:+.1f}",
            f"{r.gain_missed_sigma[i]:+.1f}",
        )
    return table


def _interval(ends, i):
    low, high = (float(end[i]) for end in ends)
    return " to ".join("open" if not np.isfinite(end) else fixed(end, 3) for end in (low, high))


def _errors(r):
    table = TextTable(
        ["error (one sigma)", "size", "added noise\nquanta, mean", "gain\ndB, mean"],
        left={"error (one sigma)"},
    )
    table.add("each power's own", f"{100 * np.nanmedian(r.relative_sigma):.2g} %",
              number(r.added.mean_own, 2), number(r.gain.mean_own, 2))
    rows = error_sizes(r)
    for name, size in rows[:MAX_ERRORS]:
        table.add(name, size, _signed(r.added.mean_effects[name]),
                  _signed(r.gain.mean_effects[name]))
    rest = [name for name, _ in rows[MAX_ERRORS:]]
    if rest:
        added, gain = (
            number(np.sqrt(sum(one.mean_effects[name] ** 2 for name in rest)), 2)
            for one in (r.added, r.gain)
        )
        table.add(f"{len(rest)} more together", "", added, gain)
    return table


def _signed(value):
    return ("-" if value < 0 else "+") + number(abs(value), 2)


def _steps(r):
    table = TextTable(
        ["step", "load", "noise at the plane\nquanta", "off the line\n%", "+/-\n%"], left={"step"}
    )
    middle = len(r.frequency_hz) // 2
    for i, kelvin in enumerate(r.readings.step_k):
        read = np.isfinite(r.residual[i])
        sigma = np.sqrt(np.sum(r.relative_sigma[i][read] ** 2)) / max(read.sum(), 1)
        noise = r.noise_quanta[i, middle]
        table.add(
            str(i + 1), _kelvin(kelvin), number(float(noise)) if np.isfinite(noise) else "",
            f"{100 * np.nanmean(r.residual[i]):+.3f}", f"{100 * sigma:.3f}",
        )
    return table


def provenance_line(r: Result) -> Any:
    """Return one line that names the layout by its hash."""
    said = layout_dict(r.layout)
    return f"{said['path']} · SHA-256 {said['sha256'][:12]}… · version {said['version']}"
