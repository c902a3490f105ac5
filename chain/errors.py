"""What is wrong with a layout, where, and what would be right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Self

from chain.writing.foreign_text import one_line
from components.parameters import ParameterError


@dataclass(frozen=True)
class Place:
    """A position in a layout file: line and column count from 1."""

    file: str
    line: int = 1
    column: int = 1

    def __str__(self):
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True)
class Problem:
    """One mistake: where it is, what is wrong, what would be right."""

    place: Place
    what: str
    instead: str

    def __str__(self):
        # File names and what a layout says may hold line breaks; a mistake stays on its line.
        return one_line(f"{self.place}: {self.what}; {self.instead}", collapsed=False)


class LayoutError(Exception):
    """A layout that cannot be used; `problems` lists up to twenty mistakes in file order."""

    MAX_PROBLEMS = 20

    def __init__(self, problems: Iterable[Problem]) -> None:
        problems = list(problems)
        self.problems = tuple(problems[: self.MAX_PROBLEMS])
        self.left_out = max(0, len(problems) - self.MAX_PROBLEMS)
        super().__init__(str(self))

    def __str__(self):
        lines = [str(problem) for problem in self.problems]
        if self.left_out:
            lines.append(f"and {self.left_out} more of them")
        return "\n".join(lines)

    @classmethod
    def at(cls, place: Place, what: str, instead: str) -> Self:
        """Return the error of a single mistake."""
        return cls([Problem(place, what, instead)])


class reported:  # noqa: N801 (reads as a word behind `with`)
    """Turn a ParameterError inside the block into a LayoutError at the parameter's place."""

    def __init__(self, element):
        self.element = element

    def __enter__(self):
        return self

    def __exit__(self, kind, error, trace):
        if isinstance(error, ParameterError):
            raise LayoutError.at(
                self.element.place_of(error.parameter),
                f"{self.element.id}: {error.what}", error.instead,
            ) from error
        return False
