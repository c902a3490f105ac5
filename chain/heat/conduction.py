"""Heat that cables and looms conduct between the stages that anchor them."""

from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise

from chain.errors import LayoutError
from components.heat_path import HeatPath
from components.materials import MissingProperty, OutsideRange


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
    whose solids are not: a cable that is given by its loss alone.
    """

    def __init__(self, layout):
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

    def theta(self, stretch, temperature_k):
        """Return the stretch's solid's conduction integral up to a temperature (K), remembered.

        Raises LayoutError where the solid has no data there.
        """
        solid = stretch.path.solid
        key = id(solid), temperature_k
        if key not in self._theta:
            try:
                self._theta[key] = float(solid.theta(temperature_k=temperature_k))
            except (OutsideRange, MissingProperty) as error:
                raise self._refused(stretch, error) from error
        return self._theta[key]

    def _refused(self, stretch, error):
        element = self.layout.elements[stretch.id]
        what, _, instead = str(error).partition("; ")
        return LayoutError.at(
            element.place_of(stretch.path.parameter),
            f"{stretch.id}, between {stretch.first} and {stretch.second}: {what}", instead,
        )

    def through(self, temperature_k):
        """Yield (stretch, W) of the heat from its first to its second stage at {stage: K}."""
        for stretch in self.stretches:
            first, second = temperature_k[stretch.first], temperature_k[stretch.second]
            if first == second:
                yield stretch, 0.0
                continue
            difference = self.theta(stretch, first) - self.theta(stretch, second)
            yield stretch, stretch.path.factor * difference / stretch.length_m

    def by_element(self, temperature_k):
        """Return {id: {stage: (net W, W from warmer)}}: what each element brings to each stage."""
        found = defaultdict(dict)
        for stretch, watt in self.through(temperature_k):
            own = found[stretch.id]
            for stage, gets in ((stretch.first, -watt), (stretch.second, watt)):
                net, into = own.get(stage, (0.0, 0.0))
                own[stage] = net + gets, into + max(gets, 0.0)
        return found

    def links(self):
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
