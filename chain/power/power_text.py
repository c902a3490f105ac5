"""Where the power of tones goes, as a person reads it."""

from chain.power.levels import cascade, headrooms, level_warnings, tones_at
from chain.writing.numbers import fixed, number, residual, si
from chain.writing.text import TextTable, wrapped
from components.quantities import watt_to_dbm

NOTICED = 0.1
"""Part of what a stage can carry above which an element on it is named."""

SMALLEST_W = 1e-18
"""Levels below this (-150 dBm) are counted, not listed."""


def dbm(watt):
    """Return a power as a level, or `-` where there is none."""
    return "-" if watt <= 0 else f"{float(watt_to_dbm(watt)):.1f}"


def frequency_text(tone):
    """Return `11.6 GHz`, or the range and count of a comb."""
    f = tone.frequency_hz / 1e9
    return f"{f[0]:g} GHz" if len(f) == 1 else f"{len(f)} lines, {f.min():g} to {f.max():g} GHz"


def alike_tones(power):
    """Return {label: [tone name]}: equal copies of a tone (`drive-1` .. `drive-24`) together."""
    groups = {}
    for name, tone in power.tones.items():
        base, dash, number = name.partition(" ")[0].rpartition("-")
        copy = base if dash and number.isdigit() else name
        made = name.partition(" ")[2]
        mark = (copy, made, tuple(tone.frequency_hz), tone.injected_w, tone.given_w,
                tuple(tone.dissipated_by_stage_w.values()))
        groups.setdefault(mark, []).append(name)
    return {
        names[0] if len(names) == 1 else f"{names[0]} .. {names[-1]}": names
        for names in groups.values()
    }


def element_table(power, tone):
    """Return the TextTable of one tone: levels and what each element absorbs."""
    table = TextTable(
        ["element", "kind", "stage", "arriving\ndBm", "leaving\ndBm", "at port", "absorbs",
         "of what the stage\ncarries"],
        left={"element", "kind", "stage", "at port"},
    )
    carried = power.cooling_w
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
        if absorbed and element.stage and carried[element.stage]:
            share = f"{100 * absorbed / carried[element.stage]:.3g} %"
        what = si(absorbed, "W", 3) if absorbed is not None and absorbed > SMALLEST_W else ""
        if element.id in tone.exiting_w:
            what = f"out {si(tone.exiting_w[element.id], 'W', 3)}"
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
    """Return [(port, arriving, leaving)] of the ports that see anything of the tone."""
    rows = []
    for port in element.ports:
        name = f"{element.id}.{port}"
        if name in tone.arriving_w:
            into, out = tone.arriving_w[name], tone.outgoing_w[name]
            rows.append((port, into, out))
    seen = [row for row in rows if max(row[1:]) >= SMALLEST_W]
    return seen or rows[:1]


def stage_table(power):
    """Return the TextTable of what tones leave at each stage."""
    groups = alike_tones(power)
    table = TextTable(
        ["stage", "at", *groups, "all tones", "can carry", "%", ""], left={"stage", ""}
    )
    carried = power.cooling_w
    for stage, watt in power.dissipated_by_stage_w.items():
        part = None if not carried[stage] else watt / carried[stage]
        mark = "" if part is None or part < NOTICED else "<" if part <= 1 else "<<< too much"
        table.add(
            stage, si(power.layout.stages[stage].temperature_k, "K", 3),
            *(
                si(sum(power.tones[name].dissipated_by_stage_w[stage] for name in names), "W", 3)
                for names in groups.values()
            ),
            si(watt, "W", 3), "unknown" if carried[stage] is None else si(carried[stage], "W", 3),
            "" if part is None else f"{100 * part:.3g}", mark,
        )
    return table


def dumped_cold(power):
    """Return sentences on elements that take a large part of what their stage can carry.

    Each names the element, the stage, the tone, and what would move the heat.
    """
    said = []
    carried = power.cooling_w
    firsts = {names[0]: label for label, names in alike_tones(power).items()}
    for first, name in firsts.items():
        tone = power.tones[first]
        for key, watt in sorted(tone.absorbed_w.items(), key=lambda item: -item[1]):
            element = power.layout.elements[key]
            limit = carried.get(element.stage)
            if not limit or watt < NOTICED * limit:
                continue
            said.append(
                f"{key} on {element.stage} absorbs {si(watt, 'W', 3)} of {name}: "
                f"{_times(watt / limit)} what the stage carries at "
                f"{si(power.layout.stages[element.stage].temperature_k, 'K', 3)} "
                f"({si(limit, 'W', 3)}). {_mend(power.layout, element)}"
            )
    return said


def _times(ratio):
    return f"{ratio:.3g} times" if ratio >= 1 else f"{100 * ratio:.2g} % of"


def _mend(layout, element):
    loads = element.settings["loads"] or ()
    warmer = _warmer(layout, element.stage)
    if loads and warmer:
        ports = " or ".join(f"{element.id}.{port}" for port in loads)
        return (
            f"Its matched load takes it: give {ports} a line of its own "
            f"(`join: {ports.split(' or ')[0]}`, low-loss coax, a termination on {warmer}) in "
            "place of `loads`."
        )
    if element.kind.name == "termination" and warmer:
        return f"Move it to {warmer} at the end of a low-loss cable."
    if element.kind.name == "coupler":
        return (
            "Its own insertion loss takes it: couple more strongly, so that less of the tone has "
            "to pass, or choose a coupler that loses less."
        )
    if warmer:
        return f"Move attenuation to {warmer}, or send less of the tone this way."
    return "Send less of the tone this way."


