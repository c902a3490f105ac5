"""What tones warm, as a person and as a program reads it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from chain.layout.naming import called
from chain.power.warming import AVERAGE, EITHER, NOTICED, PEAK, STEADY
from chain.writing.numbers import number, si
from chain.writing.text import TextTable, wrapped

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from chain.writing.text import Result

GUESS = (
    "films: electrons at (P/(Sigma V) + T^5)^(1/5); where no hot_power is given, Sigma V is taken "
    "as 2e-4 W/K^5, a guess that may be ten times too small or too large."
)


_FOLLOWS = {
    STEADY: "steady tones", AVERAGE: "the average", PEAK: "the pulse",
    EITHER: "the average, or the pulse if it is long (`pulse`)",
}


def warmed_dict(warmed: Result) -> dict[str, Any]:
    """Return what tones warm under the names that programs lean on."""
    return {
        "cables": [
            {
                "id": row.id, "from": row.first, "to": row.second, "peak_k": row.peak_k,
                "at_m": row.at_m, "anchors_k": list(row.anchors_k), "ratio": row.ratio,
                "lower_bound": row.beyond,
            }
            for row in warmed.cables
        ],
        "films": [
            {
                "id": row.id, "port": row.port, "stage_k": row.stage_k,
                "absorbed_w": row.absorbed_w, "temperature_k": row.kelvin,
                "least_k": row.low_k, "most_k": row.high_k, "assumed": row.assumed,
                "while_on_k": row.on_k, "follows": row.follows,
            }
            for row in warmed.films
        ],
        "not_counted_w": dict(warmed.not_counted),
        "unknown_cables_w": dict(warmed.unknown_cables),
        "steady": warmed.steady,
    }


def has_peak(row: Result) -> bool:
    """Tell whether a stretch of cable is hotter in between than at both its ends."""
    return row.peak_k > NOTICED * max(row.anchors_k)


def cable_table(layout: Layout, rows: Iterable[Result]) -> TextTable:
    """Return the TextTable of cables with a peak between their anchors; copies together."""
    table = TextTable(
        ["element", "between", "at its ends", "peak", "at", "hotter by"],
        left={"element", "between"},
    )
    for keys, row in _alike(layout, filter(has_peak, rows)):
        first, second = row.anchors_k
        table.add(
            _span(keys), f"{row.first} > {row.second}",
            f"{si(first, 'K', 3)} > {si(second, 'K', 3)}",
            f"{'> ' if row.beyond else ''}{si(row.peak_k, 'K', 3)}",
            si(row.at_m, "m", 3),
            f"{'> ' if row.beyond else ''}x {number(row.ratio, 3)}",
        )
    return table


def film_table(layout: Layout, rows: Iterable[Result]) -> TextTable:
    """Return the TextTable of the films that tones warm; copies stand together."""
    rows = list(rows)
    pulsed = any(row.follows != STEADY for row in rows)
    table = TextTable(
        ["element", "stage at", "absorbs", "is at", "or, guess x 10", "or, guess / 10",
         *(("in a long pulse", "it follows") if pulsed else ())],
        left={"element", "it follows"},
    )
    for keys, row in _alike(layout, rows):
        load = f", load at {row.port}" if row.port else ""
        table.add(
            f"{_span(keys)}{load}", si(row.stage_k, "K", 3), si(row.absorbed_w, "W", 3),
            si(row.kelvin, "K", 3),
            *((si(row.low_k, "K", 3), si(row.high_k, "K", 3)) if row.assumed else ("given", "")),
            *((si(row.on_k, "K", 3), _FOLLOWS[row.follows]) if pulsed else ()),
        )
    return table


def _alike(layout, rows):
    """Yield (ids, one row) of rows that are the same but for the copy."""
    groups = {}
    for row in rows:
        values = tuple(value for key, value in vars(row).items() if key != "id")
        groups.setdefault((layout.elements[row.id].declared_id, values), []).append(row)
    for found in groups.values():
        yield [row.id for row in found], found[0]


def _span(keys):
    return keys[0] if len(keys) == 1 else f"{keys[0]} .. {keys[-1]}"


def warmed_lines(layout: Layout, warmed: Result) -> list[str]:
    """Return the lines of text on what tones warm; none where they warm nothing noticeably."""
    lines = []
    if any(map(has_peak, warmed.cables)):
        lines += ["cables that tones warm", "", cable_table(layout, warmed.cables).text(), ""]
    if warmed.films:
        lines += ["films that tones warm", "", film_table(layout, warmed.films).text(), ""]
        if any(row.assumed for row in warmed.films):
            lines += [wrapped(GUESS, ""), ""]
    return lines


def uncounted(layout: Layout, warmed: Result) -> list[str]:
    """Return sentences on what absorbs tones and is left at its stage's temperature."""
    said = [warmed.why] if warmed.why else []
    if warmed.not_counted:
        said.append(
            f"{_each(layout, warmed.not_counted)}: absorb enough of tones that they may be warmer "
            "than their stage; how much nobody states (hot_power, hot_temperature), so it is not "
            "counted"
        )
    if warmed.unknown_cables:
        said.append(
            f"{_each(layout, warmed.unknown_cables)}: absorb tones and are given by their loss "
            "alone, so what that warms along them is not known and not counted: give length and "
            "coax"
        )
    beyond = list(dict.fromkeys(row.id for row in warmed.cables if row.beyond))
    if beyond:
        said.append(
            f"{called(layout, beyond)}: tones warm it beyond the data of its materials, where it "
            "is taken at the last temperature that has any; the peak is a lower bound"
        )
    return said


def _each(layout, watts):
    """Return `C1 (4.4 uW), V-1 .. V-3 (1 nW each)`, copies together."""
    groups = {}
    for key, watt in watts.items():
        groups.setdefault((layout.elements[key].declared_id, f"{watt:.6e}"), []).append(key)
    return ", ".join(
        f"{_span(keys)} ({si(watts[keys[0]], 'W', 3)}{' each' if len(keys) > 1 else ''})"
        for keys in groups.values()
    )
