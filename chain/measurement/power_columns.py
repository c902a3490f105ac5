"""Power columns of CSV files: their units, bounds and errors."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from components.arrays import FloatArray
from components.quantities import dbm_to_watt

if TYPE_CHECKING:
    from chain.measurement.csv_table import Column, CsvTable

POWER_UNITS = ("power_w", "power_dbm", "power_dbm_hz")
"""Names of power columns: watt in the bandwidth, dBm in it, dBm in one hertz."""

_DBM_BOUNDS = -270.0, 60.0
POWER_BOUNDS = {"power_w": (1e-30, 1e3), "power_dbm": _DBM_BOUNDS, "power_dbm_hz": _DBM_BOUNDS}
"""Least and most power that is believed, in each unit."""

MAX_SIGMA_DB, MIN_RELATIVE, MAX_RELATIVE = 20.0, 1e-9, 10.0
"""Errors of a power that are believed, in dB and relative to it."""

MAX_HZ = 1e15
"""Highest frequency, and widest bandwidth, that is believed."""

_DB = np.log(10.0) / 10.0


def densities(
    table: CsvTable, column: Column, unit: str, sigma_column: Column | None,
    widths: Sequence[float | None],
) -> tuple[FloatArray, FloatArray]:
    """Return (W/Hz, relative error or NaN) of a power column in its unit, arrays over the rows."""
    least, most = POWER_BOUNDS[unit]
    powers = np.array(table.numbers(column, least=least, most=most))
    if unit != "power_dbm_hz" and any(width is None for width in widths):
        table.problem(
            column.place, f"{unit} says nothing of its bandwidth",
            "add a column bandwidth_hz, or the option --bandwidth '1 MHz'",
        )
    table.refuse_if_any()
    relative = np.full(len(powers), np.nan)
    if sigma_column is not None:
        most_sigma = None if unit == "power_w" else MAX_SIGMA_DB
        sigma = np.array(table.numbers(sigma_column, above=0.0, most=most_sigma))
        table.refuse_if_any()
        relative = sigma / powers if unit == "power_w" else sigma * _DB
        for row in np.flatnonzero((relative > MAX_RELATIVE) | (relative < MIN_RELATIVE)):
            table.problem(
                table.rows[row].places[sigma_column.index], f"power_sigma is {relative[row]:.2g} "
                "times the power", "give one sigma, in W beside power_w and in dB beside dBm",
            )
        table.refuse_if_any()
    watt = powers if unit == "power_w" else dbm_to_watt(powers)
    return (watt if unit == "power_dbm_hz" else watt / np.array(widths)), relative
