"""Where the power of tones goes, as a person reads it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chain.errors import LayoutError, Place
from chain.layout.margins import margin
from chain.power.levels import level_warnings
from chain.power.ratings import rating_warnings
from chain.power.remarks import (
    SMALLEST_W,
    alike_tones,
    cascade_lines,
    dbm,
    dumped_cold,
    leaks,
)
from chain.power.warming_text import uncounted, warmed_lines
from chain.suggestions import choose, shown
from chain.writing.numbers import fixed, residual, si
from chain.writing.text import TextTable, wrapped

if TYPE_CHECKING:
    from chain.writing.text import Result


BELOW_TONE = 1e-10
"""Part of a tone's power below which its levels are counted, not listed: 100 dB."""


def frequency_text(tone: Any) -> str:
    """Return `11.6 GHz`, or the range and count of a comb."""
    f = tone.frequency_hz / 1e9
    return f"{f[0]:g} GHz" if len(f) == 1 else f"{len(f)} lines, {f.min():g} to {f.max():g} GHz"


def sent_text(tone: Result) -> str:
    """Return what is sent of a tone: its level, and watt on average."""
    level, average = dbm(tone.while_on_w(tone.injected_w)), si(tone.injected_w, "W", 3)
    if tone.duty == 1:
        return f"{level} dBm ({average})"
    of = "" if tone.pulse_s is None else f"in pulses of {si(tone.pulse_s, 's', 3)} "
    return f"{level} dBm while on, {of}{100 * tone.duty:.3g} % of the time ({average} on average)"


def element_table(power: Result, tone: Result) -> TextTable:
    """Return the TextTable of one tone: levels and what each element absorbs."""
    table = TextTable(
        ["element", "kind", "stage", "arriving\ndBm", "outgoing\ndBm", "at port",
         "absorbed", "% of cooling\npower"],
        left={"element", "kind", "stage", "at port"},
    )
    cooling_w = power.cooling_w
    least, small = least_w(tone), 0
    for element in power.layout.elements.values():
        rows = _port_rows(tone, element, least)
        if not rows:
            continue
        if all(max(row[1:]) < least for row in rows):
            small += 1
            continue
        absorbed = tone.absorbed_w.get(element.id)
        stage = element.stage or f"{element.from_stage} > {element.to_stage}"
        share = ""
        if absorbed and absorbed > least and element.stage and cooling_w[element.stage]:
            share = f"{100 * absorbed / cooling_w[element.stage]:.3g}"
        what = si(absorbed, "W", 3) if absorbed is not None and absorbed > least else ""
        if tone.exiting_w.get(element.id, 0.0) > least:
            what = f"exits {si(tone.exiting_w[element.id], 'W', 3)}"
        for place, (port, *waves) in enumerate(rows):
            into, out = map(tone.while_on_w, waves)
            first = place == 0
            table.add(
                element.id if first else "", element.kind.name if first else "",
                stage if first else "", dbm(into), dbm(out), port, what if first else "",
                share if first else "",
            )
    if small:
        table.add(f"-- {small} more see less than {dbm(least)} dBm")
    return table


def least_w(tone: Any) -> float:
    """Return the power below which a level of a tone is only counted: 100 dB below the tone."""
    sent = tone.injected_w or max(tone.outgoing_w.values(), default=0.0)  # an idler has no source
    return max(SMALLEST_W, BELOW_TONE * sent)


def _port_rows(tone, element, least):
    """Return [(port, arriving, outgoing)] of the ports that see anything of the tone."""
    rows = []
    for port in element.ports:
        name = f"{element.id}.{port}"
        if name in tone.arriving_w:
            into, out = tone.arriving_w[name], tone.outgoing_w[name]
            rows.append((port, into, out))
    seen = [row for row in rows if max(row[1:]) >= least]
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
            level.id, dbm(level.on_in_w), dbm(level.on_out_w), dbm(level.peak_out_w),
            "unknown" if level.p1db_out_w is None else dbm(level.p1db_out_w),
            fixed(level.headroom_db, 1),
        )
    return table


