"""From lines as written to every element, line and joint, copies made."""

from chain.layout.layout import Element, Line
from chain.reading.context import SpoiltError
from chain.reading.elements import ElementDraft
from chain.reading.ends import find_end, id_of
from chain.reading.joints import JointRecord
from chain.reading.names import copy_of, named_copy, numbered
from chain.reading.problems import MistakeError
from chain.suggestions import nearest, shown
from components.settings import Settings


def expand(written_lines, tones, context):
    """Return (elements by id, lines by name, the JointRecord of their joints)."""
    elements, lines = {}, {}
    record = JointRecord(context, sound=written_lines.sound)
    joins = {
        name: _found_joins(row, written_lines, record, context)
        for name, row in written_lines.rows.items()
    }
    for row in written_lines.rows.values():
        makers = [_Maker(draft, tones, context) for draft in row.drafts]
        unfit, joined = _check_row(row, record, context), not _without_ports(row)
        for number in row.numbers:
            name = numbered(row.name, number)
            ids = []
            for maker in makers:
                element = maker.make(number, name)
                if element is not None:
                    elements[element.id] = element
                    ids.append(element.id)
            lines[name] = Line(
                name, tuple(ids), row.place, copy_of(row.name, number), number, row.note,
                None if row.current is None else row.current.value, row.current_place,
            )
            if joined:
                _join_row(row, number, joins[row.name], unfit, record)
    record.check_free(written_lines)
    return elements, lines, record


class _Maker:
    """Makes the copies of one element; values are shared wherever they are equal."""

    def __init__(self, draft, tones, context):
        self.draft, self._tones = draft, tones
        for element in (draft.element, *draft.differing.values()):
            if element is not None:
                self._check_tones(element, context)

    def make(self, number, line):
        """Return the element of one copy, or None where it is wrong."""
        element = self.draft.copy(number)
        if element is None or number is None:
            return element
        return Element(
            numbered(element.id, number), element.kind, self._settings(element, number), line,
            element.place, element.ports, element.enter, element.leave, element.stage,
            element.from_stage, element.to_stage, element.via, element.part, element.value_places,
            copy_of=element.id, number=number,
        )

    def _named_tones(self, element):
        """Return (parameter, tone's name) for the tones that an element names."""
        if not self._tones:
            return []
        values = element.settings.values
        return [
            (name, values[name]) for name, parameter in element.kind.declared().items()
            if getattr(parameter.reads, "to", None) == "tone" and name in values
        ]

    def _settings(self, element, number):
        changes = {
            name: numbered(tone, number) for name, tone in self._named_tones(element)
            if tone in self._tones and self._tones[tone].copies is not None
        }
        if not changes:
            return element.settings
        return Settings(element.kind, {**element.settings.values, **changes})

    def _check_tones(self, element, context):
        for name, tone in self._named_tones(element):
            problem = self._tone_problem(tone)
            if problem:
                context.problems.add(
                    element.place_of(name), f"{element.id}.{name}: {problem[0]}", problem[1]
                )

    def _tone_problem(self, tone):
        """Return what is wrong with naming a tone here, and what would be right, or None."""
        base, number = named_copy(tone)
        whole, one = self._tones.get(tone), self._tones.get(base)
        if whole is not None:
            if whole.copies in (None, self.draft.row.copies):
                return None
            return f"the tone {tone} has {whole.copies} copies", f"name one of them, like {tone}-1"
        if one is None or (number is not None and 1 <= number <= (one.copies or 0)):
            return None
        if one.copies is None:
            return f"the tone {base} has no copies", f"write {base} alone"
        return f"there is no tone {shown(tone)}", f"{base} has copies from 1 to {one.copies}"


def _found_joins(row, written_lines, record, context):
    """Return the End of each join of a line, None where it is wrong."""
    found = {}
    for written in row.joins:
        try:
            found[written] = find_end(written, written_lines, f"line {row.name}: join")
            if written.number is not None:
                record.numbered_ids.add(written.id)
            continue
        except MistakeError as mistake:
            context.problems.note(mistake)
        except SpoiltError:
            pass
        found[written] = None
        # The port that was meant stays free, which is not one more mistake.
        record.excused |= {nearest(written.id, written_lines.drafts), written.port} - {None}
    return found


def _check_row(row, record, context):
    """Return the items, by index, through which the line cannot go on; each is noted."""
    unfit = set()
    if _without_ports(row):
        return unfit
    last = len(row.items) - 1
    for index, item in enumerate(row.items):
        if not isinstance(item, ElementDraft):
            continue
        for element in (item.element, *item.differing.values()):
            if element is None:
                continue
            what = _unfit(element, index, last)
            if what:
                unfit.add(index)
                record.excused.add(element.id)
                context.problems.add(element.place, f"{element.id} {what[0]}", what[1])
    return unfit


def _without_ports(row):
    """Tell whether a line only lists elements that have no ports, so that nothing is joined."""
    elements = [item.element for item in row.drafts if item.element is not None]
    if not elements or row.joins:
        return False
    return not any(element.kind.ports(element.settings) for element in elements)


def _unfit(element, index, last):
    if not element.kind.ports(element.settings):
        return (
            f"has no microwave ports and stands in line {element.line} beside what has",
            "give it a line of its own, or one with others of its kind",
        )
    if 0 < index < last and element.enter == element.leave is not None:
        free = "one port" if len(element.ports) == 1 else f"one way in, {element.enter!r},"
        return (
            f"has {free} and stands inside line {element.line}",
            "a line ends there: begin a new one behind it, or move it to an end",
        )
    if (index > 0 and element.enter is None) or (index < last and element.leave is None):
        return (
            f"carries a load where line {element.line} goes on",
            "take that port out of `loads`, or name other ports in `enter` and `leave`",
        )
    return None


def _join_row(row, number, joins, unfit, record):
    """Join the neighbours of one copy of a line."""
    for index in range(len(row.items) - 1):
        record.join(
            *(
                _port(row.items[at], number, joins, side, at in unfit, record)
                for at, side in ((index, "leave"), (index + 1, "enter"))
            )
        )


def _port(item, number, joins, side, unfit, record):
    """Return ((id, port), what messages call it, place), or None where that is not known."""
    if isinstance(item, ElementDraft):
        element = item.copy(number)
        if element is None or unfit:
            return None
        id, port = id_of(item, number), getattr(element, side)
        said = id if number in item.differing else item.id
        return (id, port), f"{said}.{port}", element.place
    end = joins[item]
    if end is None or end.port is None:
        return None
    said = item.text if item.port else f"{item.text}.{end.port}"
    try:
        return end.of(number), said, item.place
    except MistakeError as mistake:
        record.problems.note(mistake)
        return None
