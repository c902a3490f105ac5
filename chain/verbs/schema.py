"""chain schema: the layout file as JSON Schema, for editors."""

import json

from chain.verbs.options import Verb, say
from chain.writing.files import write_whole


def _arguments(parser):
    parser.add_argument("--out", metavar="FILE", help="write it to a file in place of printing it")


def _run(words):
    from chain.reference.schema import layout_schema

    text = json.dumps(layout_schema(), indent=1, ensure_ascii=False)
    if words.out:
        write_whole(words.out, text + "\n")
    else:
        say(text)
    return 0


VERB = Verb("schema", "the layout file as JSON Schema, for editors", _arguments, _run)
