"""Which signal of a layout is meant."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.errors import LayoutError

if TYPE_CHECKING:
    from chain.layout.layout import Layout, Signal


def chosen_signal(layout: Layout, name: str | None) -> Signal:
    """Return the signal of that name, or the only one; raises LayoutError."""
    if name is None and len(layout.signals) == 1:
        return next(iter(layout.signals.values()))
    known = ", ".join(layout.signals) or "none"
    if name is None:
        raise ValueError(f"the layout has these signals: {known}; name one")
    if name not in layout.signals:
        from chain.errors import Place

        raise LayoutError.at(
            Place(layout.path), f"there is no signal {name!r}", f"the layout has: {known}"
        )
    return layout.signals[name]
