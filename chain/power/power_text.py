"""Where the power of tones goes, as a person reads it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chain.layout.margins import margin
from chain.power.levels import level_warnings
from chain.power.remarks import (
    SMALLEST_W,
    alike_tones,
    cascade_lines,
    dbm,
    dumped_cold,
    leaks,
)
from chain.power.warming_text import uncounted, warmed_lines
from chain.writing.numbers import fixed, residual, si
from chain.writing.text import TextTable, wrapped

if TYPE_CHECKING:
    from chain.writing.text import Result


def frequency_text(tone: Any) -> str:
    """Return `11.6 GHz`, or the range and count of a comb."""
    f = tone.frequency_hz / 1e9
    return f"{f[0]:g} GHz" if len(f) == 1 else f"{len(f)} lines, {f.min():g} to {f.max():g} GHz"


def element_table(power: Result, tone: Result) -> TextTable:
    """Return the TextTable of one tone: levels and what each element absorbs."""
    table = TextTable(
        ["element", "kind", "stage", "arriving\ndBm", "outgoing\ndBm", "at port",
         "absorbed", "% of cooling\npower"],
        left={"element", "kind", "stage", "at port"},
    )
    cooling_w = power.cooling_w
    small = 0
    for element in power.layout.elements.values():
        rows = _port_rows(tone, element)
        if not rows:
            continue
        if all(watt < SMALLEST_W for _, watt, _ in rows):
            small += 1
            continue
        absorbed = tone.absorbed_w.get(element.id)
        stage = element.stage or f"{element.from_stage} > {element.to_stage}"
        share = ""
        if absorbed and element.stage and cooling_w[element.stage]:
            share = f"{100 * absorbed / cooling_w[element.stage]:.3g}"
        what = si(absorbed, "W", 3) if absorbed is not None and absorbed > SMALLEST_W else ""
        if element.id in tone.exiting_w:
            what = f"exits {si(tone.exiting_w[element.id], 'W', 3)}"
        for place, (port, into, out) in enumerate(rows):
            first = place == 0
            table.add(
                element.id if first else "", element.kind.name if first else "",
                stage if first else "", dbm(into), dbm(out), port, what if first else "",
                share if first else "",
            )
    if small:
        table.add(f"-- {small} more see less than {dbm(SMALLEST_W)} dBm")
    return table


def _port_rows(tone, element):
    """Return [(port, arriving, outgoing)] of the ports that see anything of the tone."""
    rows = []
    for port in element.ports:
        name = f"{element.id}.{port}"
        if name in tone.arriving_w:
            into, out = tone.arriving_w[name], tone.outgoing_w[name]
            rows.append((port, into, out))
    seen = [row for row in rows if max(row[1:]) >= SMALLEST_W]
    return seen or rows[:1]


def stage_table(power: Result) -> TextTable:
    """Return the TextTable of the power dissipated at each stage."""
    groups = alike_tones(power)
    table = TextTable(
        ["stage", "at", *groups, "all tones", "cooling power", "%", ""], left={"stage", ""}
    )
    cooling_w, noticed = power.cooling_w, margin(power.layout, "dumped")
    for stage, watt in power.dissipated_by_stage_w.items():
        part = None if not cooling_w[stage] else watt / cooling_w[stage]
        mark = "" if part is None or part <= noticed else "<" if part <= 1 else "<<< too much"
        table.add(
            stage, si(power.layout.stages[stage].temperature_k, "K", 3),
            *(
                si(sum(power.tones[name].dissipated_by_stage_w[stage] for name in names), "W", 3)
                for names in groups.values()
            ),
            si(watt, "W", 3),
            "unknown" if cooling_w[stage] is None else si(cooling_w[stage], "W", 3),
            "" if part is None else f"{100 * part:.3g}", mark,
        )
    return table


def level_table(power: Result) -> TextTable | None:
    """Return the TextTable of levels at amplifiers and paramps, or None without any."""
    found = power.headrooms
    if not found:
        return None
    table = TextTable(
        ["element", "all tones in\ndBm", "out\ndBm", "peak out\ndBm", "1 dB compression\ndBm",
         "headroom\ndB"], left={"element"},
    )
    for level in found:
        table.add(
            level.id, dbm(level.total_in_w), dbm(level.total_out_w), dbm(level.peak_out_w),
            "unknown" if level.p1db_out_w is None else dbm(level.p1db_out_w),
            fixed(level.headroom_db, 1),
        )
    return table


def power_text(power: Result) -> str:
    """Return the whole answer as plain text."""
    if not power.tones:
        return "the layout has no tones"
    lines = []
    for label, names in alike_tones(power).items():
        tone, made = power.tones[names[0]], power.idler_of.get(names[0])
        sent = f"injected: {dbm(tone.injected_w)} dBm ({si(tone.injected_w, 'W', 3)})"
        head = f"made of {made} by the paramp" if made else sent
        each = "" if len(names) == 1 else f", each of {len(names)}, the first one shown"
        lines += [f"tone {label}, {frequency_text(tone)}, {head}{each}", ""]
        lines += [element_table(power, tone).text(), ""]
        out = sum(tone.exiting_w.values())
        lines += [
            f"injected {si(tone.injected_w, 'W')} + given by amplifiers {si(tone.given_w, 'W')} = "
            f"absorbed {si(sum(tone.absorbed_w.values()), 'W')} + exiting {si(out, 'W')}",
            f"balance residual {residual(tone.closure)}", "",
        ]
    lines += warmed_lines(power.layout, power.warmed)
    lines += ["power dissipated at each stage", "", stage_table(power).text(), ""]
    table = level_table(power)
    if table is not None:
        lines += ["levels at amplifiers (a paramp's own pump not counted)", "", table.text(), ""]
    said = [*dumped_cold(power), *level_warnings(power), *power.warnings]
    for text in [*said, *uncounted(power.layout, power.warmed)]:
        lines += [wrapped(f"! {text}", ""), ""]
    lines += leaks(power) + cascade_lines(power)
    lines += ["conventions:", wrapped(
        "levels are of the travelling waves in 50 ohm, a comb's lines added; what a cable absorbs "
        "goes to the nearest anchors on both sides in proportion to position; power exits by the "
        "outside connectors."
    )]
    return "\n".join(lines)
