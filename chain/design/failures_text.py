"""Single failures as a person reads them, and as programs do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.writing.numbers import number
from chain.writing.text import TextTable

if TYPE_CHECKING:
    from chain.writing.text import Result

HARMLESS = 1e-3
"""Relative rise of the noise below which a failure is only counted."""


def failures_text(found: Result) -> str:
    """Return every single failure, worst first."""
    return "\n".join(["single failures, worst first (values at the middle of the band)", "",
                      failure_table(found).text()])


def failure_table(found: Result) -> TextTable:
    """Return the TextTable of every single failure, the harmless ones counted."""
    table = TextTable(
        ["signal", "failure", "gain\ndB", "noise\ntimes", "at worst\nover the band",
         "time, coherent\ntimes", "time, radiometer\ntimes"],
        left={"signal", "failure"},
    )
    left_out = 0
    for one in found.failures:
        if one.loses_signal:
            table.add(one.signal, _said(one), "", "nothing arrives", "", "", "")
            continue
        if harmless(one):
            left_out += 1
            continue
        gain = "" if one.gain_change_db is None else f"{one.gain_change_db:+.1f}"
        table.add(one.signal, _said(one), gain, number(one.noise_ratio),
                  number(one.worst_ratio), number(one.noise_ratio), number(one.noise_ratio**2))
    if left_out:
        table.add(f"-- {left_out} more make the noise no worse than by {100 * HARMLESS:g} %")
    return table


def harmless(one: Result) -> bool:
    """Tell whether a Failure costs nothing worth a row."""
    return (
        not one.loses_signal and (one.worst_ratio or 0.0) < 1 + HARMLESS
        and abs(one.gain_change_db or 0.0) < 0.01
    )


def _said(one):
    lost = f" ({', '.join(one.unpumped)} loses its pump)" if one.unpumped else ""
    return one.change + lost
