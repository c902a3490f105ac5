"""The heat of a layout as a person reads it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.heat.states import COLDER, HELD, HOTTER, NO_DATA
from chain.layout.naming import title_of
from chain.power.warming_text import warmed_lines
from chain.writing.numbers import number, residual, si
from chain.writing.text import TextTable, wrapped

if TYPE_CHECKING:
    from chain.writing.text import Result

ROWS_A_STAGE = 5
"""Rows a stage of the largest contributions, where no other number is asked for."""

CONVENTIONS = (
    "Conduction: integral of k(T) over each part of a cable or loom between its anchors, k from "
    "the sources of the catalogue or the layout; tone power that a cable absorbs goes to the "
    "anchors beside it in proportion to position.",
    "Stages are taken as independent: the cooling power of each is that of its own table, whatever "
    "the load of the others; between points linear in T^2 up to 1 K and in T above, outside them "
    "unknown.",
    "Not counted unless a stage names it under `other`: radiation, gas, supports, vibration, "
    "wires that the layout does not have.",
)

_ENDS = {
    HELD: "held", COLDER: "below its table", HOTTER: "none within its table", NO_DATA: "no data",
}


def stage_table(heat: Result) -> TextTable:
    """Return the TextTable of every stage: loads, cooling power, margin, steady state."""
    table = TextTable(
        ["stage", "at", "conducted\nin", "conducted\nout", "bias", "tones",
         *_direct(heat, "direct\ncurrents"), "other", "total", "cooling\npower", "margin",
         "% of cooling\npower", "steady-state\ntemperature", ""],
        left={"stage", "steady-state\ntemperature", ""},
    )
    for name, one in heat.stages.items():
        unknown = bool(one.unknown)
        on = None if unknown else one.conduction_in_w - one.conduction_w
        known = one.cooling_w and one.total_w is not None
        used = 100 * one.total_w / one.cooling_w if known else None
        table.add(
            name, si(one.temperature_k, "K", 3), _watt(one.conduction_in_w), _watt(on),
            _watt(one.bias_w), _watt(one.tones_w), *_direct(heat, _watt(one.currents_w)),
            _watt(one.other_w), _watt(one.total_w),
            _watt(one.cooling_w), _watt(one.margin_w), "" if used is None else number(used, 3),
            _ENDS.get(one.state) if one.settled_k is None else si(one.settled_k, "K"),
            "<<< too much" if one.over else "",
        )
    return table


def _direct(heat, cell):
    """Return a cell of the column of direct currents, where the layout has any."""
    return [cell] if heat.currents else []


def _watt(watt):
    return "unknown" if watt is None else si(watt, "W", 3)


def contribution_table(heat: Result, count: int | None = ROWS_A_STAGE) -> TextTable:
    """Return the TextTable of the largest contributions of cables and elements at each stage."""
    table = TextTable(
        ["stage", "element", "kind", "line", "conducted\nin", "conducted\nout", "bias",
         "tones", *_direct(heat, "direct\ncurrents"), "each", "all", "% of\ntotal"],
        left={"stage", "element", "kind", "line"},
    )
    for name, stage in heat.stages.items():
        rows = _contribution_rows(heat, name)
        for place, (_, _, cells) in enumerate(rows[:count]):
            table.add(name if place == 0 else "", *cells)
        rest = rows[count:]
        if rest:
            known = sum(watt for watt, _, _ in rest if watt is not None)
            ids = sum(number_of for _, number_of, _ in rest)
            empty = [""] * (7 + len(_direct(heat, "")))
            table.add("", f"{ids} more", *empty, _watt(known), _part(known, stage))
    return table


def _contribution_rows(heat, name):
    """Return [(watt, how many, cells)] of what heats a stage, the largest first, unknown last."""
    stage, rows = heat.stages[name], []
    for row in heat.contributions(name):
        if row[3] is None or row[3] > 0:
            rows.append((row[3], len(row[0]), _contribution_cells(heat, stage, *row)))
    for called, watt in heat.layout.stages[name].other_w.items():
        empty = [""] * (5 + len(_direct(heat, "")))
        cells = (called, "other load", *empty, _watt(watt), _watt(watt), _part(watt, stage))
        rows.append((watt, 1, cells))
    return sorted(rows, key=lambda row: (row[0] is None, -(row[0] or 0.0)))


def _contribution_cells(heat, stage, keys, line, one, watt):
    on = None if one.conduction_w is None else one.conduction_in_w - one.conduction_w
    ids = keys[0] if len(keys) == 1 else f"{keys[0]} .. {keys[-1]}"
    return (
        ids, heat.layout.elements[keys[0]].kind.name, line,
        _watt(one.conduction_in_w), _watt(on), _watt(one.bias_w), _watt(one.tones_w),
        *_direct(heat, _watt(one.currents_w)), _watt(one.total_w), _watt(watt), _part(watt, stage),
    )


def _part(watt, stage):
    if watt is None or stage.total_w is None or stage.total_w <= 0:
        return ""
    return number(100 * watt / stage.total_w, 3)


def current_table(heat: Result) -> TextTable:
    """Return the TextTable of direct currents, equal copies once."""
    table = TextTable(
        ["line", "at its end", "at the connector", "voltage", "dissipated\nby one",
         "most of it in", "hottest\ncentre"], left={"line", "most of it in"},
    )
    groups = {}
    for one in heat.currents.values():
        mark = one.declared, one.source_a, one.source_v, tuple(one.hottest_k.values())
        groups.setdefault(mark, []).append(one)
    for found in groups.values():
        one = found[0]
        name = one.line if len(found) == 1 else f"{one.line} .. {found[-1].line}"
        if one.blocked_by is not None or one.unknown is not None:
            why = f"blocked by {one.blocked_by}" if one.blocked_by else f"unknown: {one.unknown}"
            table.add(name, "0 A" if one.blocked_by else "unknown", "", "", "", why, "")
            continue
        watts = {key: sum(parts.values()) for key, parts in one.dissipated_w.items()}
        most = max(watts, key=lambda key: watts[key], default=None)
        table.add(
            name, si(one.end_a, "A", 3), si(one.source_a, "A", 3), si(one.source_v, "V", 3),
            si(sum(watts.values()), "W", 3),
            "" if most is None else f"{most} {si(watts[most], 'W', 3)}",
            si(max(one.hottest_k.values()), "K", 3) if one.hottest_k else "",
        )
    return table


def more_table(more: Result, heat: Result) -> TextTable:
    """Return the TextTable of how many more lines each stage holds."""
    table = TextTable(["stage", "one more adds", "margin", "fit"], left={"stage", "fit"})
    for name, watt in more.per_line_w.items():
        margin = heat.stages[name].margin_w
        fit = more.fit[name]
        held = str(fit)
        if fit is None:
            held = "unknown" if watt is None or margin is None else "any number"
        table.add(name, _watt(watt), _watt(margin), held)
    return table


def more_text(more: Result, heat: Result) -> str:
    """Return how many more lines fit, stage by stage and in one sentence."""
    along = more.lines[1:]
    beside = f" (with it come {', '.join(along)})" if along else ""
    if more.fits is None:
        verdict = f"no stage whose margin is known limits how many more lines like {more.line} fit"
    else:
        verdict = (f"{more.fits} more lines like {more.line} fit{beside}: {more.first_out} runs "
                   "out first, stages held at their temperatures")
    return "\n".join([f"one more line like {more.line}{beside}", "",
                      more_table(more, heat).text(), "", wrapped(verdict, "")])


def heat_text(heat: Result, *, most: int = ROWS_A_STAGE, more: Result | None = None) -> str:
    """Return the whole answer as plain text; `most` rows a stage, `more` a MoreLines."""
    lines = [title_of(heat.layout), ""] if heat.layout.title else []
    lines += ["heat load of each stage, at the temperatures given in the layout", "",
              stage_table(heat).text(), ""]
    if most:
        lines += ["largest contributions", "", contribution_table(heat, most).text(), ""]
    if heat.currents:
        lines += ["direct currents, all of it back by the outer conductors", "",
                  current_table(heat).text(), ""]
    if more is not None:
        lines += [more_text(more, heat), ""]
    lines += warmed_lines(heat.layout, heat.warmed)
    lines.append("laws (residuals): " + ", ".join(
        f"{name} {residual(value)}" for name, value in heat.laws.items()
    ))
    lines += [wrapped(f"warning: {text}", "") for text in heat.warnings]
    lines += ["conventions:"] + [wrapped(text) for text in CONVENTIONS]
    return "\n".join(lines)
