"""Results of every verb on the demos, at few frequencies: to see what they are made of."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from chain.api import Layout, compare_results, load
from chain.results.measurement import Reduction
from chain.writing.json_text import as_json

DRAWS = 4
GRID_LINES = 2 + 2 * 7
"""The head of the grid of the pump, and two of its points."""

KEPT = ("4600000000", "4900000000", "5200000000")
"""Frequencies (Hz) of the readings that are looked at."""

ADDED, MORE = "--draws N, besides the budget's own", "--more LINE, under `more`"
EACH, MEASURED, RESULTS = "--each", "--measured FILE", "THIS.json LAST.json"
PLAN, GRID = "--plan", "--grid FILE"
"""What else can be asked of a verb, as its options say it."""


def _demo(folder: Path, name: str = "haloscope", *changes: str) -> Layout:
    return load(folder / f"{name}.yaml", ["band.points=5", *changes])


def _few(folder: Path, name: str) -> str:
    """Return the path of a shorter copy of readings: those at KEPT alone."""
    shorter, column, kept = folder / f"few_{name}", None, []
    for line in (folder / name).read_text(encoding="utf-8").splitlines():
        if column is None and not line.startswith("#"):
            column = line.split(",").index("frequency_hz")
        elif column is not None and line.split(",")[column] not in KEPT:
            continue
        kept.append(line)
    shorter.write_text("\n".join([*kept, ""]), encoding="utf-8")
    return str(shorter)


def _budget(folder):
    # One whose unknown phases spread it.
    layout = _demo(folder, "haloscope", "I1.return_loss=15 dB", "C1.return_loss=15 dB")
    return {"": layout.budget("receive"), ADDED: layout.spread("receive", draws=DRAWS)}


def _power(folder):
    return {"": _demo(folder).power()}


def _heat(folder):
    found = _demo(folder).heat()
    return {"": found, MORE: found.more("receive")}


def _check(folder):
    return {"": _demo(folder, "haloscope", "I1.reversed=true").check()}


def _compare(folder):
    layout = _demo(folder)
    this, last = folder / "this.json", folder / "last.json"
    found = _reduced(folder).as_dict()
    this.write_text(as_json(found), encoding="utf-8")
    halved = {"added_quanta": [value / 2 for value in found["added_quanta"]]}
    last.write_text(as_json({**found, **halved}), encoding="utf-8")
    row = load(folder / "qubit_row.yaml")
    return {
        "": layout.compare(layout.changed("H1.state=dead"), "receive"),
        EACH: layout.failures(),
        MEASURED: row.against_trace(folder / "warm_trace.s2p", "S1:R1", warm=True),
        RESULTS: compare_results(this, last),
    }


def _reduced(folder) -> Reduction:
    return load(folder / "paramp_line.yaml").reduce(
        source="L1", readings=_few(folder, "paramp_off.csv"), on=_few(folder, "paramp_on.csv"),
        gain_change=_few(folder, "paramp_gain_change.csv"),
    )


def _reduce(folder):
    layout = load(folder / "paramp_line.yaml")
    return {
        "": _reduced(folder), PLAN: layout.plan(source="L1", error_quanta=0.2),
        GRID: layout.pump_grid(
            source="L1", readings=str(folder / "paramp_off.csv"),
            grid=_first_points(folder / "paramp_grid.csv"),
        ),
    }


def _first_points(path: Path) -> str:
    """Return the path of a shorter copy of a grid: its first two points of the pump."""
    text = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join([*text[:GRID_LINES], ""]), encoding="utf-8")
    return str(path)


def _diagnose(folder):
    data = folder / "few.csv"
    rows = (folder / "haloscope_on.csv").read_text(encoding="utf-8").splitlines()
    data.write_text("\n".join([*rows[:2], *rows[2::14], ""]), encoding="utf-8")
    return {"": load(folder / "haloscope.yaml").diagnose("receive", measured=str(data))}


def _warm(folder):
    return {"": _demo(folder).warm_sheet("D1.in", draws=DRAWS)}


def _service(folder):
    return {"": _demo(folder).service(remove=["H1"])}


SAMPLES: dict[str, Callable[[Path], dict[str, Any]]] = {
    "budget": _budget, "power": _power, "heat": _heat, "check": _check, "compare": _compare,
    "reduce": _reduce, "diagnose": _diagnose, "warm": _warm, "service": _service,
}
"""By verb, what can be asked of it and the results whose fields `--json` prints, from a folder with
the demos."""
