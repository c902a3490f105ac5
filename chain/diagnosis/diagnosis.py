"""Which changes of a layout, singly and in pairs, explain measured data, and how probable each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.diagnosis.groups import Group, grouped, unseen
from chain.diagnosis.next_measurements import Further, further_measurements
from chain.diagnosis.prediction import Prediction
from chain.diagnosis.search import Priors, Search
from chain.layout.signals import chosen_signal
from chain.measurement.data_sets import ASSUMED_COMMON_DB, ASSUMED_OWN_DB, DataSet

if TYPE_CHECKING:
    from chain.diagnosis.search import Explanation
    from chain.diagnosis.single_readings import Reading
    from chain.layout.layout import Layout
    from components.arrays import FloatArray

LEADING = 3
"""Explanations whose predictions are kept for the figure."""

POOR_FIT = 5.0
"""Sigma of chi2 beyond which not even the best explanation fits."""


@dataclass(frozen=True)
class FittedSize:
    """The size of one cause, as fitted: 68 % of its probability lie between the ends."""

    key: str
    """What changes, as --set names it."""
    change: str
    """In --set form, at the fitted size."""
    what: str
    """What is wrong, in words."""
    size: float
    """How far it is off, in `unit`."""
    low: float
    """Lower end of 68 % of its probability."""
    high: float
    """Upper end of it."""
    unit: str
    """`dB`, `quanta`, or `` where the size is a part of the value."""

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        return {"key": self.key, "change": self.change, "what": self.what, "size": self.size,
                "low": self.low, "high": self.high, "unit": self.unit}


@dataclass(frozen=True)
class Alike:
    """Changes that explain the data as well as those of another explanation."""

    changes: tuple[str, ...]
    """In --set form; an unseen one at its median size."""
    words: str
    """What is wrong, in words."""
    probability: float
    """Its own."""
    hidden: tuple[str, ...] = ()
    """Keys of causes of unknown size, of which the data show nothing."""

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        return {"changes": list(self.changes), "probability": self.probability}


@dataclass(frozen=True)
class Ranked:
    """One explanation, and all that the data cannot tell from it."""

    changes: tuple[str, ...]
    """In --set form, at the fitted sizes; none: all is as the layout says."""
    words: str
    """What is wrong, in words."""
    probability: float
    """Of it and all that is alike."""
    own_probability: float
    """Of it alone."""
    misfit: float
    """Chi2 for each datum, about one where it fits."""
    sizes: tuple[FittedSize, ...]
    """Of its causes that have a size."""
    alike: tuple[Alike, ...]
    """What the data cannot tell from it."""

    def as_dict(self) -> dict[str, Any]:
        """Return it under the names that programs lean on."""
        return {
            "changes": list(self.changes), "probability": self.probability,
            "own_probability": self.own_probability, "misfit": self.misfit,
            "sizes": [one.as_dict() for one in self.sizes], "words": self.words,
            "alike": [one.as_dict() for one in self.alike],
        }


@dataclass(frozen=True)
class Curve:
    """One measured column beside predictions, averaged over bins."""

    data: str
    """The data set, and what was changed for it."""
    quantity: str
    frequency_hz: FloatArray
    measured_db: FloatArray
    healthy_db: FloatArray
    sigma_db: FloatArray
    """Healthy spread: errors, tolerances, unknown phases and ripple."""
    leading_db: tuple[FloatArray, ...]
    """Of the first explanations."""


@dataclass(frozen=True)
class Diagnosis:
    """What explains some measurements of a signal, best first."""

    signal: str
    explanations: tuple[Ranked, ...]
    """Best first; their probabilities add up to one."""
    unseen: tuple[str, ...]
    """What may be wrong too, and the data could not show."""
    next: tuple[Further, ...]
    """At most three measurements that tell more, best first."""
    curves: tuple[Curve, ...]
    sets: tuple[str, ...]
    """A sentence about each data set."""
    assumptions: tuple[str, ...]
    """What the probabilities rest on, in sentences."""
    healthy: float
    """Probability beforehand that nothing is wrong."""
    ripple_db: float
    """Rms of the ripple that the best explanation leaves."""
    warnings: tuple[str, ...] = ()
    layout: Layout = field(kw_only=True, repr=False)

    @property
    def best(self) -> Ranked:
        """The first explanation."""
        return self.explanations[0]

    def as_dict(self) -> dict[str, Any]:
        """Return the diagnosis under the names that programs lean on."""
        return {
            "signal": self.signal,
            "explanations": [one.as_dict() for one in self.explanations],
            "unseen": list(self.unseen),
            "next": [one.as_dict() for one in self.next],
            "sets": list(self.sets), "assumptions": list(self.assumptions),
            "healthy": self.healthy, "ripple_db": self.ripple_db,
            "warnings": list(self.warnings), "laws": {},
        }

    def __str__(self):
        from chain.diagnosis.diagnosis_text import diagnosis_text

        return diagnosis_text(self)


def diagnose(
    layout: Layout, signal: str | None, sets: Sequence[DataSet], *, healthy: float = 0.5,
    ripple_db: float | None = None, readings: Sequence[Reading] = (), further: bool = True,
    progress: Callable[[int, int], object] = lambda done, of: None,
) -> Diagnosis:
    """Return the Diagnosis of data sets of a signal.

    `healthy` is the probability beforehand that nothing is wrong, `ripple_db` fixes the ripple
    (rms) instead of integrating over it, `further` asks what to measure next.  Raises LayoutError.
    """
    chosen = chosen_signal(layout, signal).name
    predictions = [Prediction(layout, chosen, one) for one in sets]
    for reading in readings:
        reading.of_layout(predictions[0].network_layout)
    search = Search(predictions, priors=Priors(healthy), ripple_db=ripple_db, readings=readings,
                    progress=progress)
    every = search.run()
    groups = grouped(search, every)
    ranked = tuple(_ranked(layout, group, search.data.size) for group in groups)
    best = groups[0].leader
    best = best.same_as or best
    found = further_measurements(layout, chosen, sets, search, every) if further else ()
    return Diagnosis(
        chosen, ranked, tuple(cause.name for cause in unseen(search, best)), found,
        _curves(search, predictions, groups),
        tuple(_sentence(one.data) for one in predictions),
        tuple(_assumptions(sets, healthy, ripple_db)), healthy,
        0.0 if best.ripple is None else best.ripple.size_db,
        tuple(_warnings(best, search, predictions)), layout=layout,
    )


def _sentence(data):
    from chain.measurement.data_sets import summary

    return summary([data])[0]


def _ranked(layout, group: Group, data: int) -> Ranked:
    one = group.leader
    shown = one.same_as or one
    alike = tuple(
        Alike(changes_of(layout, other), _words(layout, other), own, _hidden(other))
        for other, own in group.members
    )
    return Ranked(
        changes_of(layout, one), _words(layout, one), group.probability, group.own,
        shown.chi2 / data, tuple(_sizes(layout, shown)), alike,
    )


def changes_of(layout: Layout, one: Explanation) -> tuple[str, ...]:
    """Return an explanation's changes in --set form; a cause of which nothing shows at its median.
    """
    return tuple(cause.change(layout, size) for cause, size in _at_fit(one))


def _at_fit(one):
    """Return (cause, size) of every cause at its fitted size, or at its median where unseen."""
    shown = one.same_as or one
    fitted = {cause.key + cause.what: size for cause, size in shown.combination(shown.z)}
    for cause in one.causes:
        median = cause.size.median if cause.size is not None else 0.0
        yield cause, fitted.get(cause.key + cause.what, median)


def _hidden(one):
    if one.same_as is None:
        return ()
    shown = {cause.key + cause.what for cause in one.same_as.causes}
    return tuple(cause.name for cause in one.causes if cause.key + cause.what not in shown)


def _words(layout, one):
    if not one.causes:
        return "as the layout says"
    return " and ".join(f"{cause.place}: {cause.what}" for cause in one.causes)


def _sizes(layout, one):
    if not one.sized:
        return
    spread = np.sqrt(np.diag(one.covariance))
    for cause, z, sd in zip(one.sized, one.z, spread, strict=True):
        low, middle, high = (
            cause.size.median * cause.size.factor ** float(z + sign * sd) for sign in (-1, 0, 1)
        )
        yield FittedSize(cause.key, cause.change(layout, middle), cause.what, middle, low, high,
                         cause.size.unit)


def _curves(search, predictions, groups):
    leaders = [group.leader for group in groups[:LEADING]]
    shown = [one.same_as or one for one in leaders]
    healthy = search.predicted([()])[0]
    fitted = search.predicted([one.combination(one.z) for one in shown])
    ripple = shown[0].ripple or search.ripples[0]
    sigma = np.sqrt(np.diag(search.covariance(search.healthy_tolerances, ripple)))
    found, at = [], 0
    for prediction in predictions:
        data = prediction.data
        name = " ".join([data.name, *(["warm"] if data.warm else []), *data.changes])
        for column, bins in zip(data.columns, prediction.bins, strict=True):
            part = slice(at, at + len(bins.members))
            found.append(Curve(
                name, column.quantity, bins.frequency_hz, search.data[part], healthy[part],
                sigma[part], tuple(one[part] for one in fitted),
            ))
            at += len(bins.members)
    return tuple(found)


def _assumptions(sets, healthy, ripple_db):
    yield (
        f"beforehand nothing is wrong with {100 * healthy:g} %, one thing with "
        f"{100 * (1 - healthy) * 0.74:.3g} %, two with {100 * (1 - healthy) * 0.26:.3g} % "
        "(--healthy)"
    )
    yield (
        "odds of single faults and their typical sizes are common practice, no source: dead, off "
        "or open by kind, more loss of 2.5 dB (a factor 2.2 either way), noise higher by 60 %, "
        "gain lower by 3 dB; `odds:` at an element makes it likelier"
    )
    if any(column.assumed for one in sets for column in one.columns):
        yield (
            f"data without an error of their own are taken as good to {ASSUMED_OWN_DB:g} dB each "
            f"and {ASSUMED_COMMON_DB:g} dB in common"
        )
    if ripple_db is None:
        yield "ripple that is not in the layout: of unknown size, 0.02 to 1.2 dB rms (--ripple)"
    else:
        yield f"ripple that is not in the layout: {ripple_db:g} dB rms"


def _warnings(best, search, predictions):
    n = search.data.size
    if best.chi2 > n + POOR_FIT * np.sqrt(2.0 * n):
        yield (
            f"not even the best explanation fits: chi2 is {best.chi2:.0f} for {n} values; three "
            "things may be wrong at once, or the file's errors are too small"
        )
    said = dict.fromkeys(text for one in predictions for text in one.layout.remarks)
    yield from said
