"""Heat that cables and looms conduct between the stages that anchor them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from chain.errors import LayoutError
from components.heat_path import HeatPath
from components.materials import MissingProperty, OutsideRange

if TYPE_CHECKING:
    from chain.layout.layout import Layout


@dataclass(frozen=True)
class Stretch:
    """A length of an element between neighbouring anchors."""

    id: str
    first: str
    """Stage at its start."""
    second: str
    """Stage at its end."""
    length_m: float
    path: HeatPath


class Conduction:
    """Everything that conducts in a layout, at whatever temperatures its stages have.

    `stretches` are those whose solids are known, `unknown` the stages that each element touches
    whose solids are not: a cable that is given by its loss alone.  Of a stretch whose solid has no
    data at the temperature of one of its ends nothing is extrapolated: what it conducts is unknown.
    """

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.stretches, self.unknown = [], {}
        for element in layout.elements.values():
            if element.from_stage is not None:
                self._add(element)
        self._theta = {}

    def _add(self, element):
        settings, anchored = element.settings, element.anchored
        path = settings.remembered("heat path", lambda: element.kind.heat_path(settings))
        if path is None:
            self.unknown[element.id] = tuple(stage for _, stage in anchored)
            return
        length_m = settings["length"].value
        for (start, first), (end, second) in pairwise(anchored):
            if first != second:
                part_m = (end - start) * length_m
                self.stretches.append(Stretch(element.id, first, second, part_m, path))

    def theta(self, stretch: Stretch, temperature_k: float) -> float:
        """Return the stretch's solid's conduction integral up to a temperature (K), remembered.

        Raises OutsideRange where the solid has no data there, LayoutError where it has none.
        """
        solid = stretch.path.solid
        key = id(solid), temperature_k
        if key not in self._theta:
            try:
                self._theta[key] = float(solid.theta(temperature_k=temperature_k))
            except OutsideRange as error:
                self._theta[key] = error
            except MissingProperty as error:
                raise self._refused(stretch, error) from error
        if isinstance(self._theta[key], OutsideRange):
            raise self._theta[key].with_traceback(None)  # kept, and not grown by each raise
        return self._theta[key]

    def outside(self, stretch: Any, temperature_k: Any) -> Any:
        """Return why nothing is known of a stretch between stages at {stage: K}, or None."""
        for stage in (stretch.first, stretch.second):
            try:
                self.theta(stretch, temperature_k[stage])
            except OutsideRange as error:
                return str(error).partition("; ")[0]
        return None

    def all_outside(self, temperature_k: Any) -> Any:
        """Return {(first stage, second stage, why): [id, ...]} of the stretches without data."""
        found = defaultdict(list)
        for stretch in self.stretches:
            if temperature_k[stretch.first] != temperature_k[stretch.second]:
                why = self.outside(stretch, temperature_k)
                if why is not None:
                    found[stretch.first, stretch.second, why].append(stretch.id)
        return found

    def _refused(self, stretch, error):
        element = self.layout.elements[stretch.id]
        what, _, instead = str(error).partition("; ")
        return LayoutError.at(
            element.place_of(stretch.path.parameter),
            f"{stretch.id}, between {stretch.first} and {stretch.second}: {what}", instead,
        )

    def through(self, temperature_k: Mapping[str, float]) -> Iterator[tuple[Stretch, float | None]]:
        """Yield (stretch, W) of the heat from its first to its second stage at {stage: K}.

        None in place of watts where the stretch's solid has no data at one of its ends.
        """
        for stretch in self.stretches:
            first, second = temperature_k[stretch.first], temperature_k[stretch.second]
            if first == second:
                yield stretch, 0.0
                continue
            if self.outside(stretch, temperature_k) is not None:
                yield stretch, None
                continue
            difference = self.theta(stretch, first) - self.theta(stretch, second)
            yield stretch, stretch.path.factor * difference / stretch.length_m

    def by_element(
        self, temperature_k: Mapping[str, float]
    ) -> dict[str, dict[str, tuple[float | None, float | None]]]:
        """Return {id: {stage: (net W, W from warmer)}}: what each element brings to each stage.

        Both are None where they are unknown.
        """
        found = defaultdict(dict)
        for stretch, watt in self.through(temperature_k):
            own = found[stretch.id]
            for stage, sign in ((stretch.first, -1.0), (stretch.second, 1.0)):
                net, into = own.get(stage, (0.0, 0.0))
                if watt is None or net is None or into is None:
                    own[stage] = None, None
                else:
                    own[stage] = net + sign * watt, into + max(sign * watt, 0.0)
        return found

    def links(self) -> dict[tuple[str, str], list[tuple[Stretch, float]]]:
        """Return {(first stage, second stage): [(stretch, factor over length in 1/m or m)]}.

        Stretches of one solid between the same stages are one link, so that many equal lines cost
        no more than one; the stretch is any of them.
        """
        gathered = {}
        for stretch in self.stretches:
            key = stretch.first, stretch.second, id(stretch.path.solid)
            before = gathered.get(key, (stretch, 0.0))
            gathered[key] = before[0], before[1] + stretch.path.factor / stretch.length_m
        links = defaultdict(list)
        for (first, second, _), link in gathered.items():
            links[first, second].append(link)
        return links
