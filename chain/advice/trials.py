"""Remedies tried on copies of a layout: what each really does, and what it takes away or brings."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from chain.advice.inspection import Inspection
from chain.advice.merits import merits
from chain.advice.remedies import Effect, Remedy, Tried, as_remedies
from chain.advice.rules import ERROR, LEVELS, NOTE, RULES, WARNING, Remark, Rule
from chain.errors import LayoutError
from chain.layout.edits import CannotEdit

if TYPE_CHECKING:
    from chain.advice.merits import Key, Merit
    from chain.layout.layout import Layout

MOST_A_FINDING = 6
"""Remedies of one finding that are tried."""

MOST_IN_ALL = 40
"""Remedies of one layout that are tried, so that a layout full of mistakes is answered too."""

HELPS = 1.1
"""Factor by which a finding's number has to get better for a remedy to help."""

WORSE = 0.95
"""Factor from which on another number counts as worse, and is told."""

MORE_QUANTA, MORE_PART = 0.5, 0.2
"""System noise by which a remedy may cost more before it is none: quanta, and part of it (an
isolator more costs some of either)."""

SIDE_EFFECTS = 2
"""Other numbers that are told of one remedy."""


@dataclass(frozen=True)
class Remarked:
    """A remark with its rule."""

    rule: Rule
    remark: Remark

    @property
    def code(self) -> str:
        """The rule's code."""
        return self.rule.code

    @property
    def level(self) -> str:
        """The remark's own level, else the rule's."""
        return self.remark.level or self.rule.level


def remarked(inspection: Inspection) -> list[Remarked]:
    """Return what every rule remarks on a layout."""
    return [found for one in RULES.values() for found in by_rule(inspection, one)]


def by_rule(inspection: Inspection, one: Rule) -> list[Remarked]:
    """Return what one rule remarks on a layout."""
    found = inspection.attempt(list, one.remarks(inspection)) or ()
    return [Remarked(one, remark) for remark in found]


def subject(inspection: Inspection, one: Remarked) -> tuple:
    """Return what a remark is about: equal for the same finding before and after a change."""
    about = one.remark.about[:1] or one.remark.elements[:1]
    named = about[0] if about and isinstance(about[0], tuple) else about
    known = inspection.layout.elements
    return (one.rule.code, *(known[n].declared_id if n in known else n for n in named))


class _After:
    """A changed layout as far as trials look at it, each rule asked once."""

    def __init__(self, layout: Layout) -> None:
        self.inspection = Inspection(layout)
        self._asked: dict[str, dict[tuple, Remarked]] = {}

    @functools.cached_property
    def merits(self) -> Mapping[Key, Merit]:
        return merits(self.inspection)

    def found(self, rules: Iterable[Rule]) -> dict[tuple, Remarked]:
        """Return {subject: Remarked} of some rules."""
        every = {}
        for one in rules:
            if one.code not in self._asked:
                self._asked[one.code] = {
                    subject(self.inspection, r): r for r in by_rule(self.inspection, one)}
            every |= self._asked[one.code]
        return every

    @property
    def problems(self) -> tuple[str, ...]:
        """What can no longer be worked out."""
        return tuple(p.what for p, level in self.inspection.problems.items() if level == ERROR)


