"""chain fields: what --json prints, verb by verb, with units and meanings."""

from dataclasses import asdict

from chain.fields.fields import asked_of, call_of, fields_of, verbs_with_fields
from chain.fields.fields_text import calls_text, fields_text
from chain.verbs.options import Verb, add_json, say
from chain.writing.json_text import as_json


def _arguments(parser):
    parser.add_argument("verb", metavar="VERB", nargs="?", help="one verb's fields")
    add_json(parser)


def _run(words):
    if words.verb is None and not words.json:
        say(calls_text({verb: _calls(verb) for verb in verbs_with_fields()}))
        return 0
    chosen = [words.verb] if words.verb else verbs_with_fields()
    if not words.json:
        found = fields_of(words.verb)
        say(fields_text(words.verb, _calls(words.verb), found))
        return 0
    say(as_json({
        "verbs": {
            verb: {
                "calls": _calls(verb),
                "fields": {asked: [asdict(one) for one in fields]
                           for asked, fields in fields_of(verb).items()},
            }
            for verb in chosen
        },
        "warnings": [], "laws": {},
    }))
    return 0


def _calls(verb):
    return {asked: call_of(verb, asked) for asked in asked_of(verb)}


VERB = Verb("fields", "what --json prints, with units and meanings, and the Python calls",
            _arguments, _run)
