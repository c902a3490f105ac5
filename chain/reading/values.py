"""From one node to a typed value, by what the declaration says that it reads."""

import functools
import os
import re

from chain.reading.context import SpoiltError
from chain.reading.files import what_there_is
from chain.reading.names import named_copy
from chain.reading.nodes import Mapping, Removed, Scalar, Sequence
from chain.reading.problems import MistakeError
from chain.suggestions import choose, listed, shown
from components.parameters import (
    Choice,
    Cost,
    DataFile,
    Flag,
    Measure,
    PortList,
    PortName,
    Reference,
    Text,
    Whole,
)
from components.quantities import QuantityError, example_of, parse
from components.touchstone import NamedFile

LONGEST_VALUE = 100
"""Characters of a quantity; longer text is none."""

MAX_PORTS = 1000
"""Ports that one value names."""

_READERS = {}


def reader(cls):
    """Register the reader of a declared type: (node, reads, context, name) -> value."""

    def register(function):
        _READERS[cls] = function
        return function

    return register


def read(node, reads, context, name):
    """Return the typed value of a node; raises MistakeError, SpoiltError where they are noted.

    `name` is what messages call the value, such as `A1.loss`.
    """
    return _READERS[type(reads)](node, reads, context, name)


def like(reads):
    """Return how a value of a declared type is written, for messages; None where it has no form."""
    if isinstance(reads, Measure):
        return example_of(reads.dimension)
    if isinstance(reads, Whole):
        return str(max(reads.least, 1))
    if isinstance(reads, Choice):
        return reads.options[0]
    return {
        Flag: "true", Text: "text", Cost: "1200 EUR", PortName: "in", PortList: "[isolated]",
        DataFile: "file.s2p",
    }.get(type(reads))


def text_of(node, name, instead):
    """Return the text of a scalar that is not empty; raises MistakeError."""
    if isinstance(node, Scalar):
        if node.empty:
            instead = f"{instead}, or take the key out"
            raise MistakeError(node.place, f"{name} has no value", instead)
        return node.text
    raise MistakeError(node.place, f"{name} is {node.word}", instead)


def entries_of(node, name, instead):
    """Yield (text, key node, value node) of a mapping, keys taken away left out.

    Raises MistakeError where the node is none.
    """
    if not isinstance(node, Mapping):
        raise MistakeError(node.place, f"{name} {what_it_is(node)}", instead)
    for text, (key, value) in node.entries.items():
        if not isinstance(value, Removed):
            yield text, key, value


def what_it_is(node):
    """Return a verb and what a node is, for messages."""
    if isinstance(node, Scalar):
        return "has no value" if node.empty else f"is the text {shown(node.text)}"
    return f"is {node.word}"


# -- quantities ---------------------------------------------------------------------------------


@functools.lru_cache(maxsize=4096)
def _parse(text, dimension):
    return parse(text, dimension)


def quantity(node, dimension, name):
    """Return the Quantity that a scalar writes; raises MistakeError."""
    text = text_of(node, name, f"write it like {example_of(dimension)!r}")
    if len(text) > LONGEST_VALUE:
        raise MistakeError(
            node.place, f"{name}: {shown(text)} is no quantity",
            f"write it like {example_of(dimension)!r}",
        )
    try:
        return _parse(text, dimension)
    except QuantityError as error:
        raise MistakeError(node.place, f"{name}: {error.what}", error.instead) from error


def bounded(value, measure, node, name, text):
    """Return `value` where it lies inside the declared bounds; raises MistakeError."""
    outside = measure.outside(value)
    if outside:
        raise MistakeError(node.place, f"{name}: {shown(text)} {outside[0]}", outside[1])
    return value


@reader(Whole)
def whole(node, reads, context, name):
    """Return a whole number inside its bounds."""
    bounds = f"{reads.least} to {reads.most}"
    text = text_of(node, name, f"write a whole number from {bounds}")
    if not re.fullmatch(r"[+-]?\d{1,18}", text, re.ASCII):
        raise MistakeError(
            node.place, f"{name}: {shown(text)} is not a whole number",
            f"write a whole number from {bounds}, without a unit",
        )
    number = int(text)
    if not reads.least <= number <= reads.most:
        if reads.least == reads.most:
            raise MistakeError(node.place, f"{name} {number} is not known", f"write {reads.least}")
        raise MistakeError(node.place, f"{name}: {number} is outside {bounds}", f"give {bounds}")
    return number


# -- words --------------------------------------------------------------------------------------


@reader(Text)
def words(node, reads, context, name):
    """Return a text as it stands."""
    return text_of(node, name, "write a text")


@reader(PortName)
def port_name(node, reads, context, name):
    """Return a port's name; whether the element has it is seen when its ports are known."""
    return text_of(node, name, "name one port")


