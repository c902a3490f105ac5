"""chain fields: what --json prints, verb by verb, with units and meanings."""

from dataclasses import asdict

from chain.fields.fields import call_of, fields_of, verbs_with_fields
from chain.fields.fields_text import calls_text, fields_text
from chain.verbs.options import Verb, add_json, say
from chain.writing.json_text import as_json


def _arguments(parser):
    parser.add_argument("verb", metavar="VERB", nargs="?", help="one verb's fields")
    add_json(parser)


def _run(words):
    if not words.json:
        if words.verb is None:
            say(calls_text({name: call_of(name) for name in verbs_with_fields()}))
        else:
            found = fields_of(words.verb)
            say(fields_text(words.verb, call_of(words.verb), found))
        return 0
    chosen = [words.verb] if words.verb else verbs_with_fields()
    say(as_json({
        "verbs": {
            name: {"call": call_of(name), "asked": {
                asked: [asdict(one) for one in fields] for asked, fields in fields_of(name).items()
            }}
            for name in chosen
        },
        "warnings": [], "laws": {},
    }))
    return 0


VERB = Verb("fields", "what --json prints, with units and meanings, and the Python calls",
            _arguments, _run)
