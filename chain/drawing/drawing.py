"""From a layout to a drawing: which lines, in which columns, as SVG."""

from chain.drawing.columns import plan_of
from chain.drawing.family import forest, joins_of, series, trees_from
from chain.drawing.geometry import Placing
from chain.drawing.picture import Picture
from chain.drawing.wires import Wiring
from chain.equal_lines import equal_lines
from chain.text import si

_MOST_ROUNDS = 12
"""How often joints without a clear way may be turned into words and everything placed again."""


def draw(layout, lines=None):
    """Return SVG text of a layout's lines, equal copies once; the same bytes for the same layout.

    `lines` (names) draws these, what is joined to them in grey; all lines are drawn without it.
    """
    groups = equal_lines(layout)
    if lines is None:
        return Drawing(layout, forest(layout, [g.first for g in groups]), groups).svg()
    first_of = {name: group.first for group in groups for name in group.lines}
    names = [first_of[name] for name in lines]
    trees = trees_from(layout, names, [group.first for group in groups])
    return Drawing(layout, trees, groups, grey=True).svg()


class Drawing:
    """A drawing of trees of lines (chain.drawing.family), worked out when it is made."""

    def __init__(self, layout, trees, groups, *, grey=False):
        self.layout = layout
        self._group_of = {name: group for group in groups for name in group.lines}
        made = (plan_of(layout, tree) for tree in trees)
        self.plans = [plan for plan in made if plan is not None]
        if not grey:
            for plan in self._every_plan():
                for column in plan.columns:
                    column.depth = 0
        self._tones = {}
        for tone in layout.tones.values():
            said = f"{tone.name} {si(tone.frequency_hz, 'Hz')}"
            self._tones.setdefault(tone.into, []).append(said)
        self.stubs = self._undrawn_joints()
        for _ in range(_MOST_ROUNDS):
            self.placing = Placing(layout, self.plans, self.id_text, self._also, self.stubs)
            self.wiring = Wiring(layout, self.placing, self.stubs)
            if not self.wiring.undrawn:
                break
            for one, other in self.wiring.undrawn:
                self.stubs[one], self.stubs[other] = self._words(other), self._words(one)

    @property
    def columns(self):
        """How many columns it has."""
        return len(self.placing.sheet.columns)

    def _every_plan(self):
        for plan in self.plans:
            yield from plan.walk()

    def id_text(self, key):
        """Return what an element is called on the page."""
        return self._group_of[self.layout.elements[key].line].id_text(key)

    def _also(self, element):
        return self._tones.get(element.id, ())

    def _words(self, port):
        line = self._group_of[self.layout.elements[port[0]].line].name
        return f"{self.id_text(port[0])}.{port[1]} ({line})"

    def _undrawn_joints(self):
        """Return {port: words} of joints to lines that are not drawn."""
        inside = series(self.layout)
        lines = [plan.line for plan in self._every_plan()]
        found = {}
        for name in lines:
            for own, other in joins_of(self.layout, self.layout.lines[name], inside):
                if self.layout.elements[other[0]].line not in lines:
                    found[own] = self._words(other)
        return found

    def svg(self):
        """Return the SVG text."""
        headers, told = {}, []
        for plan in self._every_plan():
            group = self._group_of[plan.line]
            headers[plan.line] = (group.name, f"× {group.count}" if group.count > 1 else "")
            told.append(self._told(plan, group))
        picture = Picture(self.layout, self.placing, self.wiring, self.id_text)
        return picture.svg(self.layout.title, " ".join(told), headers)

    def _told(self, plan, group):
        """Return a sentence on a line for those who do not see the drawing."""
        said = []
        for key in self.layout.lines[plan.line].elements:
            element = self.layout.elements[key]
            where = element.stage or f"{element.from_stage} to {element.to_stage}"
            said.append(f"{self.id_text(key)} {element.kind.name} ({where})")
        joined = f", joined to {plan.port[0]}.{plan.port[1]}" if plan.port else ""
        many = f", {group.many}" if group.many else ""
        return f"Line {group.name}{many}{joined}: {', '.join(said)}."
