"""The public face: `load`, and a Layout that answers."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import fields
from os import PathLike, fspath
from typing import TYPE_CHECKING

from chain import reading
from chain.errors import LayoutError, Place
from chain.layout import layout as plain
from chain.layout.asked import asked_changes, asked_lines
from chain.layout.naming import title_of
from chain.suggestions import shown
from chain.writing.foreign_text import one_line

if TYPE_CHECKING:
    from numpy.typing import ArrayLike
    from skrf import Network

    from chain.layout.layout import Joint
    from chain.measurement.common_errors import Sizes
    from chain.measurement.on_off import GainChange
    from chain.measurement.readings import Readings
    from chain.results.advice import Advice
    from chain.results.design import Comparison, Failures
    from chain.results.diagnosis import Diagnosis
    from chain.results.heat import Heat
    from chain.results.measurement import (
        MeasuredTrace,
        Plan,
        PumpGrid,
        Reduction,
        TwoResults,
        WarmSheet,
    )
    from chain.results.noise import Budget, Spread
    from chain.results.power import Power
    from chain.results.service import Service
    from chain.service.levels import Expected
    from components.quantities import Quantity


def load(
    path: str | PathLike[str], changes: Iterable[str] = (), *, allow: Iterable[str] = ()
) -> Layout:
    """Return the Layout of a file, with `changes` (`KEY=VALUE`) made for this run.

    Files that it names have to lie below its folder, its repository, or a folder of `allow`.

    Raises LayoutError with every mistake, up to twenty, in the order of the file.
    """
    try:
        named = fspath(path)
    except TypeError as error:
        raise LayoutError.at(
            Place("load"), f"{shown(repr(path))} is no file name", "give the path of a layout file"
        ) from error
    return Layout.of(reading.load(str(named), asked_changes(changes), allow=allow))


def compare_results(this: str | PathLike[str], last: str | PathLike[str]) -> TwoResults:
    """Return what changed between two files of `reduce --json`; raises LayoutError."""
    from chain.measurement.two_results import compare_results
    from chain.results.measurement import TwoResults

    return TwoResults.from_result(compare_results(fspath(this), fspath(last)))


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
        return Layout.of(reading.changed(self, asked_changes(changes)))

    def check(self, margins: Mapping[str, Quantity | str | float] | None = None) -> Advice:
        """Return the advice of an experienced colleague (`chain.advice.check`).

        `margins` go before the layout's own: {"photons": 0.001, "cooling": "10 %"}.
        """
        from chain.advice.check import check
        from chain.results.advice import Advice

        return Advice.from_result(check(self, reading.read_margins(margins or {})))

    def heat(self) -> Heat:
        """Return the heat at each stage and its steady state (`chain.heat.stages`)."""
        from chain.heat.stages import heat
        from chain.results.heat import Heat

        return Heat.from_result(heat(self))

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

        return draw(self, asked_lines(self, lines))

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
        from chain.results.service import Service
        from chain.service import service

        return Service.from_result(
            service(self, between=between, remove=remove, line=line, levels=levels)
        )

    def spread(
        self, signal: str | None = None, *, draws: int, seed: int = 0,
        frequency_hz: ArrayLike | None = None,
    ) -> Spread:
        """Return how far tolerances spread a signal's budget (`chain.noise.spread`)."""
        from chain.noise.spread import spread
        from chain.results.noise import Spread

        return Spread.from_result(
            spread(self, signal, draws=draws, seed=seed, frequency_hz=frequency_hz)
        )

    def compare(self, other: plain.Layout, signal: str | None = None) -> Comparison:
        """Return what another layout costs against this one (`chain.design.comparison`)."""
        from chain.design.comparison import compare
        from chain.results.design import Comparison

        if not isinstance(other, plain.Layout):
            raise LayoutError.at(
                Place("compare"), f"{shown(repr(other))} is no layout",
                "give what load or changed returns",
            )
        return Comparison.from_result(compare(self, other, signal))

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
        from chain.results.measurement import Reduction

        return Reduction.from_result(reduce(
            self, signal, source=source, readings=readings, on=on, gain_change=gain_change,
            sizes=sizes, floor_w_hz=floor_w_hz,
        ))

    def diagnose(
        self, signal: str | None = None, *, measured: str | Sequence[str],
        readings: Sequence[str] = (), healthy: float = 0.5, ripple_db: float | None = None,
    ) -> Diagnosis:
        """Return which faults explain measured data (`chain.diagnosis`).

        `measured` are files as `chain diagnose --measured` takes them, `readings` single values
        like `"stages.mixing=25 mK +/- 1 mK"`, `healthy` the probability beforehand that nothing is
        wrong, `ripple_db` the ripple that is not in the layout (rms; of unknown size where None).
        """
        from chain.diagnosis import diagnose
        from chain.diagnosis.single_readings import read_reading
        from chain.measurement.bench_file import read_data_sets
        from chain.results.diagnosis import Diagnosis

        paths = [measured] if isinstance(measured, str) else measured
        return Diagnosis.from_result(diagnose(
            self, signal, read_data_sets(paths), healthy=healthy, ripple_db=ripple_db,
            readings=[read_reading(self, text) for text in readings],
        ))

    def failures(self, signal: str | None = None) -> Failures:
        """Return what each single failure costs, worst first (`chain.design.failures`)."""
        from chain.design.failures import each_failure
        from chain.results.design import Failures

        return Failures.from_result(each_failure(self, signal))

    def warm_sheet(
        self, *opened: str, draws: int | None = None, seed: int = 0, within_db: float | None = None
    ) -> WarmSheet:
        """Return what an analyser should show warm, joints open at ports (`chain warm`).

        `opened` are ports like `"D1.in"`; `within_db` is what connections and calibration may add.
        """
        from chain.measurement.analyser import DRAWS, WITHIN_DB
        from chain.measurement.warm_sheet import sheet
        from chain.results.measurement import WarmSheet

        return WarmSheet.from_result(sheet(
            self.warm(), opened, draws=DRAWS if draws is None else draws, seed=seed,
            within_db=WITHIN_DB if within_db is None else within_db,
        ))

    def against_trace(
        self, path: str | PathLike[str], signal_or_ports: str | Sequence[str] | None = None, *,
        warm: bool = False,
    ) -> MeasuredTrace:
        """Return a measured Touchstone file beside the layout (`chain.measurement`)."""
        from chain.measurement.measured_trace import against_trace
        from chain.results.measurement import MeasuredTrace

        return MeasuredTrace.from_result(
            against_trace(self, signal_or_ports, fspath(path), warm=warm)
        )

    def plan(
        self, signal: str | None = None, *, source: str, error_quanta: float,
        bandwidth_hz: float | None = None, hottest_k: float | None = None,
        sizes: Sizes | None = None,
    ) -> Plan:
        """Return what to read, and for how long, for an error of the added noise (quanta)."""
        from chain.measurement.plan import BANDWIDTH_HZ, HOTTEST_K, plan
        from chain.results.measurement import Plan

        return Plan.from_result(plan(
            self, signal, source=source, error_quanta=error_quanta, sizes=sizes,
            bandwidth_hz=BANDWIDTH_HZ if bandwidth_hz is None else bandwidth_hz,
            hottest_k=HOTTEST_K if hottest_k is None else hottest_k,
        ))

    def pump_grid(
        self, signal: str | None = None, *, source: str, readings: str | Sequence[str], grid: str,
        least_gain_db: float = 0.0, sizes: Sizes | None = None, floor_w_hz: float = 0.0,
    ) -> PumpGrid:
        """Return gain, noise and heat over the pump, from files (`chain.measurement.pump_grid`)."""
        from chain.measurement.grid_readings import read_grid
        from chain.measurement.pump_grid import pump_grid
        from chain.measurement.readings import read_readings
        from chain.results.measurement import PumpGrid

        files = [readings] if isinstance(readings, str | PathLike) else list(readings)
        return PumpGrid.from_result(pump_grid(
            self, signal, source=source,
            readings=read_readings([fspath(each) for each in files], band=self.band),
            grid=read_grid(fspath(grid), band=self.band), least_gain_db=least_gain_db,
            sizes=sizes, floor_w_hz=floor_w_hz,
        ))

    def power(self) -> Power:
        """Return where every tone's power goes (`chain.power.tones`)."""
        from chain.power.tones import power
        from chain.results.power import Power

        return Power.from_result(power(self))

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
        from chain.results.noise import Budget

        return Budget.from_result(budget(self, signal, frequency_hz=frequency_hz))

    def budgets(self, *, frequency_hz: ArrayLike | None = None) -> dict[str, Budget]:
        """Return {name: Budget} of every signal (`chain.noise.budget`)."""
        from chain.noise.budget import budgets
        from chain.results.noise import Budget

        found = budgets(self, frequency_hz=frequency_hz)
        return {name: Budget.from_result(one) for name, one in found.items()}

    def __repr__(self):
        counts = ", ".join(
            f"{len(rows)} {name}{'' if len(rows) == 1 else 's'}" for name, rows in (
                ("line", self.lines), ("element", self.elements), ("signal", self.signals),
                ("tone", self.tones))
        )
        return f"<Layout {one_line(title_of(self))!r}: {counts}>"
