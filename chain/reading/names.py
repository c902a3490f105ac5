"""Names of elements, lines, stages, tones, signals; ports written as text."""

import re
from dataclasses import dataclass

from chain.reading import declared
from chain.reading.problems import MistakeError
from chain.suggestions import shown

_ID = re.compile(r"[A-Za-z][A-Za-z0-9_]{0,59}")
_NAME = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9_.+ -]{0,58}[A-Za-z0-9_+])?")
_END = re.compile(r"([A-Za-z][A-Za-z0-9_]*)(?:-(\d{1,9}))?(?:\.(.+))?", re.DOTALL)

SECTIONS = frozenset(parameter.name for parameter in declared.LAYOUT)


def check_id(node):
    """Return the id in a scalar; raises MistakeError where it cannot be one."""
    text = node.text
    if not _ID.fullmatch(text):
        raise MistakeError(
            node.place, f"the id {shown(text)} cannot be used",
            "an id is a letter, then letters, digits and _ (a to z; a - marks copies)",
        )
    if text in SECTIONS:
        raise MistakeError(
            node.place, f"the id {text!r} is the name of a section", "choose another id"
        )
    return text


def check_name(node, section):
    """Return the name in a key of a section; raises MistakeError where it cannot be one."""
    if not _NAME.fullmatch(node.text):
        raise MistakeError(
            node.place, f"the name {shown(node.text)} in {section} cannot be used",
            "a name has up to 60 letters, digits, spaces and _ . + - (a to z)",
        )
    return node.text


@dataclass(frozen=True)
class WrittenEnd:
    """A port as a layout writes it: the id, the number of one copy, the port; None if unsaid."""

    id: str
    number: int | None
    port: str | None
    text: str
    place: object


def written_end(node):
    """Return the parts of `D1`, `D1.out`, `D1-7.out`; raises MistakeError."""
    found = _END.fullmatch(node.text)
    if not found:
        raise MistakeError(
            node.place, f"{shown(node.text)} is not a port",
            "write an element's id and its port, like D1.out",
        )
    number = int(found[2]) if found[2] else None
    return WrittenEnd(found[1], number, found[3], node.text, node.place)


def numbered(name, number):
    """Return the name of a copy; the name itself where there is one alone."""
    return name if number is None else f"{name}-{number}"


def copy_of(name, number):
    """Return what a copy is a copy of: the declared name, None where it is no copy."""
    return None if number is None else name


def named_copy(text):
    """Return (name, number) of a text that may name one copy, as `drive-7` in a layout file.

    This is how files are written; of what has been read, `copy_of` and `number` tell it.
    (text, None) where it names no copy.
    """
    base, _, number = text.rpartition("-")
    if base and number.isdecimal() and len(number) <= 9 and numbered(base, int(number)) == text:
        return base, int(number)
    return text, None


def check_unique(rows, section, context):
    """Note names in a section that a copy of another row takes."""
    for row in rows.values():
        base, number = named_copy(row.name)
        other = rows.get(base)
        if other is None or not other.copies or number is None:
            continue
        if 1 <= number <= other.copies:
            context.problems.add(
                row.place, f"the name {row.name} in {section} is that of a copy of {base}",
                "choose another name",
            )
