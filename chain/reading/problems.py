"""Gathering every mistake of a layout before it is refused."""

import itertools

from chain.errors import LayoutError, Place, Problem

MOST = 200
"""Reading stops at so many mistakes: looking for the nearest word takes its time."""

FEW = 300
"""Among more names than these, only those that begin alike are compared."""

LONG_LIST = 16
"""Up to so many known words are listed in a message."""


class MistakeError(Exception):
    """One mistake that stops what is being read: `what` is wrong, `instead` would be right."""

    def __init__(self, place, what, instead):
        super().__init__(f"{place}: {what}; {instead}")
        self.place, self.what, self.instead = place, what, instead


class Problems:
    """Mistakes found so far, each kept once however often what it stands in is read."""

    def __init__(self):
        self._found = {}
        self._files = {}
        self._hushed = frozenset()

    def __iter__(self):
        return iter(sorted(self._found, key=self._rank))

    def know(self, file):
        """Note that a file is being read; problems are told in the order of their files."""
        self._files.setdefault(file, len(self._files))

    def add(self, place, what, instead):
        """Note one mistake at a Place; raises LayoutError where it is one too many."""
        if place in self._hushed:
            return
        self._found[Problem(place, what, instead)] = None
        if len(self._found) >= MOST:
            self.refuse_if_any()

    def hush(self):
        """Note nothing more at places where something is noted: others will read them again."""
        self._hushed = frozenset(problem.place for problem in self._found)

    def note(self, wrong, before=""):
        """Note a MistakeError, with words put before what it says."""
        self.add(wrong.place, before + wrong.what, wrong.instead)

    def refuse_if_any(self):
        """Raise LayoutError where anything is wrong, in file order."""
        if self._found:
            raise LayoutError(self)

    def _rank(self, problem):
        place: Place = problem.place
        return self._files.get(place.file, len(self._files)), place.line, place.column


def shown(text):
    """Return text as a message quotes it: on one line, and short."""
    return repr(text if len(text) <= 60 else text[:57] + "...")


def nearest(word, known):
    """Return the known word closest to `word`, or None."""
    import difflib

    lower = {}
    for name in known:
        lower.setdefault(name.lower(), name)
    word = word[:60].lower()
    if len(lower) > FEW:
        alike = (name for name in lower if name[:1] == word[:1] and abs(len(name) - len(word)) < 3)
        lower = {name: lower[name] for name in itertools.islice(alike, FEW)}
    close = set(difflib.get_close_matches(word, lower, n=9, cutoff=0.5))

    def fit(name):
        return difflib.SequenceMatcher(None, name, word).ratio(), name[:1] == word[:1]

    # Of equally close ones the first in the file.
    best = max((name for name in lower if name in close), key=fit, default=None)
    return lower.get(best)


def choose(word, known, many="them"):
    """Return what would be right in place of an unknown word: the nearest, and all if few."""
    known = list(known)
    if not known:
        return f"there are no {many}"
    close = nearest(word, known)
    parts = [f"did you mean {close!r}?"] if close is not None else []
    if len(known) <= LONG_LIST:
        parts.append(f"there {'is' if len(known) == 1 else 'are'} {listed(known)}")
    elif close is None:
        parts.append(f"there are {len(known)} {many}, among them {listed(known[:5])}")
    return " ".join(parts)


def listed(words):
    """Return words as a list in a sentence."""
    words = [str(word) for word in words]
    return ", ".join([*words[:-2], " and ".join(words[-2:])])
