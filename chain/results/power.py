"""The power of tones as the face gives it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chain.layout.naming import title_of
from chain.layout.signals import chosen_signal
from chain.power import tones
from chain.power.levels import level_warnings
from chain.power.power_text import stage_table
from chain.power.ratings import rating_warnings
from chain.power.remarks import dumped_cold
from chain.results.shown import Brief, Shown
from components.quantities import watt_to_dbm

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class Power(Shown, tones.Power):
    """A Power that shows itself; `rows` are what arrives at and leaves every port."""

    def brief(self) -> Brief:
        """Return what tones dissipate at each stage, and what is to be said of it."""
        names = ", ".join(name for name in self.tones if name not in self.idler_of) or "no tone"
        return Brief(
            f"{title_of(self.layout)}: power of {names} dissipated at each stage",
            stage_table(self), (
                *dumped_cold(self), *level_warnings(self), *rating_warnings(self), *self._said(),
            ),
        )

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """A row a tone and port: levels in dBm; what the element absorbs, with its first port."""
        return tuple(
            row for name, tone in self.tones.items() for row in self._rows_of(name, tone)
        )

    def _rows_of(self, name, tone):
        for element in self.layout.elements.values():
            for place, port in enumerate(element.ports):
                at = f"{element.id}.{port}"
                if at in tone.arriving_w:
                    yield {
                        "tone": name, "element": element.id, "kind": element.kind.name,
                        "stage": element.stage or f"{element.from_stage} > {element.to_stage}",
                        "port": port, "arriving_dbm": _dbm(tone.while_on_w(tone.arriving_w[at])),
                        "outgoing_dbm": _dbm(tone.while_on_w(tone.outgoing_w[at])),
                        "absorbed_w": tone.absorbed_w.get(element.id) if place == 0 else None,
                    }

    def figure(self, signal: str | None = None) -> Figure:
        """Return levels along a signal path, and power dissipated by stage."""
        from chain.figures.power import power_figure

        return power_figure(
            self, None if signal is None else chosen_signal(self.layout, signal)
        )


def _dbm(watt):
    return float(watt_to_dbm(watt)) if watt > 0 else None
