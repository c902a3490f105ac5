"""chain catalogue: coax and materials with values, ranges, how sure they are, and sources."""

from chain.reference.catalogue_text import catalogue_dict, catalogue_text
from chain.verbs.options import Verb, add_json, say
from chain.writing.json_text import as_json


def _arguments(parser):
    parser.add_argument(
        "section", metavar="coax|materials", nargs="?", help="half of it, or a NAME alone"
    )
    parser.add_argument("name", metavar="NAME", nargs="?", help="one row in full")
    add_json(parser)


def _run(words):
    if words.json:
        say(as_json(catalogue_dict(words.section, words.name)))
    else:
        say(catalogue_text(words.section, words.name))
    return 0


VERB = Verb("catalogue", "coax and materials: values, ranges, how sure, sources",
            _arguments, _run)
