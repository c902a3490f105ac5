"""What a replacement has to be, as a person reads it who looks for one in a drawer."""

from __future__ import annotations

from chain.layout.margins import PRACTICE
from chain.writing.numbers import si
from chain.writing.text import Result, TextTable, wrapped


def replacement_text(found: Result) -> str:
    """Return the text of a Replacement."""
    low, high = found.frequency_hz
    cold, warm = found.temperature_k
    lines = [f"{found.element} ({found.kind}, {found.where}): what a part in its place has to be",
             ""]
    if found.bounds:
        table = TextTable(
            ["parameter", "as it is", "at least", "at most", "beyond which fails"],
            left={"parameter", "beyond which fails"},
        )
        for one in found.bounds:
            table.add(one.parameter, one.as_is, one.least or "", one.most or "", _why(one))
        lines += [table.text(), "", wrapped(
            "Each value by itself, everything else as written: two at their worst together are too "
            "much. Empty: none in reach fails. Margins: those of check.", ""), ""]
    lines += [wrapped(text, "") for text in (
        f"direction: {found.direction}",
        f"band: {low / 1e9:g} to {high / 1e9:g} GHz, tones counted",
        f"temperature: works at {_kelvin(cold)}, stands {_kelvin(warm)} and being cooled from one "
        f"to the other again and again ({PRACTICE})",
    )]
    lines += [wrapped(f"level: {dbm:.1f} dBm of {name}", "")
              for name, dbm in found.tones_dbm.items()]
    if found.dissipates_w:
        lines.append(f"heat: {si(found.dissipates_w, 'W', 3)} as it is")
    lines += [wrapped(_port(one), "") for one in found.ports]
    lines += [wrapped(f"{name}: {text}", "") for name, text in found.owned.items()]
    lines += ["", *(wrapped(text, "") for text in found.cautions)] if found.cautions else []
    return "\n".join(lines)


def _why(one):
    if one.remark:
        return one.remark
    said = [f"lower: {one.least_why}" if one.least else "",
            f"higher: {one.most_why}" if one.most else ""]
    return "; ".join(text for text in said if text)


def _kelvin(kelvin):
    return si(kelvin, "K", 3)


def _port(one):
    has = one.connector or "not stated"
    meets = one.mates_with or "not stated"
    joined = f", joined to {one.joined_to} ({meets})" if one.joined_to else ""
    wrong = "; these two do not mate" if one.fits is False else ""
    return f"connector at {one.port}: {has}{joined}{wrong}"
