"""chain check: is anything wrong or risky in this layout."""

from chain.advice.check import check
from chain.advice.findings import Advice
from chain.advice.text import advice_text
from chain.errors import LayoutError, Place, Problem
from chain.layout.margins import BY_NAME
from chain.reading import load
from chain.reading.margins import read_margin
from chain.verbs.options import Verb, add_json, add_layout, say
from chain.writing.json_text import as_json

DONE, NO, BAD_INPUT = 0, 1, 2


def _arguments(parser):
    add_layout(parser, several=True)
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
    margins = _margins(words)
    if isinstance(margins, LayoutError):
        return _refused(words, margins)
    if words.replace and len(words.layout) > 1:
        raise LayoutError.at(
            Place("--replace"), f"there are {len(words.layout)} layouts", "name one"
        )
    if len(words.layout) > 1:
        return _several(words, margins)
    [path] = words.layout
    try:
        layout = load(path, words.changes, allow=words.allow)
    except LayoutError as error:
        return _refused(words, error)
    if words.replace:
        return _replace(words, layout, margins)
    advice = check(layout, margins)
    say(as_json(advice.as_dict()) if words.json else advice_text(advice))
    return NO if advice.wrong else DONE


def _replace(words, layout, margins):
    from chain.advice.replacement import replacement
    from chain.writing.progress import Progress

    with Progress("parameters") as progress:
        found = replacement(layout, words.replace, margins, progress)
    say(as_json(found.as_dict()) if words.json else str(found))
    return DONE


def _margins(words):
    try:
        return dict(read_margin(text) for text in words.margins)
    except LayoutError as error:
        return error


def _refused(words, error):
    """Raise a mistake; for programs print it as findings."""
    if not words.json:
        raise error
    say(as_json({"findings": _problems(error), "warnings": [], "laws": {}}))
    return BAD_INPUT


def _several(words, margins):
    """Check one layout after the other; what cannot be read of them is told behind the others."""
    found: dict[str, Advice | LayoutError] = {}
    refused: list[Problem] = []
    for path in words.layout:
        try:
            found[path] = check(load(path, words.changes, allow=words.allow), margins)
        except LayoutError as error:
            found[path] = error
            refused += error.problems
    advice = [one for one in found.values() if not isinstance(one, LayoutError)]
    if words.json:
        say(as_json({
            "layouts": {path: {"findings": _problems(one)} if isinstance(one, LayoutError)
                        else one.as_dict() for path, one in found.items()},
            "warnings": [], "laws": {},
        }))
        return BAD_INPUT if refused else _worst(advice)
    if advice:
        say("\n\n".join(advice_text(one) for one in advice))
    if refused:
        raise LayoutError(refused)
    return _worst(advice)


def _worst(advice):
    return NO if any(one.wrong for one in advice) else DONE


def _problems(error):
    return [
        {"level": "error", "code": "layout", "where": str(p.place), "says": p.what,
         "why": p.instead, "remedy": p.instead, "elements": []}
        for p in error.problems
    ]


VERB = Verb("check", "what is wrong or risky in a layout, why, and the remedy",
            _arguments, _run)
