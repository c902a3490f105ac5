"""What would be right in place of an unknown word: the nearest one, and what there is."""

from __future__ import annotations

import itertools
from collections.abc import Iterable

MAX_COMPARED = 300
"""Among more names than these, only those that begin alike are compared."""

LONG_LIST = 16
"""Up to so many known words are listed in a message."""


def shown(text: str) -> str:
    """Return text as a message quotes it: on one line, and short."""
    return repr(text if len(text) <= 60 else text[:57] + "...")


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word closest to `word`, or None."""
    import difflib

    lower = {}
    for name in known:
        lower.setdefault(name.lower(), name)
    word = word[:60].lower()
    if len(lower) > MAX_COMPARED:
        alike = (name for name in lower if name[:1] == word[:1] and abs(len(name) - len(word)) < 3)
        lower = {name: lower[name] for name in itertools.islice(alike, MAX_COMPARED)}
    close = set(difflib.get_close_matches(word, lower, n=9, cutoff=0.5))

    def fit(name):
        return difflib.SequenceMatcher(None, name, word).ratio(), name[:1] == word[:1]

    # Of equally close ones the first in the file.
    best = max((name for name in lower if name in close), key=fit, default=None)
    return lower.get(best)


def choose(word: str, known: Iterable[str], many: str = 'them') -> str:
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


def listed(words: Iterable[object]) -> str:
    """Return words as a list in a sentence."""
    texts = [str(word) for word in words]
    return ", ".join([*texts[:-2], " and ".join(texts[-2:])])
