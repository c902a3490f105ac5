"""chain compare: what a change or a failure costs."""

from chain.design.comparison import compare, compare_signals
from chain.design.failures import each_failure
from chain.errors import LayoutError, Place
from chain.figures.style import check_format, figure_file
from chain.reading import load
from chain.results.design import Comparison, Failures
from chain.verbs.options import (
    Verb,
    add_csv,
    add_figure,
    add_json,
    add_layout,
    add_signal,
    check_outputs,
    deliver,
    say,
)
from chain.writing.json_text import as_json
from chain.writing.progress import Progress


def _arguments(parser):
    add_layout(parser)
    parser.add_argument("other", nargs="?", metavar="OTHER", help="a second layout; with --set, "
                        "the changes are made to it, without it to the first; or two results of "
                        "reduce --json: THIS.json LAST.json")
    add_signal(parser)
    add_json(parser)
    add_csv(parser, "both over frequency, single failures, a measured trace, or two results")
    add_figure(parser, "both over frequency, one over the other")
    parser.add_argument(
        "--each", action="store_true",
        help="what happens when each active element is dead or off and each cable open, ranked",
    )
    parser.add_argument(
        "--measured", metavar="FILE",
        help="a measured trace (Touchstone) against what the layout should show, in words",
    )
    parser.add_argument(
        "--ports", metavar="PORT:PORT",
        help="what the measured file's ports are in the layout, like S1:R1 or D1.out:R1",
    )
    parser.add_argument(
        "--warm", action="store_true", help="with everything at room temperature"
    )


def _run(words):
    _refuse_mixtures(words)
    check_outputs(words)
    if words.figure:
        check_format(words.figure)
    if words.other and all(name.lower().endswith(".json") for name in (words.layout, words.other)):
        return _results(words)
    if words.each:
        return _each(words)
    if words.measured:
        return _measured(words)
    first = load(words.layout, allow=words.allow)
    if words.other is None and not words.changes:
        raise LayoutError.at(
            Place(words.layout), "there is nothing to compare it with",
            "name a second layout, a change (--set H1.state=dead), --measured FILE, or --each",
        )
    second = load(words.other or words.layout, words.changes, allow=words.allow)
    if words.warm:
        first, second = (_warmed(layout) for layout in (first, second))
    names = [words.signal] if words.signal else _shared(first, second)
    one = words.signal or (names[0] if len(names) == 1 else None)
    if one is not None:
        found = Comparison.from_result(compare(first, second, one))
        return _shown(words, found, read=(*first.files, *second.files))
    for option in ("--figure", "--csv"):
        if getattr(words, option[2:]):
            raise LayoutError.at(
                Place(option), f"there are {len(names)} signals to write",
                "name one: --signal NAME",
            )
    every = compare_signals(first, second, names)
    say(as_json(every.as_dict()) if words.json else str(every))
    return 0


def _shown(words, found, *, read):
    """Write and print a result that shows itself as the words ask."""
    files = []
    if words.csv:
        files.append((words.csv, found.csv()))
    if words.figure:
        files.append(figure_file(found.figure(), words.figure))
    if not deliver(words, files, read=read):
        say(as_json(found.as_dict()) if words.json else str(found))
    return 0


def _results(words):
    """Compare two results of `reduce --json`, this time's and last time's."""
    from chain.measurement.two_results import compare_results
    from chain.results.measurement import TwoResults

    for option, given in (("--set", words.changes), ("--warm", words.warm),
                          ("--signal", words.signal)):
        if given:
            raise LayoutError.at(
                Place(option), f"{option} changes a layout, and these are results", "leave it away"
            )
    found = TwoResults.from_result(compare_results(words.layout, words.other))
    return _shown(words, found, read=(words.layout, words.other))


def _warmed(layout):
    from chain.measurement.warm import warmed

    return warmed(layout)


def _refuse_mixtures(words):
    """Refuse words that ask two questions at once."""
    asked = [
        name for name, given in (("OTHER", words.other), ("--each", words.each),
                                 ("--measured", words.measured)) if given
    ]
    if len(asked) > 1:
        raise LayoutError.at(
            Place("compare"), f"{' and '.join(asked)} ask different things", "keep one"
        )
    if words.ports and not words.measured:
        raise LayoutError.at(
            Place("--ports"), "ports are named and no measured file", "add --measured FILE"
        )


def _measured(words):
    from chain.measurement.measured_trace import against_trace
    from chain.results.measurement import MeasuredTrace

    layout = load(words.layout, words.changes, allow=words.allow)
    found = against_trace(
        layout, words.ports or words.signal, words.measured, warm=words.warm
    )
    return _shown(
        words, MeasuredTrace.from_result(found), read=(*layout.files, words.measured)
    )


def _shared(first, second):
    names = [name for name in first.signals if name in second.signals]
    if not names:
        raise LayoutError.at(
            Place(first.path), "the two layouts have no signal in common", "name one: --signal NAME"
        )
    return names


def _each(words):
    layout = load(words.layout, words.changes, allow=words.allow)
    if words.warm:
        layout = _warmed(layout)
    with Progress("failures") as progress:
        found = each_failure(layout, words.signal, progress=progress)
    return _shown(words, Failures.from_result(found), read=layout.files)


VERB = Verb("compare", "what a change or a failure costs in noise, gain and time", _arguments, _run)
