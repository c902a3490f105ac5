"""A mapping whose keys are declared: every key known, read and present where it has to be."""

from dataclasses import dataclass, field

from chain.reading import declared, tables  # noqa: F401  (tables registers its readers)
from chain.reading.context import SpoiltError
from chain.reading.nodes import Mapping, Removed, Scalar
from chain.reading.problems import MistakeError
from chain.reading.values import entries_of, like, read, reader, what_it_is
from chain.suggestions import choose, nearest, shown
from components.parameters import Overrides


@dataclass
class Fields:
    """The values that a mapping gives, by key, and where each stands."""

    values: dict = field(default_factory=dict)
    places: dict = field(default_factory=dict)
    nodes: dict = field(default_factory=dict)
    meant: set = field(default_factory=set)
    """Keys that unknown ones were probably meant to be."""
    spoilt: bool = False
    """True where something in it is wrong, and noted."""

    def get(self, key, default=None):
        """Return a value, or the default where it is not given."""
        return self.values.get(key, default)


def read_fields(node, parameters, context, name, *, dot="", waived=()):
    """Return the Fields of a mapping by its declared parameters; mistakes are noted.

    `name` says in messages what the mapping is, `dot` is put before keys; required parameters
    among `waived` may be left out.
    """
    found = Fields()
    if not isinstance(node, Mapping):
        context.problems.add(node.place, f"{name} {what_it_is(node)}", _form(parameters))
        found.spoilt = True
        return found
    for text, key, value in entries_of(node, name, ""):
        parameter = parameters.get(text)
        if parameter is None:
            context.problems.add(
                key.place, f"{name}: unknown key {shown(text)}", choose(text, parameters, "keys")
            )
            found.meant.add(nearest(text, parameters))
            found.spoilt = True
            continue
        found.nodes[text], found.places[text] = value, value.place
        try:
            found.values[text] = _value(value, parameter, parameters, context, f"{dot}{text}")
        except MistakeError as wrong:
            context.problems.note(wrong)
            found.spoilt = True
        except SpoiltError:
            found.spoilt = True
    _require(node, parameters, found, context, name, waived)
    return found


def _value(node, parameter, parameters, context, name):
    if isinstance(parameter.reads, Overrides):
        return _overrides(node, parameters, context, name)
    return read(node, parameter.reads, context, name)


def _require(node, parameters, found, context, name, waived):
    for parameter in parameters.values():
        key = parameter.name
        if not parameter.required or key in waived or key in found.nodes or key in found.meant:
            continue
        form = like(parameter.reads)
        add = f"add `{key}: {form}`" if form else f"add {key}"
        place = node.place
        if isinstance(node, Mapping) and isinstance(node.get(key), Removed):
            place = node.get(key).place
        context.problems.add(place, f"{name} has no {key}", f"{add} ({parameter.meaning})")
        found.spoilt = True


def _form(parameters):
    every = list(parameters.values())
    needed = ([p for p in every if p.required] or every[:2])[:3]
    forms = {p.name: p.example or like(p.reads) for p in needed}
    if all(forms.values()):
        return "write a mapping like {" + ", ".join(f"{n}: {f}" for n, f in forms.items()) + "}"
    return "write a mapping with " + " and ".join(forms)


def _overrides(node, parameters, context, name):
    """Return a dict of values that replace others, read by the same declarations."""
    own = {key: p for key, p in parameters.items() if not p.fixed}
    found = read_fields(node, own, context, name, dot=f"{name}.", waived=own)
    if found.spoilt:
        raise SpoiltError
    return found.values


@reader(declared.Group)
def group(node, reads, context, name):
    """Return a dict of the values of a mapping with keys of its own."""
    found = read_fields(node, declared.by_name(reads.fields), context, name, dot=f"{name}.")
    if found.spoilt:
        raise SpoiltError
    return found.values


@reader(declared.Either)
def either(node, reads, context, name):
    """Return what one of two forms gives."""
    with_it = isinstance(node, Mapping) and reads.key in node.entries
    return read(node, reads.with_it if with_it else reads.without, context, name)


def rows_of(node, context, name):
    """Yield (name, key node, value node) of a section; a section without anything has no rows."""
    if node is None or isinstance(node, Removed) or (isinstance(node, Scalar) and node.empty):
        return
    if not isinstance(node, Mapping):
        context.problems.add(
            node.place, f"{name} {what_it_is(node)}", "write names, each with a mapping behind it"
        )
        return
    yield from entries_of(node, name, "")
