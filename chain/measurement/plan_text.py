"""A plan as a sheet to take along, and for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chain.layout.naming import title_of
from chain.writing.numbers import number, si
from chain.writing.text import TextTable, wrapped

if TYPE_CHECKING:
    from chain.writing.text import Result

MAX_ERRORS = 6
"""Common errors that are listed."""

CAUTION = (
    "Heating a load warms its stage and what hangs on it, and the mixture's pressure rises with "
    "it: heat slowly, stay inside the maker's limits, and leave the refrigerator to those who are "
    "trained on it."
)


def duration(seconds: float) -> str:
    """Return a time as a person says it."""
    if seconds is None:
        return "-"
    for unit, size in (("h", 3600.0), ("min", 60.0)):
        if seconds >= 2 * size:
            return f"{seconds / size:.3g} {unit}"
    return si(seconds, "s", 3)


def plan_text(p: Result) -> str:
    """Return a Plan as plain text."""
    title = title_of(p.layout)
    lines = [
        f"{title}: plan for signal {p.signal}", "",
        f"wanted: added noise at {p.plane} to +/- {number(p.error_quanta, 3)} quanta (one sigma) "
        "at each frequency",
        f"layout predicts {number(p.added_quanta, 3)} quanta; powers in {si(p.bandwidth_hz, 'Hz')}",
        "", options_table(p).text(), "",
    ]
    if p.chosen is None:
        least = min(option.common_quanta for option in p.options)
        lines.append(wrapped(
            f"no: however long it takes, errors common to all readings leave {least:.2g} quanta; "
            "make the largest below smaller, or heat further (--hottest)", ""))
    else:
        lines += _sheet(p)
    lines += ["", _errors(p).text(), ""]
    lines += [wrapped(f"warning: {text}", "") for text in p.warnings]
    lines.append(wrapped(f"caution: {CAUTION}", ""))
    return "\n".join(lines)


def options_table(p: Result) -> TextTable:
    """Return the TextTable of what each hottest temperature takes."""
    table = TextTable(["hottest", "never below\nquanta", "time a sweep\nand frequency"])
    for option in p.options:
        here = "  <" if option is p.chosen else ""
        time = duration(option.seconds) if option.seconds is not None else "out of reach"
        table.add(f"{option.hottest_k:.3g} K", number(option.common_quanta, 2), time + here)
    return table


def _sheet(p):
    table = TextTable(
        ["step", "load", "paramp", "average for", "noise at the plane\nquanta",
         "instrument should read\ndBm/Hz", "read"], left={"step", "paramp"},
    )
    for i, step in enumerate(p.steps):
        table.add(str(i + 1), si(step.load_k, "K", 3), "on" if step.paramps_on else "off",
                  duration(p.chosen.seconds), number(step.noise_quanta, 3),
                  f"{step.power_dbm_hz:.1f}", "______")
    yield "take, in this order, each once the load's thermometer stands still"
    yield ""
    yield table.text()
    yield ""
    every = p.seconds_in_all
    yield wrapped(
        f"each power then scatters by {100 * p.relative_sigma:.2g} %; averaging takes "
        f"{duration(every)} in all where all frequencies are read at once, "
        f"{duration(every * p.points)} where its {p.points} are read one by one; how long the load "
        "takes to settle is not known", "")
    yield wrapped(
        "the last cold sweep tells of drift, the one half way of powers that bend; note the load's "
        "temperature with each", "")
    if any(step.paramps_on for step in p.steps):
        yield wrapped(
            "with the paramp on keep the load cold, and trace the gain both times with the same "
            "weak tone: its change goes into --gain-change", "")


def _errors(p):
    table = TextTable(["common error (one sigma)", "size", "added noise\nquanta"],
                      left={"common error (one sigma)"})
    for name, size, effect in p.effects[:MAX_ERRORS]:
        table.add(name, size, number(abs(effect), 2))
    return table


def plan_dict(p: Result) -> dict[str, Any]:
    """Return a Plan under names for programs."""
    return {
        "signal": p.signal, "source": p.source, "from": p.plane, "error_quanta": p.error_quanta,
        "bandwidth_hz": p.bandwidth_hz, "reached": p.chosen is not None,
        "hottest_k": None if p.chosen is None else p.chosen.hottest_k,
        "seconds_a_sweep": None if p.chosen is None else p.chosen.seconds,
        "seconds_in_all": p.seconds_in_all, "power_sigma_relative": p.relative_sigma,
        "steps": [vars(step) for step in p.steps],
        "options": [vars(option) for option in p.options],
        "common_errors": [
            {"error": name, "size": size, "added_quanta": effect}
            for name, size, effect in p.effects
        ],
        "warnings": [*p.warnings, CAUTION], "laws": {},
    }
