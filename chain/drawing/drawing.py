"""From a layout to a drawing: which lines, in which columns, as SVG."""

from chain.drawing.columns import plan_of
from chain.drawing.family import Branch, forest, joins_of, series, trees_from
from chain.drawing.geometry import Placing
from chain.drawing.legend import legend, legend_size
from chain.drawing.legs import legs_of
from chain.drawing.picture import Picture
from chain.drawing.poster import Row, on_sheets, poster, stacked
from chain.drawing.wires import Wiring
from chain.layout.equal_lines import equal_lines
from chain.writing.numbers import si

_MAX_ROUNDS = 12
"""How often joints without a clear route may be turned into words and everything placed again."""


MAX_COLUMNS = 6
"""Columns of a drawing that has to be legible on a page."""

MAX_ACROSS = 12
"""Columns of a drawing by itself; what is more goes into a row below."""

SHEET_ROWS = 4
"""Rows that are tried on a sheet to pin up."""

SHEET_COLUMNS = 20
"""Columns of a row that a sheet to pin up holds at legible size."""


def draw(layout, lines=None):
    """Return SVG text of a layout's lines, equal copies once; the same bytes for the same layout.

    `lines` (names) draws these, what is joined to them in grey; all lines are drawn without it.
    """
    groups = equal_lines(layout)
    if lines is None:
        trees = forest(layout, [group.first for group in groups])
        most = max(MAX_ACROSS, _widest(layout, trees))
        return stacked([d.row() for d in _parts(layout, groups, trees, most)], layout.title)
    first_of = {name: group.first for group in groups for name in group.lines}
    names = [first_of[name] for name in lines]
    inside = series(layout)
    trees = trees_from(layout, names, [group.first for group in groups], inside)
    rows = [
        Drawing(layout, part, groups, grey=True, inside=inside).row()
        for part in _packed(layout, trees, max(MAX_ACROSS, _widest(layout, trees)))
    ]
    return stacked(rows, layout.title)


def draw_line(layout, line, groups, inside):
    """Return SVG of one line with the lines joined to it in grey, as far as a page holds them.

    `inside` is what chain.drawing.family.series gives.
    """
    [tree] = trees_from(layout, [line], [group.first for group in groups], inside)
    _prune(layout, tree, MAX_COLUMNS)
    return Drawing(layout, [tree], groups, grey=True, inside=inside).svg()


def draw_in_parts(layout, groups):
    """Yield SVGs that show every line of a layout once, each as wide as a page holds."""
    trees = forest(layout, [group.first for group in groups])
    for drawing in _parts(layout, groups, trees, MAX_COLUMNS):
        yield drawing.svg()


def posters(layout, groups, below):
    """Return [(SVG, True where it lies)] of the sheets of A3 that show every line of a layout.

    One sheet where that is legible; `below` is what stands at the foot of each.
    """
    names = [group.first for group in groups]
    trees = forest(layout, names)
    every = sum(_columns(layout, tree) for tree in trees)
    # No row so short that lines joined to each other would stand apart.
    least = _widest(layout, trees)
    most = sorted({
        min(max(-(-every // rows), least), SHEET_COLUMNS) for rows in range(1, SHEET_ROWS + 1)
    })
    across = max(most[-1], MAX_COLUMNS)
    symbols = Row(legend(layout, across), *legend_size(layout, across))
    arrangements = [
        [d.row() for d in _parts(layout, groups, forest(layout, names), columns)]
        for columns in most
    ]
    sheets = on_sheets(arrangements, symbols)
    found = []
    for place, rows in enumerate(sheets, 1):
        part = f", sheet {place} of {len(sheets)}" if len(sheets) > 1 else ""
        found.append(poster(rows, symbols, f"{layout.title}{part}", below))
    return found


def _parts(layout, groups, trees, most):
    """Yield Drawings that show trees of lines, each of at most `most` columns.

    A tree that is wider is pruned; what is cut off follows as trees of its own.
    """
    inside = series(layout)
    waiting, narrow = list(trees), []
    while waiting:
        tree = waiting.pop(0)
        waiting = _prune(layout, tree, most) + waiting
        narrow.append(tree)
    for part in _packed(layout, narrow, most):
        yield Drawing(layout, part, groups, inside=inside)


def _packed(layout, trees, most):
    """Yield trees in parts of at most `most` columns, in their order."""
    part, columns = [], 0
    for tree in trees:
        own = _columns(layout, tree)
        if part and columns + own > most:
            yield part
            part, columns = [], 0
        part.append(tree)
        columns += own
    if part:
        yield part


def _widest(layout, trees):
    """Return the columns of the widest tree, as many at most as a sheet holds."""
    return min(max((_columns(layout, tree) for tree in trees), default=1), SHEET_COLUMNS)


def _columns(layout, tree):
    own = len(legs_of(layout, layout.lines[tree.line]))
    return own + sum(_columns(layout, branch) for branch in tree.branches)


def _prune(layout, tree, most):
    """Take branches off a tree that has more columns than `most`; return them as trees."""
    left = most - len(legs_of(layout, layout.lines[tree.line]))
    kept, cut = [], []
    for branch in tree.branches:
        cut += _prune(layout, branch, max(left, 0))
        own = _columns(layout, branch)
        if own <= left:
            kept.append(branch)
            left -= own
        else:
            cut.append(Branch(branch.line, branches=branch.branches))
    tree.branches = kept
    return cut


class Drawing:
    """A drawing of trees of lines (chain.drawing.family), worked out when it is made."""

    def __init__(self, layout, trees, groups, *, grey=False, inside=None):
        self.layout, self._inside = layout, series(layout) if inside is None else inside
        self._group_of = {name: group for group in groups for name in group.lines}
        made = (plan_of(layout, tree) for tree in trees)
        self.plans = [plan for plan in made if plan is not None]
        if not grey:
            for plan in self._every_plan():
                for column in plan.columns:
                    column.depth = 0
        self._tones = {}
        for tone in layout.tones.values():
            group = self._group_of[layout.elements[tone.into].line]
            said = f"{group.tone_text(tone)} {si(tone.frequency_hz, 'Hz')}"
            self._tones.setdefault(tone.into, []).append(said)
        self.stubs = self._undrawn_joints()
        for _ in range(_MAX_ROUNDS):
            self.placing = Placing(layout, self.plans, self.id_text, self._also, self.stubs)
            self.wiring = Wiring(layout, self.placing, self.stubs, self._inside)
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
        element = self.layout.elements[key]
        return self._group_of[element.line].id_text(element)

    def _also(self, element):
        return self._tones.get(element.id, ())

    def _words(self, port):
        line = self._group_of[self.layout.elements[port[0]].line].name
        return f"{self.id_text(port[0])}.{port[1]} ({line})"

    def _undrawn_joints(self):
        """Return {port: words} of joints to lines that are not drawn."""
        lines = [plan.line for plan in self._every_plan()]
        found = {}
        for name in lines:
            for own, other in joins_of(self.layout, self.layout.lines[name], self._inside):
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

    def row(self):
        """Return it as a Row of a larger picture."""
        return Row(self.svg(), round(self.placing.sheet.width), round(self.placing.sheet.height))

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
