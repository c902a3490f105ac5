"""chain budget: how much noise, which element, what gain."""

import numpy as np

from chain.errors import LayoutError, Place
from chain.layout.asked import asked_frequencies
from chain.layout.naming import title_of
from chain.network.draws import MAX_DRAWS, MIN_DRAWS
from chain.noise.budget import budgets, budgets_that_arrive
from chain.noise.budget_export import budget_csv
from chain.noise.budget_text import budget_text, signals_text
from chain.verbs.options import (
    Verb,
    add_csv,
    add_figure,
    add_json,
    add_layout,
    add_settled,
    add_signal,
    check_outputs,
    check_view,
    deliver,
    read_layout,
    read_quantity,
    read_whole,
    say,
)
from chain.writing.json_text import as_json
from chain.writing.text import wrapped
from components.parameters import Measure

SHARES, PATH, PHOTONS = VIEWS = "shares", "path", "photons"
"""What --figure can show."""


def _arguments(parser):
    add_layout(parser)
    add_signal(parser)
    add_json(parser)
    add_settled(parser)
    parser.add_argument("--at", metavar="FREQUENCY", help="frequency of the table, as in '6 GHz'")
    add_csv(parser, "the budget over frequency")
    add_figure(parser, "shares over frequency and the gain, with --at bars at that frequency")
    parser.add_argument(
        "--view", metavar="WHAT", default=SHARES,
        help=f"what the figure shows: {SHARES} (as above), {PATH} (noise temperature and gain "
        f"along the signal path, element by element) or {PHOTONS} (where the photons at the "
        "devices come from); at the middle of the band, or --at",
    )
    parser.add_argument(
        "--touchstone", metavar="FILE", help="write the signal path as a two-port (.s2p)"
    )
    parser.add_argument(
        "--warm", action="store_true", help="everything at room temperature, amplifiers unbiased"
    )
    parser.add_argument(
        "--draws", metavar="N",
        help=f"draw every toleranced value N times ({MIN_DRAWS} to {MAX_DRAWS}): how far it "
        "spreads the answer, and which matters most",
    )
    parser.add_argument("--seed", metavar="S", default="0", help="seed of the draws (0)")


def _run(words):
    draws, seed = read_whole(words.draws, "--draws"), read_whole(words.seed, "--seed")
    check_outputs(words)
    _check_names(words)
    layout = read_layout(words)
    if words.warm:
        from chain.measurement.warm import warmed

        layout = warmed(layout)
    at = None if words.at is None else read_quantity(words.at, Measure("frequency"), "--at")
    if not layout.signals:
        raise LayoutError.at(
            Place(layout.path), "the layout has no signal to budget",
            "add signals: {receive: {from: D1.out, to: R1}}",
        )
    f = None
    if at is not None:
        # Programs get the one frequency; people see the band beside it.
        band = asked_frequencies(layout, None, layout.signals.get(words.signal))
        f = np.array([at]) if words.json or words.csv else np.unique(np.append(band, at))
    found, missing = _budgets(layout, words, f)
    spread = {} if draws is None else _spread(layout, found, draws, seed, f)
    if deliver(words, _files(words, layout, found, at), read=layout.files):
        return 0
    say(_json(found, spread, missing) if words.json else _text(found, spread, at, missing))
    return 0


def _budgets(layout, words, f):
    """Return the budgets asked for, and {signal: why} of those of which nothing arrives.

    Where one is asked for, or none arrives at all, that is a mistake.
    """
    if words.signal is not None or len(layout.signals) == 1:
        return budgets(layout, words.signal, frequency_hz=f), {}
    found, missing = budgets_that_arrive(layout, frequency_hz=f)
    if not found:
        raise next(iter(missing.values()))
    return found, {name: error.problems[0].what for name, error in missing.items()}


def _check_names(words):
    """Refuse files that could not be written, before anything is solved."""
    check_view(words, VIEWS)
    if words.touchstone:
        from chain.network.two_port import check_touchstone_name

        check_touchstone_name(words.touchstone)


def _files(words, layout, found, at):
    """Yield (path, content) of every file that the words ask for."""
    if words.csv:
        yield words.csv, budget_csv(found)
    if words.figure:
        yield _figure(words, layout, found, at)
    if words.touchstone:
        yield _touchstone(words.touchstone, layout, found)


