"""A spread as a person reads it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chain.writing.numbers import fixed, number
from chain.writing.text import TextTable, wrapped

if TYPE_CHECKING:
    from chain.writing.text import Result

LEAST_SHARE = 0.005
"""Part of the variance below which a value is only counted."""

_NAMES = {
    "gain_db": "gain, dB",
    "noise_at_to_quanta": "output noise, quanta",
    "system_noise_quanta": "system noise, quanta",
    "system_noise_k": "system noise, K",
    "added_quanta": "added noise, quanta",
}


def spread_text(spread: Result, frequency_hz: float | None = None) -> str:
    """Return the spread as text, at `frequency_hz` (middle of the band)."""
    f = spread.frequency_hz
    index = len(f) // 2 if frequency_hz is None else int(np.argmin(np.abs(f - frequency_hz)))
    lines = [
        f"spread of {spread.signal} over {spread.draws} draws of {spread.values} toleranced "
        f"values (seed {spread.seed}), at {f[index] / 1e9:g} GHz", "",
    ]
    lines += [middle_table(spread, index).text(), ""]
    lines += _shares(spread.sensitivity, f"{_NAMES[spread.of]}, mean over the band")
    if spread.gain_sensitivity:
        lines += _shares(spread.gain_sensitivity, "gain, dB, mean over the band")
    lines += [wrapped(f"warning: {text}", "") for text in spread.warnings]
    return "\n".join(lines).rstrip("\n")


def middle_table(spread: Result, index: int) -> TextTable:
    """Return the TextTable of every quantity's distribution at one frequency."""
    table = TextTable(["", "mean", "sd", "5 %", "50 %", "95 %"], left={""})
    for name, values in spread.quantities.items():
        form = fixed if name == "gain_db" else number
        table.add(_NAMES[name], *(form(float(array[index])) for array in vars(values).values()))
    return table


def _shares(shares, what):
    table = TextTable([f"what spreads {what}", "value", "share\n%"],
                      left={f"what spreads {what}", "value"})
    shown = [share for share in shares if share.share >= LEAST_SHARE]
    for share in shown:
        table.add(share.parameter, share.value, fixed(100 * share.share, 1))
    if len(shown) < len(shares):
        table.add(f"-- {len(shares) - len(shown)} more give less than {100 * LEAST_SHARE:g} % each")
    return [table.text(), ""] if shares else []
