"""Every explanation with its evidence: none, one, or two causes; the best ones worked out again."""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.diagnosis.causes import Cause, causes, compatible
from chain.diagnosis.evidence import Box, integrated, laplace, log_sum
from chain.diagnosis.healthy import ripples, toleranced
from chain.diagnosis.measured_set import MeasuredSet

if TYPE_CHECKING:
    from chain.diagnosis.healthy import Ripple
    from chain.diagnosis.prediction import Prediction
    from components.arrays import FloatArray

NODES, REACH = 5, 2.6
"""Sizes at which an explanation is first worked out, and standard deviations that they reach."""

FARTHEST = 3.2
"""Standard deviations of the prior beyond which no size is looked for."""

BLIND = 0.15
"""Whitened length of a change below which the data are the same with and without it."""

FIRST_RIPPLES = ((0.02, 0.05), (0.15, 0.05), (0.6, 0.05), (0.15, 0.15))
"""Ripples, by size and width, under which explanations are compared first."""

WORKED_OUT, WORKED_OUT_MASS = 60, 0.998
"""Most pairs that are worked out again, and the probability that they are to have."""

AT_ONCE = 6000
"""Combinations that are solved at once."""


@dataclass
class Explanation:
    """Causes that together may explain the data; what is known of them as the search goes on."""

    causes: tuple[Cause, ...]
    prior: float
    same_as: Explanation | None = None
    """What explains the data as well, where a cause of it changes nothing that was measured."""
    log_evidence: float = -np.inf
    z: FloatArray = field(default_factory=lambda: np.zeros(0))
    covariance: FloatArray = field(default_factory=lambda: np.zeros((0, 0)))
    chi2: float = np.inf
    fitted: FloatArray | None = None
    """Predicted values at the best sizes, dB."""
    worked_out: bool = False
    ripple: Any = None
    """The most probable Ripple under it."""
    tolerances: FloatArray | None = None
    """K of tolerances with its causes in place, dB^2."""

    def forget(self) -> None:
        """Be as before any data."""
        self.log_evidence, self.chi2 = -np.inf, np.inf
        self.z, self.covariance = np.zeros(0), np.zeros((0, 0))
        self.fitted = self.ripple = self.tolerances = None
        self.worked_out = False

    @property
    def sized(self) -> tuple[Cause, ...]:
        """Its causes that have a size."""
        return tuple(cause for cause in self.causes if cause.size is not None)

    @property
    def names(self) -> frozenset[str]:
        """Its causes' keys, states included."""
        return frozenset(cause.name for cause in self.causes)

    def combination(self, z: Sequence[float]) -> tuple[tuple[Cause, float], ...]:
        """Return its causes with sizes at z."""
        sizes = iter(z)
        return tuple(
            (cause, 0.0 if cause.size is None
             else cause.size.median * cause.size.factor ** float(next(sizes)))
            for cause in self.causes
        )


@dataclass(frozen=True)
class Priors:
    """How likely no, one and two causes are beforehand."""

    healthy: float = 0.5
    pair: float = 0.26
    """Part of two among what is not healthy (an assumption: 37 of 50 have one, 13 two)."""


