"""Single failures as a person reads them, and as programs do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.writing.numbers import coarse, number
from chain.writing.text import TextTable, wrapped

if TYPE_CHECKING:
    from chain.writing.text import Result

HARMLESS = 1e-3
"""Relative rise of the noise below which a failure is only counted."""


def failures_text(found: Result) -> str:
    """Return every single failure, worst first."""
    return "\n".join(["single failures, worst first (values at the middle of the band)", "",
                      failure_table(found).text(), *_notes(found)])


def _notes(found):
    if not any(map(_doubtful, found.failures)):
        return []
    return ["", wrapped(
        "a .. b: an amplifier without bias, of which the layout gives no unpowered_loss, loses "
        "15 to 40 dB (common practice, no source); above 100 times the noise the line is called "
        "lost", "",
    )]


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
        if one.line_lost:
            table.add(one.signal, _said(one), _range(one.gain_change_range_db, one.gain_change_db),
                      f"lost: {_times(one)}", "", "", "")
            continue
        table.add(one.signal, _said(one), _range(one.gain_change_range_db, one.gain_change_db),
                  _times(one), "" if _doubtful(one) else number(one.worst_ratio),
                  _times(one), _times(one, 2))
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
    instead = ""
    if one.bypassed_ratio is not None:
        instead = f" (bypassed: x {number(one.bypassed_ratio, 3)})"
    return one.change + lost + instead


def _range(ends, value):
    """Return a gain change in dB, from the least to the most where it hangs on what is assumed."""
    if value is None:
        return ""
    if ends is None or ends[1] - ends[0] < 0.05:
        return f"{value:+.1f}"
    return f"{ends[0]:+.0f} .. {ends[1]:+.0f}"


def _doubtful(one):
    """Tell whether the noise ratio hangs on what is assumed."""
    ends = one.noise_ratio_range
    return ends is not None and ends[1] > 1.01 * ends[0]


def _times(one, power=1):
    """Return the noise ratio to a power, from the least to the most where that is in doubt."""
    if not _doubtful(one):
        return number(one.noise_ratio**power)
    low, high = one.noise_ratio_range
    return f"{coarse(low**power)} .. {coarse(high**power)}"
