"""What a rule is, what it remarks, and the register of all rules."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TypeVar

from chain.advice.remedies import Remedy
from chain.errors import Place
from chain.layout.margins import PRACTICE

ERROR, WARNING, NOTE = "error", "warning", "note"
Key = tuple[str, ...]
CAUSE, LACK = 2, 1
LEVELS = (ERROR, WARNING, NOTE)
"""From the worst on; an error makes `check` answer no."""


@dataclass(frozen=True)
class Remark:
    """What a rule says about elements of a layout: what is wrong, what would put it right."""

    elements: tuple[str, ...]
    says: str
    remedy: str | Remedy | Iterable[Remedy | str]
    """What might put it right: words, or Remedies to be tried (made only when they are)."""
    place: Place | None = None
    """Where it stands in the file; the first element's own place where not given."""
    level: str | None = None
    """In place of the rule's level."""
    about: tuple[Key, ...] = ()
    """The merits (chain.advice.merits) that it is about, the first its subject."""
    each: str | None = None
    """What is said of every one of several elements alike, which then are one finding."""


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
    cause: int
    """CAUSE where what it finds is wrong in itself, LACK where something is missing from which
    others suffer, 0 for what may follow from either."""
    variants: bool
    """True where it solves changed layouts of its own, so that it is asked last."""
    remarks: Callable
    """From an Inspection to the Remarks, none where the layout is well."""


RULES: dict[str, Rule] = {}
"""Every rule by its code."""


Judge = TypeVar("Judge", bound=Callable)


def rule(
    code: str, level: str, *, why: str, source: str = PRACTICE, margins: Iterable[str] = (),
    cause: int = 0, variants: bool = False,
) -> Callable[[Judge], Judge]:
    """Register a function from an Inspection to Remarks as a rule (decorator)."""

    def register(function):
        if code in RULES:
            raise ValueError(f"two rules are called {code}")
        RULES[code] = Rule(code, level, why, source, tuple(margins), cause, variants, function)
        return function

    return register


