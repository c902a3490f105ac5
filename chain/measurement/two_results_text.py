"""Two results side by side as a person reads them, and a paragraph for a methods section."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chain.writing.foreign_text import one_line
from chain.writing.numbers import fixed, number
from chain.writing.text import TextTable, wrapped

if TYPE_CHECKING:
    from chain.writing.text import Result

MAX_ROWS = 11
"""Frequencies that the table shows."""

MAX_CHANGES = 20
"""Changed values that are listed."""


def two_results_text(t: Result) -> str:
    """Return TwoResults as plain text."""
    this, last = (one_line(result["path"]) for result in (t.this, t.last))
    parts = [
        f"signal {one_line(t.this['signal'])}, {one_line(t.this['from'])} to "
        f"{one_line(t.this['to'])}: this time {this}, last time {last}", "",
        means_table(t).text(), "",
        *_said(t), "", _table(t).text(), "",
        "what changed in the layout:", *_changes(t), "",
    ]
    parts += [wrapped(f"warning: {text}", "") for text in t.doubts]
    parts += ["for a methods section:", wrapped(methods(t.this)), "", wrapped(
        f"{t.this['convention'][0].upper()}{t.this['convention'][1:]}.", "")]
    return "\n".join(parts)


def means_table(t: Result) -> TextTable:
    """Return the TextTable of means over the band, both times."""
    table = TextTable(
        ["mean over the band", "this time", "last time", "change", "+/-", "sigma"],
        left={"mean over the band"},
    )
    for label, name, change in (("gain, dB", "gain_db", t.gain),
                                ("added noise, quanta", "added_quanta", t.added)):
        known = np.isfinite(change.value)
        if not known.any():
            table.add(label, *["not determined"] * 2, "-", "-", "-")
            continue
        values = [
            float(np.interp(t.frequency_hz[known], result["arrays"]["frequency_hz"],
                            result["arrays"][name]).mean())
            for result in (t.this, t.last)
        ]
        table.add(label, *(fixed(value, 3) for value in values), f"{change.mean:+.3f}",
                  number(change.mean_sigma, 2), f"{change.mean / change.mean_sigma:+.1f}")
    return table


def _said(t):
    for label, unit, change in (("gain", "dB", t.gain), ("added noise", "quanta", t.added)):
        if not np.isfinite(change.mean):
            yield f"{label}: not determined"
            continue
        sigmas = abs(change.mean) / change.mean_sigma
        way = "rose" if change.mean > 0 else "fell"
        if sigmas > 2:
            yield f"{label} {way} by {abs(change.mean):.3g} {unit} in the mean, {sigmas:.1f} sigma"
        else:
            yield f"{label}: no change in the mean beyond two sigma"
    names = {"gain_db": ("gain", "dB"), "added_quanta": ("added noise", "quanta")}
    for name, low, high, value, sigma in t.exceeds:
        label, unit = names[name]
        where = f"{low / 1e9:.4g}" if low == high else f"{low / 1e9:.4g} to {high / 1e9:.4g}"
        yield (f"beyond two sigma: {label} at {where} GHz, {value:+.3g} +/- {sigma:.2g} {unit} at "
               "most")
    if t.shared:
        yield wrapped(f"taken as the same both times: {', '.join(t.shared)}", "")


def _table(t):
    table = TextTable(["GHz", "gain\nchange, dB", "+/-", "of it\ncommon", "added noise\nchange",
                       "+/-", "of it\ncommon", "sigma"])
    count = len(t.frequency_hz)
    for i in np.unique(np.linspace(0, count - 1, min(count, MAX_ROWS)).round().astype(int)):
        ghz = f"{t.frequency_hz[i] / 1e9:.4g}"
        if not np.isfinite(t.added.value[i]):
            table.add(ghz, *["-"] * 7)
            continue
        table.add(
            ghz, f"{t.gain.value[i]:+.3f}", number(t.gain.sigma[i], 2),
            number(t.gain.common[i], 2), f"{t.added.value[i]:+.3f}", number(t.added.sigma[i], 2),
            number(t.added.common[i], 2), f"{t.added.value[i] / t.added.sigma[i]:+.1f}",
        )
    return table


def _changes(t):
    if not t.changed:
        same = t.this["layout"].get("sha256") == t.last["layout"].get("sha256")
        return ["  nothing" + ("" if same else " in its values; its text did")]
    lines = [wrapped(one_line(text)) for text in t.changed[:MAX_CHANGES]]
    rest = len(t.changed) - MAX_CHANGES
    return [*lines, f"  and {rest} more"] if rest > 0 else lines


def methods(result: Any) -> Any:
    """Return a paragraph for a methods section on a result of `reduce --json`."""
    steps = [step["load_k"] for step in result["steps"]]
    loads = ", ".join(f"{kelvin:.4g}" for kelvin in sorted(set(np.round(steps, 6))))
    f = result["arrays"]["frequency_hz"]
    band, errors = result["band"], result["error_budget"]
    # A name for all steps together, and a part that hardly counts not at all.
    largest = max((abs(e["added_quanta"]) for e in errors), default=0.0)
    named = list(dict.fromkeys(
        f"{_without_step(one_line(e['error']))} {one_line(e['size'])}" for e in errors
        if e["size"] and abs(e["added_quanta"]) > 0.01 * largest
    ))
    onoff = (
        " with the parametric amplifier off; noise with it on follows from its spectra on and off "
        "and the change of gain at the same plane" if "off" in result else ""
    )
    layout = result["layout"]
    return (
        f"Gain and added noise of signal {one_line(result['signal'])} were measured from "
        f"{one_line(result['from'])}, the reference plane, to {one_line(result['to'])} with the "
        f"load {one_line(result['source'])} at {loads} K ({len(steps)} sweeps of {len(f)} "
        f"frequencies from {f[0] / 1e9:.4g} to {f[-1] / 1e9:.4g} GHz){onoff}. The powers were "
        "fitted at each frequency by P = g [eta N(f,T) + (1 - eta) N(f,T_loss) + A], with N = "
        "1/2 coth(hf/2kT) quanta per hertz and hertz (H. B. Callen and T. A. Welton, Phys. Rev. "
        "83, 34, 1951), the vacuum's half quantum counted; losses between load and plane, and "
        "their temperatures, are those of the layout. Errors common to all readings "
        f"({'; '.join(named) or 'none stated'}) were fitted with the powers by generalised least "
        f"squares. In the mean over the band the added noise is {_value(band, 'added_quanta')} "
        f"quanta and the gain {_value(band, 'gain_db')} dB, one standard deviation, own and common "
        f"errors together. Layout SHA-256 {one_line(str(layout.get('sha256', 'unknown')))}, "
        f"program version {one_line(str(layout.get('version', 'unknown')))}."
    )


def _without_step(name):
    return name.partition(", step")[0].partition(" of step")[0]


def _value(band, name):
    if not band:
        return "not determined"
    sigma = band[f"{name}_sigma"]
    decimals = max(0, 1 - int(np.floor(np.log10(sigma)))) if sigma > 0 else 3
    return f"{band[name]:.{decimals}f} +/- {sigma:.{decimals}f}"


def two_results_dict(t: Result) -> dict[str, Any]:
    """Return TwoResults under the names that programs lean on."""
    found = {
        "signal": t.this["signal"], "from": t.this["from"], "to": t.this["to"],
        "this": t.this["path"], "last": t.last["path"], "frequency_hz": t.frequency_hz,
    }
    for name, change in (("gain_change_db", t.gain), ("added_change_quanta", t.added)):
        found |= {
            name: change.value, f"{name}_sigma": change.sigma, f"{name}_own": change.own,
            f"{name}_common": change.common,
        }
    found["band"] = {
        "gain_change_db": t.gain.mean, "gain_change_db_sigma": t.gain.mean_sigma,
        "added_change_quanta": t.added.mean, "added_change_quanta_sigma": t.added.mean_sigma,
    }
    keys = ("quantity", "from_hz", "to_hz", "change", "sigma")
    return {
        **found, "exceeds": [dict(zip(keys, each, strict=True)) for each in t.exceeds],
        "same_both_times": list(t.shared), "changed": list(t.changed),
        "methods": methods(t.this), "warnings": list(t.doubts),
        "laws": t.this.get("laws", {}),
    }
