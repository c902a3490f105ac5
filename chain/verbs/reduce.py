"""chain reduce: gain and noise from powers that were read with a load hot and cold."""

import math
from dataclasses import replace

from chain.errors import LayoutError, Place
from chain.measurement.common_errors import Sizes
from chain.verbs.options import (
    Verb,
    add_csv,
    add_figure,
    add_json,
    add_layout,
    add_signal,
    check_outputs,
    deliver,
    read_layout,
    read_quantity,
    say,
)
from chain.writing.json_text import as_json
from components.declaration import GAIN
from components.parameters import Measure
from components.quantities import QuantityError, parse
from components.thermal_noise import kelvin_per_quantum

_QUANTA = Measure("number", least=0.0, most=1e9)
"""An error in quanta: beyond it nothing is a measurement."""


def _arguments(parser):
    add_layout(parser)
    add_signal(parser)
    parser.add_argument(
        "--source", metavar="ID", help="what was hot and cold: a termination, a port, or an "
        "attenuator whose stage was warmed",
    )
    parser.add_argument(
        "--readings", metavar="FILE", action="append", default=[],
        help="CSV: frequency_hz, load_k, power_dbm_hz (or power_dbm, power_w), and if known "
        "power_sigma, load_k_sigma, bandwidth_hz; or a power column a temperature, 'power_dbm_hz "
        "0.1 K'; may be repeated",
    )
    parser.add_argument("--bandwidth", metavar="FREQUENCY", help="of power_w and power_dbm")
    parser.add_argument(
        "--load-error", metavar="SIZE", action="append", default=[],
        help="one sigma of the load's thermometer: its scale as '1 %%', its zero as '2 mK'; may be "
        "repeated",
    )
    parser.add_argument(
        "--drift", metavar="SIZE",
        help="one sigma of the gain between sweeps, '0.3 %%' or '0.02 dB'",
    )
    parser.add_argument(
        "--power-error", metavar="SIZE",
        help="one sigma of the instrument's power scale, '0.5 dB': it moves the gain alone",
    )
    parser.add_argument(
        "--floor", metavar="DENSITY",
        help="what the instrument reads by itself, '-155 dBm/Hz +/- 0.2 dB'",
    )
    parser.add_argument(
        "--on", metavar="FILE", action="append", default=[],
        help="powers with the paramp on and the load cold; --readings are then with it off",
    )
    parser.add_argument(
        "--gain-change", metavar="FILE",
        help="CSV: frequency_hz, gain_change_db[, gain_change_db_sigma], paramp on less off",
    )
    parser.add_argument(
        "--gain-change-error", metavar="SIZE", help="one sigma common to all of it, '0.1 dB'"
    )
    parser.add_argument(
        "--grid", metavar="FILE",
        help="CSV over the pump: pump_dbm, pump_hz, frequency_hz, gain_change_db, power_dbm_hz, "
        "and if known gain_change_strong_db: the least noise for --least-gain within the cooling",
    )
    parser.add_argument(
        "--least-gain", metavar="RATIO", help="over off, of the best point of a grid ('15 dB')"
    )
    parser.add_argument(
        "--plan", action="store_true",
        help="what to read, in which order and for how long, for an --error of the added noise",
    )
    parser.add_argument("--error", metavar="SIZE", help="wanted: '0.2 quanta' (or '50 mK')")
    parser.add_argument("--hottest", metavar="TEMPERATURE", help="of the load in a plan (4 K)")
    add_json(parser)
    add_csv(parser, "gain and noise over frequency")
    add_figure(parser, "the powers, their residuals, noise and gain with their intervals")


