"""Explanations that the data cannot tell apart, put together; what they cannot see at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from chain.diagnosis.evidence import log_sum

if TYPE_CHECKING:
    from chain.diagnosis.causes import Cause
    from chain.diagnosis.search import Explanation, Search
    from components.arrays import FloatArray

ALIKE = 2.0
"""Chi2 between two fitted predictions below which the data do not tell them apart."""

LEFT_OUT = 1e-6
"""Probability below which an explanation is not listed; the rest is made up to one."""

UNSEEN_SIGMA = 1.0
"""Standard deviations of all data together by which a cause of median size has to move them."""


@dataclass
class Group:
    """An explanation and all that explain the data alike."""

    leader: Explanation
    own: float
    """The leader's own probability."""
    members: list[tuple[Explanation, float]] = field(default_factory=list)
    """The others, with the probability of each; most first."""

    @property
    def probability(self) -> float:
        """Of the leader and all that is alike."""
        return self.own + sum(part for _, part in self.members)


def grouped(search: Search, every: Sequence[Explanation]) -> list[Group]:
    """Return the Groups of all explanations, most probable first; probabilities add up to one."""
    logs = np.array([one.log_evidence + np.log(max(one.prior, 1e-300)) for one in every])
    part = np.exp(logs - log_sum(logs))
    kept = [place for place in np.argsort(-part, kind="stable") if part[place] > LEFT_OUT]
    whole = part[kept].sum()
    _fit(search, [every[place] for place in kept if every[place].same_as is None])
    groups: list[Group] = []
    of: dict[int, Group] = {}
    whiteners = []
    later = []
    for place in kept:
        one, own = every[place], float(part[place] / whole)
        if one.same_as is not None:
            later.append((one, own))
            continue
        found = _like(one, groups, whiteners)
        if found is None:
            found = Group(one, own)
            groups.append(found)
            whiteners.append(_whitener(search, one))
        else:
            found.members.append((one, own))
        of[id(one)] = found
    for one, own in later:
        assert one.same_as is not None
        if id(one.same_as) in of:
            of[id(one.same_as)].members.append((one, own))
        else:  # what it is as good as is less likely than it, and below what is listed
            found = of[id(one.same_as)] = Group(one, own)
            groups.append(found)
    for group in groups:
        group.members.sort(key=lambda pair: -pair[1])
    return sorted(groups, key=lambda group: -group.probability)


def _fit(search, explanations):
    """Give explanations their fitted values where they have none yet."""
    some = [one for one in explanations if one.fitted is None]
    for one, values in zip(
        some, search.predicted([one.combination(one.z) for one in some]), strict=True
    ):
        one.fitted = values


def _whitener(search, one):
    ripple = one.ripple or search.ripples[0]
    own = one.tolerances if one.tolerances is not None else search.healthy_tolerances
    return search.whitener(own, ripple)[0]


def _like(one, groups, whiteners):
    for group, whitener in zip(groups, whiteners, strict=True):
        if group.leader.fitted is None or one.fitted is None:
            continue
        apart = whitener @ (one.fitted - group.leader.fitted)
        if apart @ apart < ALIKE:
            return group
    return None


def unseen(search: Search, best: Explanation) -> list[Cause]:
    """Return the causes that, at their median size, the data could not show.

    Against the healthy spread, with the ripple that the best explanation leaves.
    """
    ripple = best.ripple or search.ripples[0]
    whitener = search.whitener(search.healthy_tolerances, ripple)[0]
    combinations = [
        ((cause, cause.size.median if cause.size is not None else 0.0),)
        for cause in search.causes
    ]
    moved = search.predicted([(), *combinations])
    moved = (moved[1:] - moved[0]) @ whitener.T
    length = np.sqrt(np.where(np.isfinite(moved), moved, 1e3) ** 2 @ np.ones(moved.shape[1]))
    return [cause for cause, far in zip(search.causes, length, strict=True) if far < UNSEEN_SIGMA]


def healthy_sigmas(
    search: Search, combination: Sequence[tuple[Cause, float]], ripple_db: float
) -> float:
    """Return by how many sigma of the healthy spread a combination of causes moves the data.

    The whitened length of the change, tolerances and a ripple of a given size included: what a
    study calls visible.
    """
    nearest = min(search.ripples, key=lambda one: (abs(one.size_db - ripple_db), one.width))
    whitener = search.whitener(search.healthy_tolerances, nearest)[0]
    values: FloatArray = search.predicted([(), tuple(combination)])
    return float(np.linalg.norm(whitener @ (values[1] - values[0])))
