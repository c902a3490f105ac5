"""chain check: is anything wrong or risky in this layout."""

from chain.errors import LayoutError
from chain.layout.margins import BY_NAME
from chain.reading.margins import read_margin
from chain.verbs.options import Verb, add_json, add_layout, read_layout, say
from chain.writing.json_text import as_json

DONE, NO, BAD_INPUT = 0, 1, 2


def _arguments(parser):
    add_layout(parser)
    add_json(parser)
    parser.add_argument(
        "--margin", action="append", default=[], metavar="NAME=VALUE", dest="margins",
        help="how far advice goes, for this run, as in photons=0.001; may be repeated; margins: "
        + ", ".join(f"{name} ({BY_NAME[name].default})" for name in BY_NAME)
        .replace("%", "%%"),
    )


def _run(words):
    try:
        layout = read_layout(words)
        margins = dict(read_margin(text) for text in words.margins)
    except LayoutError as error:
        if not words.json:
            raise
        say(as_json({"findings": _problems(error), "warnings": [], "laws": {}}))
        return BAD_INPUT
    words.accepted = {}  # they stand with what they silence
    return _advise(layout, margins, words.json)


def _advise(layout, margins, json):
    from chain.advice.check import check
    from chain.advice.text import advice_text

    advice = check(layout, margins)
    say(as_json(advice.as_dict()) if json else advice_text(advice))
    return NO if advice.wrong else DONE


def _problems(error):
    return [
        {"level": "error", "code": "layout", "where": str(p.place), "says": p.what,
         "why": p.instead, "remedy": p.instead, "elements": []}
        for p in error.problems
    ]


VERB = Verb("check", "what is wrong or risky in a layout, why, and the remedy",
            _arguments, _run)
