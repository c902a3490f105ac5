"""Which signal of a layout is meant."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.errors import LayoutError, Place
from chain.suggestions import LONG_LIST, choose, listed, shown

if TYPE_CHECKING:
    from chain.layout.layout import Layout, Signal


def chosen_signal(layout: Layout, name: str | None) -> Signal:
    """Return the signal of that name, or the only one; raises LayoutError."""
    if name is None and len(layout.signals) == 1:
        return next(iter(layout.signals.values()))
    if name is None:
        raise LayoutError.at(
            Place(layout.path), f"the layout has {_few(layout)}",
            "name one" if layout.signals else "add signals: {receive: {from: D1.out, to: R1}}",
        )
    if name not in layout.signals:
        raise LayoutError.at(
            Place(layout.path), f"there is no signal {shown(name)}",
            choose(name, layout.signals, "signals"),
        )
    return layout.signals[name]


def _few(layout: Layout) -> str:
    names = list(layout.signals)
    if not names:
        return "no signals"
    if len(names) <= LONG_LIST:
        return f"these signals: {listed(names)}"
    return f"{len(names)} signals, among them {listed(names[:5])}"