class Search:
    """All explanations of some data sets.

    `readings` are single values besides, as predictions of their own; `progress` is called with
    what is done and what there is to do.
    """

    def __init__(
        self, predictions: Sequence[Prediction], *, priors: Priors, ripple_db: float | None = None,
        readings: Sequence[Any] = (),
        progress: Callable[[int, int], object] = lambda done, of: None,
    ) -> None:
        self.sets = [*map(MeasuredSet, predictions), *readings]
        self.priors, self.progress = priors, progress
        self.data = np.concatenate([one.measured_db for one in self.sets])
        first = predictions[0]
        ids = dict.fromkeys(key for one in predictions for key in one.ids()
                            if key in first.layout.elements)
        self.causes = causes(first.layout, [key for key in ids if " " not in key])
        self.toleranced = toleranced(first.network_layout, list(ids))
        self.stated = _blocks([one.stated() for one in self.sets])
        self.ripples = ripples(ripple_db)
        self._of_ripple = {
            ripple: _blocks([one.ripple(ripple) for one in self.sets]) for ripple in self.ripples
        }
        self._first = self._first_ripples()
        self._done, self._of = 0, 1
        self._prepared: Any = None

    def _first_ripples(self):
        if len(self.ripples) <= len(FIRST_RIPPLES):
            return self.ripples
        return tuple(one for one in self.ripples if (one.size_db, one.width) in FIRST_RIPPLES)

    # -- predictions ----------------------------------------------------------------------------

    def predicted(self, combinations):
        """Return the values of all sets with combinations of causes, dB."""
        parts = []
        for start in range(0, len(combinations), AT_ONCE):
            some = combinations[start:start + AT_ONCE]
            parts.append(np.concatenate([one.of(some) for one in self.sets], axis=1))
            self._done += len(some)
            self.progress(min(self._done, self._of), self._of)
        if not parts:
            return np.zeros((0, self.data.size))
        return np.concatenate(parts)

    def tolerances(self, combinations):
        """Return K of tolerances with combinations of causes, (combinations, values, values)."""
        slopes = np.concatenate(
            [one.slopes(self.toleranced, combinations) for one in self.sets], axis=2)
        return np.einsum("ctm,ctn->cmn", slopes, slopes)

    @functools.cached_property
    def healthy_tolerances(self) -> FloatArray:
        """K of tolerances with nothing wrong, dB^2."""
        return self.tolerances([()])[0]

    def covariance(self, tolerances: FloatArray, ripple: Ripple) -> FloatArray:
        """Return K of all sets with a ripple, dB^2."""
        return self.stated + tolerances + self._of_ripple[ripple]

    def whitener(self, tolerances, ripple):
        """Return (inverse Cholesky factor, -ln|2 pi K|/2) of the covariance with a ripple."""
        factor = np.linalg.cholesky(self.covariance(tolerances, ripple))
        inverse = np.linalg.solve(factor, np.eye(len(factor)))
        return inverse, -np.log(np.diag(factor)).sum() - len(factor) * np.log(2 * np.pi) / 2

    # -- all explanations -----------------------------------------------------------------------

    def run(self) -> list[Explanation]:
        """Return every Explanation with its evidence, best first.

        Other `data` of the same columns can be put in its place and it be run again: what all
        explanations predict is worked out once.
        """
        if self._prepared is None:
            self._prepared = self._prepare()
        every, nodes = self._prepared
        every = [*every]
        for one in every:
            one.forget()
        self._compare_first([one for one in every if id(one) in nodes], nodes)
        self._work_out(every, nodes)
        for one in every:
            if one.same_as is not None:
                one.log_evidence = one.same_as.log_evidence
        every.sort(key=lambda one: -(one.log_evidence + np.log(one.prior)))
        return every

    def _singles(self):
        whole = sum(cause.odds for cause in self.causes) or 1.0
        one = (1.0 - self.priors.healthy) * (1.0 - self.priors.pair)
        return [Explanation((cause,), one * cause.odds / whole) for cause in self.causes]

    def _pairs(self):
        found = [
            (first, second) for number, first in enumerate(self.causes)
            for second in self.causes[number + 1:] if compatible(first, second)
        ]
        whole = sum(a.odds * b.odds for a, b in found) or 1.0
        two = (1.0 - self.priors.healthy) * self.priors.pair
        return [Explanation(pair, two * pair[0].odds * pair[1].odds / whole) for pair in found]

    # -- first comparison -------------------------------------------------------------------------

    def _prepare(self):
        """Return (every explanation, {id: its values at the nodes of its sizes})."""
        healthy, singles, pairs = Explanation((), self.priors.healthy), self._singles(), \
            self._pairs()
        every = [healthy, *singles, *pairs]
        self._of = len(singles) * NODES
        as_it_is = self.predicted([()])[0]
        sharp = self.whitener(self.healthy_tolerances, self._first[0])[0]
        own = self._at_nodes(singles, NODES)
        alone, blind = {}, set()
        for single, values in zip(singles, own, strict=True):
            cause = single.causes[0]
            alone[cause.name + cause.what] = values
            moved = (values.reshape(-1, self.data.size) - as_it_is) @ sharp.T
            if np.sqrt((moved**2).sum(axis=1)).max() < BLIND:
                blind.add(cause.name + cause.what)
                single.same_as = healthy
        by_cause = {one.causes[0].name + one.causes[0].what: one for one in singles}
        pairs = self._without_blind(pairs, blind, by_cause, alone, sharp, healthy)
        seen = [one for one in singles if one.same_as is None]
        self._of += sum(NODES ** len(one.sized) for one in pairs)
        values = {id(healthy): as_it_is}
        for one in seen:
            values[id(one)] = alone[one.causes[0].name + one.causes[0].what]
        for one, at_nodes in zip(pairs, self._at_nodes(pairs, NODES), strict=True):
            values[id(one)] = at_nodes
        return every, values

    def _without_blind(self, pairs, blind, by_cause, alone, sharp, healthy):
        """Return the pairs that have to be worked out; the others are as good as one or none."""
        left, asked = [], []
        for pair in pairs:
            names = [cause.name + cause.what for cause in pair.causes]
            unseen = [name in blind for name in names]
            if all(unseen):
                pair.same_as = healthy
            elif any(unseen):
                shown = by_cause[names[unseen.index(False)]]
                hidden = pair.causes[unseen.index(True)]
                pair.same_as = shown
                if not shown.sized and not hidden.rewires:
                    asked.append((pair, shown, hidden))
            else:
                left.append(pair)
        # What is broken changes which other parts matter: the largest size tells.
        most = [(*shown.combination(np.zeros(len(shown.sized))),
                 *Explanation((hidden,), 0.0).combination([REACH] if hidden.size else []))
                for _, shown, hidden in asked]
        self._of += len(most)
        found = self.predicted(most)
        base = {}
        for (pair, shown, _), values in zip(asked, found, strict=True):
            if id(shown) not in base:
                base[id(shown)] = self.predicted([shown.combination(np.zeros(len(shown.sized)))])[0]
            moved = sharp @ (values - base[id(shown)])
            if np.isfinite(moved).all() and np.sqrt((moved**2).sum()) >= BLIND:
                pair.same_as = None
                left.append(pair)
        return left

    def _at_nodes(self, explanations, nodes, boxes=None):
        """Return [values at the nodes of its sizes, (nodes, ..., values)] of each explanation."""
        wanted, shapes = [], []
        for place, one in enumerate(explanations):
            sizes = len(one.sized)
            box = Box.even(1, sizes, nodes, REACH) if boxes is None else boxes[place]
            points = np.stack(np.meshgrid(*box.points[0], indexing="ij"), axis=-1) \
                if sizes else np.zeros((1, 0))
            grid = points.reshape(-1, sizes) if sizes else points
            wanted += [one.combination(z) for z in grid]
            shapes.append((nodes,) * sizes)
        values = self.predicted(wanted)
        found, at = [], 0
        for shape in shapes:
            count = int(np.prod(shape))
            found.append(values[at:at + count].reshape(*shape, -1))
            at += count
        return found

    def _compare_first(self, explanations, values):
        states = [one for one in explanations if len(one.causes) == 1 and not one.sized]
        slopes = dict(zip(
            (one.causes[0].name for one in states),
            self.tolerances([one.combination(()) for one in states]) if states else (),
            strict=True,
        ))
        healthy = self.healthy_tolerances
        groups: dict[Any, list[Explanation]] = {}
        for one in explanations:
            state = next((c.name for c in one.causes if c.name in slopes), "")
            groups.setdefault((state, len(one.sized)), []).append(one)
        factors = {}
        for (state, sizes), members in groups.items():
            if state not in factors:
                own = slopes.get(state, healthy)
                factors = {state: [self.whitener(own, ripple) for ripple in self._first]}
            box = Box.even(len(members), sizes, NODES, REACH)
            stacked = np.stack([values[id(one)] for one in members])
            usable = np.isfinite(stacked).all(axis=tuple(range(1, stacked.ndim)))
            residual = self.data - np.where(np.isfinite(stacked), stacked, 0.0)
            fits = []
            for inverse, constant in factors[state]:
                fit = laplace(residual @ inverse.T, box)
                fits.append((fit, fit.log_evidence + constant))
            self._note(members, fits, self._first, usable)

    @staticmethod
    def _note(members, fits, ripple_of, usable):
        """Give explanations the evidence under all ripples together, and the best ones' sizes."""
        weights = np.log([ripple.weight for ripple in ripple_of])
        weights = weights - log_sum(weights)
        logs = np.stack([log for _, log in fits]) + weights[:, None]
        whole = log_sum(logs)
        best = np.argmax(logs, axis=0)
        part = np.exp(logs - whole)
        for place, one in enumerate(members):
            if not usable[place]:
                continue
            fit = fits[best[place]][0]
            one.log_evidence = float(whole[place])
            one.chi2 = float(fit.chi2[place])
            one.ripple = ripple_of[best[place]]
            z = np.stack([f.z[place] for f, _ in fits])
            spread = np.stack([f.covariance[place] for f, _ in fits])
            one.z = fit.z[place]
            mean = part[:, place] @ z
            off = z - mean
            one.covariance = np.einsum("h,hij->ij", part[:, place], spread) + np.einsum(
                "h,hi,hj->ij", part[:, place], off, off)

    # -- the best, worked out again ---------------------------------------------------------------

    def _work_out(self, every, values):
        """Give the healthy one, singles and the best pairs their evidence about their best sizes.

        Tolerances act there as they do with the causes in place.
        """
        compared = [one for one in every if id(one) in values and np.isfinite(one.log_evidence)]
        logs = np.array([one.log_evidence + np.log(max(one.prior, 1e-300)) for one in compared])
        mass = np.exp(logs - log_sum(logs))
        chosen, sum_of = [], 0.0
        for place in np.argsort(-mass):
            few = len(compared[place].causes) < 2
            if (few and mass[place] > 1e-9) or (not few and (
                    sum_of < WORKED_OUT_MASS and len(chosen) < WORKED_OUT)):
                chosen.append(compared[place])
            sum_of += mass[place]
        before = {id(one): one.log_evidence for one in chosen}
        boxes = [self._box(one) for one in chosen]
        self._of += sum(NODES ** len(one.sized) for one in chosen)
        at_nodes = self._at_nodes(chosen, NODES, boxes)
        slopes = self.tolerances([one.combination(one.z) for one in chosen])
        for one, own in zip(chosen, slopes, strict=True):
            one.tolerances = own
        for sizes in (0, 1, 2):
            places = [place for place, one in enumerate(chosen)
                      if len(one.sized) == sizes and np.isfinite(at_nodes[place]).all()]
            if not places:
                continue
            box = Box(np.concatenate([boxes[place].middle for place in places]),
                      np.concatenate([boxes[place].half for place in places]), NODES)
            fits = []
            for ripple in self.ripples:
                white = [self.whitener(slopes[place], ripple) for place in places]
                fit = integrated(np.stack([
                    (self.data - at_nodes[place]) @ inverse.T
                    for place, (inverse, _) in zip(places, white, strict=True)
                ]), box)
                fits.append((fit, fit.log_evidence + np.array([constant for _, constant in white])))
            members = [chosen[place] for place in places]
            self._note(members, fits, self.ripples, [True] * len(members))
            for one in members:
                one.worked_out = True
        fitted = self.predicted([one.combination(one.z) for one in chosen])
        for one, value in zip(chosen, fitted, strict=True):
            one.fitted = value
        # The others were compared under fewer ripples and straight sizes.
        moved = [one.log_evidence - before[id(one)] for one in chosen if one.worked_out]
        shift = float(np.median(moved)) if moved else 0.0
        for one in compared:
            if not one.worked_out:
                one.log_evidence += shift

    @staticmethod
    def _box(one):
        sizes = len(one.sized)
        if not sizes:
            return Box.even(1, 0, NODES, REACH)
        spread = 5.0 * np.sqrt(np.diag(one.covariance)) + 0.02
        low, high = np.maximum(one.z - spread, -FARTHEST), np.minimum(one.z + spread, FARTHEST)
        return Box(((low + high) / 2.0)[None], ((high - low) / 2.0)[None], NODES)


def _blocks(parts):
    """Return square arrays as the blocks of one."""
    size = sum(len(part) for part in parts)
    whole, at = np.zeros((size, size)), 0
    for part in parts:
        whole[at:at + len(part), at:at + len(part)] = part
        at += len(part)
    return whole