@reader(PortList)
def port_list(node, reads, context, name):
    """Return ports' names; a single one may stand without brackets."""
    instead = "list ports, like [isolated]"
    items = node.items if isinstance(node, Sequence) else [node]
    names: dict[str, None] = {}
    for item in items:
        text = text_of(item, name, instead)
        if text in names:
            raise MistakeError(item.place, f"{name}: {shown(text)} stands twice", "name it once")
        if len(names) == MAX_PORTS:
            raise MistakeError(
                item.place, f"{name} names more than {MAX_PORTS} ports", "name ports that there are"
            )
        names[text] = None
    return tuple(names)


@reader(Flag)
def flag(node, reads, context, name):
    """Return true or false; nothing else is taken for either."""
    text = text_of(node, name, "write true or false")
    if text not in ("true", "false"):
        raise MistakeError(
            node.place, f"{name}: {shown(text)} is neither true nor false", "write true or false"
        )
    return text == "true"


@reader(Choice)
def choice(node, reads, context, name):
    """Return one of a few words."""
    text = text_of(node, name, f"write one of {listed(reads.options)}")
    if text not in reads.options:
        raise MistakeError(
            node.place, f"{name}: {shown(text)} is not one of its words",
            choose(text, reads.options, "words"),
        )
    return text


_COST = re.compile(r"(\d+(?:\.\d+)?)\s*([A-Za-z]{2,4}|[€$£¥])", re.ASCII)


@reader(Cost)
def cost(node, reads, context, name):
    """Return (amount, currency)."""
    text = text_of(node, name, "write it like '1200 EUR'")
    found = _COST.fullmatch(text) if len(text) <= LONGEST_VALUE else None
    if not found:
        raise MistakeError(
            node.place, f"{name}: {shown(text)} is not an amount and its currency",
            "write it like '1200 EUR'",
        )
    return float(found[1]), found[2]


# -- what is defined elsewhere ------------------------------------------------------------------

_MANY = {"stage": "stages", "tone": "tones", "coax": "kinds of coax", "material": "materials"}


@reader(Reference)
def reference(node, reads, context, name):
    """Return a stage's or tone's name; of a coax or material, the thing itself."""
    known = getattr(context, _KNOWN[reads.to])
    text = text_of(node, name, f"name one of the {_MANY[reads.to]}")
    wanted = named_copy(text)[0] if reads.to == "tone" and text not in known else text
    if wanted not in known:
        raise MistakeError(
            node.place, f"{name}: there is no {reads.to} {shown(text)}",
            choose(text, known, _MANY[reads.to]) if known else f"add it to `{_KNOWN[reads.to]}:`",
        )
    if reads.to not in ("coax", "material"):
        return text
    if known[text] is None:
        raise SpoiltError
    return known[text]


_KNOWN = {"stage": "stages", "tone": "tones", "coax": "coax", "material": "materials"}


@reader(DataFile)
def data_file(node, reads, context, name):
    """Return a NamedFile, its path relative to the file that names it."""
    hold = False
    if isinstance(node, Mapping):
        node, hold = _file_and_hold(node, context, name)
    text = text_of(node, name, "name a Touchstone file")
    path = os.path.join(folder_of(node), text)
    if (path, hold) in context.data_files:
        return context.data_files[path, hold]
    context.reach.check(path, node.place, name)
    if not os.path.exists(path):
        what = f"{name}: there is no file {shown(text)}"
        raise MistakeError(node.place, what, what_there_is(path))
    if not os.path.isfile(path):
        raise MistakeError(node.place, f"{name}: {shown(text)} is not a plain file", "name a file")
    return context.data_files.setdefault((path, hold), NamedFile(path, hold))


def _file_and_hold(node, context, name):
    file, hold = None, False
    for text, key, value in entries_of(node, name, "write {file: ..., outside: hold}"):
        if text == "file":
            file = value
        elif text == "outside":
            hold = holds(value, name)
        else:
            context.problems.add(
                key.place, f"{name}: unknown key {shown(text)}", choose(text, ("file", "outside"))
            )
    if file is None:
        raise MistakeError(node.place, f"{name} names no file", "write {file: ..., outside: hold}")
    return file, hold


def holds(node, name):
    """Return True for the word `hold`; raises MistakeError for any other."""
    if text_of(node, f"{name}: outside", "write `outside: hold`") != "hold":
        raise MistakeError(
            node.place, f"{name}: outside takes the word hold alone",
            "write `outside: hold`, or leave it out",
        )
    return True


def folder_of(node):
    """Return the folder that file names in a node are relative to."""
    return os.path.dirname(node.file) if not node.file.startswith("--set ") else ""


def gather(pairs, context):
    """Return the results of calls that may raise MistakeError, all noted; raises SpoiltError."""
    results, spoilt = [], False
    for call in pairs:
        try:
            results.append(call())
        except MistakeError as wrong:
            context.problems.note(wrong)
            spoilt = True
        except SpoiltError:
            spoilt = True
    if spoilt:
        raise SpoiltError
    return results
