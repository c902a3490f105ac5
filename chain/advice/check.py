"""Every rule over a layout: findings, what the layout accepts of them, copies taken together."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from typing import TYPE_CHECKING

import chain.advice
from chain.advice.findings import Advice, Finding
from chain.advice.inspection import Inspection
from chain.advice.rules import LEVELS, RULES, WARNING
from chain.errors import Place

if TYPE_CHECKING:
    from chain.advice.rules import Rule
    from chain.layout.layout import Layout
    from components.quantities import Quantity

NO_ANSWER, UNKNOWN = "no-answer", "unknown-accept"


def rules() -> Mapping[str, Rule]:
    """Return every rule by its code, all modules of advice loaded."""
    for module in pkgutil.iter_modules(chain.advice.__path__):
        importlib.import_module(f"chain.advice.{module.name}")
    return RULES


def check(layout: Layout, margins: Mapping[str, Quantity] | None=None) -> Advice:
    """Return the Advice on a layout; `margins` ({name: Quantity}) go before the layout's own.

    Never raises LayoutError: what cannot be worked out is a finding.
    """
    inspection = Inspection(layout, margins)
    found = []
    for one in rules().values():
        for remark in inspection.attempt(list, one.remarks(inspection)) or ():
            found.append(_finding(inspection, one, remark))
    found += _no_answers(inspection)
    found = _together(inspection, found)
    found += _accepting_nothing(layout, found)
    kept, silenced = [], []
    for finding in found:
        reason = _reason(layout.accepted, finding)
        if reason is None:
            kept.append(finding)
        else:
            silenced.append((finding, reason))
    kept.sort(key=lambda f: (LEVELS.index(f.level), f.place.file, f.place.line, f.place.column))
    return Advice(tuple(kept), tuple(silenced), inspection.quantities, layout=layout)


def _finding(inspection, one, remark):
    place = remark.place
    if place is None:
        place = inspection.element(remark.elements[0]).place
    return Finding(
        remark.level or one.level, one.code, remark.elements, place, remark.says, one.why,
        one.source, remark.remedy,
    )


def _no_answers(inspection):
    """Return findings for what could not be worked out."""
    for p, level in sorted(inspection.problems.items(), key=str):
        yield Finding(
            level, NO_ANSWER, (), p.place, p.what,
            "what cannot be worked out cannot be checked either", "the layout itself", p.instead,
        )


def _together(inspection, findings):
    """Return findings with those on equal copies taken together."""
    groups = {}
    for finding in findings:
        bases = tuple(inspection.base(key) for key in finding.elements)
        says = finding.says
        for key, base in zip(finding.elements, bases, strict=True):
            says = says.replace(key, base)
        where = (finding.level, finding.code, str(finding.place), bases, says)
        groups.setdefault(where, []).append(finding)
    return [_one(inspection, group) for group in groups.values()]


def _one(inspection, group):
    first = group[0]
    alike = list(dict.fromkeys(
        other for finding in group for key in finding.elements[:1]
        for other in inspection.alike(key)
    ))
    if len(alike) < 2 or set(alike) <= set(first.elements):
        return first
    says = f"{first.says} ({alike[0]} to {alike[-1]} alike, {len(alike)} of them)"
    elements = tuple(dict.fromkeys([*alike, *first.elements[1:]]))
    return Finding(
        first.level, first.code, elements, first.place, says, first.why, first.source, first.remedy
    )


def _reason(accepted, finding):
    """Return why the layout accepts a finding: by its code, or by code and element; or None."""
    if finding.code in accepted:
        return accepted[finding.code]
    named = [f"{finding.code}.{key}" for key in finding.elements]
    return next((accepted[name] for name in named if name in accepted), None)


def _accepting_nothing(layout, found):
    """Return findings for codes that `accept` names and that no rule has."""
    codes = [*rules(), NO_ANSWER]
    for name in layout.accepted:
        code = name.partition(".")[0]
        if code in codes:
            continue
        yield Finding(
            WARNING, UNKNOWN, (), Place(layout.path), f"accept names {name}, and no rule is "
            "called so", "an acceptance that silences nothing hides a mistake in its name",
            "the register of rules", f"known are {', '.join(sorted(codes))}",
        )
