"""Sections on what `chain check` finds, and on what the layout accepts."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from chain.pages.blocks import Heading, Paragraph, Table
from chain.writing.text import Result

if TYPE_CHECKING:
    from chain.advice.findings import Finding
    from chain.pages.blocks import Block

_HEADINGS = ("level", "code", "where", "what", "why", "remedy")


def finding_blocks(
    facts: Result, findings: Iterable[Finding], *, silent: bool = False
) -> list[Block]:
    """Return findings as a Table; nothing at all without any where `silent`."""
    if not findings:
        if silent:
            return []
        return [Heading("Findings"), Paragraph("Nothing wrong, nothing to remark (chain check).")]
    rows = tuple(
        (f.level, f.code, facts.said(f.where), facts.said(f.says), f"{f.why} ({f.source})",
         f.remedy)
        for f in findings
    )
    data = "" if silent else "findings"
    return [Heading("Findings"), Table(_HEADINGS, rows, frozenset(_HEADINGS), data=data)]


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
