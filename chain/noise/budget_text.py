"""A budget as text and as HTML for notebooks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from chain.noise.conventions import CONVENTIONS
from chain.noise.generator_floor_text import floor_lines
from chain.power.warming_text import warmed_lines
from chain.writing.numbers import fixed, number, residual, si
from chain.writing.text import TextTable, wrapped
from components.thermal_noise import kelvin_per_quantum

if TYPE_CHECKING:
    from chain.writing.text import Result

NEGLIGIBLE = 1e-6
"""Part of the whole below which an element off the path is only counted, not shown."""

_IDLER = ("by idler\nquanta",)

_WHERE = {
    "incoming": "incoming with the signal, through {start}",
    "path": "signal path",
    "side": "from side ports",
}


def middle(budget: Result) -> int:
    """Return the index of the frequency in the middle of the band."""
    return len(budget.frequency_hz) // 2


def nearest(budget: Result, frequency_hz: float) -> int:
    """Return the index of the frequency nearest to `frequency_hz`."""
    return int(np.argmin(np.abs(budget.frequency_hz - frequency_hz)))


def element_table(budget: Result, index: int) -> TextTable:
    """Return the TextTable of the elements at one frequency."""
    table = TextTable(
        ["element", "kind", "stage", "at", "gain\ndB", "cumulative\ngain dB",
         "noise\ntemperature K",
         "share\nquanta", "share\nK", "share\n%", *_IDLER[: budget.idler_hz is not None]],
        left={"element", "kind", "stage"},
    )
    total = float(_total(budget)[index])
    per_quantum = float(kelvin_per_quantum(frequency_hz=budget.frequency_hz[index]))
    where, small = None, 0
    for row in budget.rows:
        share = float(budget.shares_quanta[row.id][index])
        if row.where != "path" and share < NEGLIGIBLE * total:
            small += 1
            continue
        if row.where != where:
            where = row.where
            table.add(f"-- {_WHERE[where].format(start=budget.from_port)}")
        table.add(*_cells(budget, row, index, share, total, per_quantum))
    if small:
        table.add(f"-- {small} more contribute less than a millionth each")
    return table


def _total(budget):
    return (
        budget.noise_at_to_quanta if budget.system_noise_quanta is None
        else budget.system_noise_quanta
    )


def _cells(budget, row, index, share, total, per_quantum):
    element = budget.layout.elements[row.id]
    stage = element.stage or f"{element.from_stage} > {element.to_stage}"
    kelvin = " > ".join(si(k, "K", 3) for k in row.noise_temperature_k)

    def pick(values):
        return None if values is None else float(values[index])

    return (
        row.id, row.kind, stage, kelvin, fixed(pick(row.gain_db)), fixed(pick(row.cumulative_db)),
        number(pick(row.own_noise_k)), number(share), number(share * per_quantum),
        fixed(100 * share / total if total else 0.0),
        *(number(float(part[index])) for part in _by_idler(budget, row.id)),
    )


def _by_idler(budget, key):
    """Return [the part of an element's share that came through the idler], if there is any idler.

    Where there is one, what a line brings with the signal is its share less this.
    """
    if budget.idler_hz is None:
        return []
    return [budget.idler_shares_quanta.get(key, np.zeros(budget.frequency_hz.size))]


def summary(budget: Result, index: int) -> list[tuple[str, str, str]]:
    """Return [(name, value at the frequency, range over the band)] of what counts."""
    rows = []

    def add(name, values, form):
        if values is None:
            return
        known = values[np.isfinite(values)]
        here = form(float(values[index])) if np.isfinite(values[index]) else "no mean"
        if not known.size:
            rows.append((name, here, here))
            return
        low, high = form(float(np.min(known))), form(float(np.max(known)))
        rows.append((name, here, low if low == high else f"{low} to {high}"))

    def quanta_and_kelvin(value):
        return f"{number(value)} quanta"

    add("gain", budget.gain_db, lambda v: f"{v:.2f} dB")
    add(f"output noise, arriving at {budget.to_port}", budget.noise_at_to_quanta, quanta_and_kelvin)
    add("  above the vacuum", budget.photons_at_to, lambda v: f"{number(v)} photons")
    if budget.system_noise_quanta is None:
        add(*_of_heating(budget))
        return rows
    add("system noise", budget.system_noise_quanta, quanta_and_kelvin)
    add("", budget.system_noise_k, lambda v: si(v, "K"))
    add("over the quantum limit (1 quantum)", budget.system_noise_quanta,
        lambda v: f"{number(v)} x")
    add("  incoming", budget.incoming_quanta, quanta_and_kelvin)
    add("  added", budget.added_quanta, quanta_and_kelvin)
    add("", budget.added_noise_k, lambda v: si(v, "K"))
    if _counts(budget.interference_quanta, budget.system_noise_quanta):
        add("    of it past the start", budget.past_quanta, quanta_and_kelvin)
        add("    of it interference", budget.interference_quanta, quanta_and_kelvin)
    if budget.idler_hz is not None:
        add("    of it through the idler", budget.idler_quanta, quanta_and_kelvin)
    add(*_of_heating(budget))
    add("noise figure (290 K)", budget.noise_figure_db, lambda v: f"{v:.3f} dB")
    return rows


def _of_heating(budget):
    """Return the row of what tones warm: name, values or None, form."""
    added = budget.heating_quanta.get("as_it_is")
    if added is not None and not _counts(added, _total(budget)):
        added = None
    return "  of it by what tones warm", added, lambda v: f"{number(v)} quanta"


def _guess(budget, index):
    """Return the sentence on how far the guess about films moves the answer, or None."""
    ends = [budget.heating_quanta.get(name) for name in ("least", "most")]
    if ends[0] is None or not _counts(ends[1] - ends[0], _total(budget)):
        return None
    low, high = (number(float(values[index])) for values in ends)
    return (
        f"of what tones warm, {low} quanta if assumed films are cooled ten times better, {high} "
        "quanta if ten times worse"
    )


def _counts(part, whole):
    return bool(np.any(np.abs(part) > NEGLIGIBLE * whole))


def laws_text(laws: Result) -> str:
    """Return one line on the residuals of the three laws."""
    parts = [
        f"{name} {residual(value)}"
        for name, value in laws.as_dict().items()
    ]
    return "laws (residuals): " + ", ".join(parts)


def budget_text(budget: Result, frequency_hz: float | None = None) -> str:
    """Return the budget as plain text, the element table at `frequency_hz` (middle of the band)."""
    index = middle(budget) if frequency_hz is None else nearest(budget, frequency_hz)
    f = budget.frequency_hz
    start = f"{budget.from_port} to " if budget.from_port else "all that arrives at "
    lines = [f"signal {budget.signal}: {start}{budget.to_port}, at {f[index] / 1e9:g} GHz", ""]
    lines += [element_table(budget, index).text(), ""]
    across = f"{f[0] / 1e9:g} to {f[-1] / 1e9:g} GHz"
    table = TextTable(["", f"at {f[index] / 1e9:g} GHz", across], left={""})
    for name, here, span in summary(budget, index):
        table.add(name, here, span)
    lines += [table.text(), ""]
    if budget.idler_hz is not None:
        idler = np.sort(budget.idler_hz)
        lines.append(f"idler band {idler[0] / 1e9:g} to {idler[-1] / 1e9:g} GHz")
    for name, (low, high) in budget.ripple.items():
        if name.endswith("db"):
            span = f"{low[index]:.2f} to {high[index]:.2f} dB"
        else:
            span = f"{number(float(low[index]))} to {number(float(high[index]))} quanta"
        unsure = budget.mean_error[name][index]
        means = f" (its mean to {number(float(unsure), 2)})" if _unsure(budget, name, index) else ""
        if np.isnan(low[index]):
            span = "any value: see the warnings"
        lines.append(f"unknown phases: {name.rsplit('_', 1)[0]} within {span}{means}")
    if (guess := _guess(budget, index)) is not None:
        lines.append(wrapped(guess, ""))
    if budget.heating_quanta and _of_heating(budget)[1] is not None:
        lines += ["", *warmed_lines(budget.layout, budget.warmed)]
    lines += floor_lines(budget)
    lines.append(laws_text(budget.laws))
    lines += [wrapped(f"warning: {text}", "") for text in budget.warnings]
    lines += ["conventions:"] + [wrapped(text) for text in CONVENTIONS]
    return "\n".join(lines)


UNSURE = 1e-3
"""Relative error of a mean over unknown phases from which it is stated."""


def _unsure(budget, name, index):
    limit = 10 * np.log10(1 + UNSURE)
    if not name.endswith("db"):
        limit = UNSURE * getattr(budget, name)[index]
    return budget.mean_error[name][index] > limit


def signals_text(budgets: Mapping[str, Result]) -> str:
    """Return one row for each of several budgets, at the middle of the band; copies once."""
    table = TextTable(
        ["signal", "from", "to", "at\nGHz", "gain\ndB", "output noise\nphotons",
         "system noise\nquanta", "\nK", "incoming\nquanta", "added\nquanta"],
        left={"signal", "from", "to"},
    )
    alike = {}
    for name, b in budgets.items():
        cells = _signal_cells(b)
        declared = b.layout.signals[name].declared_name
        alike.setdefault((declared, *cells), []).append((name, b))
    for (_, *cells), group in alike.items():
        names = [_span([name for name, _ in group])]
        names.append(_span([b.from_port or "" for _, b in group]))
        names.append(_span([b.to_port for _, b in group]))
        table.add(*names, *cells)
    return table.text()


def _span(names):
    """Return `first .. last` of the names of equal copies."""
    return names[0] if len(set(names)) == 1 else f"{names[0]} .. {names[-1]}"


def _signal_cells(b):
    i = middle(b)

    def cell(values):
        return "" if values is None else number(float(values[i]))

    referred = b.system_noise_quanta is not None
    return (
        f"{b.frequency_hz[i] / 1e9:g}", fixed(float(b.gain_db[i])) if referred else "",
        cell(b.photons_at_to), cell(b.system_noise_quanta), cell(b.system_noise_k),
        cell(b.incoming_quanta), cell(b.added_quanta),
    )
