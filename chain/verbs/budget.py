"""chain budget: how much noise, which element, what gain."""

import numpy as np

from chain.budget import budgets
from chain.errors import LayoutError, Place
from chain.export import as_json, budget_csv, budget_dict, write_whole
from chain.tables import budget_text, signals_text
from chain.verbs.options import (
    Verb,
    add_json,
    add_layout,
    add_settled,
    add_signal,
    read_layout,
    read_quantity,
)


def _arguments(parser):
    add_layout(parser)
    add_signal(parser)
    add_json(parser)
    add_settled(parser)
    parser.add_argument("--at", metavar="FREQUENCY", help="frequency of the table, as in '6 GHz'")
    parser.add_argument("--csv", metavar="FILE", help="write the budget over frequency as CSV")


def _run(words):
    layout = read_layout(words)
    at = None if words.at is None else read_quantity(words.at, "frequency", "--at")
    if not layout.signals:
        raise LayoutError.at(
            Place(layout.path), "the layout has no signal to budget",
            "add signals: {receive: {from: D1.out, to: R1}}",
        )
    f = layout.band.frequency_hz
    if at is not None:
        if at <= 0:
            raise LayoutError.at(Place("--at"), f"{words.at!r} is no frequency", "give one above 0")
        # Programs get the one frequency; people see the band beside it.
        f = np.array([at]) if words.json or words.csv else np.unique(np.append(f, at))
    found = budgets(layout, words.signal, frequency_hz=f)
    if words.csv:
        write_whole(words.csv, budget_csv(found))
    print(_json(found) if words.json else _text(found, at))
    return 0


def _json(found):
    if len(found) == 1:
        return as_json(budget_dict(next(iter(found.values()))))
    warnings = list(dict.fromkeys(text for b in found.values() for text in b.warnings))
    first, *rest = (b.laws for b in found.values())
    for laws in rest:
        first = first.worst(laws)
    return as_json({
        "signals": {name: budget_dict(b) for name, b in found.items()},
        "warnings": warnings, "laws": first.as_dict(),
    })


def _text(found, at):
    title = next(iter(found.values())).layout.title
    head = [title, ""] if title else []
    if len(found) == 1:
        return "\n".join([*head, budget_text(next(iter(found.values())), at)])
    parts = [*head, signals_text(found), ""]
    parts.append("one signal in full: --signal NAME")
    return "\n".join(parts)


VERB = Verb("budget", "noise and gain of a signal, element by element", _arguments, _run)
