"""chain heat: the heat load of each stage and its steady state."""

from chain.errors import LayoutError, Place
from chain.heat.heat_text import ROWS_A_STAGE, heat_text
from chain.heat.more_lines import more_lines
from chain.heat.stages import heat
from chain.verbs.options import (
    Verb,
    add_csv,
    add_figure,
    add_json,
    add_layout,
    check_outputs,
    check_view,
    deliver,
    read_layout,
    say,
)
from chain.writing.json_text import as_json

STAGES, LINES = VIEWS = "stages", "lines"
"""What --figure can show."""


def _arguments(parser):
    add_layout(parser)
    add_json(parser)
    parser.add_argument(
        "--most", metavar="N", default=str(ROWS_A_STAGE),
        help=f"rows a stage of the largest contributions ({ROWS_A_STAGE})",
    )
    parser.add_argument(
        "--more", metavar="LINE", help="how many more such lines fit before a stage runs out"
    )
    add_csv(parser, "every stage")
    add_figure(parser, "the heat load of each stage against its cooling power")
    parser.add_argument(
        "--view", metavar="WHAT", default=STAGES,
        help=f"what the figure shows: {STAGES} (as above) or {LINES} (a map of which line brings "
        "how much to which stage)",
    )


def _run(words):
    most = _count(words.most)
    check_outputs(words)
    check_view(words, VIEWS)
    layout = read_layout(words)
    if not layout.stages:
        raise LayoutError.at(
            Place(layout.path), "the layout has no stages to take heat",
            "add stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}}",
        )
    found = heat(layout)
    more = more_lines(found, words.more) if words.more else None
    if not deliver(words, _files(words, found), read=layout.files):
        say(as_json(found.as_dict(more)) if words.json else heat_text(found, most=most, more=more))
    return 1 if found.over else 0


def _files(words, found):
    """Yield (path, content) of every file that the words ask for."""
    if words.csv:
        from chain.results.heat import Heat

        yield words.csv, Heat.from_result(found).csv()
    if words.figure:
        yield _figure(words, found)


def _figure(words, found):
    from chain.figures.style import figure_file

    if words.view == LINES:
        from chain.figures.heat_by_line import heat_by_line_figure

        return figure_file(heat_by_line_figure(found), words.figure)
    from chain.figures.heat import heat_figure

    return figure_file(heat_figure(found), words.figure)


def _count(text):
    if not (text.isascii() and text.isdecimal() and len(text) < 6):
        raise LayoutError.at(
            Place("--most"), f"{text!r} is no number of rows", "give one from 0 to 99999"
        )
    return int(text)


VERB = Verb("heat", "heat load of each stage by conduction, bias and tones; steady state",
            _arguments, _run)
