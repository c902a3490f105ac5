"""The public face: `load`, and a Layout that answers."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import fields
from os import PathLike
from typing import TYPE_CHECKING

from chain import reading
from chain.layout import layout as plain

if TYPE_CHECKING:
    from numpy.typing import ArrayLike
    from skrf import Network

    from chain.advice.findings import Advice
    from chain.design.comparison import Comparison
    from chain.heat.stages import Heat
    from chain.layout.layout import Joint
    from chain.measurement.common_errors import Sizes
    from chain.measurement.on_off import GainChange
    from chain.measurement.readings import Readings
    from chain.measurement.reduction import Reduction
    from chain.noise.budget import Budget
    from chain.noise.spread import Spread
    from chain.power.tones import Power
    from chain.service.levels import Expected
    from chain.service.plan import Service
    from components.quantities import Quantity


def load(
    path: str | PathLike[str], changes: Iterable[str] = (), *, allow: Iterable[str] = ()
) -> Layout:
    """Return the Layout of a file, with `changes` (`KEY=VALUE`) made for this run.

    Files that it names have to lie below its folder, its repository, or a folder of `allow`.

    Raises LayoutError with every mistake, up to twenty, in the order of the file.
    """
    return Layout.of(reading.load(path, changes, allow=allow))


class Layout(plain.Layout):
    """A layout with the answers as methods; each is a function of a package below."""

    @classmethod
    def of(cls, layout: plain.Layout) -> Layout:
        """Return a plain layout as one that answers."""
        return cls(**{field.name: getattr(layout, field.name) for field in fields(plain.Layout)})

    def changed(self, *changes: str) -> Layout:
        """Return the layout with more changes, written as `--set` takes them; raises LayoutError.

        No file is read again.
        """
        return Layout.of(reading.changed(self, changes))

    def check(self, margins: Mapping[str, Quantity] | None=None) -> Advice:
        """Return the advice of an experienced colleague (`chain.advice.check`)."""
        from chain.advice.check import check

        return check(self, margins)

    def heat(self) -> Heat:
        """Return the heat at each stage and its steady state (`chain.heat.stages`)."""
        from chain.heat.stages import heat

        return heat(self)

    def settled(self) -> Layout:
        """Return the layout at its steady-state temperatures (`chain.heat.steady_state`)."""
        from chain.heat.steady_state import at_steady_state

        return at_steady_state(self)

    def warm(self) -> Layout:
        """Return the layout with everything at room temperature (`chain.measurement.warm`)."""
        from chain.measurement.warm import warmed

        return warmed(self)

    def draw(self, lines: Iterable[str] | None = None) -> str:
        """Return the lines as SVG text (`chain.drawing`)."""
        from chain.drawing import draw

        return draw(self, lines)

    def document(self, folder: str | PathLike[str]) -> None:
        """Write the pages of the layout into a folder (`chain.document`)."""
        from chain.document import write_document

        write_document(self, folder)

    def service(
        self, *, between: tuple[str, str] | None = None, remove: Iterable[str] = (),
        line: str | None = None,
        levels: Callable[[Joint, Collection[Joint]], Expected] | None = None,
    ) -> Service:
        """Return the order of disassembly and of reassembly (`chain.service`)."""
        from chain.service import service

        return service(self, between=between, remove=remove, line=line, levels=levels)

    def spread(
        self, signal: str | None = None, *, draws: int, seed: int = 0,
        frequency_hz: ArrayLike | None = None,
    ) -> Spread:
        """Return how far tolerances spread a signal's budget (`chain.noise.spread`)."""
        from chain.noise.spread import spread

        return spread(self, signal, draws=draws, seed=seed, frequency_hz=frequency_hz)

    def compare(self, other: plain.Layout, signal: str | None = None) -> Comparison:
        """Return what another layout costs against this one (`chain.design.comparison`)."""
        from chain.design.comparison import compare

        return compare(self, other, signal)

    def reduce(
        self, signal: str | None = None, *, source: str, readings: Readings | str | Sequence[str],
        on: Readings | str | Sequence[str] | None = None,
        gain_change: GainChange | str | None = None, sizes: Sizes | None = None,
        floor_w_hz: float = 0.0,
    ) -> Reduction:
        """Return gain and noise of readings with a load hot and cold (`chain.measurement.reduce`).

        `source` is the element that was hot and cold; `on` and `gain_change` are of the paramps on.
        """
        from chain.measurement.reduce import reduce

        return reduce(
            self, signal, source=source, readings=readings, on=on, gain_change=gain_change,
            sizes=sizes, floor_w_hz=floor_w_hz,
        )

    def power(self) -> Power:
        """Return where every tone's power goes (`chain.power.tones`)."""
        from chain.power.tones import power

        return power(self)

    def network(
        self, signal: str | None = None, *, frequency_hz: ArrayLike | None = None
    ) -> Network:
        """Return a signal's path as a scikit-rf Network (`chain.network.two_port`)."""
        from chain.network.two_port import path_network

        return path_network(self, signal, frequency_hz=frequency_hz)

    def budget(
        self, signal: str | None = None, *, frequency_hz: ArrayLike | None = None
    ) -> Budget:
        """Return the noise and gain budget of a signal (`chain.noise.budget`)."""
        from chain.noise.budget import budget

        return budget(self, signal, frequency_hz=frequency_hz)
