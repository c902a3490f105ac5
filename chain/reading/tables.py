"""Values that are mappings: tables over frequency or temperature, ranges, distances, names."""

import functools

from chain.reading import declared
from chain.reading.nodes import Mapping
from chain.reading.problems import MistakeError
from chain.reading.values import (
    bounded,
    entries_of,
    gather,
    holds,
    quantity,
    read,
    reader,
    text_of,
)
from chain.suggestions import choose, shown
from components.parameters import Clamped, Distances, FrequencyRange, Measure, PerPort, Phases
from components.quantities import (
    LevelTable,
    QuantityError,
    Table,
    example_of,
    parse,
    watt_to_dbm,
)

_FREQUENCY = Measure("frequency")
_LEVEL = Measure("power")
_LENGTH = Measure("length", zero=True)


@reader(Measure)
def measure(node, reads, context, name):
    """Return a Quantity, or a Table where the declaration lets it be one."""
    if isinstance(node, Mapping) and reads.over_frequency:
        return _table(node, reads, context, name)
    value = quantity(node, reads.dimension, name)
    bounded(value.value, reads, node, name, value.text)
    wide = value.tolerance and reads.too_wide(value.tolerance)
    if wide:
        raise MistakeError(node.place, f"{name}: {shown(value.text)} {wide[0]}", wide[1])
    return value


def _table(node, reads, context, name):
    example = example_of(reads.dimension)
    points, hold, offset = [], False, None
    for text, key, value in entries_of(node, name, ""):
        if text == "outside":
            hold = holds(value, name)
        elif text == "tolerance":
            offset = value
        else:
            points.append((key, value))
    if not points:
        raise MistakeError(
            node.place, f"{name}: the table has no points",
            f"write it like {{4 GHz: {example}, 8 GHz: {example}}}",
        )
    over_level = reads.over_level and _is_level(points[0][0].text)
    along = _LEVEL if over_level else _FREQUENCY
    calls = [
        functools.partial(_point, key, value, along, reads, context, name)
        for key, value in points
    ]
    pairs = gather(calls, context)
    _rising([key for key, _ in points], [x for x, _ in pairs], name)
    if len(pairs) == 1 and not hold:
        raise MistakeError(
            node.place, f"{name}: one point is not a table",
            "give two or more, or add `outside: hold`",
        )
    x, y = zip(*pairs, strict=True)
    if over_level:
        if offset is not None:
            raise MistakeError(
                offset.place, f"{name}: a table over the pump's level has no tolerance",
                "take it out",
            )
        return LevelTable(tuple(float(watt_to_dbm(watt)) for watt in x), y, reads.dimension, hold)
    tolerance = _offset(offset, points[0][1], reads.dimension, name) if offset else None
    return Table(x, y, reads.dimension, tolerance, hold)


def _is_level(text):
    try:
        parse(text, "power")
    except QuantityError:
        return False
    return True


def _point(key, value, along, reads, context, name):
    """Return one point of a table as two numbers in base units."""
    x = quantity(key, along.dimension, name)
    y = quantity(value, reads.dimension, name)
    for found, node in ((x, key), (y, value)):
        if found.tolerance is not None:
            raise MistakeError(
                node.place, f"{name}: a point of a table has no tolerance of its own",
                "give the table one: `tolerance:` beside its points",
            )
    bounded(x.value, along, key, name, x.text)
    bounded(y.value, reads, value, name, y.text)
    return x.value, y.value


def _rising(nodes, numbers, name):
    for node, before, after in zip(nodes[1:], numbers, numbers[1:], strict=False):
        if after <= before:
            raise MistakeError(
                node.place, f"{name}: {shown(node.text)} does not lie above the point before it",
                "write the points rising",
            )


def _offset(node, first, dimension, name):
    """Return the Tolerance common to all points of a table."""
    example = example_of("ratio" if "dBm" in first.text else dimension)
    text = text_of(node, f"{name}: tolerance", f"write it like {example!r}")
    size = text.removeprefix("+/-").removeprefix("±").strip()
    if "%" in size and dimension != "fraction":
        raise MistakeError(
            node.place, f"{name}: the tolerance of a table is one offset, not a part of each value",
            f"write it like {example!r}",
        )
    try:
        return parse(f"{first.text} +/- {size}", dimension).tolerance
    except QuantityError as error:
        raise MistakeError(
            node.place, f"{name}: the tolerance {shown(text)} cannot be read",
            f"write it like {example!r}, with max behind it for a uniform range",
        ) from error