def rating_table(power: Result) -> TextTable:
    """Return the TextTable of ratings, the nearest first."""
    table = TextTable(
        ["element", "rating", "at", "level\ndBm", "rated\ndBm", "margin\ndB"],
        left={"element", "rating", "at"},
    )
    for one in sorted(power.ratings, key=lambda one: -one.level_w / one.limit_w):
        table.add(
            one.id, one.rating, one.port, dbm(one.level_w), dbm(one.limit_w),
            fixed(one.margin_db, 1),
        )
    return table


def power_text(power: Result, tone: str | None = None) -> str:
    """Return the whole answer as plain text: stages and remarks first, then element by element.

    `tone` (its name, or that of its copies) shows the elements of that one alone.
    """
    if not power.tones:
        return "the layout has no tones"
    lines = [_verdict(power), "", "power dissipated at each stage", "", stage_table(power).text(),
             ""]
    said = [
        *dumped_cold(power), *level_warnings(power), *rating_warnings(power), *power.warnings
    ]
    for text in said:
        lines += [wrapped(f"! {text}", ""), ""]
    table = level_table(power)
    if table is not None:
        lines += ["levels at amplifiers (a paramp's own pump not counted)", "", table.text(), ""]
    if power.ratings:
        lines += ["ratings", "", rating_table(power).text(), ""]
    said = leaks(power) + cascade_lines(power)
    lines += [*said, ""] if said else []
    lines += warmed_lines(power.layout, power.warmed)
    for text in uncounted(power.layout, power.warmed):
        lines += [wrapped(f"! {text}", ""), ""]
    for label, names in alike_tones(power).items():
        if tone is None or _named(power, names, tone):
            lines += _tone_lines(power, label, names)
    lines += ["conventions:", wrapped(
        "levels are of the travelling waves in 50 ohm, a comb's lines added; what a cable absorbs "
        "goes to the nearest anchors on both sides in proportion to position; power exits by the "
        "outside connectors."
    )]
    if any(tone.duty < 1 for tone in power.tones.values()):
        lines.append(wrapped(
            "of a pulsed tone levels in dBm are those while it is on, watt and photons/s averages "
            "over time; at amplifiers all tones are taken as on at once."
        ))
    return "\n".join(lines)


def _verdict(power):
    if power.over:
        return f"over their cooling power by tones alone: {', '.join(power.over)}"
    known = [stage for stage, watt in power.cooling_w.items() if watt is not None]
    if not known:
        return "whether a stage gets too much is unknown: none has a cooling table"
    return "tones alone exceed no stage's cooling power (chain heat adds everything else)"


def tones_named(power: Result, name: str) -> list[str]:
    """Return the tones of that name, its copies and idlers included; raises LayoutError."""
    found = [each for names in alike_tones(power).values() for each in names
             if _named(power, [each], name)]
    if not found:
        known = {tone.declared_name: True for tone in power.layout.tones.values()}
        raise LayoutError.at(
            Place("--tone"), f"there is no tone {shown(name)}", choose(name, known, "tones")
        )
    return found


def _named(power, names, wanted):
    """Tell whether any of some tones, or what an idler is made of, is called so."""
    for name in names:
        made_of = power.idler_of.get(name, name)
        if wanted in (name, made_of, power.layout.tones[made_of].declared_name):
            return True
    return False


def _tone_lines(power, label, names):
    tone, made = power.tones[names[0]], power.idler_of.get(names[0])
    sent = f"injected: {sent_text(tone)}"
    head = f"made of {made} by the paramp" if made else sent
    each = "" if len(names) == 1 else f", each of {len(names)}, the first one shown"
    out = sum(tone.exiting_w.values())
    return [
        f"tone {label}, {frequency_text(tone)}, {head}{each}", "",
        element_table(power, tone).text(), "",
        f"injected {si(tone.injected_w, 'W')} + given by amplifiers {si(tone.given_w, 'W')} = "
        f"absorbed {si(sum(tone.absorbed_w.values()), 'W')} + exiting {si(out, 'W')}",
        f"balance residual {residual(tone.closure)}", "",
    ]
