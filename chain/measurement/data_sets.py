"""Measured gain and noise of a signal, as diagnose takes them: columns of decibels with errors."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError, Place
from chain.measurement.csv_table import CsvTable
from chain.measurement.two_results import read_result
from components.quantities import decibels
from components.thermal_noise import kelvin_per_quantum
from components.touchstone import DataError, read

if TYPE_CHECKING:
    from components.arrays import FloatArray

GAIN, SYSTEM, ADDED = "gain", "system noise", "added noise"

NOISE_COLUMNS = {
    "system_noise_k": SYSTEM, "system_noise_quanta": SYSTEM, "added_quanta": ADDED,
}
KNOWN = ("frequency_hz", *(
    name + end for name in ("gain_db", *NOISE_COLUMNS) for end in ("", "_sigma", "_common")
))
"""Columns of a CSV file that are read."""

ASSUMED_OWN_DB, ASSUMED_COMMON_DB = 0.1, 0.3
"""Error of a value whose file gives none: its own, and what all frequencies share, of cables and
calibration (assumptions, common practice, no source)."""

VACUUM = 0.5
"""Quanta that are added to added noise before its logarithm, so that none can be below zero."""

OPTION = "--measured"


@dataclass(frozen=True)
class Column:
    """One measured quantity over frequency, in decibels (noise: 10 lg of quanta)."""

    quantity: str
    """GAIN, SYSTEM, or ADDED (quanta and half a quantum)."""
    frequency_hz: FloatArray
    value_db: FloatArray
    own_db: FloatArray
    """Standard deviation of its part that is independent from frequency to frequency."""
    common_db: float
    """Standard deviation of its part that all frequencies share."""
    assumed: bool = False
    """True where the file gives no error."""


@dataclass(frozen=True)
class DataSet:
    """One measurement: its columns, and what was changed on purpose for it."""

    name: str
    """The file's name as given."""
    columns: tuple[Column, ...]
    changes: tuple[str, ...] = ()
    """In --set form."""
    warm: bool = False
    ports: str = ""
    """Between which ports, as `S1:R1`; empty for the signal's own."""
    signal: str = ""
    """Another signal than that of the diagnosis."""
    place: Place | None = None

    def thinned(self, low_hz: float, high_hz: float, name: str) -> DataSet:
        """Return it with what lies in a band alone; raises LayoutError where nothing does."""
        columns = []
        for column in self.columns:
            f = column.frequency_hz
            inside = (f >= low_hz * (1 - 1e-9)) & (f <= high_hz * (1 + 1e-9))
            if not inside.any():
                raise LayoutError.at(
                    self.place or Place(self.name),
                    f"{name} reaches from {f.min() / 1e9:g} to {f.max() / 1e9:g} GHz, outside the "
                    f"band of {low_hz / 1e9:g} to {high_hz / 1e9:g} GHz",
                    "measure inside the band, or change it: --set band.start=... "
                    "--set band.stop=...",
                )
            columns.append(replace(
                column, frequency_hz=f[inside], value_db=column.value_db[inside],
                own_db=column.own_db[inside],
            ))
        return replace(self, columns=tuple(columns))


def read_columns(path: str, option: str = OPTION) -> tuple[Column, ...]:
    """Return the Columns of a CSV file, a result of `reduce --json`, or a Touchstone file.

    Raises LayoutError with line and column.
    """
    lower = str(path).lower()
    if lower.endswith(".json"):
        return _of_json(path)
    if lower.rpartition(".")[2].startswith("s") and lower.endswith("p"):
        return (_of_touchstone(path, option),)
    return _of_csv(path, option)


def _of_json(path):
    found = read_result(path)
    arrays = {
        name: np.asarray(found[name], float)
        for name in ("frequency_hz", "gain_db", "gain_db_sigma", "gain_db_common", "added_quanta",
                     "added_quanta_sigma", "added_quanta_common")
    }
    known = np.isfinite(arrays["gain_db"]) & np.isfinite(arrays["added_quanta"])
    if not known.any():
        raise LayoutError.at(Place(path), "nothing in this result is known", "measure again")
    return _columns({name: array[known] for name, array in arrays.items()},
                    lambda name: Place(path))


def _of_touchstone(path, option):
    try:
        contents = read(str(path))
    except DataError as error:
        raise LayoutError.at(Place(option), error.what, error.instead) from error
    if contents.scattering.shape[1] != 2:
        raise LayoutError.at(
            Place(option), f"{contents.name} has {contents.scattering.shape[1]} ports",
            "give a file of two ports: the gain is its S21",
        )
    gain_db = decibels(np.abs(contents.scattering[:, 1, 0]) ** 2)
    if not np.isfinite(gain_db).all():
        raise LayoutError.at(Place(option), f"{contents.name}: S21 is zero",
                             "leave such points out")
    f = np.asarray(contents.frequency_hz, float)
    return Column(GAIN, f, gain_db, np.full(f.size, ASSUMED_OWN_DB), ASSUMED_COMMON_DB, True)


