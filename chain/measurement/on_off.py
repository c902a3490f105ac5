"""A paramp's spectra on and off: how much more gain, and the layout with the paramps off.

System noise with it on is that with it off times the rise of the noise over the rise of the gain,
at the same plane (D. H. Slichter, PhD thesis, UC Berkeley (2011), sec. 6.3): no hot load while it
is on, which may saturate it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chain.errors import LayoutError, Place
from chain.measurement.common_errors import CommonError
from chain.measurement.csv_table import CsvTable
from chain.measurement.power_columns import MAX_HZ, MAX_SIGMA_DB
from components.quantities import power_ratio

if TYPE_CHECKING:
    from chain.layout.layout import Layout, Signal
    from chain.measurement.common_errors import Sizes
    from components.arrays import FloatArray

_DB = np.log(10.0) / 10.0

OPTION = "--gain-change"

MAX_CHANGE_DB = 150.0
"""Largest change of gain that is believed."""


@dataclass(frozen=True)
class GainChange:
    """Gain with the paramps on less that with them off, over frequency."""

    frequency_hz: np.ndarray
    """Rising, Hz."""
    change_db: np.ndarray
    sigma_db: np.ndarray
    """Own standard deviation, dB; zero where none is given."""
    path: str

    def at(self, frequency_hz: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return (power ratio, its relative error) at frequencies, linear in between in dB."""
        f = np.asarray(frequency_hz, float)
        if f.min() < self.frequency_hz[0] * (1 - 1e-9) or \
                f.max() > self.frequency_hz[-1] * (1 + 1e-9):
            raise LayoutError.at(
                Place(self.path), f"the gain change reaches from {self.frequency_hz[0] / 1e9:g} to "
                f"{self.frequency_hz[-1] / 1e9:g} GHz, the readings from {f.min() / 1e9:g} to "
                f"{f.max() / 1e9:g} GHz", "measure it over the same band",
            )
        change, sigma = (
            np.interp(f, self.frequency_hz, values) for values in (self.change_db, self.sigma_db)
        )
        return power_ratio(change), sigma * _DB


def gain_change_errors(sizes: Sizes) -> tuple[CommonError, ...]:
    """Return the CommonError of the gain change's scale, where it has one."""
    if not sizes.gain_change_db:
        return ()
    return (CommonError("gain change, scale", f"{sizes.gain_change_db:.3g} dB",
                        gain_change=sizes.gain_change_db * _DB),)


def pumped(layout: Layout, signal: Signal) -> list[str]:
    """Return the ids of the paramps in a signal's network that are on."""
    return [
        key for key in layout.connected(signal.to_port[0])
        if layout.elements[key].kind.pumps(layout.elements[key].settings)
    ]


def without_paramps(layout: Layout, signal: Signal) -> Layout:
    """Return the layout with the pumped paramps of a signal's network off; raises LayoutError."""
    on = pumped(layout, signal)
    if not on:
        raise LayoutError.at(
            Place("--on"), f"signal {signal.name} meets no paramp that is on",
            "leave --on away, or switch one on: --set X1.state=ok",
        )
    return layout.with_settings({key: {"state": "off"} for key in on})


def read_gain_change(path: str) -> GainChange:
    """Return the GainChange of a CSV file `frequency_hz, gain_change_db[, gain_change_db_sigma]`.

    Raises LayoutError with every mistake and its place.
    """
    table = CsvTable(path, OPTION)
    known = ("frequency_hz", "gain_change_db", "gain_change_db_sigma")
    for column in table.columns:
        if column.name not in known:
            table.unknown(column, known)
    head = table.columns[0].place
    for name in known[:2]:
        if table.named(name) is None:
            table.problem(head, f"there is no column {name}", "add it")
    table.refuse_if_any()
    f = np.array([round(hz, 3) for hz in table.numbers(
        table.named("frequency_hz"), above=0.0, most=MAX_HZ)])
    change = np.array(table.numbers(
        table.named("gain_change_db"), least=-MAX_CHANGE_DB, most=MAX_CHANGE_DB))
    own = table.named("gain_change_db_sigma")
    sigma = np.zeros(len(f)) if own is None else np.array(
        table.numbers(own, least=0.0, most=MAX_SIGMA_DB))
    table.refuse_if_any()
    order = np.argsort(f, kind="stable")
    same = np.flatnonzero(np.diff(f[order]) == 0)
    if same.size:
        row = table.rows[int(order[same[0] + 1])]
        raise LayoutError.at(row.places[0], f"{f[order][same[0]] / 1e9:g} GHz stands twice",
                             "keep one row a frequency")
    return GainChange(f[order], change[order], sigma[order], str(path))
