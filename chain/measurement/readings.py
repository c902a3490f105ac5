"""Powers read while a load was at different temperatures: CSV files, long or wide.

Long: one row a frequency and temperature, `frequency_hz, load_k, power_dbm_hz`; wide: one power
column a temperature, `frequency_hz, power_dbm_hz 0.1 K, power_dbm_hz 3 K`.  Each may have
`load_k_sigma`, `bandwidth_hz`, `power_sigma` (in the unit of the power: W, or dB for dBm).
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chain.errors import LayoutError, Place
from chain.measurement.csv_table import CsvTable
from chain.measurement.power_columns import MAX_HZ, POWER_UNITS, densities
from components.constants import H

if TYPE_CHECKING:
    from chain.layout.layout import Band
    from components.arrays import FloatArray

KNOWN = ("frequency_hz", "load_k", "load_k_sigma", *POWER_UNITS, "power_sigma", "bandwidth_hz")
MIN_LOAD_K, MAX_LOAD_K = 1e-4, 3000.0
"""Coldest and hottest load that is believed, kelvin; what lies beyond is a slip of units."""

_WIDE = re.compile(
    r"(power_dbm_hz|power_dbm|power_w|power_sigma|load_k_sigma)[\s_@(\[:=]+(?:at[\s_]+|load[\s_]+)?"
    r"(\d+\.?\d*(?:e[+-]?\d+)?|\.\d+)[\s_]*(mk|uk|k)?\s*[)\]]?", re.IGNORECASE,
)
_KELVIN = {"k": 1.0, "mk": 1e-3, "uk": 1e-6, None: 1.0}


@dataclass(frozen=True)
class Readings:
    """Readings in steps, each a sweep over frequency at one load temperature.

    Arrays are (steps, points); NaN where a step has no reading at a frequency.
    """

    frequency_hz: np.ndarray
    load_k: np.ndarray
    load_k_sigma: np.ndarray
    """Standard deviation of each load temperature, common to its step, kelvin; zero without one."""
    quanta: np.ndarray
    """Power over bandwidth and hf: quanta at the instrument."""
    relative_sigma: np.ndarray
    """Standard deviation of each power over the power; NaN where none is given."""
    bandwidth_hz: float | None
    """The bandwidth, where all readings have the same."""
    files: tuple[str, ...]
    steps: tuple[Place, ...]
    """Where each step begins."""

    @property
    def step_k(self) -> FloatArray:
        """Mean load temperature of each step, kelvin."""
        return np.nanmean(self.load_k, axis=1)

    def place(self, step: int) -> Place:
        """Return where a step begins, for messages."""
        return self.steps[step] if self.steps else Place("--readings")

    def at(self, frequency_hz: FloatArray, missing: str) -> Readings:
        """Return the readings at some of their frequencies (Hz); sweeps without any are left out.

        Raises LayoutError where one is not among them; `missing` says what is not there.
        """
        columns = np.searchsorted(self.frequency_hz, frequency_hz)
        columns = np.minimum(columns, len(self.frequency_hz) - 1)
        absent = self.frequency_hz[columns] != frequency_hz
        if np.any(absent):
            raise LayoutError.at(
                self.place(0), f"{missing} at {frequency_hz[absent][0] / 1e9:g} GHz",
                "read both at the same frequencies",
            )
        rows = np.flatnonzero(np.any(np.isfinite(self.quanta[:, columns]), axis=1))
        arrays = {name: getattr(self, name)[rows][:, columns]
                  for name in ("load_k", "load_k_sigma", "quanta", "relative_sigma")}
        steps = tuple(self.steps[row] for row in rows) if self.steps else ()
        return replace(self, frequency_hz=frequency_hz, steps=steps, **arrays)

    @property
    def read(self) -> np.ndarray:
        """True where there is a reading."""
        return np.isfinite(self.quanta)


@dataclass(frozen=True)
class _Reading:
    """One power in a file."""

    place: Place
    frequency_hz: float
    load_k: float
    load_k_sigma: float
    density_w_hz: float
    relative_sigma: float
    bandwidth_hz: float


def read_readings(
    paths: Sequence[str], *, band: Band | None = None, bandwidth_hz: float | None = None,
    option: str = "--readings", fewest: int = 2,
) -> Readings:
    """Return the Readings of CSV files; raises LayoutError with every mistake and its place.

    `band` bounds the frequencies; `bandwidth_hz` is that of power_w and power_dbm where no column
    says it; `fewest` temperatures are asked for at every frequency.
    """
    sweeps = {}
    for path in paths:
        for reading, step in _steps(_read(path, band, bandwidth_hz, option)):
            sweeps.setdefault((str(path), step), []).append(reading)
    readings = _gridded(sweeps, tuple(str(path) for path in paths))
    check_temperatures(readings, fewest)
    return readings


def _steps(readings):
    """Yield (reading, step) of one file: rows at one temperature are a step, each repeat its own.

    Where the temperature was logged row by row, the n-th time of a frequency is step n.
    """
    at_frequency = defaultdict(list)
    for reading in readings:
        at_frequency[reading.frequency_hz].append(reading.load_k)
    different = len({reading.load_k for reading in readings})
    by_value = different <= max(len(set(loads)) for loads in at_frequency.values())
    seen = defaultdict(int)
    for reading in readings:
        key = (reading.frequency_hz, reading.load_k if by_value else None)
        yield reading, (key[1], seen[key])
        seen[key] += 1


def _gridded(sweeps, files):
    every = [reading for sweep in sweeps.values() for reading in sweep]
    f = np.unique([reading.frequency_hz for reading in every])
    shape = len(sweeps), len(f)
    arrays = {name: np.full(shape, np.nan) for name in
              ("load_k", "load_k_sigma", "density_w_hz", "relative_sigma")}
    for step, sweep in enumerate(sweeps.values()):
        columns = np.searchsorted(f, [reading.frequency_hz for reading in sweep])
        for name, array in arrays.items():
            array[step, columns] = [getattr(reading, name) for reading in sweep]
    widths = {reading.bandwidth_hz for reading in every}
    return Readings(
        f, arrays["load_k"], np.nan_to_num(arrays["load_k_sigma"]),
        arrays["density_w_hz"] / (H * f), arrays["relative_sigma"],
        widths.pop() if len(widths) == 1 else None, files,
        tuple(sweep[0].place for sweep in sweeps.values()),
    )


def check_temperatures(readings: Readings, fewest: int) -> None:
    """Refuse readings with fewer load temperatures at a frequency; raises LayoutError."""
    for column, f in enumerate(readings.frequency_hz):
        loads = readings.load_k[:, column]
        different = np.unique(loads[np.isfinite(loads)])
        if len(different) < fewest:
            step = int(np.flatnonzero(np.isfinite(loads))[0])
            raise LayoutError.at(
                readings.place(step),
                f"at {f / 1e9:g} GHz there is one load temperature, {different[0]:g} K",
                f"read at {fewest} or more: one power cannot tell gain from noise",
            )


# -- one file -----------------------------------------------------------------------------------


def _read(path, band, bandwidth_hz, option):
    table = CsvTable(path, option)
    wide = {column.name: _WIDE.fullmatch(column.name) for column in table.columns}
    for column in table.columns:
        if column.name not in KNOWN and wide[column.name] is None:
            table.unknown(column, KNOWN)
    table.refuse_if_any()
    _check_needed(table, wide)
    # To a millihertz, so that one frequency written by two programs is one.
    f = [round(hz, 3) for hz in table.numbers(table.named("frequency_hz"), above=0.0, most=MAX_HZ)]
    check_band(table, f, band)
    own = table.named("bandwidth_hz")
    widths = [bandwidth_hz] * len(f) if own is None else table.numbers(own, above=0.0, most=MAX_HZ)
    readings = _wide(table, wide, f, widths) if any(wide.values()) else _long(table, f, widths)
    table.refuse_if_any()
    return readings


def _check_needed(table, wide):
    head = table.columns[0].place
    if table.named("frequency_hz") is None:
        table.problem(head, "there is no column frequency_hz", "add it: the frequency in hertz")
    powers = [column for column in table.columns if column.name in POWER_UNITS]
    spread = [m for m in wide.values() if m and m.group(1).lower() in POWER_UNITS]
    if not powers and not spread:
        table.problem(
            head, "there is no power", f"add a column {', '.join(POWER_UNITS[:-1])} or "
            f"{POWER_UNITS[-1]}",
        )
    if len(powers) > 1 or (powers and spread):
        table.problem(powers[-1].place, "there are powers of two kinds", "keep one")
    if spread and len({m.group(1).lower() for m in spread}) > 1:
        table.problem(head, "the powers have different units", "keep one")
    if powers and table.named("load_k") is None:
        table.problem(
            head, "there is no column load_k",
            "add the load's temperature in kelvin, or a power column for each: "
            f"{powers[0].name} 0.1 K",
        )
    if spread and table.named("load_k") is not None:
        table.problem(
            table.named("load_k").place, "temperatures stand in a column and in the header",
            "keep one",
        )
    table.refuse_if_any()


def check_band(table: CsvTable, f: Iterable[float], band: Band | None) -> None:
    """Note frequencies (Hz) of a table's rows that lie outside the band."""
    column = table.named("frequency_hz")
    if band is None or column is None:
        return
    for row, hz in zip(table.rows, f, strict=True):
        if np.isfinite(hz) and not (
            band.start_hz * (1 - 1e-9) <= hz <= band.stop_hz * (1 + 1e-9)
        ):
            table.problem(
                row.places[column.index], f"{hz / 1e9:g} GHz lies outside the layout's band of "
                f"{band.start_hz / 1e9:g} to {band.stop_hz / 1e9:g} GHz",
                "leave the row out, or widen the band: --set band.start=... --set band.stop=...",
            )


