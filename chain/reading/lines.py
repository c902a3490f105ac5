"""Rows of elements as they are written: items, joins, how many copies, which of them differ."""

from collections import deque
from dataclasses import dataclass, field

from chain.reading import declared
from chain.reading.elements import ElementDraft, read_draft, read_element
from chain.reading.fields import read_fields, rows_of
from chain.reading.names import WrittenEnd, check_name, written_end
from chain.reading.nodes import Mapping, Sequence
from chain.reading.problems import MistakeError
from chain.reading.sections import given
from chain.reading.values import entries_of, text_of, what_it_is
from chain.suggestions import choose, shown
from components.quantities import Quantity

_LINE = declared.by_name(declared.LINE)
_JOIN = "write it like {join: C1.coupled}"


@dataclass
class Row:
    """A line as written; `copies` is None where there is just one."""

    name: str
    place: object
    items: list = field(default_factory=list)
    """ElementDrafts, and a WrittenEnd where the line's end joins another line."""
    copies: int | None = None
    copies_place: object = None
    copies_wrong: bool = False
    """True where their number is given and could not be read."""
    excepted: Mapping | None = None
    note: str | None = None
    current: Quantity | None = None
    current_place: object = None

    @property
    def drafts(self):
        """The elements among the items."""
        return [item for item in self.items if isinstance(item, ElementDraft)]

    @property
    def joins(self):
        """The joins among the items."""
        return [item for item in self.items if isinstance(item, WrittenEnd)]

    @property
    def numbers(self):
        """Numbers of the copies, or None alone."""
        return [None] if self.copies is None else range(1, self.copies + 1)


class WrittenLines:
    """Every line and element as written, by name and id."""

    def __init__(self):
        self.rows, self.drafts = {}, {}
        self.whole = True
        """False where something of a line could not be made out, so that ports may seem free."""

    @property
    def sound(self):
        """Tell whether every element could be read."""
        return self.whole and all(b.element is not None for b in self.drafts.values())


def read_lines(node, context, parts, files):
    """Return the WrittenLines of the lines in a section."""
    written_lines = WrittenLines()
    count = 0
    for name, key, value in rows_of(node, context, "lines"):
        count += 1
        try:
            check_name(key, "lines")
        except MistakeError as mistake:
            context.problems.note(mistake)
        written_lines.rows[name] = _read_row(name, key.place, value, written_lines, context, parts)
    if not count:
        written_lines.whole = False
    if not count and "lines" not in files.meant and (not given(node) or node.size == 1):
        context.problems.add(
            files.root.place if node is None else node.place, "the layout has no lines",
            "add `lines:`, each a list of elements between two ends",
        )
    _share_copies(written_lines)
    _check_counts(written_lines, context)
    for row in written_lines.rows.values():
        _read_exceptions(row, context, parts)
    return written_lines


def _read_row(name, place, node, written_lines, context, parts):
    row, elements = Row(name, place), node
    if isinstance(node, Mapping):
        found = read_fields(node, _LINE, context, f"line {name}", dot=f"lines.{name}.")
        elements = found.get("elements")
        row.copies, row.copies_place = found.get("copies"), found.places.get("copies")
        row.copies_wrong = "copies" in found.nodes and row.copies is None
        row.excepted, row.note = found.get("except"), found.get("note")
        row.current, row.current_place = found.get("current"), found.places.get("current")
        written_lines.whole &= not found.spoilt
    if not isinstance(elements, Sequence) or not elements.items:
        written_lines.whole = False
        if elements is not None:
            what = "is empty" if isinstance(elements, Sequence) else what_it_is(elements)
            context.problems.add(
                elements.place, f"line {name} {what}",
                "write a list of elements, each behind a '- '",
            )
        return row
    last = len(elements.items) - 1
    for index, item in enumerate(elements.items):
        try:
            at_end = index in (0, last)
            row.items.append(_read_item(item, row, at_end, written_lines, context, parts))
        except MistakeError as mistake:
            context.problems.note(mistake)
            written_lines.whole = False
    return row


def _read_item(node, row, at_end, written_lines, context, parts):
    if isinstance(node, Mapping) and "join" in node.entries:
        return _read_join(node, row, at_end)
    draft = read_draft(node, row.name, context, parts)
    before = written_lines.drafts.setdefault(draft.id, draft)
    if before is not draft:
        raise MistakeError(
            draft.place, f"the id {draft.id} is given twice, first at {before.place}",
            "an id names one element: choose another",
        )
    draft.row = row
    return draft


