"""What is wrong with a file that is not YAML, in words for the person who wrote it."""

from chain.errors import Place
from chain.reading.files import BREAK
from chain.reading.problems import MistakeError
from chain.suggestions import shown

DEEPEST = 32
"""Levels of nesting; a layout needs about eight."""

_STARTS = "cannot start any token"
_COLON = "mapping values are not allowed"
_UNCLOSED = {
    "flow sequence": ("[", "]"),
    "flow mapping": ("{", "}"),
}


def explain(error, text, file):
    """Return the MistakeError for a yaml.MarkedYAMLError met in `text`."""
    mark = error.problem_mark or error.context_mark
    place = _place(mark, file)
    problem, context = error.problem or "", error.context or ""
    if _tab_at(mark, text) and ("tab" in problem or _STARTS in problem):
        return MistakeError(place, "a tab stands where spaces belong", "indent with spaces")
    if _STARTS in problem:
        what = f"a value cannot start with {_character(mark, text)!r}"
        return MistakeError(place, what, "put the value into quotes")
    if "nesting depth" in problem:
        return too_deep(place)
    if _COLON in problem:
        return MistakeError(
            place, "a ':' stands where no key can be",
            "indent the keys of one mapping alike, and put a value that holds ': ' into quotes",
        )
    for name, (opened, closed) in _UNCLOSED.items():
        if name in context:
            return _unclosed(error, place, file, opened, closed)
    if "quoted scalar" in context and "end of stream" in problem:
        start = _place(error.context_mark, file)
        return MistakeError(start, "a quote opens here and never closes", "close it")
    if "unexpected ':'" in problem:
        return MistakeError(
            place, "a ':' without a space behind it, or without a value",
            "write a space and a value behind it, or put a text that holds it into quotes",
        )
    if "node content" in problem:
        return MistakeError(
            place, "a value is missing here", "write one, or close the bracket before it"
        )
    if "escape" in problem:
        return MistakeError(
            place, "an unknown escape in double quotes",
            r"write \\ for a backslash, or use single quotes",
        )
    return _block(error, problem, place)


def too_deep(place):
    """Return the MistakeError for nesting beyond the bound."""
    return MistakeError(
        place, f"brackets or indents nest more than {DEEPEST} deep", "a layout needs about eight"
    )


def _unclosed(error, place, file, opened, closed):
    start = error.context_mark
    return MistakeError(
        place,
        f"expected ',' or '{closed}' here, for the '{opened}' of line {start.line + 1}, "
        f"column {start.column + 1}",
        f"close it with '{closed}', or put a value that holds ': ' into quotes",
    )


def _block(error, problem, place):
    sign = "'-'" in problem or "entries are not allowed" in problem
    if sign or "expected key" in problem or "block end" in problem:
        return MistakeError(
            place, "this does not fit what stands before it",
            "indent the entries of one list or mapping alike, a list's each with '- '",
        )
    what = f"this is not YAML ({shown(problem)[1:-1]})"
    return MistakeError(place, what, "correct it; the demo layouts show the form")


def _place(mark, file):
    if mark is None:
        return Place(file)
    return Place(file, mark.line + 1, mark.column + 1)


def _character(mark, text):
    lines = BREAK.split(text)
    if mark is None or mark.line >= len(lines):
        return ""
    return lines[mark.line][mark.column : mark.column + 1]


def _tab_at(mark, text):
    """Tell whether the line of the mark has a tab at the mark, or in its indentation before it."""
    if mark is None:
        return False
    lines = BREAK.split(text)
    if mark.line >= len(lines):
        return False
    line = lines[mark.line]
    return "\t" in line[mark.column : mark.column + 1] or line[: mark.column].strip(" ") == "\t"
