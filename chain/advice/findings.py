"""What `chain check` finds: remarks with their rules, and all of them together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from chain.advice.rules import ERROR
from chain.errors import Place

if TYPE_CHECKING:
    from chain.advice.remedies import Tried
    from chain.layout.layout import Layout
    from components.quantities import Quantity


@dataclass(frozen=True)
class Finding:
    """A remark with its rule: one entry of `chain check`."""

    level: str
    code: str
    elements: tuple[str, ...]
    place: Place
    says: str
    """What is wrong."""
    why: str
    """Why it matters."""
    source: str
    """Where the reason is from."""
    remedy: str
    """What would put it right, with what it really does where it could be tried."""
    tried: tuple[Tried, ...] = ()
    """Its remedies, each applied to a copy of the layout and solved, the best first."""
    consequences: tuple[Finding, ...] = ()
    """Findings that its best remedy takes away too."""

    @property
    def where(self) -> str:
        """Place in the file, with the elements."""
        return f"{self.place} ({', '.join(self.elements)})" if self.elements else str(self.place)

    def as_dict(self) -> dict[str, Any]:
        """Return the finding for --json."""
        return {
            "level": self.level, "code": self.code, "where": self.where, "says": self.says,
            "why": f"{self.why} ({self.source})", "remedy": self.remedy,
            "elements": list(self.elements), "file": self.place.file, "line": self.place.line,
            "remedies": [one.as_dict() for one in self.tried],
            "consequences": [one.as_dict() for one in self.consequences],
        }


@dataclass(frozen=True)
class Advice:
    """Everything that the rules find in a layout."""

    findings: tuple[Finding, ...]
    """What stays, worst first."""
    silenced: tuple[tuple[Finding, str], ...]
    """What the layout accepts, each with its reason."""
    margins: Mapping[str, Quantity]
    """The margins used, by name (Quantity)."""
    layout: Layout = field(kw_only=True, repr=False)

    @property
    def every(self) -> tuple[Finding, ...]:
        """What stays, consequences after their causes."""
        return tuple(one for cause in self.findings for one in (cause, *cause.consequences))

    @property
    def wrong(self) -> bool:
        """True where a finding is an error."""
        return any(finding.level == ERROR for finding in self.every)

    def as_dict(self) -> dict[str, Any]:
        """Return the advice under the names that programs lean on."""
        return {
            "findings": [finding.as_dict() for finding in self.findings],
            "accepted": [
                {**finding.as_dict(), "accepted": reason} for finding, reason in self.silenced
            ],
            "accept": dict(self.layout.accepted),
            "margins": {
                name: {"value": value.value, "text": value.text, "unit": value.dimension}
                for name, value in self.margins.items()
            },
            "warnings": [], "laws": {},
        }

    def __str__(self):
        from chain.advice.text import advice_text

        return advice_text(self)