class Trials:
    """Remedies of one layout, each tried once."""

    def __init__(
        self, inspection: Inspection, found: Sequence[Remarked],
        accepted: Callable[[Remarked], object],
    ) -> None:
        self._inspection, self._accepted = inspection, accepted
        self._before = {subject(inspection, one): one for one in found}
        self._known: dict[str, _After | str] = {}

    @functools.cached_property
    def _merits(self) -> Mapping[Key, Merit]:
        return merits(self._inspection)

    def tried(self, one: Remarked) -> tuple[tuple[Tried, ...], frozenset[tuple]]:
        """Return the remedies of a remark, the best first, and the subjects that it takes away.

        All are judged by the rules that solve no changed layouts of their own, and by the remark's;
        the best then by every rule that can do harm.
        """
        quick = [r for r in RULES.values() if not r.variants or r.code == one.code]
        found: list[Tried] = []
        said = set()
        for remedy in self._remedies(one):
            if remedy.says in said:
                continue
            said.add(remedy.says)
            if remedy.change is None:
                found.append(Tried(remedy, None))
            elif len(said) <= MOST_A_FINDING:
                found.append(self._try(one, remedy, quick))
        found.sort(key=self._rank)
        every = [r for r in RULES.values() if not (r.variants and r.level == NOTE)]
        while found and found[0].helps:
            best = self._try(one, found[0].remedy, every)
            if best.helps:
                found[0] = best
                return tuple(found), self._gone(best, every)
            found = sorted([*found[1:], best], key=self._rank)
        return tuple(found), frozenset()

    def _try(self, one, remedy, rules):
        after = self._after(remedy)
        if isinstance(after, str):
            return Tried(remedy, None, refused=after)
        return self._judged(one, remedy, after, rules)

    def _gone(self, best, rules):
        after = self._known[best.remedy.says]
        if not best.solves or isinstance(after, str):
            return frozenset()
        left, asked = after.found(rules), {r.code for r in rules}
        return frozenset(
            key for key in self._before if key not in left and key[0] in asked)

    def _remedies(self, one: Remarked) -> Iterator[Remedy]:
        try:
            yield from as_remedies(one.remark.remedy)
        except LayoutError:
            return

    @staticmethod
    def _rank(tried):
        worth = [effect.factor for effect in tried.effects[:1]]
        return (
            {True: 0, None: 1, False: 2}[tried.helps], tried.refused is not None,
            not tried.solves, len(tried.brings), -min([*worth, 1e3]),
        )

    def _after(self, remedy: Remedy) -> _After | str:
        """Return the layout with a remedy, looked at; or why it cannot be."""
        if remedy.says not in self._known:
            self._known[remedy.says] = self._look(remedy)
        return self._known[remedy.says]

    def _look(self, remedy):
        if len(self._known) >= MOST_IN_ALL:
            return f"{MOST_IN_ALL} remedies have been tried"
        try:
            layout = remedy.change(self._inspection.layout)
        except CannotEdit as error:
            return str(error)
        except LayoutError as error:
            return error.problems[0].what
        return _After(layout)

    def _judged(
        self, one: Remarked, remedy: Remedy, after: _After, rules: Sequence[Rule]
    ) -> Tried:
        own, found = subject(self._inspection, one), after.found(rules)
        solves = own not in found
        if not solves and LEVELS.index(found[own].level) > LEVELS.index(one.level):
            solves = found[own].level == NOTE
        effects, factors = [], []
        for key in one.remark.about:
            before, then = self._merits.get(key), after.merits.get(key)
            if before is not None and then is not None:
                effects.append(before.to(then))
                factors.append(effects[-1].factor)
        better = bool(factors) and max(factors) >= HELPS and min(factors) > 1 / HELPS
        brings = [*self._brings(after, found), *self._lost(after)]
        helps = (solves or better) and not brings
        effects += self._worse(one, after)
        return Tried(remedy, helps, solves and helps, tuple(effects), tuple(brings))

    def _brings(self, after, found):
        """Yield what would be found that is not found now, above notes."""
        known = {problem.what for problem in self._inspection.problems}
        yield from (what for what in after.problems if what not in known)
        for key, one in found.items():
            if one.level not in (ERROR, WARNING) or self._accepted(one):
                continue
            before = self._before.get(key)
            if before is None or LEVELS.index(before.level) > LEVELS.index(one.level):
                yield one.remark.says

    def _lost(self, after):
        """Yield signals that no longer arrive, and noise that grows beyond the margin."""
        for key, before in self._merits.items():
            then = after.merits.get(key)
            if key[0] == "gain" and then is None:
                yield f"nothing of {key[1]} arrives any more"
            most = before.value + max(MORE_QUANTA, MORE_PART * before.value)
            if key[0] == "noise" and then is not None and then.value > most:
                yield str(before.to(then))

    def _worse(self, one: Remarked, after: _After) -> list[Effect]:
        """Return what gets worse besides, the nearest to its limit first."""
        found = []
        for key, before in self._merits.items():
            then = after.merits.get(key)
            if then is None or key in one.remark.about or key[0] in ("gain", "at device"):
                continue
            if before.to(then).factor < WORSE and then.counts:
                of_limit = abs(then.value / then.limit) if then.limit else 1.0
                found.append((of_limit, before.to(then)))
        found.sort(key=lambda pair: -pair[0])
        return [effect for _, effect in found[:SIDE_EFFECTS]]
