"""Columns of a drawing: which leg of which line stands where, from left to right."""

from dataclasses import dataclass, field

from chain.drawing.legs import Leg, legs_of
from chain.drawing.spots import ports_of


@dataclass
class Column:
    """One leg of one line."""

    line: str
    leg: Leg
    outward: int
    """Side on which lines branch off: 1 right, -1 left; labels stand on the other."""
    depth: int
    """0 for a line drawn for its own sake, 1 and more for lines joined to it."""
    first: bool = False
    """True for the leg with which the line begins."""
    last: bool = False
    beside: bool = False
    """True for a single part that stands beside the port it is joined to, in the same row."""
    x: float = 0.0
    left: float = 0.0
    right: float = 0.0
    """How far it needs room to either side of x."""


@dataclass
class Plan:
    """One line, its columns, and the plans of the lines joined to it, `port` the host's port."""

    line: str
    columns: list[Column]
    branches: list["Plan"] = field(default_factory=list)
    port: tuple[str, str] | None = None
    by_last: bool = False
    up: bool = True
    """Whether it leaves its host's row upward."""

    @property
    def near(self):
        """The column that is joined to the host."""
        return self.columns[-1] if self.by_last else self.columns[0]

    @property
    def near_run(self):
        """The run at the host, nearest element first."""
        stops = self.near.leg.runs[-1 if self.by_last else 0].stops
        return list(reversed(stops)) if self.by_last else list(stops)

    def walk(self):
        """Yield this plan and all below it."""
        yield self
        for branch in self.branches:
            yield from branch.walk()


def plan_of(layout, branch, outward=1, depth=0):
    """Return the Plan of a tree of Branches, or None where the line has no elements."""
    legs = legs_of(layout, layout.lines[branch.line])
    if not legs:
        return None
    plan = Plan(branch.line, [], port=branch.port, by_last=branch.by_last)
    for place, leg in enumerate(legs):
        side = outward
        if depth == 0:
            side = -1 if place == 0 and len(legs) > 1 else 1
        plan.columns.append(
            Column(branch.line, leg, side, depth, place == 0, place == len(legs) - 1)
        )
    if branch.port is not None:
        _leave_host(layout, plan, layout.elements[branch.port[0]])
    for child in branch.branches:
        side = _side_of(plan, child.port[0])
        made = plan_of(layout, child, side, depth + 1)
        if made is not None:
            plan.branches.append(made)
    return plan


def _leave_host(layout, plan, host):
    """Settle whether a joined line leaves upward, downward, or beside its port."""
    leg = plan.near.leg
    if leg.spans:
        plan.up = leg.down == plan.by_last
        return
    ports = ports_of(host)
    plan.up = True
    if len(plan.near_run) == 1 and len(plan.near_run[0].ports) == 1 and plan.port[1] in ports.sides:
        plan.near.beside = len(ports.sides) == 1
        flow_down = host_flows_down(layout, host)
        if len(ports.sides) == 2:
            later = ports.anchors[plan.port[1]][0] > 0
            plan.up = later != flow_down
    leg.down = plan.up == plan.by_last


def host_flows_down(layout, host):
    """Tell whether a line runs down the page through an element."""
    for leg in legs_of(layout, layout.lines[host.line]):
        if any(host is stop for run in leg.runs for stop in run.stops):
            return leg.down
    return True


def _side_of(plan, key):
    for column in plan.columns:
        if any(stop.id == key for run in column.leg.runs for stop in run.stops):
            return column.outward
    return plan.columns[-1].outward


def in_order(plan, height_of):
    """Return the Columns of a plan from left to right.

    `height_of(port)` is where a port lies: of the lines that leave upward the highest is nearest
    to its host, of those that leave downward the lowest, so that they do not cross.
    """
    left, right = [], []
    for branch in sorted(plan.branches, key=lambda b: _nearness(b, height_of)):
        block = in_order(branch, height_of)
        if branch.near.outward < 0:
            left = [*block, *left]
        else:
            right = [*right, *block]
    own = list(plan.columns)
    if plan.port is not None:
        outward = plan.near.outward
        nearest_first = list(reversed(own)) if plan.by_last else own
        own = nearest_first if outward > 0 else list(reversed(nearest_first))
    return [*left, *own, *right]


def _nearness(branch, height_of):
    y = height_of(branch.port)
    return (0, y) if branch.up else (1, -y)