def _long(table, f, widths):
    power = next(column for column in table.columns if column.name in POWER_UNITS)
    loads = table.numbers(table.named("load_k"), least=MIN_LOAD_K, most=MAX_LOAD_K)
    sigmas = _optional(table, table.named("load_k_sigma"), 0.0)
    return _powers(
        table, power, power.name, table.named("power_sigma"), f, widths, loads, sigmas,
    )


def _optional(table, column, default):
    if column is None:
        return [default] * len(table.rows)
    return table.numbers(column, least=0.0, most=MAX_LOAD_K)


def _wide(table, wide, f, widths):
    """Return the readings of every power column, each with its own temperature."""
    found = defaultdict(dict)
    for column in table.columns:
        match = wide[column.name]
        if match is None:
            continue
        kelvin = float(match.group(2)) * _KELVIN[match.group(3) and match.group(3).lower()]
        role = match.group(1).lower()
        role = "power" if role in POWER_UNITS else role
        if role in found[kelvin]:
            table.problem(
                column.place, f"{kelvin:g} K stands twice", "keep one, or give load_k in rows"
            )
        found[kelvin][role] = column
    for kelvin, roles in found.items():
        any_column = next(iter(roles.values()))
        if not MIN_LOAD_K <= kelvin <= MAX_LOAD_K:
            table.problem(any_column.place, f"{kelvin:g} K is no load temperature",
                          f"write one from {MIN_LOAD_K:g} to {MAX_LOAD_K:g} K")
        if "power" not in roles:
            table.problem(any_column.place, f"there is no power at {kelvin:g} K",
                          "add its column, or leave this one out")
    table.refuse_if_any()
    shared = table.named("power_sigma")
    readings = []
    for kelvin, roles in found.items():
        sigmas = _optional(table, roles.get("load_k_sigma"), 0.0)
        unit = wide[roles["power"].name].group(1).lower()
        readings += _powers(
            table, roles["power"], unit, roles.get("power_sigma", shared), f, widths,
            [kelvin] * len(f), sigmas,
        )
    return readings


def _powers(table, column, unit, sigma_column, f, widths, loads, load_sigmas):
    """Return the _Reading of each row of one power column."""
    watt, relative = densities(table, column, unit, sigma_column, widths)
    width = [np.nan if w is None else w for w in widths]
    return [
        _Reading(row.places[column.index], *values)
        for row, *values in zip(
            table.rows, f, loads, load_sigmas, watt, relative, width, strict=True
        )
    ]
