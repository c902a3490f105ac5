"""The form of a Touchstone file, checked line by line before anything is made of its numbers.

Checked are the option line and the keywords (components.touchstone_head), how many numbers there
are, and that frequencies rise; what the numbers become is the reader's business
(components.touchstone).
"""

import math
import re
from dataclasses import dataclass

from components.bounds import BOUNDS
from components.touchstone_head import OPTIONS, DataError, Head, number, numbers

MOST_NUMBERS = 3_000_000
"""Numbers of a file: as floats of Python they take about 100 MB while it is read."""

MOST_HZ = BOUNDS["frequency"].most

_NAME = re.compile(r"\.[sghyz](\d{1,6})p$", re.ASCII | re.IGNORECASE)


@dataclass(frozen=True)
class Form:
    """What a file of sound form says of itself."""

    text: str
    """The file with its option line in full, its comments and its noise left out."""
    version: int
    points: tuple[int, ...]
    """The line on which each point begins."""
    unit_hz: float
    """What a frequency of the file is multiplied by."""
    noise: tuple[tuple[float, ...], ...]
    """Rows of frequency, Fmin (dB), Gamma_opt (size, degrees), Rn; in the file's units."""
    noise_lines: tuple[int, ...]
    impedance_lines: tuple[int, ...]
    """The lines of comments in which a field solver writes port impedances."""


def ports_named(name):
    """Return the number of ports that a file name says, as in part.s2p, or None."""
    found = _NAME.search(name)
    return int(found[1]) if found else None


def checked(name, text):
    """Return the Form of the Touchstone file `name` that holds `text`; raises DataError."""
    return _Walk(name).over(_lines(text.replace("\r\n", "\n").replace("\r", "\n")))


def _lines(text):
    """Yield the lines of a text one by one: a list of them takes more than the text itself."""
    start = 0
    while start < len(text):
        end = text.find("\n", start)
        end = len(text) if end < 0 else end
        yield text[start:end]
        start = end + 1


