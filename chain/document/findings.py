"""Sections on what `chain check` finds, and on what the layout accepts."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from chain.pages.blocks import Heading, Paragraph, Table
from chain.pages.sheets import as_csv
from chain.writing.text import Result

if TYPE_CHECKING:
    from chain.advice.findings import Finding
    from chain.pages.blocks import Block

_HEADINGS = ("where", "what", "remedy")
_ALL = ("level", "code", "where", "what", "why", "remedy")


def finding_blocks(
    facts: Result, findings: Iterable[Finding], *, silent: bool = False
) -> list[Block]:
    """Return findings as a Table, rule by rule; nothing at all without any where `silent`."""
    if not findings:
        if silent:
            return []
        return [Heading("Findings"), Paragraph("Nothing wrong, nothing to remark (chain check).")]
    whole, by_rule = [], {}
    for f in findings:
        why, own = f"{f.why} ({f.source})", (facts.said(f.where), facts.said(f.says), f.remedy)
        whole.append((f.level, f.code, own[0], own[1], why, own[2]))
        by_rule.setdefault(f"{f.level}: {f.code}. Why: {why}", []).append(own)
    # What stands behind a rule is said once, above all that it found.
    rows = tuple(row for why, found in by_rule.items() for row in ((why,), *found))
    return [Heading("Findings"), Table(
        _HEADINGS, rows, frozenset(_HEADINGS), data="" if silent else "findings",
        csv=None if silent else as_csv(_ALL, whole),
    )]


def accepted_blocks(facts: Result) -> list[Block]:
    """Return what the layout accepts, with its reasons, and what each silences."""
    rows = []
    for code, reason in facts.layout.accepted.items():
        silenced = [
            facts.said(f.says) for f, _ in facts.advice.silenced
            if code == f.code or code in {f"{f.code}.{key}" for key in f.elements}
        ]
        rows.append((code, reason, "; ".join(silenced) or "nothing now"))
    if not rows:
        return []
    headings = ("accepted", "because", "silences")
    return [Heading("Accepted findings", 3),
            Table(headings, tuple(rows), frozenset(headings), data="accepted")]
