"""What was typed into the record of a service, read back."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from chain.errors import LayoutError, Place, Problem
from chain.measurement.csv_table import CsvTable
from chain.service.record_export import HOLD, REDO, STATED, TYPED, UNDO, numbered
from chain.suggestions import choose

if TYPE_CHECKING:
    from chain.service.holds import Hold
    from chain.service.plan import Service, Step

OPTION = "--record"
NEEDED = ("way", "joint", "initials")


@dataclass(frozen=True)
class Entry:
    """One row that somebody has initialled."""

    way: str
    """`open`, `close` or `hold`."""
    joint: str
    typed: dict[str, str]
    """What was typed, by column; columns left empty are not there."""
    measured_db: float | None
    place: Place


@dataclass(frozen=True)
class Remark:
    """What the record says that nobody should pass over."""

    entry: Entry
    says: str


@dataclass(frozen=True)
class Resumed:
    """A service with what is done of it by its record."""

    service: Service
    entries: tuple[Entry, ...]
    """Every initialled row, in the order of the service."""
    next_steps: tuple[tuple[str, int, Step], ...]
    """(way, number on the sheet, step) of what is left, in order."""
    next_holds: tuple[Hold, ...]
    """Hold points that are not signed."""
    remarks: tuple[Remark, ...]
    """Readings outside their intervals, other serial numbers, steps out of turn."""
    path: str = field(kw_only=True)

    def as_dict(self) -> dict[str, Any]:
        """Return the service with its record under the names that programs lean on."""
        return {
            **self.service.as_dict(),
            "record": self.path,
            "log": [{"way": e.way, "joint": e.joint, **e.typed, "measured_db": e.measured_db}
                    for e in self.entries],
            "next": [{"way": way, "step": number, "joint": step.joint}
                     for way, number, step in self.next_steps],
            "next_holds": [hold.stage for hold in self.next_holds],
            "warnings": [f"{r.entry.place}: {r.says}" for r in self.remarks],
        }

    def __str__(self):
        from chain.service.record_text import resumed_text

        return resumed_text(self)


def resumed(found: Service, path: str) -> Resumed:
    """Return a Service with the record typed into the file at `path`.

    Raises LayoutError where a row is of no joint of this service, or a number is none.
    """
    entries = _entries(found, CsvTable(path, OPTION))
    done = {(entry.way, entry.joint) for entry in entries}
    left = [
        (way, number, step)
        for way, steps in ((UNDO, found.undo), (REDO, found.redo))
        for number, step in numbered(found, steps) if (way, step.joint) not in done
    ]
    holds = [hold for hold in found.holds if (HOLD, hold.name) not in done]
    remarks = tuple(_remarks(found, entries, left))
    return Resumed(found, tuple(entries), tuple(left), tuple(holds), remarks, path=path)


def _entries(found, table):
    columns = {name: table.named(name) for name in (*STATED, *TYPED)}
    for name in NEEDED:
        if columns[name] is None:
            raise LayoutError.at(
                Place(table.path, 1, 1), f"there is no column {name!r}",
                "take the file that --csv writes",
            )
    order = {key: place for place, key in enumerate((
        *((UNDO, step.joint) for step in found.undo), *((REDO, step.joint) for step in found.redo),
        *((HOLD, hold.name) for hold in found.holds),
    ))}
    entries: dict[tuple[str, str], Entry] = {}
    for row in table.rows:
        def cell(name, row=row):
            column = columns[name]
            return "" if column is None else row.cells[column.index].strip()

        place = row.places[columns["joint"].index]
        key = cell("way"), cell("joint")
        if key not in order:
            joints = {joint for way, joint in order if way == key[0]}
            table.problem(place, f"{key[1]!r} is no joint to {key[0]} in this service",
                          choose(key[1], joints, "joints"))
            continue
        typed = {name: cell(name) for name in TYPED if cell(name)}
        level = _level(table, row, columns["measured_db"], typed)
        if "initials" not in typed:
            if typed:
                table.problem(place, f"{key[1]} is filled in, and nobody has initialled it",
                              "let whoever did it write initials")
            continue
        if key in entries:
            table.problem(place, f"{key[1]} stands twice", "keep one row")
        entries[key] = Entry(key[0], key[1], typed, level, place)
    table.refuse_if_any()
    return sorted(entries.values(), key=lambda entry: order[entry.way, entry.joint])


def _level(table, row, column, typed):
    text = typed.pop("measured_db", "")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        table.problems.append(Problem(
            row.places[column.index], f"{text!r} is no level in decibels", "write one, as -32.5"
        ))
        return None
    return value


def _remarks(found, entries, left):
    redo = {step.joint: step for step in found.redo}
    waiting = {(way, step.joint) for way, _, step in left}
    for entry in entries:
        step = redo.get(entry.joint)
        if entry.way == REDO and step is not None and step.reading is not None:
            yield from _of_reading(entry, step.reading)
        serial = entry.typed.get("serial")
        if step is not None and serial and step.serials and not any(
                serial in (one, one.partition(" ")[2]) for one in step.serials):
            yield Remark(entry, f"serial {serial}, and the layout says {', '.join(step.serials)}")
        if entry.way == REDO and (UNDO, entry.joint) in waiting:
            yield Remark(entry, "made again, and nobody has initialled that it was opened")
        if entry.way == HOLD:
            hold = next(one for one in found.holds if one.name == entry.joint)
            open_yet = [joint for joint in hold.joints if (REDO, joint) in waiting]
            if open_yet:
                yield Remark(entry, "signed, and not yet made again: " + ", ".join(open_yet))


def _of_reading(entry, reading):
    if entry.measured_db is None:
        yield Remark(entry, "no reading was typed in")
    elif not reading.low_db <= entry.measured_db <= reading.high_db:
        wanted = f"below {reading.high_db:.1f}" if reading.is_reflection else \
            f"{reading.low_db:.1f} .. {reading.high_db:.1f}"
        yield Remark(entry, f"{entry.measured_db:.1f} dB, expected {wanted}: find out why before "
                            "anything more is closed")
