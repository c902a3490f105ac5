"""chain power: where the power of tones goes."""

from chain.figures.style import check_format, figure_file
from chain.layout.signals import chosen_signal
from chain.power.power_text import power_text, tones_named
from chain.power.tones import power
from chain.verbs.options import (
    Verb,
    add_csv,
    add_figure,
    add_json,
    add_layout,
    add_settled,
    check_outputs,
    deliver,
    read_layout,
    say,
)
from chain.writing.json_text import as_json


def _arguments(parser):
    add_layout(parser)
    add_json(parser)
    add_settled(parser)
    add_csv(parser, "levels at every port and what elements absorb")
    add_figure(parser, "levels along a signal path, and power dissipated by stage")
    parser.add_argument("--signal", metavar="NAME", help="the signal whose path the figure shows")
    parser.add_argument("--tone", metavar="NAME", help="one tone, element by element")


def _run(words):
    check_outputs(words)
    if words.figure:
        check_format(words.figure)
    layout = read_layout(words)
    found = power(layout)
    if words.tone:
        tones_named(found, words.tone)
    if not deliver(words, _files(words, layout, found), read=layout.files):
        say(as_json(found.as_dict()) if words.json else power_text(found, words.tone))
    exceeded = any(one.over for one in found.ratings)
    return 1 if found.over or exceeded or found.demands else 0


def _files(words, layout, found):
    """Yield (path, content) of every file that the words ask for."""
    if words.csv:
        from chain.results.power import Power

        yield words.csv, Power.from_result(found).csv()
    if words.figure:
        from chain.figures.power import power_figure

        signal = chosen_signal(layout, words.signal) if words.signal else None
        yield figure_file(power_figure(found, signal), words.figure)


VERB = Verb("power", "where the power of tones goes, what it heats, what it reaches",
            _arguments, _run)
