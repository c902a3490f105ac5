"""Which lines are drawn together, and which hangs on which: the tree of joined lines."""

from dataclasses import dataclass, field


@dataclass
class Branch:
    """A line drawn because its end is joined to a port of another."""

    line: str
    port: tuple[str, str] | None = None
    """The port of the other line that it is joined to; None for a line on its own."""
    by_last: bool = False
    """True where its last element is joined, False where its first is."""
    branches: list["Branch"] = field(default_factory=list)


def ends_of(layout, line):
    """Return the ports by which a line is joined to others at its beginning and at its end."""
    if not line.elements:
        return None, None
    first, last = layout.elements[line.elements[0]], layout.elements[line.elements[-1]]
    begin = (first.id, first.enter) if first.enter in first.ports else None
    end = (last.id, last.leave) if last.leave in last.ports else None
    if len(line.elements) > 1:
        # A part with one port has it in use toward its neighbour.
        begin = None if first.enter == first.leave else begin
        end = None if last.enter == last.leave else end
    elif begin == end:
        end = None
    return _if_joined(layout, begin), _if_joined(layout, end)


def _if_joined(layout, port):
    return port if port is not None and port in layout.partners else None


def series(layout):
    """Return the joints (as sets of two ports) between neighbours in a line."""
    found = set()
    for line in layout.lines.values():
        for one, other in zip(line.elements, line.elements[1:], strict=False):
            left, right = layout.elements[one], layout.elements[other]
            found.add(frozenset(((left.id, left.leave), (right.id, right.enter))))
    return found


def joins_of(layout, line, inside):
    """Return [(own port, other port)] of a line's joints that are not between neighbours."""
    found = []
    for key in line.elements:
        for port in layout.elements[key].ports:
            other = layout.partners.get((key, port))
            if other is not None and frozenset(((key, port), other)) not in inside:
                found.append(((key, port), other))
    return found


def forest(layout, names):
    """Return the trees of Branches of the lines `names`, each line once."""
    inside, wanted, taken, trees = series(layout), list(names), set(), []
    hosts_first = sorted(wanted, key=lambda name: _hangs(layout, name, set(wanted)))
    for name in hosts_first:
        if name not in taken:
            taken.add(name)
            trees.append(_tree(layout, Branch(name), set(wanted), taken, inside, None))
    order = {name: place for place, name in enumerate(wanted)}
    return sorted(trees, key=lambda tree: order[tree.line])


def trees_from(layout, names, wanted, inside):
    """Return a tree for each line in `names`, with the lines of `wanted` joined to it.

    `inside` is what `series` gives.
    """
    taken = set(names)
    return [
        _tree(layout, Branch(name), set(wanted), taken, inside, 1) for name in dict.fromkeys(names)
    ]


def _hangs(layout, name, wanted):
    """Tell whether a line's own end is joined to the middle of another drawn line."""
    begin, end = ends_of(layout, layout.lines[name])
    for port in (begin, end):
        if port is None:
            continue
        other = layout.elements[layout.partners[port][0]].line
        if other != name and other in wanted and \
                layout.partners[port] not in ends_of(layout, layout.lines[other]):
            return True
    return False


def _tree(layout, branch, wanted, taken, inside, depth):
    queue = [(branch, 0)]
    while queue:
        here, level = queue.pop(0)
        if depth is not None and level >= depth:
            continue
        for own, other in joins_of(layout, layout.lines[here.line], inside):
            name = layout.elements[other[0]].line
            if name in taken or name not in wanted:
                continue
            begin, end = ends_of(layout, layout.lines[name])
            if other in (begin, end):
                taken.add(name)
                child = Branch(name, own, by_last=other == end)
                here.branches.append(child)
                queue.append((child, level + 1))
    return branch
