"""Comparisons as a person reads them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chain.design.assumed import assumed
from chain.noise.budget_text import laws_text
from chain.writing.foreign_text import one_line
from chain.writing.numbers import coarse, fixed, number
from chain.writing.text import Result, TextTable, wrapped

if TYPE_CHECKING:
    from chain.writing.text import Result

SHOWN_SHARES = 8


def _spread(values, form):
    known = values[np.isfinite(values)]
    if not known.size:
        return "not known"
    low, high = form(float(np.min(known))), form(float(np.max(known)))
    return low if low == high else f"{low} to {high}"


def comparison_text(c: Result) -> str:
    """Return two layouts side by side for one signal."""
    i, at, across = _places(c)
    lines = [f"signal {c.signal}, A against B", ""]
    changed = "; ".join(one_line(text, collapsed=False) for text in c.changed)
    lines.append(f"changed: {changed or 'nothing'}")
    lines += ["", side_by_side(c).text(), "", "what it costs", "", _costs(c, i, at, across).text(),
              ""]
    lines += ["shares that changed most", "", _shares(c, i).text(), ""]
    lines += [in_words(c), ""]
    lines += [f"A: {laws_text(c.a.laws)}", f"B: {laws_text(c.b.laws)}"]
    lines += [wrapped(f"warning: {text}", "") for text in c.warnings]
    return "\n".join(lines)


def _places(c):
    """Return (index of the middle, its frequency as text, the band as text)."""
    f = c.frequency_hz
    i = len(f) // 2
    at = f"{f[i] / 1e9:g} GHz"
    return i, at, at if len(f) == 1 else f"{f[0] / 1e9:g} to {f[-1] / 1e9:g} GHz"


def side_by_side(c: Result) -> TextTable:
    """Return the TextTable of gain and noise in both layouts, and their change."""
    i, at, across = _places(c)
    table = TextTable(["", f"A\nat {at}", f"B\nat {at}", f"change\nat {at}",
                       f"change\n{across}"], left={""})

    def row(name, a, b, change, form, form_change, doubt):
        cells = form_change(float(change[i])), _spread(change, form_change)
        if doubt is not None:
            cells = doubt[0], doubt[1]
        table.add(name, form(float(a[i])), form(float(b[i])), *cells)

    if c.gain_change_db is not None:
        row("gain, dB", c.a.gain_db, c.b.gain_db, c.gain_change_db, fixed,
            lambda v: "not known" if np.isnan(v) else f"{v:+.2f} dB",
            _doubt(c.gain_change_range_db, i, lambda v: f"{v:+.0f} dB", least=0.05))
    ratio = _doubt(c.noise_ratio_range, i, lambda v: f"x {coarse(v)}", least=0.0)
    row("system noise, quanta", c.noise_a_quanta, c.noise_b_quanta, c.noise_ratio, number,
        lambda v: f"x {number(v)}", ratio)
    if c.a.system_noise_k is not None:
        row("system noise, K", c.a.system_noise_k, c.b.system_noise_k, c.noise_ratio, number,
            lambda v: f"x {number(v)}", ratio)
    return table


def _doubt(ends, i, form, *, least):
    """Return a range at index i and over the band as text; None where its ends are one value."""
    if ends is None or not np.any(ends[1] - ends[0] > least + 0.01 * np.abs(ends[0])):
        return None
    return tuple(
        f"{form(float(np.nanmin(low)))} .. {form(float(np.nanmax(high)))}"
        for low, high in ((ends[0][[i]], ends[1][[i]]), ends)
    )
def comparisons_text(found: Result) -> str:
    """Return several signals side by side: one row each, copies that are alike once."""
    changed = "; ".join(one_line(text, collapsed=False) for text in found.changed)
    lines = [wrapped(f"A against B, changed: {changed or 'nothing'}", ""), ""]
    table = TextTable(
        ["signal", "at\nGHz", "gain A\ndB", "gain B\ndB", "noise A\nquanta", "noise B\nquanta",
         "noise\nratio", "time, coherent\nratio", "time, radiometer\nratio"], left={"signal"},
    )
    rows = {}
    for one in found.signals:
        declared = one.a.layout.signals[one.signal].declared_name
        rows.setdefault((declared, *_cells(one)), []).append(one.signal)
    for (_, *cells), names in rows.items():
        table.add(names[0] if len(names) == 1 else f"{names[0]} .. {names[-1]}", *cells)
    lines += [table.text(), ""] if rows else []
    lines += [wrapped(f"signal {name}: {why}", "") for name, why in found.missing.items()]
    lines += [""] if found.missing else []
    said = dict.fromkeys(text for one in found.signals for text in one.warnings)
    lines += [wrapped(f"warning: {text}", "") for text in said]
    lines += [""] if said else []
    return "\n".join([*lines, "one signal in full: --signal NAME"])


def _cells(c):
    i = len(c.frequency_hz) // 2
    ratio = float(c.noise_ratio[i])
    gains = ("", "") if c.gain_change_db is None else (
        fixed(float(c.a.gain_db[i])), fixed(float(c.b.gain_db[i])))
    times = ("", "", "") if np.isnan(ratio) else (
        f"x {number(ratio)}", f"x {number(ratio)}", f"x {number(ratio**2)}")
    return (f"{c.frequency_hz[i] / 1e9:g}", *gains, number(float(c.noise_a_quanta[i])),
            number(float(c.noise_b_quanta[i])), *times)


def _costs(c, i, at, across):
    table = TextTable(["", f"at {at}", across], left={""})
    rows = (
        ("averaging time, coherent readout (noise ratio)", 1.0),
        ("averaging time, radiometer (its square)", 2.0),
        ("smallest amplitude in the same time, coherent", 0.5),
        ("smallest power in the same time, radiometer", 1.0),
    )
    for name, power in rows:
        ends = c.noise_ratio_range
        cells = _doubt(
            None if ends is None else (ends[0]**power, ends[1]**power), i,
            lambda v: f"x {coarse(v)}", least=0.0,
        )
        values = c.noise_ratio**power
        table.add(name, *(cells or (
            f"x {number(float(values[i]))}", _spread(values, lambda v: f"x {number(v)}")
        )))
    return table


def _shares(c, i):
    table = TextTable(["element", "A\nquanta", "B\nquanta", "change\nquanta"],
                      left={"element"})
    zero = np.zeros_like(c.frequency_hz)
    for key, change in list(c.share_change_quanta.items())[:SHOWN_SHARES]:
        if not np.nanmax(np.abs(change), initial=0.0) >= 1e-9 * np.nanmax(
            c.noise_b_quanta, initial=0.0
        ):
            continue
        table.add(key, number(float(c.a.shares_quanta.get(key, zero)[i])),
                  number(float(c.b.shares_quanta.get(key, zero)[i])), number(float(change[i])))
    return table


def in_words(c: Result) -> str:
    """Return what changed in two sentences."""
    i = len(c.frequency_hz) // 2
    ratio = float(c.noise_ratio[i])
    if np.isnan(ratio):
        return wrapped("Nothing can be said of the noise where some phase oscillates.", "")
    doubt = _doubt(c.noise_ratio_range, i, coarse, least=0.0)
    if doubt is not None:
        return wrapped(_in_doubt(c, doubt[0], i), "")
    if abs(ratio - 1) < 5e-4:
        return "The noise stays as it was."
    noise = f"The noise is {number(ratio, 3)} times what it was"
    parts = [
        f"{noise}: the same signal-to-noise ratio takes {number(ratio, 3)} times as long in a "
        f"coherent readout and {number(ratio**2, 3)} times as long in a radiometer."
    ]
    if c.gain_change_db is not None and abs(float(c.gain_change_db[i])) > 0.05:
        change = float(c.gain_change_db[i])
        parts.append(f"The gain {'falls' if change < 0 else 'rises'} by {abs(change):.1f} dB.")
    grown = next(iter(c.share_change_quanta.items()), None)
    if grown is not None and float(grown[1][i]) > 0:
        parts.append(f"{grown[0]} adds most of the new noise.")
    return wrapped(" ".join(parts), "")


def _in_doubt(c, times, i):
    """Return in words what hangs on values that nobody gave."""
    said = [f"{key} {text}" for key, text in assumed(c.b.layout).items()]
    parts = [f"The noise is {times} times what it was: {', '.join(said)}, nobody gave it "
             "(common practice, no source)."]
    if c.line_lost:
        parts.insert(0, "The line is lost.")
    if c.bypassed_ratio is not None:
        without = number(float(c.bypassed_ratio[i]), 3)
        parts.append(f"Bypassed instead, the noise would be {without} times what it was.")
    return " ".join(parts)
