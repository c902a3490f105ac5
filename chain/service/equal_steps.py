"""Steps at equal copies, told once with the numbers of the copies."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from chain.writing.text import Result

ANY = "n"
"""Stands for the number of a copy: `P1-n.out`."""

_ID = re.compile(r"[A-Za-z]\w*-\d+")


@dataclass(frozen=True)
class ShownStep:
    """A step, or the same step at each of several equal copies."""

    number: int
    """Its number on the sheet, from 1."""
    step: Result
    """The step; ids of copies end in `-n` where there are several."""
    copies: tuple[int, ...]
    """Numbers of the copies in the order in which they are done; empty for a single step."""
    steps: tuple[Result, ...]
    """Every step that it stands for."""
    block: int = 0
    """Number of the first of the steps that each copy takes before the next copy's turn."""
    together: int = 1
    """How many steps each copy takes before the next copy's turn."""

    @property
    def turn(self) -> str:
        """What is said before the steps of several copies; else nothing."""
        if not self.copies:
            return ""
        steps = f"steps {self.block} to {self.block + self.together - 1}" \
            if self.together > 1 else f"step {self.block}"
        return (f"{steps} for {len(self.copies)} equal copies, one copy after the other: n = "
                f"{numbers_text(self.copies)}")


def shown_steps(layout: Layout, steps: Sequence[Result]) -> list[ShownStep]:
    """Return the steps in their order, those at equal copies once."""
    numbers = [_copy_number(layout, step) for step in steps]
    neutral = [_neutral(layout, step) for step in steps]
    found: list[ShownStep] = []
    place = 0
    while place < len(steps):
        length = _run(numbers, place)
        turns = _turns(numbers, neutral, place, length)
        if turns == 1:
            found += [
                ShownStep(len(found) + 1 + i, steps[place + i], (), (steps[place + i],))
                for i in range(length)
            ]
        else:
            copies = tuple(numbers[place + turn * length] for turn in range(turns))
            start = len(found) + 1
            found += [
                ShownStep(start + i, neutral[place + i], copies, tuple(
                    steps[place + i + turn * length] for turn in range(turns)
                ), start, length)
                for i in range(length)
            ]
        place += length * turns
    return found


def numbers_text(numbers: Sequence[int]) -> str:
    """Return numbers as text, runs joined in either direction: `12 .. 1`, `1 .. 6, 8`."""
    runs: list[list[int]] = []
    for number in numbers:
        run = runs[-1] if runs else None
        if run and abs(number - run[-1]) == 1 and (
                len(run) == 1 or number - run[-1] == run[1] - run[0]):
            run.append(number)
        else:
            runs.append([number])
    return ", ".join(str(r[0]) if len(r) == 1 else f"{r[0]} .. {r[-1]}" for r in runs)


def _copy_number(layout, step):
    """Return the number of the one copy that a step is about, else None."""
    found = {layout.elements[key].number for key in step.elements} - {None}
    return found.pop() if len(found) == 1 else None


def _run(numbers, place):
    """Return how many steps from `place` on are about one copy; 1 for what is no copy."""
    end = place + 1
    while numbers[place] is not None and end < len(numbers) and numbers[end] == numbers[place]:
        end += 1
    return end - place


def _turns(numbers, neutral, place, length):
    """Return how often the `length` steps at `place` come, each time at another copy."""
    if numbers[place] is None:
        return 1
    turns = 1
    first = [_told(step) for step in neutral[place:place + length]]
    while True:
        start = place + turns * length
        part = neutral[start:start + length]
        if len(part) < length or len(set(numbers[start:start + length])) != 1 or \
                numbers[start] is None or [_told(step) for step in part] != first:
            return turns
        turns += 1


def _told(step):
    """Return what a sheet says of a step."""
    return [getattr(step, field.name) for field in fields(step) if field.name != "reading"]


def _neutral(layout, step):
    """Return a step with the ids of copies as they stand for every copy."""
    def renamed(found):
        element = layout.elements.get(found[0])
        known = element is not None and element.copy_of is not None
        return f"{element.copy_of}-{ANY}" if known else found[0]

    def of(value):
        if isinstance(value, str):
            return _ID.sub(renamed, value)
        return tuple(map(of, value)) if isinstance(value, tuple) else value

    return replace(step, **{field.name: of(getattr(step, field.name)) for field in fields(step)
                            if field.name != "reading"})
