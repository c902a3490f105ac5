"""The head of a Touchstone file: its option line, and the keywords of version 2.

Touchstone File Format Specification (IBIS Open Forum), versions 1.1 (2002) and 2.0 (2009), both
from memory.
"""

import re

MOST_PORTS = 100

MOST_POINTS = 1_000_000

LEAST_OHM, MOST_OHM = 0.1, 10_000.0
"""Reference impedances that ports have: far below and above any line that carries a wave (common
practice, no source)."""

UNITS = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
PARAMETERS = ("s", "y", "z", "g", "h")
FORMATS = ("ma", "db", "ri")
OPTIONS = "write it like '# GHz S MA R 50'"

_KEYWORD = re.compile(r"\[([^\]]*)\]\s*(.*)")


class DataError(ValueError):
    """A Touchstone file that cannot be used: `what` is wrong, `instead` would be right."""

    def __init__(self, what, instead):
        super().__init__(f"{what}; {instead}")
        self.what, self.instead = what, instead


class Head:
    """What the option line and the keywords say, met line by line."""

    def __init__(self, name, ports):
        self.name, self.line, self.version, self.ports = name, 0, 1, ports
        self.section = "head"  # then: reference, network, noise, end; information in between
        self.before = "head"
        self.unit_hz: float | None = None
        self.said, self.references, self.triangular = {}, [], False
        self.points: list[int] = []

    def fail(self, what, instead, line=None):
        """Return the DataError of a line: that which is read, or another."""
        return DataError(f"{self.name}:{line or self.line}: {what}", instead)

    def option_line(self, content):
        """Return the option line in full and in order."""
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
            while kind == "r" and words and number(words[0]) is not None:
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
        ohm = number(word)
        if ohm is None:
            raise self.fail(f"{called} has {word[:20]!r}, which is no impedance", "write it in ohm")
        if not LEAST_OHM <= ohm <= MOST_OHM:
            raise self.fail(
                f"{called} is {ohm:g} ohm",
                f"give a reference between {LEAST_OHM:g} and {MOST_OHM:g} ohm, as 50",
            )
        return ohm

    def keyword(self, content):
        """Check a keyword and return what the reader shall see of it."""
        found = _KEYWORD.fullmatch(content)
        word = " ".join(found[1].lower().split()) if found else ""
        if found is None or word not in _KEYWORDS:
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
            return f"{self._two_port_order()}\n[{word}]"
        return "" if word in _UNSEEN else f"[{word}] {found[2]}"

    def _two_port_order(self):
        """Return the order's keyword; a triangular matrix is symmetric and takes the plain one."""
        order = self.said.get("two-port data order", (0, "12_21"))[1]
        return f"[Two-Port Data Order] {'12_21' if self.triangular else order}"

    def _number_of_ports(self, said):
        self.ports = self._whole(said, MOST_PORTS, "the number of ports")

    def _number_of_points(self, said):
        self._whole(said, MOST_POINTS, "the number of frequencies")

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
        self.more_references(said.split())

    def more_references(self, words):
        """Take the words of [Reference], which may go on over lines."""
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


_KEYWORDS = {
    "version": lambda walk, said: None,
    "number of ports": Head._number_of_ports,
    "two-port data order": Head._order,
    "number of frequencies": Head._number_of_points,
    "number of noise frequencies": Head._number_of_points,
    "reference": Head._reference,
    "matrix format": Head._matrix,
    "mixed-mode order": Head._mixed_mode,
    "network data": Head._network_data,
    "noise data": Head._noise_data,
    "begin information": Head._information,
    "end information": lambda walk, said: None,
    "end": Head._end,
}
"""What each keyword of version 2 is read by."""

_UNSEEN = (
    "mixed-mode order", "begin information", "end information", "noise data",
    "number of noise frequencies", "two-port data order",
)
"""Keywords that are dealt with here, or that do not matter to the reader."""


def number(word):
    """Return the number that a word writes, NaN and infinities too, or None."""
    try:
        return float(word) if word.isascii() and "_" not in word else None
    except ValueError:
        return None


def numbers(words):
    """Return the numbers that words write, or None where one writes none."""
    try:
        values = [float(word) for word in words]
    except ValueError:
        return None
    return values if "_" not in "".join(words) else None
