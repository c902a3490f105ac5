"""chain power: where the power of tones goes."""

from chain.export import as_json
from chain.power import power
from chain.power_text import power_dict, power_text
from chain.verbs.options import Verb, add_json, add_layout, read_layout


def _arguments(parser):
    add_layout(parser)
    add_json(parser)


def _run(words):
    found = power(read_layout(words))
    print(as_json(power_dict(found)) if words.json else power_text(found))
    return 1 if found.over else 0


VERB = Verb("power", "where the power of tones goes, what it heats, what it reaches",
            _arguments, _run)
