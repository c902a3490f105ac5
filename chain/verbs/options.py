"""What the verbs have in common: the layout, changes to it, frequencies, output files."""

from collections.abc import Callable
from dataclasses import dataclass

from chain.errors import LayoutError, Place
from chain.reading import load
from chain.writing.files import write_together
from chain.writing.foreign_text import visible
from components.quantities import QuantityError, parse


@dataclass(frozen=True)
class Verb:
    """One verb: its name, what it answers, its arguments, what it does."""

    name: str
    summary: str
    arguments: Callable
    run: Callable


def say(text):
    """Print a result; what would steer a terminal is written out, JSON having none of it."""
    print(visible(text))


def add_layout(parser, *, several=False):
    """Add the layout file, or `several` of them, --set and --allow to a verb's arguments."""
    parser.add_argument(
        "layout", metavar="LAYOUT", nargs="+" if several else None,
        help="layout file (YAML); - for standard input" + ("; one or several" if several else ""),
    )
    parser.add_argument(
        "--set", action="append", default=[], metavar="KEY=VALUE", dest="changes",
        help="change anything for this run, as in H1.state=dead or A2.loss='20 dB'; "
        "KEY= takes a key away; may be repeated",
    )
    parser.add_argument(
        "--allow", action="append", default=[], metavar="FOLDER",
        help="a folder besides the layout's own and its repository from which it may name files",
    )


def add_json(parser):
    """Add --json to a verb's arguments."""
    parser.add_argument("--json", action="store_true", help="print one JSON object for programs")


def add_csv(parser, what):
    """Add --csv to a verb's arguments; `what` says what a row is."""
    parser.add_argument(
        "--csv", metavar="FILE",
        help=f"write {what} as CSV; - writes it to standard output, in place of the report",
    )


def check_outputs(words):
    """Refuse words that want two things on standard output; raises LayoutError."""
    if words.csv == "-" and words.json:
        raise LayoutError.at(
            Place("--csv"), "--csv - and --json both write standard output", "keep one"
        )


def deliver(words, files, *, read):
    """Write (path, content) pairs together; tell whether one was printed in the report's place."""
    outputs = list(files)
    printed = [content for path, content in outputs if path == "-"]
    write_together([pair for pair in outputs if pair[0] != "-"], read=read)
    for content in printed:
        print(content, end="")
    if printed:
        words.accepted = {}  # nothing stands behind what a program reads
    return bool(printed)


def add_settled(parser):
    """Add --settled to a verb's arguments."""
    parser.add_argument(
        "--settled", action="store_true",
        help="stages at their steady-state temperatures, not at those given",
    )


def add_figure(parser, what):
    """Add --figure to a verb's arguments; `what` says what it shows."""
    parser.add_argument(
        "--figure", metavar="FILE", help=f"draw {what}; FILE ends in .svg, .png or .pdf"
    )


def check_view(words, views):
    """Refuse a --view that is none of `views`, and a --figure that cannot be written.

    The first of the views is what a figure shows where none is named.  Raises LayoutError.
    """
    if words.view not in views:
        raise LayoutError.at(
            Place("--view"), f"there is no view {words.view!r}", f"give one of {', '.join(views)}"
        )
    if words.view != views[0] and not words.figure:
        raise LayoutError.at(
            Place("--view"), "it says what a figure shows, and there is none",
            "name its file: --figure FILE",
        )
    if words.figure:
        from chain.figures.style import check_format

        check_format(words.figure)


def add_signal(parser):
    """Add --signal to a verb's arguments."""
    parser.add_argument("--signal", metavar="NAME", help="one signal of the layout")


def read_layout(words):
    """Return the layout that the words name, with their changes, in steady state where asked."""
    layout = load(words.layout, words.changes, allow=words.allow)
    words.accepted = layout.accepted
    if not getattr(words, "settled", False):
        return layout
    from chain.heat.steady_state import at_steady_state

    return at_steady_state(layout)


def read_whole(text, option):
    """Return the whole number of an option, 0 or more; None where it is not given.

    Raises LayoutError.
    """
    if text is None:
        return None
    if not (text.isascii() and text.isdecimal() and len(text) < 19):
        raise LayoutError.at(
            Place(option), f"{text!r} is not a whole number", "give one from 0 on, like 1000"
        )
    return int(text)


def read_quantity(text, measure, option):
    """Return the value in base units of an option's quantity in its bounds; raises LayoutError."""
    try:
        value = parse(text, measure.dimension).value
    except QuantityError as error:
        raise LayoutError.at(Place(option), error.what, error.instead) from error
    outside = measure.outside(value)
    if outside:
        raise LayoutError.at(Place(option), f"{text!r} {outside[0]}", outside[1])
    return value
