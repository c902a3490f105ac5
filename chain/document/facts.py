"""The answers on the pages of a layout, each worked out once; why, where one cannot be."""

from __future__ import annotations

import functools
import re
from collections.abc import Collection
from typing import TYPE_CHECKING, Any

from chain.advice.check import check
from chain.document.unknown import Unknown
from chain.drawing.family import series
from chain.errors import LayoutError
from chain.heat.stages import heat
from chain.layout.equal_lines import equal_lines
from chain.measurement.analyser import opened, traces
from chain.measurement.warm import warmed
from chain.noise.arrivals import arrivals
from chain.noise.budget import budget
from chain.pages.provenance import Provenance
from chain.power.tones import power

if TYPE_CHECKING:
    from chain.advice.findings import Advice
    from chain.heat.stages import Heat
    from chain.layout.equal_lines import EqualLines
    from chain.layout.layout import Layout
    from chain.measurement.analyser import Trace
    from chain.noise.arrivals import Arrivals
    from chain.noise.budget import Budget
    from chain.power.tones import Power
    from components.arrays import FloatArray


class Facts(Provenance):
    """A layout with its answers, its names on pages, its files."""

    def __init__(self, layout: Layout) -> None:
        super().__init__(layout)
        self.groups = equal_lines(layout)
        self.group_of = {name: group for group in self.groups for name in group.lines}
        self.page_of = _file_stems({g.first: g.name for g in self.groups}, "line-")
        self.signal_stem = _file_stems({name: name for name in layout.signals}, "")
        self._budgets = {}

    # -- names ----------------------------------------------------------------------------------

    def page(self, line: str) -> str:
        """Return the name of the page on which a line is described."""
        return self.page_of[self.group_of[line].first]

    def id_text(self, key: str) -> str:
        """Return an element's id as it stands for all equal copies."""
        element = self.layout.elements[key]
        return self.group_of[element.line].id_text(element)

    # -- answers --------------------------------------------------------------------------------

    def _attempt(self, function):
        try:
            return function()
        except LayoutError as error:
            return Unknown(self.said(str(error)))

    def budget(self, signal: str) -> Budget | Unknown:
        """Return the Budget of a signal, or an Unknown."""
        if signal not in self._budgets:
            self._budgets[signal] = self._attempt(lambda: budget(self.layout, signal))
        return self._budgets[signal]

    @functools.cached_property
    def power(self) -> Power | Unknown:
        """The Power of all tones, or an Unknown."""
        return self._attempt(lambda: power(self.layout))

    @functools.cached_property
    def heat(self) -> Heat | Unknown:
        """The Heat, or an Unknown."""
        return self._attempt(lambda: heat(self.layout))

    @functools.cached_property
    def warm(self) -> Layout | Unknown:
        """The layout at room temperature, or an Unknown."""
        return self._attempt(lambda: warmed(self.layout))

    def warm_traces(
        self, ports: Collection[str], frequency_hz: FloatArray
    ) -> list[Trace] | Unknown:
        """Return the Traces at room temperature with the joints at `ports` open, or an Unknown."""
        warm = self.warm
        if isinstance(warm, Unknown):
            return warm

        def found():
            view = opened(warm, ports)
            return traces(
                view, frequency_hz=frequency_hz, only=tuple(view.ends) if ports else None
            )

        return self._attempt(found)

    @functools.cached_property
    def arrivals(self) -> tuple[Arrivals, ...] | Unknown:
        """The Arrivals at the devices of every line, equal lines once, or an Unknown."""
        layout = self.layout
        devices = [
            key for group in self.groups for key in layout.lines[group.first].elements
            if layout.elements[key].kind.is_device
        ]
        return self._attempt(lambda: arrivals(layout, devices))

    @functools.cached_property
    def advice(self) -> Advice:
        """The Advice."""
        return check(self.layout)

    @functools.cached_property
    def series(self) -> Any:
        """The joints between neighbours in a line."""
        return series(self.layout)

    @functools.cached_property
    def paths(self) -> dict[str, list[str]]:
        """Ids on the path of each signal, by its name; signals of equal copies once."""
        found = {}
        for name, signal in self.layout.signals.items():
            ends = [port[0] for port in (signal.from_port, signal.to_port) if port is not None]
            lines = {self.layout.elements[key].line for key in ends}
            if all(self.group_of[line].first == line for line in lines):
                found[name] = self.layout.signal_path(signal) if len(ends) == 2 else ends
        return found

    def signal_text(self, name: str) -> str:
        """Return a signal's name, with how many equal copies it stands for."""
        signal = self.layout.signals[name]
        group = self.group_of[self.layout.elements[signal.to_port[0]].line]
        if group.count == 1 or signal.copy_of is None:
            return name
        alike = sum(
            other.copy_of == signal.copy_of and other.number in group.numbers
            for other in self.layout.signals.values()
        )
        return f"{name} (and {alike - 1} alike)" if alike > 1 else name

    def signals_of(self, group: EqualLines) -> list[str]:
        """Return the names of the signals that pass a line."""
        own = set(self.layout.lines[group.first].elements)
        return [name for name, ids in self.paths.items() if own & set(ids)]


def _file_stems(names, before):
    """Return {key: stem of its files} for {key: name}; stems differ in more than their case."""
    taken, found = set(), {}
    for key, name in names.items():
        slug = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "x"
        stem, number = f"{before}{slug}", 2
        while stem in taken:
            stem, number = f"{before}{slug}-{number}", number + 1
        taken.add(stem)
        found[key] = stem
    return found
