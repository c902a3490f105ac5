"""The layout file told section by section, from the declarations that reading works from."""

from __future__ import annotations

import textwrap
from typing import Any

from chain.errors import LayoutError, Place
from chain.reading import declared
from chain.reference.declared_text import example_for, range_in_words, units_in_words
from chain.suggestions import choose
from chain.writing.text import TextTable, wrapped
from components.declaration import COMMON
from components.parameters import Parameter
from components.quantities import UNITS, example_of

READ = (
    "A layout is one YAML file. Every value is read as text and converted by what its key is "
    "declared to be: nothing turns into a boolean or a date unasked. A key given twice, an unknown "
    "key and a missing unit are mistakes, told with file, line, column and the nearest known word, "
    "up to twenty at once.",
    "An id starts with a letter and has letters, digits and _; it is unique in the layout. A key "
    "is named as H1.gain, stages.mixing.temperature, tones.pump.power, lines.drive.copies or "
    "band.points: `--set H1.gain='30 dB'` changes it for one run, `--set H1.gain=` takes it away.",
)

VALUES = (
    "A quantity is a number and a unit, with or without a blank between; u and both micro signs "
    "are the same. Only what has no dimension (quanta, counts, order) is bare.",
    "A tolerance follows a value: `20 dB +/- 0.5 dB` or `± 5 %` is one standard deviation, "
    "`20 dB +/- 0.5 dB max` a range in which every value is as likely.",
    "Where a table may stand, values run over frequency, linear in between: `{4 GHz: 0.2 dB, "
    "8 GHz: 0.35 dB}`. Outside its ends a table is a mistake, unless it says `outside: hold`; "
    "`tolerance: 0.3 dB` in it is one offset common to all points.",
)

ELEMENTS = (
    "An item of a line is an element with an `id` and a `kind` (or a `part`, whose keys it takes; "
    "keys beside it replace), or a `join`, which ties the end of the line to a free port of "
    "another line's element. Neighbours are joined in the order in which they stand. A port that "
    "stays free is a mistake, unless `loads:` puts a matched load on it.",
    "What each kind takes: chain kinds KIND. What any kind takes:",
)

_PROSE = ("values", "elements")
"""Subjects besides the file's sections."""


def subjects() -> list[str]:
    """Return every word that `chain format` takes."""
    return [*_PROSE, *(section.name for section in declared.LAYOUT)]


def format_text(subject: str | None = None) -> str:
    """Return the whole file in short, or one section with its keys; raises LayoutError."""
    if subject is None:
        return _overview()
    if subject == "values":
        return _values()
    if subject == "elements":
        return "\n".join([*_paragraphs(ELEMENTS), _keys(COMMON)])
    sections = declared.by_name(declared.LAYOUT)
    if subject not in sections:
        raise LayoutError.at(
            Place("chain format"), f"there is no section {subject!r}",
            choose(subject, subjects(), "sections"),
        )
    return _section(sections[subject])


def whole_example() -> str:
    """Return a layout of every section's example, which loads where `parts.yaml` is not asked."""
    shown = [p for p in declared.LAYOUT if p.name != "include"]
    return "\n".join(section_example(p) for p in shown)


def section_example(section: Parameter) -> str:
    """Return a section as a file has it, with its example below it or beside it."""
    example = section.example or section.default or "text"
    if ":" in example.partition("\n")[0] and not example.startswith("{"):
        return f"{section.name}:\n{textwrap.indent(example, '  ')}"
    return f"{section.name}: {example}"


def _overview():
    table = TextTable(["section", "", "what it holds"], left={"section", "", "what it holds"})
    for section in declared.LAYOUT:
        table.add(section.name, "required" if section.required else "", section.meaning)
    example = "\n".join(
        section_example(p) for p in declared.LAYOUT
        if p.example and p.name in ("title", "band", "stages", "parts")
    )
    return "\n".join([
        *_paragraphs(READ), table.text(), "", "how it begins", "",
        textwrap.indent(example, "  "), "",
        "one section with its keys and an example that loads: chain format SECTION; also "
        f"{' and '.join(_PROSE)}",
    ])


def _values():
    table = TextTable(["of what", "units", "like"], left={"of what", "units", "like"})
    for dimension, units in UNITS.items():
        table.add(dimension, ", ".join(u for u in units if u) or "none", example_of(dimension))
    return "\n".join([*_paragraphs(VALUES), table.text()])


def _section(section):
    lines = [f"{section.name}: {section.meaning}{', required' if section.required else ''}", ""]
    lines += [textwrap.indent(section_example(section), "  "), ""]
    if section.name == "lines":
        lines += ["keys of a line that is no mere list", _keys(declared.LINE), ""]
        return "\n".join([*lines, *_paragraphs(ELEMENTS[:1]),
                          "chain format elements; chain kinds"])
    if section.name == "include":
        return "\n".join([*lines, wrapped(
            "Such a file holds sections of its own, named as in a layout: "
            f"{', '.join(declared.INCLUDED)}, besides its format and a note. It is looked for "
            "beside the file that names it; a name stands in one of the files only.", "")])
    if section.name == "parts":
        return "\n".join([*lines, "keys: those of the part's kind, see chain kinds KIND"])
    fields = _fields_of(section.reads)
    if fields:
        lines += ["keys", _keys(fields)]
    else:
        lines.append(wrapped(_one(section.reads), ""))
    return "\n".join(lines)


def _paragraphs(texts):
    return [part for text in texts for part in (wrapped(text, ""), "")]


def _fields_of(reads: Any) -> tuple[Parameter, ...]:
    return reads.fields if isinstance(reads, declared.Group | declared.Rows) else ()


def _keys(fields, indent="  "):
    """Return a paragraph for every key, those of groups set in below it."""
    lines = []
    for parameter in fields:
        facts = [_one(parameter.reads), *_more(parameter)]
        head = f"{indent}{parameter.name:22} {'; '.join(fact for fact in facts if fact)}"
        below = " " * (len(indent) + 23)
        lines.append(textwrap.fill(head, 96, subsequent_indent=below))
        said = parameter.meaning + (f" ({parameter.source})" if parameter.source else "")
        lines.append(wrapped(said, below))
        inside = _inside(parameter.reads)
        if inside:
            lines.append(_keys(inside, indent + "  "))
    return "\n".join(lines)


def _inside(reads):
    if isinstance(reads, declared.Either):
        return _fields_of(reads.with_it)
    return _fields_of(reads)


def _more(parameter):
    if parameter.required:
        yield "required"
    if parameter.default is not None:
        yield f"default {parameter.default}"
    else:
        example = example_for(parameter)
        if example:
            yield f"like {example}"


def _one(reads):
    """Return what stands as a value, in words."""
    if isinstance(reads, declared.Steps):
        return f"{_units(reads.dimension)} over {_units(reads.along)}"
    if isinstance(reads, declared.Constant):
        return f"one value, or {_one(reads.steps)}"
    if isinstance(reads, declared.Either):
        return f"{_one(reads.without)}, or keys"
    if isinstance(reads, declared.Named):
        return "names, each with text" if reads.dimension is None else \
            f"names, each with {_units(reads.dimension)}"
    if isinstance(reads, declared.End):
        return "a port: ID.PORT, or ID where it has one"
    if isinstance(reads, declared.Arriving):
        return "one port and a power"
    if isinstance(reads, declared.Group | declared.Rows):
        return "keys"
    if isinstance(reads, declared.Raw):
        return "see the example"
    return "; ".join(fact for fact in (units_in_words(reads), range_in_words(reads)) if fact)


def _units(dimension):
    return "/".join(unit for unit in UNITS[dimension] if unit)
