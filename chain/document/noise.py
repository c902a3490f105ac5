"""Sections on noise and gain: at a few frequencies, over the band, element by element."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from chain.document.unknown import Unknown
from chain.layout.naming import called
from chain.noise.along_path import path_noise
from chain.noise.budget_text import element_table, middle, summary
from chain.noise.copies import together
from chain.pages.blocks import Figure, Heading, Paragraph, Table, from_text_table
from chain.pages.charts import bars, curves
from chain.pages.path_chart import path_chart
from chain.pages.sheets import as_csv
from chain.writing.numbers import fixed, number
from chain.writing.text import Result

if TYPE_CHECKING:
    from chain.pages.blocks import Block

MAX_FREQUENCIES_SHOWN = 5
"""Frequencies at which a budget is told in numbers."""


def signal_table(facts: Result) -> Table:
    """Return the Table of every signal at the middle of the band, equal copies once."""
    headings = ("signal", "from", "to", "at GHz", "gain dB", "output noise photons",
                "system noise quanta", "K", "incoming quanta", "added quanta")
    rows: list[tuple[str, ...]] = []
    for name in facts.paths:
        found = facts.budget(name)
        if isinstance(found, Unknown):
            rows.append((f"{name}: {found.why}",))
            continue
        i = middle(found)
        row = [facts.signal_text(name), found.from_port or "", found.to_port,
               f"{found.frequency_hz[i] / 1e9:g}",
               "" if found.gain_db is None else fixed(float(found.gain_db[i]))]
        rows.append((*row, *(
            "" if values is None else number(float(values[i])) for values in (
                found.photons_at_to, found.system_noise_quanta, found.system_noise_k,
                found.incoming_quanta, found.added_quanta,
            )
        )))
    return Table(headings, tuple(rows), frozenset(("signal", "from", "to")), data="signals")


def signal_blocks(facts: Result, name: str, page: str) -> list[Block]:
    """Return the blocks of a line's page on one signal; `page` begins its files' names."""
    found = facts.budget(name)
    signal = facts.layout.signals[name]
    start = f"from {'.'.join(signal.from_port)} " if signal.from_port else "all that arrives, "
    blocks: list[Block] = [Heading(f"Signal {name}: {start}to {'.'.join(signal.to_port)}")]
    if isinstance(found, Unknown):
        return [*blocks, Paragraph(f"It cannot be worked out: {found.why}", "warning")]
    if not np.any(np.isfinite(found.noise_at_to_quanta)):
        blocks.append(Paragraph("Its noise and gain are not known anywhere in the band."))
        return [*blocks, *(Paragraph(facts.said(text), "warning") for text in found.warnings)]
    # Two dashes part the names, each of which has none: no two signals share a file.
    file = f"{page}--{facts.signal_stem[name]}"
    blocks += [
        _few(found, file), Figure(_curves(found), f"Signal {name} over the band", f"{file}-band"),
        *_at_the_middle(found, file),
        from_text_table(
            element_table(found, middle(found)),
            caption=f"Element by element at {_middle_ghz(found)} GHz", data=f"{file}-elements",
        ),
    ]
    blocks += [Paragraph(facts.said(text), "warning") for text in found.warnings]
    return [*blocks, Paragraph(_laws(found.laws), "note")]


def _at_the_middle(found, file):
    """Return the pictures at the middle of the band: shares, and the path where it amplifies."""
    if not math.isfinite(found.noise_at_to_quanta[middle(found)]):
        return []  # a loop may oscillate there
    ghz = _middle_ghz(found)
    shown = [Figure(
        _bars(found), f"Shares of the noise of {found.signal} at {ghz} GHz, in quanta and percent",
        f"{file}-shares",
    )]
    if found.gain_db is not None and np.nanmax(found.gain_db) > 0:
        shown.append(Figure(
            path_chart(path_noise(found, middle(found))), f"Along the path of {found.signal} at "
            f"{ghz} GHz: the gain from the start, and what each element adds to the system noise "
            "temperature there", f"{file}-path",
        ))
    return shown


def _laws(laws):
    said = [f"{name} {residual_text(value)}" for name, value in laws.as_dict().items()]
    return f"Residuals of the laws: {', '.join(said)}."


def residual_text(value: float | None) -> str:
    """Return a residual; rounding alone, which differs from machine to machine, is not listed."""
    if value is None:
        return "-"
    return "below 1e-10" if value < 1e-10 else f"{value:.0e}"


def _middle_ghz(found):
    return f"{found.frequency_hz[middle(found)] / 1e9:g}"


def _few(found, file):
    """Return the Table of the budget at a few frequencies; its CSV holds the whole band."""
    last = found.frequency_hz.size - 1
    points = np.unique(np.linspace(0, last, MAX_FREQUENCIES_SHOWN).round().astype(int))
    columns = [summary(found, int(i)) for i in points]
    headings = ("", "unit", *(f"{found.frequency_hz[i] / 1e9:g} GHz" for i in points),
                "over the band")
    rows = []
    for place, (name, _, span) in enumerate(columns[0]):
        cells = [*(column[place][1] for column in columns), span]
        unit = _unit(cells)
        if unit:
            cells = [cell.replace(f" {unit}", "") for cell in cells]
        rows.append((name.strip() or "as a temperature", unit, *cells))
    return Table(headings, tuple(rows), frozenset(("", "unit")), "At a few frequencies",
                 f"{file}-band", _band_csv(found))


def _unit(cells):
    """Return the unit in which all cells are, or nothing where they differ."""
    units = set()
    for cell in cells:
        own = {word for word in cell.split() if word != "to" and not _is_number(word)}
        units |= own or {""}
    return units.pop() if len(units) == 1 else ""


def _is_number(word):
    try:
        float(word)
    except ValueError:
        return False
    return True


def _band_csv(found):
    columns = {
        "frequency_hz": found.frequency_hz, "gain_db": found.gain_db,
        "noise_at_to_quanta": found.noise_at_to_quanta,
        "system_noise_quanta": found.system_noise_quanta,
        "system_noise_k": found.system_noise_k, "incoming_quanta": found.incoming_quanta,
        "added_quanta": found.added_quanta,
    }
    columns |= {f"share_quanta {key}": share for key, share in found.shares_quanta.items()}
    kept = {name: values for name, values in columns.items() if values is not None}
    rows = zip(*(values.tolist() for values in kept.values()), strict=True)
    return as_csv(tuple(kept), rows)


def _curves(found):
    x = found.frequency_hz / 1e9

    def quanta(value):
        return f"{number(value)} quanta"

    if found.system_noise_quanta is None:
        panels = [("output noise (quanta)",
                   [("all", found.noise_at_to_quanta, quanta)])]
        return curves(x, panels, f"Noise of {found.signal} over frequency")
    noise = [("system noise", found.system_noise_quanta, quanta),
             ("incoming", found.incoming_quanta, quanta), ("added", found.added_quanta, quanta)]
    noise.append(("quantum limit", np.ones_like(x), quanta))
    panels = [_noise_panel(noise),
              ("gain (dB)", [("gain", found.gain_db, lambda v: f"{v:.2f} dB")])]
    return curves(x, panels, f"Noise and gain of {found.signal} over frequency")


def _noise_panel(lines):
    """Return the panel of noise; in decibels over one quantum where it spans decades."""
    largest = max(float(np.nanmax(ys)) for _, ys, _ in lines)
    smallest = max(min(float(np.nanmin(ys)) for _, ys, _ in lines), 1e-12)
    if largest < 100 * smallest:
        return "noise (quanta)", lines
    in_db = [
        (name, 10 * np.log10(np.maximum(ys, 1e-12)), lambda v: f"{number(10 ** (v / 10))} quanta")
        for name, ys, _ in lines
    ]
    return "noise over 1 quantum (dB)", in_db


def _bars(found):
    i = middle(found)
    total = float(sum(share[i] for share in found.shares_quanta.values()))
    shares = together(found.layout, {
        row.id: found.shares_quanta[row.id] for row in found.rows if row.id in found.shares_quanta
    })
    every = [(called(found.layout, ids), float(share[i])) for ids, share in shares.items()]
    rows = [(name, value) for name, value in every if total and value >= 1e-3 * total]
    rest = total - math.fsum(value for _, value in rows)
    if rest > 1e-3 * total:
        rows.append(("all others", rest))
    return bars(
        [(name, value, f"{number(value, 3)}  ({100 * value / total:.3g} %)")
         for name, value in rows],
        f"Shares of the noise of {found.signal}, quanta",
    )
