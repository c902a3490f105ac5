"""chain diagnose: which changes of the layout explain measured data, and what to measure next."""

import os

from chain.diagnosis import diagnose
from chain.diagnosis.diagnosis_text import diagnosis_text
from chain.diagnosis.single_readings import read_reading
from chain.errors import LayoutError, Place
from chain.layout.signals import chosen_signal
from chain.measurement.bench_file import read_data_sets
from chain.reading.written import text_with_changes
from chain.verbs.options import (
    Verb,
    add_figure,
    add_json,
    add_layout,
    add_signal,
    read_layout,
    read_quantity,
    say,
)
from chain.writing.files import write_together
from chain.writing.json_text import as_json
from chain.writing.progress import Progress
from components.parameters import Measure

_RIPPLE = Measure("ratio", least=0.001, most=10.0)
_HEALTHY = Measure("fraction", least=0.001, most=0.999)


def _arguments(parser):
    add_layout(parser)
    add_signal(parser)
    parser.add_argument(
        "--measured", action="append", default=[], metavar="FILE",
        help="what was measured: CSV with frequency_hz and gain_db, system_noise_k (or _quanta) or "
        "added_quanta, what reduce writes, Touchstone for gain, or YAML that names several; may be "
        "repeated",
    )
    parser.add_argument(
        "--reading", action="append", default=[], metavar="KEY=VALUE",
        help="a single value that was read, as in stages.mixing='25 mK +/- 1 mK' or "
        "pump.power='-3 dBm +/- 0.5 dB'; may be repeated",
    )
    parser.add_argument(
        "--healthy", default="50 %", metavar="PART",
        help="how likely it is beforehand that nothing is wrong (50 %%)",
    )
    parser.add_argument(
        "--ripple", metavar="LEVEL",
        help="rms of the ripple that is not in the layout; of unknown size where not given",
    )
    parser.add_argument(
        "--write", metavar="FILE",
        help="write a copy of the layout with the changes of the first explanation in its text, "
        "comments kept",
    )
    add_json(parser)
    add_figure(parser, "data, prediction and leading explanations")


def _run(words):
    if not words.measured:
        raise LayoutError.at(Place("--measured"), "--measured is missing",
                             "name a file: --measured gain_and_noise.csv")
    healthy = read_quantity(words.healthy, _HEALTHY, "--healthy")
    ripple = words.ripple and read_quantity(words.ripple, _RIPPLE, "--ripple")
    if words.figure:
        from chain.figures.style import check_format

        check_format(words.figure)
    layout = read_layout(words)
    signal = _signal(layout, words.signal)
    readings = [read_reading(layout, text) for text in words.reading]
    sets = read_data_sets(words.measured)
    with Progress("combinations") as progress:
        found = diagnose(layout, signal, sets, healthy=healthy, ripple_db=ripple,
                         readings=readings, progress=progress)
    write_together(_files(words, found), read=(*layout.files, *words.measured))
    say(as_json(found.as_dict()) if words.json else diagnosis_text(found))
    return 0


def _signal(layout, name):
    """Return the signal's name; of several one has to be named, and it has to have a start."""
    if name is None and len(layout.signals) != 1:
        known = ", ".join(layout.signals) or "none"
        raise LayoutError.at(Place("--signal"), "--signal is missing",
                             f"name the signal that was measured; the layout has: {known}")
    signal = chosen_signal(layout, name)
    if signal.from_port is None:
        raise LayoutError.at(signal.place, f"signal {signal.name} has no start, and so no gain",
                             "name another signal, or give it a `from`")
    return signal.name


def _files(words, found):
    """Yield (path, content) of every file that the words ask for."""
    if words.write:
        yield words.write, _copy(words, found)
    if words.figure:
        from chain.figures.diagnosis import diagnosis_figure
        from chain.figures.style import figure_file

        yield figure_file(diagnosis_figure(found), words.figure)


def _copy(words, found):
    """Return the layout's text with the first explanation's changes, and those of --set."""
    layout, changes = found.layout, found.best.changes
    if not changes:
        raise LayoutError.at(Place("--write"), "all is as the layout says: there is nothing to "
                             "write", "leave --write away")
    folders = [os.path.dirname(os.path.abspath(path)) for path in (words.write, layout.path)]
    if len(layout.files) > 1 and folders[0] != folders[1]:
        raise LayoutError.at(Place("--write"), f"{words.write} is in another folder, and the "
                             "layout names files relative to its own", f"write into {folders[1]}")
    return text_with_changes(layout, (*layout.changes, *changes))


VERB = Verb("diagnose", "which faults explain measured data, singly and in pairs, and what to "
            "measure next", _arguments, _run)