def _read_join(node, row, at_end):
    for text, (key, _) in node.entries.items():
        if text != "join":
            raise MistakeError(key.place, f"{shown(text)} stands beside a join", _JOIN)
    value = node.get("join")
    text_of(value, "join", _JOIN)
    if not at_end:
        raise MistakeError(
            value.place, f"a join stands inside of line {row.name}",
            "a join is the first or last item of a line: split the line here",
        )
    return written_end(value)


# -- copies -------------------------------------------------------------------------------------


def _share_copies(written_lines):
    """Give a line that joins copied elements as many copies as they have."""
    joining = {}
    for row in written_lines.rows.values():
        for end in row.joins:
            target = written_lines.drafts.get(end.id)
            if end.number is None and target is not None and target.row is not None:
                joining.setdefault(target.row.name, []).append(row)
    waiting = deque(row for row in written_lines.rows.values() if row.copies is not None)
    while waiting:
        row = waiting.popleft()
        for other in joining.get(row.name, ()):
            if other.copies is None:
                other.copies = row.copies
                waiting.append(other)


def _check_counts(written_lines, context):
    total = 0
    for row in written_lines.rows.values():
        total += (row.copies or 1) * len(row.items)
        if total > declared.MAX_ELEMENTS:
            context.problems.add(
                row.copies_place or row.place,
                f"the layout has more than {declared.MAX_ELEMENTS:,} elements, copies counted",
                "take fewer copies, or part the layout",
            )
            context.problems.refuse_if_any()
        for end in row.joins:
            _check_join_count(row, end, written_lines, context)


def _check_join_count(row, end, written_lines, context):
    target = written_lines.drafts.get(end.id)
    if target is None or end.number is not None:
        return
    theirs = target.row.copies
    if (row.copies or 1) == (theirs or 1):
        return
    written_lines.whole = False
    if theirs is None:
        context.problems.add(
            end.place, f"the {row.copies} copies of line {row.name} would all join {end.text}",
            f"give line {target.row.name} as many copies",
        )
    else:
        context.problems.add(
            end.place, f"line {row.name} has {row.copies} copies, and {end.id} has {theirs}",
            "give both lines as many copies",
        )


def _read_exceptions(row, context, parts):
    """Read the elements of copies that differ from the others."""
    if row.excepted is None or row.copies_wrong:
        return
    try:
        numbered = list(entries_of(row.excepted, f"except of line {row.name}", _EXCEPT))
    except MistakeError as mistake:
        context.problems.note(mistake)
        return
    if row.copies is None:
        context.problems.add(
            row.excepted.place, f"line {row.name} has no copies to be excepted", "add `copies:`"
        )
        return
    for text, key, node in numbered:
        if not text.isdecimal() or len(text) > 9 or not 1 <= int(text) <= row.copies:
            context.problems.add(
                key.place, f"line {row.name} has no copy {shown(text)}",
                f"give a number from 1 to {row.copies}",
            )
            continue
        _read_exception(row, int(text), node, context, parts)


_EXCEPT = "write it like {7: {H1: {state: dead}}}"


def _read_exception(row, number, node, context, parts):
    own = {draft.id: draft for draft in row.drafts}
    called = f"copy {number} of line {row.name}"
    try:
        for id, key, changes in entries_of(node, called, _EXCEPT):
            if id not in own:
                context.problems.add(
                    key.place, f"{called} has no element {shown(id)}", choose(id, own, "elements")
                )
                continue
            _differ(own[id], number, changes, called, context, parts)
    except MistakeError as mistake:
        context.problems.note(mistake)


def _differ(draft, number, changes, called, context, parts):
    """Read one element of one copy, its exceptions over what all copies have."""
    if not isinstance(changes, Mapping):
        context.problems.add(
            changes.place, f"{draft.id} in {called} {what_it_is(changes)}", _EXCEPT
        )
        return
    for key in ("id", "kind"):
        if key in changes.entries:
            context.problems.add(
                changes.entries[key][0].place,
                f"{called} cannot change the {key} of {draft.id}",
                "change other keys, or write a line of its own",
            )
            return
    whole = changes.over(draft.node)
    draft.differing[number] = read_element(
        draft.id, whole, draft.row.name, context, parts
    )

