"""Which lines are drawn alike: copies that differ in nothing that a page shows.

What solves alike is another question, that of `chain.layout.equal_networks`: there whole networks
are held against each other, whatever lines they run through, by what decides waves and heat.  Here
single lines are, also where copies meet in one network (a drive line each into one chip), by what
is written about them: notes and serial numbers may differ, and of joined lines only the nearer
ones are looked at, since a page shows no others.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from chain.layout.layout import Element, Tone
from components.parameters import Reference

if TYPE_CHECKING:
    from chain.layout.layout import Layout

PERSONAL = frozenset({"tag", "serial", "cost", "spares", "note"})
"""Parameters by which copies may differ and still be drawn once."""

_ROUNDS = 4
"""How many joined lines away a difference is noticed."""


@dataclass(frozen=True)
class EqualLines:
    """Lines that are drawn and described once; a line of its own is a group of one."""

    name: str
    """The line's name; where copies fall into several groups, with their numbers."""
    lines: tuple[str, ...]
    numbers: tuple[int, ...]
    """Numbers of the copies; empty for a line that is no copy."""

    @property
    def first(self) -> str:
        """Name of the line that stands for all."""
        return self.lines[0]

    @property
    def count(self) -> int:
        """How many lines there are."""
        return len(self.lines)

    @property
    def many(self) -> str:
        """`3 equal lines, 1 to 3`, or nothing for a single line."""
        if self.count == 1:
            return ""
        return f"{self.count} equal lines, {ranges(self.numbers)}"

    def id_text(self, element: Element) -> str:
        """Return the id of an element of one of the lines as it stands for all: `P1-n`."""
        return f"{element.copy_of}-n" if self.count > 1 else element.id

    def tone_text(self, tone: Tone) -> str:
        """Return the name of a tone into one of the lines as it stands for all: `drive-n`."""
        return f"{tone.copy_of}-n" if self.count > 1 and tone.copy_of else tone.name


def ranges(numbers: Iterable[int]) -> str:
    """Return whole numbers as text, runs joined: `1 to 6, 8`."""
    runs = []
    for number in sorted(numbers):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(f"{a}" if a == b else f"{a} to {b}" for a, b in runs)


def equal_lines(layout: Layout) -> tuple[EqualLines, ...]:
    """Return every line of a layout in groups of equal copies, in the layout's order."""
    classes = _classes(layout)
    groups = {}
    for name, line in layout.lines.items():
        key = (line.copy_of, classes[name]) if line.copy_of else (name,)
        groups.setdefault(key, []).append(name)
    per_base = {}
    for key in groups:
        per_base[key[0]] = per_base.get(key[0], 0) + 1
    return tuple(_group(layout, key, names, per_base) for key, names in groups.items())


def _group(layout, key, names, per_base):
    numbers = tuple(layout.lines[name].number for name in names if layout.lines[name].copy_of)
    if len(names) == 1:
        return EqualLines(names[0], tuple(names), numbers)
    name = key[0] if per_base[key[0]] == 1 else f"{key[0]} {ranges(numbers)}"
    return EqualLines(name, tuple(names), numbers)


def _classes(layout):
    """Return a number for every line: equal for copies that are equal, joined lines included."""
    marks = _own_marks(layout)
    joined = _joined_lines(layout)
    count = 0
    for _ in range(_ROUNDS):
        numbered = {}
        classes = {name: numbered.setdefault(mark, len(numbered)) for name, mark in marks.items()}
        if len(numbered) == count:
            break
        count = len(numbered)
        marks = {
            name: (classes[name], *(classes[other] for other in joined[name])) for name in marks
        }
    return classes


def _joined_lines(layout):
    joined = {name: [] for name in layout.lines}
    for joint in layout.joints:
        one, other = (layout.elements[end[0]].line for end in (joint.first, joint.second))
        if one != other:
            joined[one].append(other)
            joined[other].append(one)
    return joined


def _own_marks(layout):
    used = {}
    for tone in layout.tones.values():
        mark = ("tone", tone.frequency_hz, tone.power_w, tone.count, tone.spacing_hz)
        used.setdefault(tone.into, []).append(mark)
    for signal in layout.signals.values():
        for end, port in (("from", signal.from_port), ("to", signal.to_port)):
            if port is not None:
                used.setdefault(port[0], []).append((end, port[1]))
    remembered = {}
    return {name: _own_mark(layout, line, used, remembered) for name, line in layout.lines.items()}


def _own_mark(layout, line, used, remembered):
    if line.copy_of is None:
        return (line.name,)
    marks = [line.copy_of]
    for key in line.elements:
        element = layout.elements[key]
        marks.append((
            element.declared_id, element.stage, element.from_stage, element.to_stage,
            element.via, element.enter, element.leave, tuple(used.get(key, ())),
            _settings_mark(layout, element, remembered),
        ))
        for port in element.ports:
            partner = layout.partners.get((key, port))
            if partner:
                marks.append((_seen_from(layout.elements[partner[0]], line.number), partner[1]))
    return tuple(marks)


def _seen_from(element, number):
    """Return what an element is to copy `number`: one of the same copy, or that one itself."""
    return (element.declared_id,) if element.number == number else element.id


def _settings_mark(layout, element, remembered):
    """Return the values of an element as text; copies mostly share one Settings."""
    known = remembered.get(id(element.settings))
    if known is None:
        values = []
        for name, parameter in element.kind.declared().items():
            value = element.settings.values.get(name)
            if value is None or name in PERSONAL:
                continue
            if isinstance(parameter.reads, Reference) and parameter.reads.to == "tone":
                tone = layout.tones[value]
                value = (tone.copy_of,) if tone.number == element.number else value
            values.append((name, repr(value)))
        known = remembered[id(element.settings)] = (element.kind.name, tuple(values))
    return known
