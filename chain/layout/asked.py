"""What is asked of a layout, checked before anything is worked out: frequencies, lines, changes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from chain.errors import LayoutError, Place
from chain.suggestions import choose, shown
from components.bounds import BOUNDS

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from chain.layout.layout import Layout, Signal
    from components.arrays import FloatArray

FREQUENCIES = Place("frequency_hz")


def asked_frequencies(
    layout: Layout, frequency_hz: ArrayLike | None, signal: Signal | None = None
) -> FloatArray:
    """Return the frequencies asked for, (points,) Hz: those of the band where none are given.

    Of a signal the band is its own, where it has one.

    Raises LayoutError for what is no number, or no frequency.
    """
    if frequency_hz is None:
        own = None if signal is None else signal.band
        return (own or layout.band).frequency_hz
    try:
        f = np.atleast_1d(np.asarray(frequency_hz, dtype=float))
    except (TypeError, ValueError) as error:
        raise LayoutError.at(
            FREQUENCIES, "these are no numbers", "give frequencies in Hz, like [5e9, 6e9]"
        ) from error
    if f.ndim != 1 or not f.size:
        raise LayoutError.at(
            FREQUENCIES, f"an array of shape {f.shape} is no row of frequencies",
            "give one or more in a row, like [5e9, 6e9]",
        )
    bounds = BOUNDS["frequency"]
    outside = f[~((f >= bounds.least) & (f <= bounds.most))]
    if outside.size:
        raise LayoutError.at(
            FREQUENCIES, f"{outside[0]:g} Hz is no frequency of a line",
            f"give {bounds.least:g} Hz to {bounds.most:g} Hz",
        )
    return f


def asked_lines(
    layout: Layout, names: Iterable[str] | None, place: Place = Place("lines")  # noqa: B008 (frozen)
) -> list[str] | None:
    """Return the lines of those names, a line with copies as all of them; None where none is named.

    Raises LayoutError for one that does not exist.
    """
    if names is None:
        return None
    found = []
    for name in [names] if isinstance(names, str) else names:
        copies = [line.name for line in layout.lines.values() if line.copy_of == name]
        if name not in layout.lines and not copies:
            known = dict.fromkeys(line.declared_name for line in layout.lines.values())
            raise LayoutError.at(
                place, f"there is no line {shown(str(name))}", choose(str(name), known, "lines")
            )
        found += [name] if name in layout.lines else copies
    return found


def asked_changes(changes: Iterable[str]) -> tuple[str, ...]:
    """Return changes (`KEY=VALUE`), a single text as one of them; raises LayoutError."""
    given = (changes,) if isinstance(changes, str) else tuple(changes)
    for change in given:
        if not isinstance(change, str):
            raise LayoutError.at(
                Place("changes"), f"{shown(repr(change))} is no text",
                "write each as KEY=VALUE, like 'H1.state=dead'",
            )
    return given
