"""The form of a Touchstone file, checked line by line before anything is made of its numbers.

Touchstone File Format Specification, versions 1.1 and 2.1 (IBIS Open Forum).  Checked here are the
option line, the keywords, how many numbers there are, and that frequencies rise; what the numbers
become is the reader's business (components.touchstone).
"""

import math
import re
from dataclasses import dataclass

from components.bounds import BOUNDS

MOST_NUMBERS = 3_000_000
"""Numbers of a file: as floats of Python they take about 100 MB while it is read."""

MOST_PORTS = 100

LEAST_OHM, MOST_OHM = 0.1, 10_000.0
"""Reference impedances that ports have: far below and above any line that carries a wave (common
practice, no source)."""

MOST_HZ = BOUNDS["frequency"].most

UNITS = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
PARAMETERS = ("s", "y", "z", "g", "h")
FORMATS = ("ma", "db", "ri")
OPTIONS = "write it like '# GHz S MA R 50'"

_NAME = re.compile(r"\.[sghyz](\d{1,6})p$", re.ASCII | re.IGNORECASE)
_KEYWORD = re.compile(r"\[([^\]]*)\]\s*(.*)")


class DataError(ValueError):
    """A Touchstone file that cannot be used: `what` is wrong, `instead` would be right."""

    def __init__(self, what, instead):
        super().__init__(f"{what}; {instead}")
        self.what, self.instead = what, instead


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


