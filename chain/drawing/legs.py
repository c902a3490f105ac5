"""A line as legs that run down or up through the stages, with what stands on each stage."""

import math
from dataclasses import dataclass, field

from chain.layout.layout import Element


@dataclass
class Run:
    """Elements that follow each other on one stage, in the line's order."""

    stage: int
    stops: list[Element]


@dataclass(frozen=True)
class Span:
    """What runs from one stage to another: a cable, or a bare joint where there is none."""

    cable: Element | None
    start: int
    end: int

    @property
    def down(self):
        """True from warm to cold."""
        return self.end > self.start


@dataclass
class Leg:
    """A part of a line that only goes down, or only goes up; spans[i] leaves runs[i]."""

    runs: list[Run]
    spans: list[Span] = field(default_factory=list)
    down: bool = True
    turns: bool = False
    """True where another leg follows, on the stage of the last run."""
    turn: Element | None = None
    """What stands in that turn."""


def legs_of(layout, line):
    """Return the Legs of a Line, none where it has no elements."""
    runs, spans = _runs(layout, line)
    if not runs:
        return []
    if not spans:
        return [Leg(runs)]
    legs, current = [], Leg([runs[0]], down=spans[0].down)
    for run, span in zip(runs[1:], spans, strict=True):
        if span.down != current.down:
            turning = current.runs[-1]
            before, turn, after = _split(turning.stops)
            current.runs[-1] = Run(turning.stage, before)
            current.turns, current.turn = True, turn
            legs.append(current)
            current = Leg([Run(turning.stage, after)], down=span.down)
        current.spans.append(span)
        current.runs.append(run)
    return [*legs, current]


def _split(stops):
    """Part the elements of a stage where the line turns: before, in the turn, after."""
    for place, element in enumerate(stops):
        if element.kind.is_device:
            return stops[:place], element, stops[place + 1:]
    middle = (len(stops) + 1) // 2
    return stops[:middle], None, stops[middle:]


def _runs(layout, line):
    order = {name: place for place, name in enumerate(layout.stages)}
    runs, spans = [], []
    for key in line.elements:
        element = layout.elements[key]
        start, end = _stages(layout, element, order, runs)
        if not runs:
            runs.append(Run(start, []))
        elif runs[-1].stage != start:
            spans.append(Span(None, runs[-1].stage, start))
            runs.append(Run(start, []))
        if start == end:
            runs[-1].stops.append(element)
        else:
            spans.append(Span(element, start, end))
            runs.append(Run(end, []))
    return runs, spans


def _stages(layout, element, order, runs):
    """Return the stages by which an element is entered and left, as the line goes."""
    if element.from_stage is not None:
        start, end = order[element.from_stage], order[element.to_stage]
        turned = len(element.ports) > 1 and element.enter == element.ports[-1]
        return (end, start) if turned else (start, end)
    if element.stage is not None:
        return order[element.stage], order[element.stage]
    if runs or not order:
        place = runs[-1].stage if runs else 0
        return place, place
    kelvin = math.log(max(layout.temperature_k(element), 1e-6))
    names = list(layout.stages)
    nearest = min(names, key=lambda name: abs(
        math.log(max(layout.stages[name].temperature_k, 1e-6)) - kelvin
    ))
    return order[nearest], order[nearest]
