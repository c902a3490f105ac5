"""What a rule is, what it remarks, and the register of all rules."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from chain.advice.margins import PRACTICE
from chain.errors import Place

ERROR, WARNING, NOTE = "error", "warning", "note"
LEVELS = (ERROR, WARNING, NOTE)
"""From the worst on; an error makes `check` answer no."""


@dataclass(frozen=True)
class Remark:
    """What a rule says about elements of a layout: what is wrong, what would mend it."""

    elements: tuple[str, ...]
    says: str
    mend: str
    place: Place | None = None
    """Where it stands in the file; the first element's own place where not given."""
    level: str | None = None
    """In place of the rule's level."""


@dataclass(frozen=True)
class Rule:
    """A piece of advice: when it is given is the function, why is its reason."""

    code: str
    level: str
    why: str
    """Why it matters."""
    source: str
    """Where that is from, or `common practice, no source`."""
    margins: tuple[str, ...]
    """Names of the margins that it uses."""
    remarks: Callable
    """From a Look to the Remarks, none where the layout is well."""


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
    mend: str
    """What would mend it."""

    @property
    def where(self):
        """Place in the file, with the elements."""
        return f"{self.place} ({', '.join(self.elements)})" if self.elements else str(self.place)

    def as_dict(self):
        """Return the finding for --json."""
        return {
            "level": self.level, "code": self.code, "where": self.where, "says": self.says,
            "why": f"{self.why} ({self.source})", "mend": self.mend,
            "elements": list(self.elements), "file": self.place.file, "line": self.place.line,
        }


RULES: dict[str, Rule] = {}
"""Every rule by its code."""


def rule(code, level, *, why, source=PRACTICE, margins=()):
    """Register a function from a Look to Remarks as a rule (decorator)."""

    def register(function):
        if code in RULES:
            raise ValueError(f"two rules are called {code}")
        RULES[code] = Rule(code, level, why, source, tuple(margins), function)
        return function

    return register


@dataclass(frozen=True)
class Advice:
    """Everything that the rules find in a layout."""

    findings: tuple[Finding, ...]
    """What stays, worst first."""
    silenced: tuple[tuple[Finding, str], ...]
    """What the layout accepts, each with its reason."""
    margins: Mapping[str, object]
    """The margins used, by name (Quantity)."""
    layout: object = field(default=None, repr=False)

    @property
    def wrong(self):
        """True where a finding is an error."""
        return any(finding.level == ERROR for finding in self.findings)

    def __str__(self):
        from chain.advice.text import advice_text

        return advice_text(self)
