"""chain warm: what the analyser should show at room temperature, before the cryostat closes."""

from chain.errors import LayoutError, Place
from chain.measurement.analyser import DRAWS, WITHIN_DB
from chain.measurement.warm import warmed
from chain.measurement.warm_sheet import sheet
from chain.measurement.warm_sheet_text import sheet_csv, sheet_text
from chain.network.draws import check_draws
from chain.verbs.options import (
    Verb,
    add_csv,
    add_figure,
    add_json,
    add_layout,
    check_outputs,
    deliver,
    read_layout,
    read_quantity,
    read_whole,
    say,
)
from chain.writing.json_text import as_json
from chain.writing.progress import Progress
from components.parameters import Measure


def _arguments(parser):
    add_layout(parser)
    add_json(parser)
    parser.add_argument(
        "--open", action="append", default=[], metavar="PORT", dest="ports",
        help="open the joint at a port, like D1.in, and measure at both its ends; may be repeated, "
        "then all of them are open at once",
    )
    parser.add_argument(
        "--readings", metavar="FILE", help="levels that were typed in (CSV: from, to, opened, "
        "frequency_hz, measured_db; the record of a service is one): each beside its interval",
    )
    add_csv(parser, "every trace over frequency, with --readings the log of them")
    add_figure(parser, "every trace with its band")
    parser.add_argument(
        "--draws", metavar="N", default=str(DRAWS),
        help=f"draws of tolerances and unknown phases that make the intervals ({DRAWS})",
    )
    parser.add_argument("--seed", metavar="S", default="0", help="seed of the draws (0)")
    parser.add_argument(
        "--within", metavar="LEVEL", default=f"{WITHIN_DB:g} dB",
        help=f"what connections and calibration may add in either direction ({WITHIN_DB:g} dB)",
    )


def _run(words):
    draws, seed = read_whole(words.draws, "--draws"), read_whole(words.seed, "--seed")
    check_outputs(words)
    check_draws(draws, seed, usual=DRAWS)
    within_db = read_quantity(words.within, Measure("ratio"), "--within")
    if words.figure:
        from chain.figures.style import check_format

        check_format(words.figure)
    warm = warmed(read_layout(words))
    words.accepted = {}  # the sheet has them
    if words.readings:
        return _log(words, warm, draws=draws, seed=seed, within_db=within_db)
    with Progress("networks") as progress:
        found = sheet(warm, words.ports, draws=draws, seed=seed, within_db=within_db,
                      progress=progress)
    if deliver(words, _files(words, found), read=warm.files):
        return 0
    say(as_json(found.as_dict()) if words.json else sheet_text(found))
    return 0


def _log(words, warm, **options):
    """Hold levels that were typed in against the warm layout."""
    from chain.measurement.bench_log import bench_log
    from chain.measurement.bench_log_text import log_csv
    from chain.measurement.typed_readings import typed_readings

    for option, given in (("--open", words.ports), ("--figure", words.figure)):
        if given:
            raise LayoutError.at(
                Place(option), f"{option} is of the sheet, and --readings asks for a log",
                f"leave {option} away: the file says what was open",
            )
    found = bench_log(warm, typed_readings(words.readings, "--readings"), words.readings,
                      **options)
    files = [(words.csv, log_csv(found))] if words.csv else []
    if deliver(words, files, read=(*warm.files, words.readings)):
        return 0
    say(as_json(found.as_dict()) if words.json else str(found))
    return 0


def _files(words, found):
    """Yield (path, content) of every file that the words ask for."""
    if words.csv:
        yield words.csv, sheet_csv(found)
    if words.figure:
        from chain.figures.style import figure_file
        from chain.figures.warm import warm_figure

        yield figure_file(warm_figure(found), words.figure)


VERB = Verb("warm", "what the analyser should show at room temperature, joint by joint",
            _arguments, _run)
