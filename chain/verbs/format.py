"""chain format: the layout file, section by section, with examples that load."""

from chain.reference.format_text import format_text
from chain.verbs.options import Verb, say


def _arguments(parser):
    parser.add_argument(
        "section", metavar="SECTION", nargs="?",
        help="one section with its keys; also: values, elements",
    )


def _run(words):
    say(format_text(words.section))
    return 0


VERB = Verb("format", "the layout file: sections, keys, units, examples that load",
            _arguments, _run)