def _warmer(layout, stage):
    """Return the coldest warmer stage whose cooling is known, by name, or None."""
    names = list(layout.stages)
    above = names[: names.index(stage)]
    strong = [name for name in above if layout.stages[name].cooling
              and layout.stages[name].temperature_k > 1.0]
    return strong[-1] if strong else (above[-1] if above else None)


def level_table(power):
    """Return the TextTable of levels at amplifiers and paramps, or None without any."""
    found = headrooms(power)
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


def leaks(power):
    """Return sentences on the tones at the first amplifier and at devices."""
    layout, said = power.layout, []
    for signal in layout.signals.values():
        if signal.from_port is None:
            continue
        reached = [
            key for key in layout.signal_path(signal)
            if layout.elements[key].kind.name == "amplifier"
        ]
        ports = [f"{reached[0]}.{layout.elements[reached[0]].enter}"] if reached else []
        ports += [
            f"{e.id}.{port}" for e in layout.elements.values() if e.kind.name == "device"
            for port in e.ports if e.id == signal.from_port[0]
        ]
        for port in ports:
            for name, watt, rate in tones_at(power, port):
                if watt >= SMALLEST_W:
                    said.append(
                        f"{name} at {port}: {dbm(watt)} dBm, {number(rate, 3)} photons/s"
                    )
    return list(dict.fromkeys(said))


def cascade_lines(power):
    """Return a line for each signal path with known compression or intercept."""
    said = []
    layout = power.layout
    middle = (layout.band.start_hz + layout.band.stop_hz) / 2
    for signal in layout.signals.values():
        if signal.from_port is None:
            continue
        found = cascade(layout, signal, middle)
        parts = []
        if found.p1db_w is not None:
            parts.append(f"1 dB compression at {dbm(found.p1db_w)} dBm, {found.first} first")
        if found.ip3_w is not None:
            parts.append(f"third-order intercept at {dbm(found.ip3_w)} dBm")
        if parts:
            said.append(f"{signal.name}, at its start: {'; '.join(parts)}")
    return said


def power_text(power):
    """Return the whole answer as plain text."""
    if not power.tones:
        return "the layout has no tones"
    lines = []
    for label, names in alike_tones(power).items():
        tone, made = power.tones[names[0]], power.idler_of.get(names[0])
        sent = f"sent in: {dbm(tone.injected_w)} dBm ({si(tone.injected_w, 'W', 3)})"
        head = f"made of {made} by the paramp" if made else sent
        each = "" if len(names) == 1 else f", each of {len(names)}, the first one shown"
        lines += [f"tone {label}, {frequency_text(tone)}, {head}{each}", ""]
        lines += [element_table(power, tone).text(), ""]
        out = sum(tone.exiting_w.values())
        lines += [
            f"injected {si(tone.injected_w, 'W')} + given by amplifiers {si(tone.given_w, 'W')} = "
            f"absorbed {si(sum(tone.absorbed_w.values()), 'W')} + leaving {si(out, 'W')}; "
            f"residual {residual(tone.closure)}", "",
        ]
    lines += ["what tones leave at each stage", "", stage_table(power).text(), ""]
    table = level_table(power)
    if table is not None:
        lines += ["levels at amplifiers (a paramp's own pump not counted)", "", table.text(), ""]
    for text in [*dumped_cold(power), *level_warnings(power), *power.warnings]:
        lines += [wrapped(f"! {text}", ""), ""]
    lines += leaks(power) + cascade_lines(power)
    lines += ["conventions:", wrapped(
        "levels are of the travelling waves in 50 ohm, a comb's lines added; what a cable absorbs "
        "goes to the nearest anchors on both sides in proportion to position; an outside connector "
        "takes what leaves."
    )]
    return "\n".join(lines)


def power_dict(power):
    """Return the answer under the names that programs lean on."""
    return {
        "tones": {
            name: {
                "frequency_hz": (
                    float(tone.frequency_hz[0]) if len(tone.frequency_hz) == 1
                    else tone.frequency_hz
                ),
                "injected_w": tone.injected_w,
                "arriving_dbm": tone.arriving_dbm,
                "absorbed_w": dict(tone.absorbed_w),
                "by_stage_w": dict(tone.dissipated_by_stage_w),
                "leaving_w": dict(tone.exiting_w),
                "given_w": tone.given_w,
                "closure": tone.closure,
                "idler_of": power.idler_of.get(name),
            }
            for name, tone in power.tones.items()
        },
        "by_stage_w": power.dissipated_by_stage_w,
        "cooling_w": power.cooling_w,
        "over": list(power.over),
        "levels": [
            {
                "id": level.id, "total_in_w": level.total_in_w, "total_out_w": level.total_out_w,
                "p1db_out_w": level.p1db_out_w, "headroom_db": level.headroom_db,
            }
            for level in headrooms(power)
        ],
        "dumped_cold": dumped_cold(power),
        "warnings": [*level_warnings(power), *power.warnings],
        "laws": {"energy": max((tone.closure for tone in power.tones.values()), default=None)},
    }
