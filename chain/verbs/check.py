"""chain check: is anything wrong in this layout."""

from chain.errors import LayoutError
from chain.export import as_json
from chain.verbs.options import Verb, add_json, add_layout, read_layout


def _arguments(parser):
    add_layout(parser)
    add_json(parser)


def _run(words):
    try:
        layout = read_layout(words)
    except LayoutError as error:
        if not words.json:
            raise
        findings = [
            {"level": "error", "code": "layout", "where": str(p.place), "says": p.what,
             "why": p.instead}
            for p in error.problems
        ]
        print(as_json({"findings": findings, "warnings": [], "laws": {}}))
        return 2
    if words.json:
        print(as_json({"findings": [], "warnings": [], "laws": {}}))
    else:
        print(f"{layout.path}: {len(layout.lines)} lines, {len(layout.elements)} elements, "
              f"{len(layout.joints)} joints, {len(layout.signals)} signals: nothing wrong")
    return 0


VERB = Verb("check", "what is wrong in a layout", _arguments, _run)
