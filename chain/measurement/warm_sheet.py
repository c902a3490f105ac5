"""What the analyser should show at room temperature: every trace of a warm layout."""

from dataclasses import dataclass

from chain.measurement.analyser import DRAWS, WITHIN_DB, opened, traces


@dataclass(frozen=True)
class WarmSheet:
    """What an analyser should show between the connectors of a warm layout."""

    layout: object
    closed: tuple
    """Traces with every joint closed."""
    open: tuple
    """Traces to the ends of the joints that are open; empty where none is."""
    ports: tuple[str, ...]
    """Ports at which joints are open."""
    draws: int
    within_db: float

    @property
    def traces(self):
        """Every trace, those with all joints closed first."""
        return (*self.closed, *self.open)

    def as_dict(self):
        """Return the sheet under the names that programs lean on."""
        return {
            "traces": [trace.as_dict() for trace in self.traces],
            "draws": self.draws, "within_db": self.within_db,
            "warnings": list(self.layout.remarks), "laws": {},
        }

    def __str__(self):
        from chain.measurement.warm_sheet_text import sheet_text

        return sheet_text(self)


def sheet(warm, ports=(), *, draws=DRAWS, seed=0, within_db=WITHIN_DB, progress=None):
    """Return the WarmSheet of a layout: all connectors, then the ends of the joints at `ports`.

    Raises LayoutError.
    """
    options = {"draws": draws, "seed": seed, "within_db": within_db}
    closed = traces(opened(warm, ()), progress=progress, **options)
    apart = []
    if ports:
        view = opened(warm, ports)
        apart = traces(view, only=tuple(view.ends), progress=progress, **options)
    return WarmSheet(warm, tuple(closed), tuple(apart), tuple(ports), draws, within_db)
