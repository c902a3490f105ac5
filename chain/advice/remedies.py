"""Remedies: what might put a finding right, as a change of the layout where it can be one."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from chain.layout.variants import Variant
from chain.writing.numbers import number, si

if TYPE_CHECKING:
    from chain.layout.layout import Layout


MOST_TOLD = 3
"""Remedies of one finding that are told; JSON has them all."""


@dataclass(frozen=True)
class Remedy:
    """What might put a finding right."""

    says: str
    change: Callable[[Layout], Layout] | None = None
    """The layout with it; None for what no change of a layout can express."""
    settings: tuple[str, ...] = ()
    """The change as `--set` takes it, where it is one of values."""

    @classmethod
    def of_variant(cls, says: str, variant: Variant, *settings: str) -> Remedy:
        """Return the Remedy that a Variant of the layout is."""
        return cls(says, variant.apply, settings)


@dataclass(frozen=True)
class Effect:
    """One number by which a layout is judged, before and after a remedy."""

    what: str
    before: float
    after: float
    unit: str
    limit: float | None
    more_is_better: bool = False

    @property
    def factor(self) -> float:
        """By what factor it is for the better; above one where it is."""
        if self.unit == "dB":
            change = (self.after - self.before) / 10.0
            change = min(max(change if self.more_is_better else -change, -30.0), 30.0)
            return float(10**change)
        # What is nothing is as good as a part in 1e12.
        floor = 1e-12 * max(abs(self.before), abs(self.after), 1e-300)
        ratio = max(self.before, floor) / max(self.after, floor)
        return 1 / ratio if self.more_is_better else ratio

    def __str__(self):
        before, after = (value_text(v, self.unit) for v in (self.before, self.after))
        if before.split()[-1:] == after.split()[-1:]:
            after = after.rpartition(" ")[0]
        said = f"{self.what} {after} instead of {before}"
        if self.limit is None:
            return said
        limit = value_text(self.limit, self.unit)
        if limit.split()[-1:] == before.split()[-1:]:
            limit = limit.rpartition(" ")[0]
        if self.unit == "W":
            return f"{said} of {limit}"
        return f"{said} (at {'least' if self.more_is_better else 'most'} {limit})"

    def as_dict(self) -> dict[str, Any]:
        """Return the effect for --json."""
        return {
            "what": self.what, "before": self.before, "after": self.after, "unit": self.unit,
            "limit": self.limit,
        }


@dataclass(frozen=True)
class Tried:
    """A remedy, applied to a copy of the layout and solved."""

    remedy: Remedy
    helps: bool | None
    """True where the finding goes or its numbers move the right way by a tenth, and nothing worse
    appears; None where it could not be tried."""
    solves: bool = False
    """True where the finding is gone."""
    effects: tuple[Effect, ...] = ()
    """The finding's own numbers, then what else changed for the worse."""
    brings: tuple[str, ...] = ()
    """What would be found then that is not found now, as a sentence each."""
    refused: str | None = None
    """Why it could not be tried."""

    def as_dict(self) -> dict[str, Any]:
        """Return it for --json."""
        return {
            "remedy": self.remedy.says, "set": list(self.remedy.settings),
            "tried": self.helps is not None, "helps": self.helps, "solves": self.solves,
            "effects": [effect.as_dict() for effect in self.effects],
            "brings": list(self.brings), "refused": self.refused,
        }


def value_text(value: float | None, unit: str) -> str:
    """Return a number of an effect as a person reads it."""
    if value is None:
        return "-"
    if unit in ("W", "K"):
        return si(value, unit, 3)
    if unit == "dB":
        return f"{value:.1f} dB"
    return f"{number(value, 2 if abs(value) < 0.1 else 3)} {unit}"


def remedy_text(tried: Sequence[Tried]) -> str:
    """Return remedies that were tried as a sentence, the best first."""
    good = [one for one in tried if one.helps]
    told = [one.remedy.says for one in tried if one.remedy.change is None]
    bad = [one for one in tried if one.helps is False]
    if good:
        if good[0].solves:
            good = [one for one in good if one.solves]
        return "; or ".join(_good(one) for one in good[:MOST_TOLD])
    if not bad:
        return "; or ".join(told)
    failed = "; ".join(_bad(one) for one in bad[:MOST_TOLD])
    if told:
        return f"{'; or '.join(told)} (tried, and no help: {failed})"
    return f"nothing that was tried helps: {failed}"


def _good(one):
    effects = ", ".join(map(str, one.effects))
    enough = "" if one.solves else ", which is not yet enough"
    return f"{one.remedy.says}: {effects}{enough}" if effects else one.remedy.says


def _bad(one):
    said = list(map(str, one.effects))
    if one.brings:
        said.append(f"but then {one.brings[0]}")
    return f"{one.remedy.says} ({', '.join(said) or 'changes nothing'})"


def as_remedies(said: str | Remedy | Iterable[Remedy | str]) -> Iterable[Remedy]:
    """Yield Remedies from what a rule gives: words alone, one remedy, or several, made lazily."""
    if isinstance(said, str | Remedy):
        said = (said,)
    for one in said:
        yield Remedy(one) if isinstance(one, str) else one
