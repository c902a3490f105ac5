"""Which port is joined to which, and whether each one is joined once."""

from chain.layout.layout import Joint
from chain.reading.ends import id_of
from chain.reading.problems import MistakeError


class JointRecord:
    """The joints of a layout as they are found."""

    def __init__(self, context, *, sound):
        self.problems = context.problems
        self.joints = []
        self.sound = sound
        """False where elements or joints are missing because of mistakes noted already."""
        self.excused, self.numbered_ids = set(), set()
        """Ids and ports that are not told to be free; ids of which single copies are named."""
        self._used, self._parent = {}, {}

    def join(self, left, right):
        """Join two ports: each ((id, port), what messages call it, place), None where unknown."""
        for side in (left, right):
            if side is not None:
                self._use(*side)
        if left is None or right is None:
            self.sound = False
            return
        (first, said, _), (second, _, place) = left, right
        if first == second:
            self.problems.add(
                place, f"the port {said} is joined to itself", "join it to another port"
            )
        self.joints.append(Joint(first, second, place))
        self._parent[self._root(first[0])] = self._root(second[0])

    def _use(self, port, said, place):
        before = self._used.setdefault(port, place)
        if before != place:
            self.problems.add(
                place, f"the port {said} is used twice, first at {before}",
                "a port has one joint: join another port, or put a splitter or coupler there",
            )

    def _root(self, id):
        parent = self._parent
        root = parent.setdefault(id, id)
        while root != parent[root]:
            parent[root] = parent[parent[root]]
            root = parent[root]
        parent[id] = root
        return root

    # -- checks ---------------------------------------------------------------------------------

    def check_free(self, written_lines):
        """Note every port that is neither joined nor loaded."""
        if not written_lines.whole:
            return
        for draft in written_lines.drafts.values():
            if draft.id in self.excused:
                continue
            for number in draft.row.numbers:
                element = draft.copy(number)
                if element is None:
                    continue
                id = id_of(draft, number)
                for port in element.ports:
                    if (id, port) not in self._used and port not in self.excused:
                        self._note_free(draft, element, number, id, port)

    def _note_free(self, draft, element, number, id, port):
        one = number in draft.differing or draft.id in self.numbered_ids
        said = id if one else draft.id
        self.problems.add(
            element.place, f"the port {said}.{port} is free", _what_to_do(draft, element, port)
        )

    def check(self, start, end, number, called, place):
        """Note that two Ends are not connected; nothing is said where joints are missing."""
        (first, _), (second, _) = start.of(number), end.of(number)
        if not self.sound:
            return
        if self._root(first) != self._root(second):
            self.problems.note(
                MistakeError(
                    place,
                    f"{called}: {start.written.text} and {end.written.text} are not connected",
                    "name two ports that joints connect, or join their lines",
                )
            )


def _what_to_do(draft, element, port):
    items = draft.row.items
    named = f"`{{join: {draft.id}.{port}}}` as first or last item of another line"
    if len(element.ports) == 1:
        return f"put {draft.id} at an end of a line with other elements, or write {named}"
    ends = []
    if items[0] is draft and port == element.enter:
        ends.append(f"begin line {element.line} with a port, a termination or a join")
    elif items[-1] is draft and port == element.leave:
        ends.append(f"end line {element.line} with a port, a termination or a join")
    return ", or ".join([*ends, f"put `loads: [{port}]` on {draft.id}", f"write {named}"])
