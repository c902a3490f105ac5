"""chain check: is anything wrong or risky in this layout."""

from chain.errors import LayoutError, Place
from chain.layout.margins import BY_NAME
from chain.verbs.options import Verb, add_json, add_layout, read_layout, say
from chain.writing.json_text import as_json

DONE, NO, BAD_INPUT = 0, 1, 2


def _arguments(parser):
    add_layout(parser)
    add_json(parser)
    parser.add_argument(
        "--replace", metavar="ID", help="what a part in its place has to be: the worst value of "
        "each parameter that keeps noise, photons, heat and headroom, connectors, direction, band",
    )
    parser.add_argument(
        "--margin", action="append", default=[], metavar="NAME=VALUE", dest="margins",
        help="how far advice goes, for this run, as in photons=0.001; may be repeated; margins: "
        + ", ".join(f"{name} ({BY_NAME[name].default})" for name in BY_NAME)
        .replace("%", "%%"),
    )


def _run(words):
    try:
        layout = read_layout(words)
        margins = dict(_margin(text) for text in words.margins)
    except LayoutError as error:
        if not words.json:
            raise
        say(as_json({"findings": _problems(error), "warnings": [], "laws": {}}))
        return BAD_INPUT
    words.accepted = {}  # they stand with what they silence
    if words.replace:
        return _replace(words, layout, margins)
    return _advise(layout, margins, words.json)


def _advise(layout, margins, json):
    from chain.advice.check import check
    from chain.advice.text import advice_text

    advice = check(layout, margins)
    say(as_json(advice.as_dict()) if json else advice_text(advice))
    return NO if advice.wrong else DONE


def _replace(words, layout, margins):
    from chain.advice.replacement import replacement
    from chain.writing.progress import Progress

    with Progress("parameters") as progress:
        found = replacement(layout, words.replace, margins, progress)
    say(as_json(found.as_dict()) if words.json else str(found))
    return DONE


def _problems(error):
    return [
        {"level": "error", "code": "layout", "where": str(p.place), "says": p.what,
         "why": p.instead, "remedy": p.instead, "elements": []}
        for p in error.problems
    ]


def _margin(text):
    """Return (name, Quantity) of a margin's `NAME=VALUE`; raises LayoutError."""
    from chain.reading.context import ReadContext
    from chain.reading.nodes import Scalar
    from chain.reading.problems import MistakeError, Problems
    from chain.reading.values import read
    from chain.suggestions import choose

    name, equals, value = (part.strip() for part in text.partition("="))
    place = Place(f"--margin {text}")
    if not equals or name not in BY_NAME:
        raise LayoutError.at(
            place, f"there is no margin {name!r}" if equals else f"{text!r} is no NAME=VALUE",
            choose(name, BY_NAME, "margins"),
        )
    node = Scalar(place.file, 1, len(name) + 2, value)
    try:
        return name, read(node, BY_NAME[name].reads, ReadContext(Problems()), name)
    except MistakeError as mistake:
        raise LayoutError.at(mistake.place, mistake.what, mistake.instead) from mistake


VERB = Verb("check", "what is wrong or risky in a layout, why, and the remedy",
            _arguments, _run)
