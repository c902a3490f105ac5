"""CSV files of readings over pump power and frequency.

`pump_dbm, pump_hz, frequency_hz, gain_change_db, power_dbm_hz` (or power_dbm, power_w), and if
known `power_sigma, gain_change_db_sigma, gain_change_strong_db` (traced with a stronger tone).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chain.errors import LayoutError
from chain.measurement.csv_table import CsvTable
from chain.measurement.on_off import MAX_CHANGE_DB
from chain.measurement.power_columns import MAX_HZ, MAX_SIGMA_DB, POWER_UNITS, densities
from chain.measurement.readings import check_band
from components.constants import H

if TYPE_CHECKING:
    from chain.layout.layout import Band

NEEDED = ("pump_dbm", "pump_hz", "frequency_hz", "gain_change_db")
OPTIONAL = ("power_sigma", "bandwidth_hz", "gain_change_db_sigma", "gain_change_strong_db")

_CHANGES = {"least": -MAX_CHANGE_DB, "most": MAX_CHANGE_DB}


@dataclass(frozen=True)
class GridPoint:
    """Readings at one power and frequency of the pump; arrays run over the signal's frequency."""

    pump_dbm: float
    pump_hz: float
    frequency_hz: np.ndarray
    gain_change_db: np.ndarray
    gain_change_sigma_db: np.ndarray
    """Zero where none is given."""
    quanta: np.ndarray
    """Power over bandwidth and hf."""
    relative_sigma: np.ndarray
    """Of the power; NaN where none is given."""
    compression_db: float | None
    """Mean drop of gain under the stronger tone."""


def read_grid(path: str, *, band: Band, bandwidth_hz: float | None = None) -> tuple[GridPoint, ...]:
    """Return the GridPoints of a CSV file; raises LayoutError with every mistake and its place."""
    table = CsvTable(path, "--grid")
    known = (*NEEDED, *POWER_UNITS, *OPTIONAL)
    for column in table.columns:
        if column.name not in known:
            table.unknown(column, known)
    head = table.columns[0].place
    for name in NEEDED:
        if table.named(name) is None:
            table.problem(head, f"there is no column {name}", "add it")
    powers = [column for column in table.columns if column.name in POWER_UNITS]
    if len(powers) != 1:
        table.problem(
            head, f"there are {len(powers)} powers", f"give one of {', '.join(POWER_UNITS)}"
        )
    table.refuse_if_any()
    columns = _columns(table, band, powers[0], bandwidth_hz)
    table.refuse_if_any()
    return _points(table, columns)


def _columns(table, band, power, bandwidth_hz):
    f = [round(hz, 3) for hz in table.numbers(table.named("frequency_hz"), above=0.0, most=MAX_HZ)]
    check_band(table, f, band)
    own = table.named("bandwidth_hz")
    widths = [bandwidth_hz] * len(f) if own is None else table.numbers(own, above=0.0, most=MAX_HZ)
    density, relative = densities(table, power, power.name, table.named("power_sigma"), widths)

    def optional(name, missing, **bounds):
        column = table.named(name)
        return [missing] * len(f) if column is None else table.numbers(column, **bounds)

    return {
        "pump_dbm": table.numbers(table.named("pump_dbm"), least=-200.0, most=60.0),
        "pump_hz": table.numbers(table.named("pump_hz"), above=0.0, most=MAX_HZ),
        "frequency_hz": f, "density": density, "relative": relative,
        "change": table.numbers(table.named("gain_change_db"), **_CHANGES),
        "change_sigma": optional("gain_change_db_sigma", 0.0, least=0.0, most=MAX_SIGMA_DB),
        "strong": optional("gain_change_strong_db", np.nan, **_CHANGES),
    }


def _points(table, columns):
    arrays = {name: np.array(values, float) for name, values in columns.items()}
    groups = {}
    for row, key in enumerate(zip(arrays["pump_dbm"], arrays["pump_hz"], strict=True)):
        groups.setdefault(key, []).append(row)
    first, points = None, []
    for (dbm, hz), rows in sorted(groups.items(), key=lambda item: item[0][::-1]):
        rows = np.array(rows)[np.argsort(arrays["frequency_hz"][rows], kind="stable")]
        f = arrays["frequency_hz"][rows]
        place = table.rows[rows[0]].places[0]
        if np.any(np.diff(f) == 0):
            raise LayoutError.at(
                place, f"a frequency stands twice at {dbm:g} dBm, {hz / 1e9:g} GHz",
                "keep one row each",
            )
        if first is None:
            first = f
        if f.shape != first.shape or np.any(f != first):
            raise LayoutError.at(
                place, f"the pump at {dbm:g} dBm, {hz / 1e9:g} GHz has other signal frequencies "
                "than the rest", "read every point of the pump at the same ones",
            )
        drop = arrays["change"][rows] - arrays["strong"][rows]
        points.append(GridPoint(
            float(dbm), float(hz), f, arrays["change"][rows], arrays["change_sigma"][rows],
            arrays["density"][rows] / (H * f), arrays["relative"][rows],
            float(drop.mean()) if np.all(np.isfinite(drop)) else None,
        ))
    return points