def _of_csv(path, option):
    table = CsvTable(path, option)
    arrays, places = {}, {}
    # What reduce writes besides is left alone; an unknown name is more often a misspelt one.
    passed = ("predicted_", "added_missed", "gain_missed", "added_quanta_68", "added_quanta_95")
    for column in table.columns:
        if column.name.startswith(passed):
            continue
        if column.name not in KNOWN:
            table.unknown(column, KNOWN)
            continue
        places[column.name] = column.place
        arrays[column.name] = column
    table.refuse_if_any()
    if "frequency_hz" not in arrays:
        raise LayoutError.at(Place(path), "there is no column 'frequency_hz'", "add it")
    values = [name for name in ("gain_db", *NOISE_COLUMNS) if name in arrays]
    if not values:
        raise LayoutError.at(
            Place(path), "there is no gain and no noise",
            "add gain_db, system_noise_k, system_noise_quanta or added_quanta",
        )
    noise = [name for name in values if name in NOISE_COLUMNS]
    if len(noise) > 1:
        raise LayoutError.at(
            places[noise[1]], f"{noise[0]} and {noise[1]} tell the same thing twice", "keep one"
        )
    for name, place in places.items():
        base = name.removesuffix("_sigma").removesuffix("_common")
        if base != name and base not in arrays:
            raise LayoutError.at(place, f"{name} stands without {base}", f"add {base}")
    # reduce leaves cells empty where nothing is known.
    table.rows = [row for row in table.rows
                  if all(row.cells[column.index].strip() for column in arrays.values())]
    if not table.rows:
        raise LayoutError.at(Place(path), "every row has an empty cell", "give values")
    numbers = {}
    for name, column in arrays.items():
        bounds: dict[str, Any] = {"least": 0.0} if name.endswith(("_sigma", "_common")) else {}
        if name == "frequency_hz" or (name.startswith("system_noise") and not bounds):
            bounds = {"above": 0.0}
        elif name == "added_quanta":
            bounds = {"above": -VACUUM}
        elif name == "gain_db":
            bounds = {"least": -300.0, "most": 300.0}
        numbers[name] = np.array(table.numbers(column, **bounds))
    table.refuse_if_any()
    return _columns(numbers, places.__getitem__)


def _columns(arrays, place_of):
    """Return the Columns of {name: array}, sorted by frequency."""
    order = np.argsort(arrays["frequency_hz"], kind="stable")
    arrays = {name: array[order] for name, array in arrays.items()}
    f = arrays["frequency_hz"]
    found = []
    for name in ("gain_db", *NOISE_COLUMNS):
        if name not in arrays:
            continue
        value = arrays[name]
        sigma, common = arrays.get(f"{name}_sigma"), arrays.get(f"{name}_common")
        if name == "gain_db":
            value_db, per = value, np.ones(f.size)
        else:
            if name == "added_quanta":
                whole = value + VACUUM
            else:
                whole = value / (kelvin_per_quantum(frequency_hz=f) if name.endswith("_k") else 1.0)
            value_db = decibels(whole)
            unit = value + VACUUM if name == "added_quanta" else value
            per = 10.0 / math.log(10.0) / unit
        if sigma is None:
            own = np.full(f.size, ASSUMED_OWN_DB)
            shared = ASSUMED_COMMON_DB if common is None else float(np.median(common * per))
        else:
            part = np.zeros(f.size) if common is None else np.minimum(common, sigma)
            own = np.sqrt(np.maximum(sigma**2 - part**2, 0.0)) * per
            shared = float(np.median(part * per))
        if not (own > 0).all():
            own = np.maximum(own, 1e-3)
        found.append(Column(NOISE_COLUMNS.get(name, GAIN), f, value_db, own, shared,
                            sigma is None))
    return tuple(found)


def data_set(path: str) -> DataSet:
    """Return the DataSet of one file in which nothing was changed; raises LayoutError."""
    return DataSet(str(path), read_columns(path), place=Place(str(path)))


def summary(sets: Sequence[DataSet]) -> list[str]:
    """Return a sentence about every data set, for the head of a report."""
    said = []
    for one in sets:
        what = " and ".join(column.quantity for column in one.columns)
        where = f", with {' '.join(one.changes)}" if one.changes else ""
        warm = ", warm" if one.warm else ""
        said.append(f"{one.name}: {what}, {one.columns[0].frequency_hz.size} points{where}{warm}")
    return said
