"""Advice as a person reads it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.advice.rules import LEVELS
from chain.writing.foreign_text import one_line
from chain.writing.text import accepted_text, wrapped

if TYPE_CHECKING:
    from chain.writing.text import Result


def advice_text(advice: Result) -> str:
    """Return all findings as text, what the layout accepts and the margins behind them."""
    layout = advice.layout
    lines = [f"{one_line(layout.path)}: {_size(layout)}", ""]
    for finding in advice.findings:
        lines += _finding(finding)
    lines += _accepted(advice)
    used = ", ".join(f"{name} {value.text}" for name, value in advice.margins.items())
    lines.append(wrapped(f"margins (--margin NAME=VALUE): {used}", ""))
    lines.append(_summary(advice))
    return "\n".join(lines)


def _size(layout):
    counted = {"line": layout.lines, "element": layout.elements, "joint": layout.joints,
               "signal": layout.signals, "tone": layout.tones}
    return ", ".join(f"{len(rows)} {name}{'' if len(rows) == 1 else 's'}"
                     for name, rows in counted.items())


def _finding(finding):
    return [
        f"{finding.level}: {finding.code}",
        f"  {one_line(finding.where)}",
        wrapped(finding.says),
        wrapped(f"why: {finding.why} ({finding.source})"),
        wrapped(f"remedy: {finding.remedy}"),
        *(wrapped(f"follows from it: {one.code}: {one.says}") for one in finding.consequences),
        "",
    ]


def _summary(advice):
    counts = [
        (sum(finding.level == level for finding in advice.findings), level) for level in LEVELS
    ]
    said = ", ".join(f"{n} {level}{'' if n == 1 else 's'}" for n, level in counts)
    if not advice.findings:
        said = "nothing wrong, nothing to remark"
    silenced = f"; {len(advice.silenced)} accepted" if advice.silenced else ""
    return f"{said}{silenced}"


def _accepted(advice):
    """Return lines on what the layout accepts, each with what it silences."""
    lines = []
    for code, said in zip(
        advice.layout.accepted, accepted_text(advice.layout.accepted), strict=True
    ):
        silenced = [
            finding.says for finding, _ in advice.silenced
            if code in (finding.code, *(f"{finding.code}.{key}" for key in finding.elements))
        ]
        lines.append(said)
        lines += [wrapped(f"silences: {says}") for says in silenced] or ["  silences nothing now"]
    return [*lines, ""] if lines else []
