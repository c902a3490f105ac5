"""A diagnosis as a person reads it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chain.layout.naming import title_of
from chain.writing.foreign_text import one_line
from chain.writing.text import TextTable, wrapped

if TYPE_CHECKING:
    from chain.writing.text import Result

MAX_LISTED, LEAST = 6, 0.01
"""Explanations that are listed, and the probability from which on."""

LEAST_ALIKE = 0.002
"""Probability from which on an explanation alike to another is named."""

MAX_ALIKE, MAX_UNSEEN = 8, 12
"""Explanations alike to one, and unseen causes, that are named."""


def diagnosis_text(d: Result) -> str:
    """Return a Diagnosis as plain text."""
    parts = [f"{title_of(d.layout)}: what explains the data of {d.signal}", ""]
    parts += [wrapped(text, "  ") for text in d.sets]
    parts += ["", *_against(d), "", ranked_table(d).text(), ""]
    for rank, one in enumerate(_listed(d), 1):
        parts += _details(rank, one)
    parts += ["", *_unseen(d), *_next(d), ""]
    parts += [wrapped(f"warning: {text}", "") for text in d.warnings]
    parts += ["assumptions:", *(wrapped(text) for text in d.assumptions)]
    parts += _what_to_do(d)
    return "\n".join(parts)


def _against(d):
    table = TextTable(["data", "quantity", "measured less layout", "healthy sigma"],
                      left=["data", "quantity"])
    for curve in d.curves:
        off = curve.measured_db - curve.healthy_db
        table.add(one_line(curve.data), curve.quantity, f"{np.mean(off):+.2f} dB",
                  f"{np.mean(curve.sigma_db):.2f} dB")
    yield table.text()


def _listed(d):
    some = [one for one in d.explanations if one.probability >= LEAST][:MAX_LISTED]
    return some or list(d.explanations[:1])


def ranked_table(d: Result) -> TextTable:
    """Return the leading explanations of a Diagnosis with their probabilities."""
    table = TextTable(["rank", "changes", "probability", "of it its own", "misfit"],
                      left=["changes"])
    for rank, one in enumerate(_listed(d), 1):
        table.add(str(rank), _changes(one.changes), _percent(one.probability),
                  _percent(one.own_probability), f"{one.misfit:.2f}")
    left = 1.0 - sum(one.probability for one in _listed(d))
    if left > 5e-4:
        table.add("", "everything else", _percent(left), "", "")
    return table


def _changes(changes):
    return " and ".join(one_line(change) for change in changes) or "none: as the layout says"


def _percent(part):
    return f"{100 * part:.1f} %"


def _details(rank, one):
    yield wrapped(f"{rank}. {one.words}", "")
    for size in one.sizes:
        yield wrapped(f"{size.change}: {_size(size)}", "     ")
    if one.alike:
        yield wrapped(f"alike for these data: {'; '.join(_alike(one))}", "     ")


def _alike(one):
    """Yield the explanations alike to one; those that only add a cause to it are told together."""
    own = {change.partition("=")[0] for change in one.changes}
    plain, besides = [], 0.0
    for other in one.alike:
        more = own < {change.partition("=")[0] for change in other.changes}
        if more or other.hidden:
            besides += other.probability
        else:
            plain.append(other)
    listed = [other for other in plain if other.probability >= LEAST_ALIKE][:MAX_ALIKE]
    for other in listed:
        yield f"{_changes(other.changes)} ({_percent(other.probability)})"
    left = plain[len(listed):]
    if left:
        yield f"{len(left)} more ({_percent(sum(other.probability for other in left))})"
    if besides:
        yield f"with something else that these data hardly show ({_percent(besides)})"


def _size(size):
    if size.unit:
        return (f"{size.what} by {size.size:.2f} {size.unit} "
                f"({size.low:.2f} to {size.high:.2f})")
    return (f"{size.what} by {100 * size.size:.0f} % "
            f"({100 * size.low:.0f} to {100 * size.high:.0f} %)")


def _unseen(d):
    if not d.unseen:
        yield "the data can see everything that was asked about"
        return
    shown = [one_line(key) for key in d.unseen[:MAX_UNSEEN]]
    more = len(d.unseen) - len(shown)
    tail = f", and {more} more" if more else ""
    yield wrapped(f"not seen by these data, whether or not it is so: {', '.join(shown)}{tail}", "")


def _next(d):
    if not d.next:
        yield "no further measurement is expected to tell much"
        return
    yield ""
    table = TextTable(["measure next", "bits", "minutes", "warm-up"], left=["measure next"])
    for one in d.next:
        table.add(one_line(one.measure), f"{one.bits:.2f}", f"{one.minutes:.0f}",
                  "yes" if one.needs_warm_up else "no")
    yield table.text()


def _what_to_do(d):
    changes = d.best.changes
    if not changes:
        return
    yield ""
    sets = " ".join(f"--set '{one_line(change)}'" for change in changes)
    path = one_line(d.layout.path)
    yield "to go on with the first explanation:"
    yield f"  chain budget {path} {sets}"
    ids = [change.partition(".")[0] for change in changes]
    ids = list(dict.fromkeys(key for key in ids if key in d.layout.elements))
    if ids:
        yield f"  chain service {path} " + " ".join(f"--remove {key}" for key in ids)
