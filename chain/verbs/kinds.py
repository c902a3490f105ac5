"""chain kinds: what kinds of elements there are, and what each takes."""

from chain.reference.kinds_text import kind_named, kind_text, kinds_dict, kinds_text
from chain.verbs.options import Verb, add_json, say
from chain.writing.json_text import as_json
from components.declaration import KINDS


def _arguments(parser):
    parser.add_argument("kind", metavar="KIND", nargs="?", help="one kind in full")
    add_json(parser)


def _run(words):
    if words.json:
        kinds = [KINDS[name] for name in sorted(KINDS)]
        say(as_json(kinds_dict([kind_named(words.kind)] if words.kind else kinds)))
    else:
        say(kind_text(kind_named(words.kind)) if words.kind else kinds_text())
    return 0


VERB = Verb("kinds", "kinds of elements: ports, parameters, noise, an example", _arguments, _run)
