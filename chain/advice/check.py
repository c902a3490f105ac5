"""Every rule over a layout: findings, what the layout accepts of them, copies taken together."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import chain.advice
from chain.advice.findings import Advice, Finding
from chain.advice.inspection import Inspection
from chain.advice.remedies import remedy_text
from chain.advice.rules import LEVELS, NOTE, RULES, WARNING
from chain.advice.trials import Trials, remarked, subject
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
    rules()
    remarks = remarked(inspection)
    trials = Trials(
        inspection, remarks, lambda one: _reason(layout.accepted, one.code, one.remark.elements))
    silenced, open_ones = [], []
    for one in remarks:
        finding = _finding(inspection, one)
        reason = _reason(layout.accepted, finding.code, finding.elements)
        if reason is None:
            open_ones.append((subject(inspection, one), one, finding))
        else:
            # What is accepted stays as it is: nothing is tried for it.
            silenced.append((finding, reason))
    kept = _causes(trials, open_ones)
    kept += _no_answers(inspection)
    kept = _together(inspection, kept)
    kept += _accepting_nothing(layout, kept)
    silenced = [(f, _reason(layout.accepted, f.code, f.elements)) for f in _together(
        inspection, [finding for finding, _ in silenced])]
    kept.sort(key=lambda f: (LEVELS.index(f.level), f.place.file, f.place.line, f.place.column))
    return Advice(tuple(kept), tuple(silenced), inspection.quantities, layout=layout)


def _finding(inspection, found):
    one, remark = found.rule, found.remark
    place = remark.place
    if place is None:
        place = inspection.element(remark.elements[0]).place
    return Finding(found.level, one.code, remark.elements, place, remark.says, one.why,
                   one.source, "")


def _causes(trials, remarks):
    """Return the findings, those that the remedy of another takes away told under that one.

    First comes what is wrong in itself, then what is missing; for what they take away nothing is
    tried.
    """
    number = {key: place for place, (key, _, _) in enumerate(remarks)}
    order = sorted(remarks, key=lambda one: (
        -one[1].rule.cause, LEVELS.index(one[1].level), number[one[0]]))
    kept = []
    while order:
        key, one, finding = order.pop(0)
        tried, gone = trials.tried(one)
        under = [other for other in order if other[0] in gone and other[1].level != NOTE]
        order = [other for other in order if other not in under]
        below = tuple(
            replace(f, remedy=f"what puts {one.code} ({', '.join(finding.elements)}) right")
            for _, _, f in under
        )
        level = min([finding.level, *(f.level for f in below)], key=LEVELS.index)
        finding = replace(
            finding, level=level, tried=tried, remedy=remedy_text(tried), consequences=below)
        kept.append((key, finding, one.remark.each))
    kept.sort(key=lambda one: number[one[0]])
    return _grouped([(finding, each) for _, finding, each in kept])


def _grouped(findings):
    """Return findings, those of one code with the same word on each told in one."""
    groups = {}
    for finding, each in findings:
        key = (finding.code, finding.level, each) if each else id(finding)
        groups.setdefault(key, (each, []))[1].append(finding)
    return [
        some[0] if len(some) == 1 else replace(
            some[0], elements=tuple(key for f in some for key in f.elements),
            says=f"{_listed([f.elements[0] for f in some])} {each}",
        ) for each, some in groups.values()
    ]


def _listed(ids, most=12):
    """Return ids in words: all of them, or the first of many."""
    if len(ids) > most:
        return f"{', '.join(ids[:most])} and {len(ids) - most} more"
    return f"{', '.join(ids[:-1])} and {ids[-1]}"


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
    return replace(first, elements=elements, says=says)


def _reason(accepted, code, elements):
    """Return why the layout accepts a finding: by its code, or by code and element; or None."""
    if code in accepted:
        return accepted[code]
    named = [f"{code}.{key}" for key in elements]
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
