"""What the analyser should show at room temperature: every trace of a warm layout."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from chain.measurement.analyser import DRAWS, WITHIN_DB, opened, traces
from chain.network.draws import check_draws

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from chain.measurement.analyser import Trace


@dataclass(frozen=True)
class WarmSheet:
    """What an analyser should show between the connectors of a warm layout."""

    layout: Layout
    closed: tuple
    """Traces with every joint closed."""
    open: tuple
    """Traces to the ends of the joints that are open; empty where none is."""
    ports: tuple[str, ...]
    """Ports at which joints are open."""
    draws: int
    within_db: float

    @property
    def traces(self) -> tuple[Trace, ...]:
        """Every trace, those with all joints closed first."""
        return (*self.closed, *self.open)

    def as_dict(self) -> dict[str, Any]:
        """Return the sheet under the names that programs lean on."""
        return {
            "traces": [trace.as_dict() for trace in self.traces],
            "draws": self.draws, "within_db": self.within_db,
            "warnings": list(self.layout.remarks), "laws": {},
        }

    def __str__(self):
        from chain.measurement.warm_sheet_text import sheet_text

        return sheet_text(self)


def sheet(
    warm: Layout, ports: Collection[str] = (), *, draws: int = DRAWS, seed: int = 0,
    within_db: float = WITHIN_DB, progress: Callable[[int, int], object] | None=None,
) -> WarmSheet:
    """Return the WarmSheet of a layout: all connectors, then the ends of the joints at `ports`.

    Raises LayoutError.
    """
    check_draws(draws, seed, usual=DRAWS)
    options: dict[str, Any] = {"draws": draws, "seed": seed, "within_db": within_db}
    closed = traces(opened(warm, ()), progress=progress, **options)
    apart = []
    if ports:
        view = opened(warm, ports)
        apart = traces(view, only=tuple(view.ends), progress=progress, **options)
    return WarmSheet(warm, tuple(closed), tuple(apart), tuple(ports), draws, within_db)