def _run(words):
    from chain.measurement.on_off import read_gain_change
    from chain.measurement.readings import read_readings
    from chain.measurement.reduce import reduce

    check_outputs(words)
    _check_words(words)
    sizes = _sizes(words)
    width = None if words.bandwidth is None else _positive(words.bandwidth, "--bandwidth")
    if words.plan:
        return _plan(words, sizes, width)
    floor, sizes = _floor(words.floor, sizes)
    layout = read_layout(words)
    readings = read_readings(words.readings, band=layout.band, bandwidth_hz=width)
    if words.grid:
        return _grid(words, layout, readings, sizes, width, floor)
    on = change = None
    if words.on:
        on = read_readings(
            words.on, band=layout.band, bandwidth_hz=width, option="--on", fewest=1
        )
        change = read_gain_change(words.gain_change)
    found = reduce(
        layout, words.signal, source=words.source, readings=readings, on=on, gain_change=change,
        sizes=sizes, floor_w_hz=floor,
    )
    read = (*layout.files, *words.readings, *words.on, *filter(None, [words.gain_change]))
    if deliver(words, _files(words, found), read=read):
        return 0
    say(as_json(found.as_dict()) if words.json else str(found))
    return 0


def _grid(words, layout, readings, sizes, width, floor):
    from chain.measurement.grid_readings import read_grid
    from chain.measurement.pump_grid import pump_grid
    from chain.measurement.pump_grid_text import pump_grid_csv, pump_grid_dict
    from chain.writing.progress import Progress

    least = 0.0
    if words.least_gain is not None:
        least = read_quantity(words.least_gain, GAIN, "--least-gain")
    grid = read_grid(words.grid, band=layout.band, bandwidth_hz=width)
    with Progress("pump") as progress:
        found = pump_grid(
            layout, words.signal, source=words.source, readings=readings, grid=grid,
            least_gain_db=least, sizes=sizes, floor_w_hz=floor, progress=progress,
        )
    files = []
    if words.csv:
        files.append((words.csv, pump_grid_csv(found)))
    if words.figure:
        from chain.figures.pump_grid import pump_grid_figure
        from chain.figures.style import figure_file

        files.append(figure_file(pump_grid_figure(found), words.figure))
    if not deliver(words, files, read=(*layout.files, *words.readings, words.grid)):
        say(as_json(pump_grid_dict(found)) if words.json else str(found))
    return 0 if found.best is not None else 1


def _plan(words, sizes, width):
    from chain.measurement.plan import BANDWIDTH_HZ, HOTTEST_K, plan
    from chain.measurement.plan_text import plan_dict

    layout = read_layout(words)
    hottest = HOTTEST_K
    if words.hottest is not None:
        hottest = read_quantity(words.hottest, Measure("temperature"), "--hottest")
    found = plan(
        layout, words.signal, source=words.source, error_quanta=_error(words.error, layout),
        bandwidth_hz=width or BANDWIDTH_HZ, sizes=sizes, hottest_k=hottest,
    )
    say(as_json(plan_dict(found)) if words.json else str(found))
    return 0 if found.chosen is not None else 1


def _error(text, layout):
    """Return the wanted error in quanta; kelvin are taken at the middle of the band."""
    number, _, unit = text.strip().partition(" ")
    if unit.strip() in ("quanta", "quantum"):
        value = read_quantity(number, _QUANTA, "--error")
    else:
        middle = (layout.band.start_hz + layout.band.stop_hz) / 2
        kelvin = read_quantity(text, Measure("temperature", zero=True), "--error")
        value = kelvin / float(kelvin_per_quantum(frequency_hz=middle))
    if value <= 0:
        raise LayoutError.at(Place("--error"), f"{text!r} is no error", "give one above 0")
    return value


def _files(words, found):
    """Yield (path, content) of every file that the words ask for."""
    if words.csv:
        from chain.measurement.reduction_export import reduction_csv

        yield words.csv, reduction_csv(found)
    if words.figure:
        from chain.figures.reduction import reduction_figure
        from chain.figures.style import figure_file

        yield figure_file(reduction_figure(found), words.figure)