class _Walk(Head):
    """One way through a file: what has been met so far, and what may come next."""

    def __init__(self, name):
        super().__init__(name, ports_named(name))
        self.last, self.missing, self.numbers = -math.inf, 0, 0
        self.noise, self.noise_lines, self.impedances = [], [], []
        self.parts = []  # the lines of a point that is not complete
        self._block = False  # inside the comments that hold one point's port impedances

    def over(self, lines):
        """Return the Form of all lines."""
        kept = []
        for self.line, line in enumerate(lines, 1):
            content, mark, comment = line.partition("!")
            content = content.strip()
            if content:
                self._block = False
                kept.append(self._kept(content))
            elif mark and self._telling(comment):
                kept.append(f"! {comment.strip()}")
        self._complete()
        assert self.unit_hz is not None, "a file with points has an option line"
        return Form(
            "\n".join(filter(None, kept)), self.version, tuple(self.points), self.unit_hz,
            tuple(self.noise), tuple(self.noise_lines),
            tuple(line for line, _ in self.impedances),
        )

    def _telling(self, comment):
        """Tell whether a comment holds what a field solver says of its ports."""
        said = comment.strip().lower()
        begins = said.startswith("port impedance")
        count = len(numbers(said.removeprefix("port impedance").split()) or ())
        if begins and count:
            self.impedances.append((self.line, count))
        elif self._block and count:
            line, before = self.impedances[-1]
            self.impedances[-1] = line, before + count
        self._block = bool(count) and (begins or self._block)
        return self._block or "s-parameter uses the" in said

    def _kept(self, content):
        """Check a line and return what the reader shall see of it."""
        if self.section == "information":
            if content.lower().startswith("[end information]"):
                self.section = self.before
            return ""
        if self.section == "end":
            raise self.fail("something stands after [End]", "take it out")
        if content[0] == "#":
            return self.option_line(content)
        if content[0] == "[":
            return self.keyword(content)
        return self._data(content)

    def _data(self, content):
        """Check a line of numbers; return the point that it completes, or nothing."""
        words = content.split()
        if self.section == "reference":
            self.more_references(words)
            return content
        values = self._values(words)
        if self.section != "noise":
            self._check_begun()
            if self._noise_begins(values):
                self.section = "noise"
        if self.section == "noise":
            self._noise_row(values)
            return ""
        self._part_of_point(values)
        self.parts.append(content)
        if self.missing:
            return ""
        point, self.parts = " ".join(self.parts), []
        return point

    def _values(self, words):
        """Return the numbers of a line, all finite."""
        values = numbers(words)
        if values is None:
            wrong = next(word for word in words if number(word) is None)
            raise self.fail(f"{wrong[:20]!r} is not a number", "give a complete Touchstone file")
        if not math.isfinite(sum(values)):
            raise self.fail("a value is not a finite number", "measure it again")
        self.numbers += len(values)
        if self.numbers > MOST_NUMBERS:
            raise self.fail(
                f"more than {MOST_NUMBERS:,} numbers", "thin the file out: fewer frequencies"
            )
        return values

    def _check_begun(self):
        """Refuse numbers before all that tells what they are."""
        if self.version == 2 and self.section != "network":
            raise self.fail("numbers stand before [Network Data]", "add [Network Data]")
        if self.unit_hz is None:
            raise self.fail("no option line stands before the data", OPTIONS)
        if not self.ports:
            raise self.fail(
                "the file's name does not say how many ports it has",
                "name it .sNp for N ports, or begin with [Version] 2.0",
            )

    def _noise_begins(self, values):
        """In version 1 the noise of a two-port follows with frequencies that begin anew."""
        return (
            self.version == 1 and self.ports == 2 and len(values) == 5 and not self.missing
            and bool(self.points) and values[0] <= self.last
        )

    def _part_of_point(self, values):
        need = self.ports * (self.ports + 1) if self.triangular else 2 * self.ports**2
        if not self.missing:
            self._frequency(values[0])
            self.points.append(self.line)
            self.missing, values = need, values[1:]
        # A point is a frequency and pairs, and begins on a line of its own.
        if len(values) % 2 or len(values) > self.missing:
            have = need - self.missing + len(values)
            raise self.fail(
                f"the point has {have} numbers after its frequency, and {self.ports} ports have "
                f"{need}", "give a complete Touchstone file", self.points[-1],
            )
        self.missing -= len(values)

    def _frequency(self, value):
        if not 0.0 <= value * self.unit_hz <= MOST_HZ:
            raise self.fail(
                f"a frequency of {value * self.unit_hz:g} Hz",
                f"give frequencies from 0 to {MOST_HZ / 1e12:g} THz",
            )
        if value <= self.last:
            raise self.fail("the frequencies do not rise", "sort them and take doubles out")
        self.last = value

    def _noise_row(self, values):
        if not self.noise:
            self.last = -math.inf
        if len(values) != 5:
            raise self.fail(
                f"{len(values)} numbers among the noise, which has five to a line",
                "sort the points by frequency, noise last",
            )
        self._frequency(values[0])
        self.noise.append(tuple(values))
        self.noise_lines.append(self.line)

    def _complete(self):
        if self.section == "information":
            raise self.fail("[Begin Information] has no end", "add [End Information]")
        if self.missing:
            raise self.fail(
                "the point is not complete", "give a complete Touchstone file", self.points[-1]
            )
        if not self.points:
            raise DataError(f"{self.name} holds no points", "give a complete Touchstone file")
        self._impedances_complete()
        for word, held in (
            ("number of frequencies", len(self.points)),
            ("number of noise frequencies", len(self.noise)),
        ):
            if word in self.said and int(self.said[word][1]) != held:
                line, said = self.said[word]
                raise self.fail(
                    f"[{word}] is {said}, and there are {held}", "give a complete Touchstone file",
                    line,
                )
        if self.version == 2 and self.noise and "number of noise frequencies" not in self.said:
            raise self.fail(
                "there is no [Number of Noise Frequencies]", "add it", self.noise_lines[0]
            )


    def _impedances_complete(self):
        """Refuse a field solver's comments that are not one for each point, all of one form."""
        whole = 2 * self.ports, 2 * self.ports**2
        for line, count in self.impedances:
            if count not in whole or count != self.impedances[0][1]:
                raise self.fail(
                    f"port impedances of {count} numbers, and {self.ports} ports have {whole[0]}",
                    "give a complete Touchstone file", line,
                )
        if self.impedances and len(self.impedances) != len(self.points):
            raise self.fail(
                f"port impedances for {len(self.impedances)} points, and there are "
                f"{len(self.points)}", "give a complete Touchstone file", self.impedances[-1][0],
            )