def _figure(words, layout, found, at):
    from chain.figures.style import figure_file

    draw = {SHARES: _shares, PATH: _along_path, PHOTONS: _photons}[words.view]
    return figure_file(draw(layout, found, at), words.figure)


def _shares(layout, found, at):
    from chain.figures.budget import MAX_SIGNALS, budget_figure, distinct

    shown = distinct(found)
    _refuse_many(shown, MAX_SIGNALS)
    return budget_figure(shown, at)


def _along_path(layout, found, at):
    from chain.figures.along_path import along_path_figure
    from chain.figures.budget import distinct

    shown = distinct(found)
    _refuse_many(shown, 1)
    return along_path_figure(next(iter(shown.values())), at)


def _photons(layout, found, at):
    from chain.figures.photons import MAX_PORTS, photons_figure
    from chain.noise.arrivals import arrivals

    # The devices that the signals meet: all of them where no signal is named.
    ids = {row.id for b in found.values() for row in b.rows}
    devices = [key for key in ids if layout.elements[key].kind.is_device]
    if not devices:
        raise LayoutError.at(
            Place("--view"), "no device stands in the network of the signal",
            "name the element whose photons are asked for as a device",
        )
    shown = arrivals(layout, sorted(devices), frequency_hz=at)
    if len(shown) > MAX_PORTS:
        raise LayoutError.at(
            Place("--figure"), f"there are {len(shown)} ports of devices to draw",
            "name a signal: --signal NAME",
        )
    return photons_figure(shown)


def _refuse_many(found, most):
    if len(found) > most:
        raise LayoutError.at(
            Place("--figure"), f"there are {len(found)} signals to draw", "name one: --signal NAME"
        )


def _touchstone(path, layout, found):
    from chain.network.two_port import touchstone_text

    if len(found) > 1:
        raise LayoutError.at(
            Place("--touchstone"), f"there are {len(found)} signals to write",
            "name one: --signal NAME",
        )
    return path, touchstone_text(layout, *found)


def _spread(layout, found, draws, seed, f):
    from chain.network.draws import check_draws
    from chain.noise.spread import spreads
    from chain.writing.progress import Progress

    check_draws(draws)
    with Progress("signals") as progress:
        return spreads(
            layout, list(found), draws=draws, seed=seed, frequency_hz=f, progress=progress
        )


def _dict(b, spread):
    """Return a budget, with its spread where there is one, under the names of --json."""
    result = b.as_dict()
    if b.signal in spread:
        own = spread[b.signal]
        result |= own.as_dict()
        result["warnings"] = [*result["warnings"], *own.warnings]
    return result


def _json(found, spread, missing):
    if len(found) == 1 and not missing:
        return as_json(_dict(next(iter(found.values())), spread))
    warnings = list(dict.fromkeys(text for b in found.values() for text in b.warnings))
    first, *rest = (b.laws for b in found.values())
    for laws in rest:
        first = first.worst(laws)
    return as_json({
        "signals": {name: _dict(b, spread) for name, b in found.items()},
        **({"nothing_arrives": missing} if missing else {}),
        "warnings": [*(_nothing(*item) for item in missing.items()), *warnings],
        "laws": first.as_dict(),
    })


def _nothing(name, why):
    return f"signal {name}: {why}"


def _text(found, spread, at, missing):
    layout = next(iter(found.values())).layout
    head = [title_of(layout), ""] if layout.title else []
    if len(found) == 1 and not missing:
        one = budget_text(next(iter(found.values())), at)
        return "\n".join([*head, one, *_spreads(spread, at)])
    parts = [*head, signals_text(found), ""]
    parts += [*(wrapped(_nothing(*item), "") for item in missing.items()), ""] if missing else []
    parts.append("one signal in full: --signal NAME")
    return "\n".join([*parts, *_spreads(spread, at)])


def _spreads(spread, at):
    """Return the spreads of signals as text, copies that are alike once."""
    from chain.noise.spread_text import spread_text

    shown = {id(one.quantities): one for one in reversed(spread.values())}
    return [f"\n{spread_text(one, at)}" for one in reversed(shown.values())]


VERB = Verb("budget", "noise and gain of a signal, element by element", _arguments, _run)
