"""Rows of a drawing: at which height in its stage's band each element stands."""

import math

from chain.drawing.spots import ports_of

ROW = 56.0
"""Height of a row, pixels."""


def size_of(element):
    """Return how many rows an element takes."""
    return max(1, math.ceil((2 * ports_of(element).reach + 16) / ROW))


_MAX_LIFTS = 40
"""How often bands may grow for lines joined to joined lines; each round settles one more level."""


class Rows:
    """Row of each element within its stage's band, from the top; and each band's height in rows."""

    def __init__(self, plans, stages):
        self.height = [0] * stages
        self._lead = [0] * stages
        self._from = {}
        self._plans = plans
        for plan in plans:
            self._settle(plan)
        for _ in range(_MAX_LIFTS):
            if not self._hang_branches():
                break

    def row(self, key):
        """Return the top row of an element."""
        stage, place, size, from_top = self._from[key]
        return place + self._lead[stage] if from_top else self.height[stage] - place - size

    def middle(self, key):
        """Return the middle of an element's rows, counted in rows from the top of the band."""
        return self.row(key) + self._from[key][2] / 2

    def __contains__(self, key):
        return key in self._from

    def _settle(self, plan):
        need_up, need_down = self._needs(plan)
        for place, column in enumerate(plan.columns):
            came_from = plan.columns[place - 1].leg if place else None
            self._settle_leg(plan, column, came_from, need_up, need_down)
        for branch in plan.branches:
            self._settle(branch)

    @staticmethod
    def _needs(plan):
        """Return {id: rows} that joined lines need above and below an element of this line."""
        up, down = {}, {}
        for branch in plan.branches:
            rows = 0 if branch.near.beside else sum(size_of(e) for e in branch.near_run)
            side = up if branch.up else down
            side[branch.port[0]] = max(side.get(branch.port[0], 0), rows)
        return up, down

    def _settle_leg(self, plan, column, came_from, need_up, need_down):
        leg = column.leg
        near = self._near_run_index(plan, column)
        for index, run in enumerate(leg.runs):
            if index == near:
                continue
            begins_turned = index == 0 and came_from is not None
            ends_turned = index == len(leg.runs) - 1 and leg.turns
            turn = came_from.turn if begins_turned else leg.turn if ends_turned else None
            spare = 1 if turn is not None else 0
            # A leg fills its band from where it comes in; toward a turn it leaves the turn's row.
            first = spare if begins_turned else 0
            last = spare if ends_turned else 0
            order = run.stops
            before, behind = (need_up, need_down) if leg.down else (need_down, need_up)
            self._stack(run.stage, order, first, last, before, behind, from_top=leg.down)

    @staticmethod
    def _near_run_index(plan, column):
        if plan.port is None or column is not plan.near:
            return None
        return len(column.leg.runs) - 1 if plan.by_last else 0

    def _stack(self, stage, stops, first, last, before, behind, *, from_top):
        cursor = first
        for element in stops:
            cursor = max(cursor, before.get(element.id, 0))
            size = size_of(element)
            self._from[element.id] = (stage, cursor, size, from_top)
            self._need(stage, cursor + size + behind.get(element.id, 0))
            cursor += size
        self._need(stage, cursor + last)

    def _need(self, stage, rows):
        self.height[stage] = max(self.height[stage], rows)

    def _hang_branches(self):
        """Place what joined lines have on their hosts' stages; True where a band had to grow."""
        grown = list(self.height)
        for plan in self._plans:
            for branch in plan.walk():
                if branch.port is not None:
                    self._hang(branch)
        return grown != self.height

    def _hang(self, branch):
        host, near = branch.port[0], branch.near
        stage = near.leg.runs[-1 if branch.by_last else 0].stage
        if host in self._from and self._from[host][0] == stage:
            top = self.row(host)
            below = top + self._from[host][2]
        else:
            top, below = self.height[stage], 0
        for element in branch.near_run:
            size = size_of(element)
            if near.beside:
                place = top
            elif branch.up:
                place = top = top - size
            else:
                place, below = below, below + size
            self._need(stage, place + size)
            self._from[element.id] = (stage, place - self._lead[stage], size, True)
        if top < 0:
            self._lead[stage] -= top
            self.height[stage] -= top