def _check_words(words):
    """Refuse words that leave something out or go ill together, before anything is read."""
    if words.figure:
        from chain.figures.style import check_format

        check_format(words.figure)
    for option, given, instead in (
        ("--source", words.source, "name what was hot and cold: --source T1"),
        ("--error", words.error or not words.plan, "say how sure to be: --error '0.2 quanta'"),
        ("--readings", words.readings or words.plan, "name a CSV file: --readings powers.csv"),
    ):
        if not given:
            raise LayoutError.at(Place(option), f"{option} is missing", instead)
    for option, given in (("--error", words.error), ("--hottest", words.hottest)):
        if given and not words.plan:
            raise LayoutError.at(Place(option), f"{option} belongs to a plan", "add --plan")
    if words.least_gain is not None and not words.grid:
        raise LayoutError.at(
            Place("--least-gain"), "--least-gain belongs to a grid", "add --grid FILE"
        )
    if words.grid and words.on:
        raise LayoutError.at(Place("--on"), "a grid holds the powers with the paramp on",
                             "leave --on and --gain-change away")
    for option, given in (("--readings", words.readings), ("--on", words.on), ("--csv", words.csv),
                          ("--grid", words.grid), ("--figure", words.figure)):
        if given and words.plan:
            raise LayoutError.at(Place(option), f"a plan has no {option}", "leave it away")
    if bool(words.on) != bool(words.gain_change):
        here, other = ("--on", "--gain-change") if words.on else ("--gain-change", "--on")
        raise LayoutError.at(
            Place(here), f"{here} says nothing without {other}", f"add {other} FILE"
        )


def _sizes(words):
    scale = offset = 0.0
    for text in words.load_error:
        if text.strip().endswith("K"):
            offset = math.hypot(offset, _not_negative(text, "temperature", "--load-error"))
        else:
            scale = math.hypot(scale, _not_negative(text, "fraction", "--load-error"))
    change = 0.0
    if words.gain_change_error is not None:
        change = _not_negative(words.gain_change_error, "ratio", "--gain-change-error")
    return Sizes(
        load_scale=scale, load_offset_k=offset, drift=_relative(words.drift, "--drift"),
        power_scale=_relative(words.power_error, "--power-error"), gain_change_db=change,
    )


def _floor(text, sizes):
    """Return what the instrument reads by itself, W/Hz, and the sizes with its tolerance."""
    if text is None:
        return 0.0, sizes
    try:
        value = parse(text, "noise power density")
    except QuantityError as error:
        raise LayoutError.at(Place("--floor"), error.what, error.instead) from error
    if value.value < 0:
        raise LayoutError.at(Place("--floor"), f"{text!r} is negative", "give it from 0 on")
    off = value.tolerance
    if off is None or value.value == 0:
        return value.value, sizes
    relative = off.size * math.log(10.0) / 10.0 if off.in_db else off.size / value.value
    return value.value, replace(sizes, floor=relative)


def _relative(text, option):
    """Return the relative size of an option in % or dB; 0 where it is not given."""
    if text is None:
        return 0.0
    try:
        decibel = parse(text, "ratio").value
    except QuantityError:
        return _not_negative(text, "fraction", option)
    if decibel < 0:
        raise LayoutError.at(Place(option), f"{text!r} is negative", "give its size, one sigma")
    return decibel * math.log(10.0) / 10.0


def _not_negative(text, dimension, option):
    value = _parsed(text, dimension, option)
    if value < 0:
        raise LayoutError.at(Place(option), f"{text!r} is negative", "give its size, one sigma")
    return value


def _parsed(text, dimension, option):
    try:
        return parse(text, dimension).value
    except QuantityError as error:
        raise LayoutError.at(Place(option), error.what, error.instead) from error


def _positive(text, option):
    value = _parsed(text, "frequency", option)
    if value <= 0:
        raise LayoutError.at(Place(option), f"{text!r} is no bandwidth", "give one above 0")
    return value


VERB = Verb("reduce", "gain and noise from powers read with a load hot and cold", _arguments, _run)
