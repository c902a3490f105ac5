"""chain schema: the layout file as JSON Schema, for editors."""

from chain.verbs.options import Verb, say
from chain.writing.files import write_whole


def _arguments(parser):
    parser.add_argument("--out", metavar="FILE", help="write it to a file in place of printing it")


def _run(words):
    from chain.reference.schema import schema_text

    text = schema_text()
    if words.out:
        write_whole(words.out, text)
    else:
        say(text.rstrip("\n"))
    return 0


VERB = Verb("schema", "the layout file as JSON Schema, for editors", _arguments, _run)
