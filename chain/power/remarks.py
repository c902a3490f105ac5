"""Sentences on where tones go: into cold parts, to the device, toward compression."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.layout.margins import margin
from chain.power.levels import tones_at
from chain.writing.numbers import number, si
from components.quantities import watt_to_dbm

if TYPE_CHECKING:
    from chain.writing.text import Result

SMALLEST_W = 1e-18
"""Levels below this (-150 dBm) are counted, not listed."""


def dbm(watt: float) -> str:
    """Return a power as a level, or `-` where there is none."""
    return "-" if watt <= 0 else f"{float(watt_to_dbm(watt)):.1f}"


def alike_tones(power: Result) -> dict[str, list[str]]:
    """Return {label: [tone name]}: copies of a tone that go the same way, idlers apart, together.

    Known by their results, so that copies in one network stand together too.
    """
    groups = {}
    for name, tone in power.tones.items():
        made_of = power.idler_of.get(name)
        declared = power.layout.tones[made_of or name].declared_name
        mark = (declared, made_of is None, tuple(tone.frequency_hz), tone.injected_w, tone.given_w,
                tuple(tone.dissipated_by_stage_w.values()))
        groups.setdefault(mark, []).append(name)
    return {
        names[0] if len(names) == 1 else f"{names[0]} .. {names[-1]}": names
        for names in groups.values()
    }


def dumped_cold(power: Result) -> list[str]:
    """Return sentences on elements that absorb more of their stage's cooling power than the margin.

    The margin is the layout's `dumped`, for each element and tone by itself.  Each sentence names
    the element, the stage, the tone, and what would move the heat.
    """
    said = []
    cooling_w, noticed = power.cooling_w, margin(power.layout, "dumped")
    firsts = {names[0]: label for label, names in alike_tones(power).items()}
    for first, name in firsts.items():
        tone = power.tones[first]
        for key, watt in sorted(tone.absorbed_w.items(), key=lambda item: -item[1]):
            element = power.layout.elements[key]
            limit = cooling_w.get(element.stage)
            if not limit or watt <= noticed * limit:
                continue
            said.append(
                f"{key} on {element.stage} absorbs {si(watt, 'W', 3)} of {name}: "
                f"{_times(watt / limit)} the stage's cooling power at "
                f"{si(power.layout.stages[element.stage].temperature_k, 'K', 3)} "
                f"({si(limit, 'W', 3)}). {_remedy(power.layout, element)}"
            )
    return said


def _times(ratio):
    return f"{ratio:.3g} times" if ratio >= 1 else f"{100 * ratio:.2g} % of"


def _remedy(layout, element):
    loads = element.settings["loads"] or ()
    warmer = _warmer(layout, element.stage)
    if loads and warmer:
        ports = " or ".join(f"{element.id}.{port}" for port in loads)
        return (
            f"Its matched load takes it: give {ports} a line of its own "
            f"(`join: {ports.split(' or ')[0]}`, low-loss coax, a termination on {warmer}) in "
            "place of `loads`."
        )
    if element.kind.is_load(element.settings) and warmer:
        return f"Move it to {warmer} at the end of a low-loss cable."
    if element.kind.absorbs_less:
        return element.kind.absorbs_less
    if warmer:
        return f"Move attenuation to {warmer}, or send less of the tone along this path."
    return "Send less of the tone along this path."


def _warmer(layout, stage):
    """Return the coldest warmer stage whose cooling is known, by name, or None."""
    names = list(layout.stages)
    above = names[: names.index(stage)]
    strong = [name for name in above if layout.stages[name].cooling
              and layout.stages[name].temperature_k > 1.0]
    return strong[-1] if strong else (above[-1] if above else None)


def leaks(power: Result) -> list[str]:
    """Return sentences on the tones at the first amplifier and at devices."""
    layout, said = power.layout, []
    for signal in layout.signals.values():
        if signal.from_port is None:
            continue
        reached = [
            key for key in layout.signal_path(signal)
            if layout.elements[key].kind.is_amplifier(layout.elements[key].settings)
        ]
        ports = [f"{reached[0]}.{layout.elements[reached[0]].enter}"] if reached else []
        source = layout.elements[signal.from_port[0]]
        if source.kind.is_device:
            ports += [f"{source.id}.{port}" for port in source.ports]
        for port in ports:
            for name, watt, rate in tones_at(power, port):
                if watt >= SMALLEST_W:
                    said.append(
                        f"{name} at {port}: {dbm(watt)} dBm, {number(rate, 3)} photons/s"
                    )
    return list(dict.fromkeys(said))


def cascade_lines(power: Result) -> list[str]:
    """Return a line for each signal path with known compression or intercept."""
    said = []
    for found in power.cascades:
        parts = []
        if found.p1db_w is not None:
            parts.append(f"1 dB compression at {dbm(found.p1db_w)} dBm, {found.first} first")
        if found.ip3_w is not None:
            parts.append(f"third-order intercept at {dbm(found.ip3_w)} dBm")
        if parts:
            said.append(f"{found.signal}, at its start: {'; '.join(parts)}")
    return said