class _Walk:
    """One way through a file: what has been met so far, and what may come next."""

    def __init__(self, name):
        self.name, self.line, self.version = name, 0, 1
        self.section = "head"  # then: reference, network, noise, end; information in between
        self.ports, self.unit_hz, self.before = ports_named(name), None, "head"
        self.said, self.references, self.triangular = {}, [], False
        self.points, self.last, self.missing, self.numbers = [], -math.inf, 0, 0
        self.noise, self.noise_lines, self.impedances = [], [], []
        self._block = False  # inside the comments that hold one point's port impedances

    def fail(self, what, instead, line=None):
        return DataError(f"{self.name}:{line or self.line}: {what}", instead)

    def over(self, lines):
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
        return Form(
            "\n".join(filter(None, kept)), self.version, tuple(self.points), self.unit_hz,
            tuple(self.noise), tuple(self.noise_lines), tuple(self.impedances),
        )

    def _telling(self, comment):
        """Tell whether a comment holds what a field solver says of its ports."""
        said = comment.strip().lower()
        if said.startswith("port impedance"):
            self.impedances.append(self.line)
            self._block = True
            return True
        self._block = self._block and _numbers(said.split()) is not None and bool(said)
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
            return self._option_line(content)
        if content[0] == "[":
            return self._keyword(content)
        return self._data(content)

    # -- the head -----------------------------------------------------------------------------

    def _option_line(self, content):
        if self.unit_hz is not None:
            return ""  # the specification has the first hold
        words, found = content[1:].lower().split(), {}
        while words:
            word = words.pop(0)
            kind = next((kind for kind, known in (
                ("unit", UNITS), ("parameter", PARAMETERS), ("format", FORMATS), ("r", ("r",))
            ) if word in known), None)
            if kind is None:
                raise self.fail(f"the option line has {word[:20]!r}, which is unknown", OPTIONS)
            if kind in found:
                raise self.fail(f"the option line has {word!r} beside another of its sort", OPTIONS)
            found[kind] = word
            while kind == "r" and words and _number(words[0]) is not None:
                self.references.append(self._ohm(words.pop(0), "R"))
        if "r" in found and not self.references:
            raise self.fail("R has no impedance", OPTIONS)
        if len(self.references) > 1 and len(self.references) != self.ports:
            raise self.fail(
                f"R has {len(self.references)} impedances", "give one, or one for each port"
            )
        unit = found.get("unit", "ghz")
        self.unit_hz = UNITS[unit]
        ohms = " ".join(map(repr, self.references or [50.0]))
        return f"# {unit} {found.get('parameter', 's')} {found.get('format', 'ma')} r {ohms}"

    def _ohm(self, word, called):
        ohm = _number(word)
        if ohm is None:
            raise self.fail(f"{called} has {word[:20]!r}, which is no impedance", "write it in ohm")
        if not LEAST_OHM <= ohm <= MOST_OHM:
            raise self.fail(
                f"{called} is {ohm:g} ohm",
                f"give a reference between {LEAST_OHM:g} and {MOST_OHM:g} ohm, as 50",
            )
        return ohm

    def _keyword(self, content):
        found = _KEYWORD.fullmatch(content)
        word = " ".join(found[1].lower().split()) if found else ""
        if word not in _KEYWORDS:
            raise self.fail(
                f"{content[:40]!r} is no keyword of Touchstone 2", "take it out or spell it right"
            )
        if word == "version":
            if self.said or self.unit_hz is not None or self.points:
                raise self.fail("[Version] does not stand first", "put it first")
            if found[2] not in ("2.0", "2.1"):
                raise self.fail(f"version {found[2][:20]!r} is unknown", "give version 2.0 or 2.1")
            self.version, self.ports = 2, None
        elif self.version == 1:
            raise self.fail(
                f"[{word}] in a file of version 1", "begin with [Version] 2.0, or take it out"
            )
        if word in self.said:
            raise self.fail(f"[{word}] stands twice", "keep one of them")
        if self.section == "reference" and word != "reference":
            self._references_complete()
        if word not in ("begin information", "end information"):
            self.said[word] = (self.line, found[2])
        _KEYWORDS[word](self, found[2].lower())
        if word == "network data":
            return f"{self._two_port_order()}\n{content}"
        return "" if word in _UNSEEN else content

    def _two_port_order(self):
        """Return the order's keyword; a triangular matrix is symmetric and takes the plain one."""
        order = self.said.get("two-port data order", (0, "12_21"))[1]
        return f"[Two-Port Data Order] {'12_21' if self.triangular else order}"

    def _number_of_ports(self, said):
        self.ports = self._whole(said, MOST_PORTS, "the number of ports")

    def _number_of_points(self, said):
        self._whole(said, MOST_NUMBERS, "the number of frequencies")

    def _whole(self, said, most, called):
        if not re.fullmatch(r"\d{1,9}", said, re.ASCII) or not 1 <= int(said) <= most:
            raise self.fail(f"{called} is {said[:20]!r}", f"give a whole number from 1 to {most}")
        return int(said)

    def _order(self, said):
        if said not in ("12_21", "21_12"):
            raise self.fail(
                f"two-port data order {said[:20]!r} is unknown", "write 12_21 or 21_12"
            )

    def _reference(self, said):
        if self.ports is None:
            raise self.fail("[Reference] stands before [Number of Ports]", "put it after")
        self.references, self.section = [], "reference"
        self._more_references(said.split())

    def _more_references(self, words):
        self.references += [self._ohm(word, "[Reference]") for word in words]

    def _references_complete(self):
        if len(self.references) != self.ports:
            line = self.said["reference"][0]
            raise self.fail(
                f"[Reference] has {len(self.references)} impedances and there are {self.ports} "
                "ports", "give one for each port", line,
            )
        self.section = "head"

    def _matrix(self, said):
        if said not in ("full", "lower", "upper"):
            raise self.fail(
                f"matrix format {said[:20]!r} is unknown", "write Full, Lower or Upper"
            )
        self.triangular = said != "full"

    def _mixed_mode(self, said):
        if said.split() != [f"s{port + 1}" for port in range(self.ports or 0)]:
            raise self.fail(
                "mixed-mode data is not supported", "export the file with single-ended ports"
            )

    def _network_data(self, said):
        if self.unit_hz is None:
            raise self.fail("no option line stands before the data", OPTIONS)
        for needed in ("number of ports", "number of frequencies"):
            if needed not in self.said:
                raise self.fail(f"there is no [{needed}] before the data", "add it")
        if self.ports == 2 and "two-port data order" not in self.said:
            raise self.fail(
                "there is no [Two-Port Data Order] before the data",
                "add [Two-Port Data Order] 12_21 or 21_12",
            )
        self.section = "network"

    def _noise_data(self, said):
        if self.ports != 2:
            raise self.fail(f"noise data of {self.ports} ports", "take it out: two-ports have it")
        self.section = "noise"

    def _information(self, said):
        self.before, self.section = self.section, "information"

    def _end(self, said):
        self.section = "end"

    # -- the numbers --------------------------------------------------------------------------

    def _data(self, content):
        words = content.split()
        if self.section == "reference":
            self._more_references(words)
            return content
        values = _numbers(words)
        if values is None:
            wrong = next(word for word in words if _number(word) is None)
            raise self.fail(f"{wrong[:20]!r} is not a number", "give a complete Touchstone file")
        if not math.isfinite(sum(values)):
            raise self.fail("a value is not a finite number", "measure it again")
        self.numbers += len(values)
        if self.numbers > MOST_NUMBERS:
            raise self.fail(
                f"more than {MOST_NUMBERS:,} numbers", "thin the file out: fewer frequencies"
            )
        if self.section == "noise":
            self._noise_row(values)
            return ""
        if self.version == 1:
            if self.unit_hz is None:
                raise self.fail("no option line stands before the data", OPTIONS)
            if not self.ports:
                raise self.fail(
                    "the file's name does not say how many ports it has",
                    "name it .sNp for N ports, or begin with [Version] 2.0",
                )
        elif self.section != "network":
            raise self.fail("numbers stand before [Network Data]", "add [Network Data]")
        if self._noise_begins(values):
            self.section = "noise"
            self._noise_row(values)
            return ""
        self._part_of_point(values)
        return content

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


_KEYWORDS = {
    "version": lambda walk, said: None,
    "number of ports": _Walk._number_of_ports,
    "two-port data order": _Walk._order,
    "number of frequencies": _Walk._number_of_points,
    "number of noise frequencies": _Walk._number_of_points,
    "reference": _Walk._reference,
    "matrix format": _Walk._matrix,
    "mixed-mode order": _Walk._mixed_mode,
    "network data": _Walk._network_data,
    "noise data": _Walk._noise_data,
    "begin information": _Walk._information,
    "end information": lambda walk, said: None,
    "end": _Walk._end,
}
"""What each keyword of version 2 is read by."""

_UNSEEN = (
    "mixed-mode order", "begin information", "end information", "noise data",
    "number of noise frequencies", "two-port data order",
)
"""Keywords that are dealt with here, or that do not matter to the reader."""


def _number(word):
    """Return the number that a word writes, NaN and infinities too, or None."""
    try:
        return float(word) if word.isascii() and "_" not in word else None
    except ValueError:
        return None


def _numbers(words):
    """Return the numbers that words write, or None where one writes none."""
    try:
        values = [float(word) for word in words]
    except ValueError:
        return None
    return values if "_" not in "".join(words) else None
