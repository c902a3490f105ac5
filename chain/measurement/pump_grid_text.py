"""A grid of pump powers and frequencies as a person reads it, and for programs."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any

from chain.layout.naming import title_of
from chain.writing.numbers import fixed, number, si
from chain.writing.text import TextTable, wrapped

if TYPE_CHECKING:
    from chain.writing.text import Result

MAX_ROWS = 60
"""Points that the table shows; --csv has all."""


def pump_grid_text(g: Result) -> str:
    """Return a PumpGrid as plain text."""
    f = g.frequency_hz
    title = title_of(g.layout)
    lines = [
        f"{title}: signal {g.signal}, tone {g.tone} over {len(g.points)} points", "",
        f"means over {f[0] / 1e9:g} to {f[-1] / 1e9:g} GHz; added noise at {g.plane}, "
        f"load {g.source}", "", point_table(g).text(), "", *_best(g), "",
    ]
    lines += [wrapped(f"warning: {text}", "") for text in g.warnings]
    return "\n".join(lines)


def point_table(g: Result) -> TextTable:
    """Return the TextTable of every point of the pump."""
    table = TextTable(
        ["pump\ndBm", "pump\nGHz", "gain over off\ndB", "added noise\nquanta", "+/- own",
         "+/- common", "compression\ndB", "largest part of\na stage's cooling", ""],
        left={""},
    )
    shown = g.points if len(g.points) <= MAX_ROWS else sorted(
        g.points, key=lambda p: p.added_quanta)[:MAX_ROWS]
    for p in shown:
        table.add(
            f"{p.pump_dbm:g}", f"{p.pump_hz / 1e9:.6g}", fixed(p.gain_change_db),
            fixed(p.added_quanta, 3), number(p.own, 2), number(p.common, 2),
            fixed(p.compression_db) or "-", _heaviest(g, p), _remark(g, p),
        )
    if len(g.points) > len(shown):
        table.add(f"-- {len(g.points) - len(shown)} noisier points are in --csv")
    return table


def _heaviest(g, p):
    parts = {}
    for name, left in p.margin_w.items():
        stage = g.layout.stages[name]
        if left is not None and stage.cooling:
            tones = p.tones_w[name]
            whole = left + tones
            parts[name] = tones / whole if whole > 0 else float("inf")
    if not parts:
        return "-"
    name = max(parts, key=parts.__getitem__)
    return f"{name} {100 * parts[name]:.3g} %"


def _remark(g, p):
    if p is g.best:
        return "< least noise"
    if p.over:
        return f"over the cooling of {', '.join(p.over)}"
    if p.compressed:
        return "compressed"
    if p in g.as_good:
        return "as good"
    return "" if g.fits(p) else "too little gain"


def _best(g):
    if g.best is None:
        yield (f"no point has {g.least_gain_db:g} dB more gain than off, uncompressed and within "
               "the stages' cooling")
        return
    b = g.best
    yield wrapped(
        f"least added noise for at least {g.least_gain_db:g} dB: {b.added_quanta:.3g} +/- "
        f"{b.sigma:.2g} quanta ({b.own:.2g} own, {b.common:.2g} common to all points) with "
        f"{b.gain_change_db:.4g} dB more gain, {g.tone} at {b.pump_dbm:g} dBm and "
        f"{b.pump_hz / 1e9:.6g} GHz", "")
    if g.as_good:
        count = len(g.as_good)
        yield (f"{count} more point{' is' if count == 1 else 's are'} as good within two sigma of "
               "their own errors")
    for p, gain, noise in g.neighbours:
        yield (f"beside it, {p.pump_dbm:g} dBm and {p.pump_hz / 1e9:.6g} GHz: gain {gain:+.2g} dB, "
               f"added noise {noise:+.2g} quanta")
    used = ", ".join(
        f"{name} {si(watt, 'W', 3)}" for name, watt in b.tones_w.items()
        if g.layout.stages[name].cooling and watt > 0)
    if used:
        yield wrapped(f"tones then dissipate: {used}", "")


def pump_grid_dict(g: Result) -> dict[str, Any]:
    """Return a PumpGrid under names for programs."""
    def one(p):
        return None if p is None else {
            **{name: getattr(p, name) for name in (
                "pump_dbm", "pump_hz", "gain_change_db", "gain_db", "added_quanta")},
            "added_quanta_sigma": p.sigma, "added_quanta_own": p.own,
            "added_quanta_common": p.common, "compression_db": p.compression_db,
            "tones_w": dict(p.tones_w), "margin_w": dict(p.margin_w), "over": list(p.over),
        }

    return {
        "signal": g.signal, "from": g.plane, "source": g.source, "tone": g.tone,
        "least_gain_db": g.least_gain_db, "frequency_hz": g.frequency_hz,
        "points": [one(p) for p in g.points], "best": one(g.best),
        "as_good": [[p.pump_dbm, p.pump_hz] for p in g.as_good],
        "neighbours": [
            {"pump_dbm": p.pump_dbm, "pump_hz": p.pump_hz, "gain_difference_db": gain,
             "added_difference_quanta": noise} for p, gain, noise in g.neighbours
        ],
        "warnings": list(g.warnings), "laws": {},
    }


def pump_grid_csv(g: Result) -> str:
    """Return a PumpGrid as CSV, one row a point."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    stages = list(g.layout.stages)
    names = ("pump_dbm", "pump_hz", "gain_change_db", "gain_db", "added_quanta", "own", "common",
             "compression_db")
    writer.writerow([*names, *(f"tones_w {name}" for name in stages),
                     *(f"margin_w {name}" for name in stages)])
    for p in g.points:
        cells = [getattr(p, name) for name in names]
        cells += [p.tones_w[name] for name in stages] + [p.margin_w[name] for name in stages]
        writer.writerow(["" if c is None or c != c else repr(float(c)) for c in cells])
    return out.getvalue()
