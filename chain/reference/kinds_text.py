"""What the kinds of elements are, from their declarations: for people and for programs."""

import inspect
import textwrap

import components.kinds  # noqa: F401  (registers every kind)
from chain.errors import LayoutError, Place
from chain.reference.declared_text import example_for, form_of, range_in_words, units_in_words
from chain.suggestions import choose
from chain.writing.text import TextTable, wrapped
from components.declaration import COMMON, KINDS

_EVERY = frozenset(parameter.name for parameter in COMMON)


def kind_named(name):
    """Return the kind of that name; raises LayoutError."""
    if name not in KINDS:
        raise LayoutError.at(
            Place("chain kinds"), f"there is no kind {name!r}", choose(name, sorted(KINDS), "kinds")
        )
    return KINDS[name]


def kinds_text():
    """Return one row for every kind."""
    table = TextTable(["kind", "ports", "what it is"], left={"kind", "ports", "what it is"})
    for name in sorted(KINDS):
        table.add(name, ", ".join(KINDS[name].port_names) or "-", KINDS[name].summary)
    return f"{table.text()}\n\none kind in full: chain kinds KIND"


def kind_text(kind):
    """Return everything that the declaration of a kind says, as plain text."""
    own, every = _parameters(kind)
    lines = [f"{kind.name}: {kind.summary}", ""]
    about = inspect.getdoc(type(kind)) or ""
    for paragraph in about.split("\n\n"):
        lines.append(wrapped(" ".join(paragraph.split())))
    if kind.also_called:
        lines += ["", f"also called {', '.join(kind.also_called)}"]
    lines += ["", f"ports     {_ports(kind)}", f"states    {', '.join(kind.states)}"]
    lines += [_folded(f"noise     {kind.noise}", 10), "", "a line that loads", ""]
    # Not folded, so that it can be copied.
    lines += [f"  - {kind.example}", "", "its own parameters"]
    lines += [_parameter_text(p) for p in own] or ["  none"]
    lines += ["", "parameters of every kind"]
    lines += [_parameter_text(p) for p in every]
    return "\n".join(lines)


def _parameters(kind):
    """Return the kind's own parameters, and those that it shares with every kind."""
    declared = kind.declared().values()
    own_names = {p.name for p in kind.parameters}
    own = [p for p in declared if p.name in own_names or p.name not in _EVERY | {"state"}]
    return own, [p for p in declared if p not in own]


def _ports(kind):
    if not kind.port_names:
        return "none: it carries no waves"
    enter, leave = kind.route
    route = f"entered by {enter}" if leave is None else f"entered by {enter}, left by {leave}"
    return f"{', '.join(kind.port_names)} ({route})"


def _parameter_text(parameter):
    facts = [units_in_words(parameter.reads), range_in_words(parameter.reads)]
    if parameter.required:
        facts.append("required")
    if parameter.default is not None:
        facts.append(f"default {parameter.default}")
    elif parameter.example:
        facts.append(f"like {parameter.example}")
    head = f"  {parameter.name:26} {'; '.join(fact for fact in facts if fact)}"
    said = parameter.meaning + (f" ({parameter.source})" if parameter.source else "")
    return f"{_folded(head, 29)}\n{wrapped(said, ' ' * 29)}"


def _folded(line, indent):
    """Return a line, what is too long of it set in below."""
    return textwrap.fill(line, 96, subsequent_indent=" " * indent)


def kind_dict(kind):
    """Return what the declaration of a kind says under names for programs."""
    own, every = _parameters(kind)
    enter, leave = kind.route if kind.port_names else (None, None)
    return {
        "summary": kind.summary,
        "also_called": list(kind.also_called),
        "ports": list(kind.port_names),
        "enter": enter,
        "leave": leave,
        "states": list(kind.states),
        "noise": kind.noise,
        "passive": kind.passive,
        "spans_stages": kind.spans_stages,
        "example": kind.example,
        "parameters": {p.name: _parameter_dict(p, p in own) for p in (*own, *every)},
    }


def _parameter_dict(parameter, own):
    return {
        "own": own,
        "meaning": parameter.meaning,
        "unit": units_in_words(parameter.reads),
        "range": range_in_words(parameter.reads),
        "form": form_of(parameter.reads),
        "example": example_for(parameter),
        "required": parameter.required,
        "default": parameter.default,
        "source": parameter.source,
    }


def kinds_dict(kinds):
    """Return what declarations of kinds say, for --json."""
    return {
        "kinds": {kind.name: kind_dict(kind) for kind in kinds}, "warnings": [], "laws": {},
    }
