"""How much is worked out at once: bounded before work starts, in words that say what to lower."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.errors import LayoutError, Place

if TYPE_CHECKING:
    from chain.layout.layout import Layout

MAX_KEPT = 10_000_000
"""Elements times points (times signals) of one answer: some 40 bytes each are kept, 0.4 GB."""

MAX_WORK = 2_000_000_000
"""Elements times points times draws of one answer: some 10 ns each, 20 s on one core."""


MAX_PHASES = 300
"""Unknown phases of one network that count: every pair of reflections is a loop to look at."""

MAX_NOTED_PHASES = 2000
"""Unknown phases of one network, those that count for nothing included."""


def check_phases(layout: Layout, network: str, *, noted: int, count: int = 0) -> None:
    """Raise LayoutError where a network has more unknown phases than one answer can run over.

    `network` is an element of it; `noted` all its unknown phases, `count` those that matter.
    """
    for number, most in ((noted, MAX_NOTED_PHASES), (count, MAX_PHASES)):
        if number > most:
            raise LayoutError.at(
                layout.elements[network].place_of("return_loss"),
                f"what is joined to {network} has {number:,} reflections and leaks whose phase "
                f"nobody knows; at most {most:,} are worked out together",
                "give return_loss only where it is poor, or the phases that are known (`phase:`)",
            )


def check_work(
    layout: Layout, *, elements: int, points: int, draws: int = 1, kept: bool = True,
    place: Place | None = None,
) -> None:
    """Raise LayoutError where an answer would take too long, or more memory than a desk has.

    `elements` are those of all signals asked for, each counted as often; `draws` those of phases or
    tolerances; `kept` False where only a summary of them stays.
    """
    size = elements * points
    if size * draws <= MAX_WORK and (not kept or size <= MAX_KEPT):
        return
    of = f"{elements:,} elements x {points:,} frequencies"
    if draws > 1:
        of += f" x {draws:,} draws"
    most = MAX_WORK // max(1, elements * draws)
    if kept:
        most = min(most, MAX_KEPT // max(1, elements))
    instead = f"lower band.points to {most:,}" if most >= 1 else "ask for one signal: --signal NAME"
    if draws > 1:
        instead += ", or take fewer draws"
    raise LayoutError.at(
        place or layout.band.place, f"{of} are too much for one answer", instead
    )
