"""Advice as the face gives it."""

from __future__ import annotations

from typing import Any

from chain.advice import findings
from chain.layout.naming import title_of
from chain.results.shown import Brief, Shown
from chain.writing.text import TextTable


class Advice(Shown, findings.Advice):
    """Advice that shows itself; `rows` are its findings, worst first."""

    def brief(self) -> Brief:
        """Return a row a finding."""
        table = TextTable(["level", "code", "elements", "what"],
                          left={"level", "code", "elements", "what"})
        for one in self.findings:
            table.add(one.level, one.code, ", ".join(one.elements), one.says)
        accepted = (f"{len(self.silenced)} accepted by the layout",) if self.silenced else ()
        return Brief(
            f"{title_of(self.layout)}: {len(self.findings)} findings", table, accepted
        )

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """A row a finding, under the names of `--json`."""
        return tuple(self.as_dict()["findings"])