@reader(declared.Steps)
def steps(node, reads, context, name):
    """Return ((where, value), ...) in base units, rising."""
    form = f"{{{example_of(reads.along)}: {example_of(reads.dimension)}}}"
    points = [(where, held) for _, where, held in entries_of(node, name, f"write it like {form}")]
    along, value = reads.where, reads.value
    calls = [functools.partial(_point, where, held, along, value, context, name)
             for where, held in points]
    pairs = gather(calls, context)
    if len(pairs) < reads.fewest:
        raise MistakeError(
            node.place, f"{name} has {len(pairs)} points",
            f"give {reads.fewest} or more, like {form}",
        )
    _rising([key for key, _ in points], [x for x, _ in pairs], name)
    return tuple(pairs)


@reader(declared.Constant)
def constant(node, reads, context, name):
    """Return steps; a single quantity is the same from 0 K to 1000 K."""
    if isinstance(node, Mapping):
        return steps(node, reads.steps, context, name)
    value = read(node, reads.steps.value, context, name).value
    return (0.0, value), (1000.0, value)


@reader(declared.Named)
def named(node, reads, context, name):
    """Return a dict from names to quantities in base units, or to texts."""
    instead = "write names, each with its value"
    pairs = list(entries_of(node, name, instead))

    def one(text, value):
        if reads.dimension is None:
            return text, text_of(value, f"{name}.{text}", "say why")
        return text, read(value, reads.value, context, f"{name}.{text}").value

    return dict(gather([functools.partial(one, text, value) for text, _, value in pairs], context))


@reader(Distances)
def distances(node, reads, context, name):
    """Return ((stage, metres), ...), rising."""
    pairs = list(entries_of(node, name, "write stages and distances, like {still: 0.2 m}"))

    def one(text, key, value):
        if text not in context.stages:
            raise MistakeError(
                key.place, f"{name}: there is no stage {shown(text)}",
                choose(text, context.stages, "stages"),
            )
        return text, read(value, _LENGTH, context, f"{name}.{text}").value

    found = gather([functools.partial(one, *pair) for pair in pairs], context)
    _rising([key for _, key, _ in pairs], [metres for _, metres in found], name)
    return tuple(found)


@reader(FrequencyRange)
def frequency_range(node, reads, context, name):
    """Return (start, stop) in Hz."""
    ends, form = {}, "write {start: 4 GHz, stop: 8 GHz}"
    for text, key, value in entries_of(node, name, form):
        if text not in ("start", "stop"):
            raise MistakeError(
                key.place, f"{name}: unknown key {shown(text)}", choose(text, ("start", "stop"))
            )
        ends[text] = read(value, _FREQUENCY, context, f"{name}.{text}").value
    if len(ends) < 2:
        raise MistakeError(node.place, f"{name} needs start and stop", form)
    if ends["start"] > ends["stop"]:
        what = f"{name}: it stops below its start"
        raise MistakeError(node.place, what, "exchange start and stop")
    return ends["start"], ends["stop"]


@reader(PerPort)
def per_port(node, reads, context, name):
    """Return a dict from ports to texts; whether the element has them is seen later."""
    pairs = entries_of(node, name, "write ports and texts, like {in: SMA male}")
    return {text: text_of(value, f"{name}.{text}", "write a text") for text, _, value in pairs}


@reader(Phases)
def phases(node, reads, context, name):
    """Return {parameter: Quantity in degrees}; whether it has such a phase is seen later."""
    pairs = entries_of(node, name, "write parameters and angles, like {isolation: 30 deg}")
    return {text: quantity(value, "angle", f"{name}.{text}") for text, _, value in pairs}


@reader(Clamped)
def clamped(node, reads, context, name):
    """Return {"body": material, "screws": material}, words that name rows or begin their names."""
    from components.materials import named  # a layout without clamped joints asks for none

    found, form = {}, "write {body: copper, screws: brass}"
    for text, key, value in entries_of(node, name, form):
        if text not in ("body", "screws"):
            what = f"{name}: unknown key {shown(text)}"
            raise MistakeError(key.place, what, choose(text, ("body", "screws")))
        word = text_of(value, f"{name}.{text}", "name a material")
        if not named(word, context.materials):
            raise MistakeError(
                value.place, f"{name}.{text}: there is no material {shown(word)}",
                choose(word, context.materials, "materials"),
            )
        found[text] = word
    if len(found) < 2:
        raise MistakeError(node.place, f"{name} needs body and screws", form)
    return found


@reader(declared.Raw)
def raw(node, reads, context, name):
    """Return the node itself: something else reads it."""
    return node


@reader(declared.End)
def end(node, reads, context, name):
    """Return the node of a port; it is looked up when all elements are known."""
    text_of(node, name, "name an element and its port, like D1.out")
    return node


@reader(declared.Arriving)
def arriving(node, reads, context, name):
    """Return (node of a port, watt)."""
    form = "write one port and its power, like {X1.in: -30 dBm}"
    pairs = list(entries_of(node, name, form))
    if len(pairs) != 1:
        raise MistakeError(node.place, f"{name} names {len(pairs)} ports", form)
    [(_, key, value)] = pairs
    return key, read(value, declared.ARRIVING, context, name).value
