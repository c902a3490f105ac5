"""From a layout file to a Layout."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import replace
from os import PathLike

import components.kinds  # noqa: F401  (registers every kind)
from chain.errors import LayoutError, Place
from chain.layout.layout import Layout
from chain.reading.changes import make_changes
from chain.reading.context import ReadContext
from chain.reading.copies import expand
from chain.reading.elements import Parts
from chain.reading.fields import rows_of
from chain.reading.includes import Held, read_files
from chain.reading.lines import read_lines
from chain.reading.names import check_unique
from chain.reading.observed import make_signals, make_tones, read_signals, read_tones
from chain.reading.problems import MistakeError, Problems
from chain.reading.reach import Reach
from chain.reading.rows import add_rows
from chain.reading.sections import WORDS, names_of, read_band, read_stages, read_words


def load(
    path: str | PathLike[str], changes: Iterable[str] = (), *, allow: Iterable[str] = ()
) -> Layout:
    """Return the Layout of a file (`-` for standard input), with `changes` (`KEY=VALUE`) made.

    Files that it names have to lie below its folder, its repository, or a folder of `allow`.
    Raises LayoutError with every mistake, up to twenty, in the order of the file.
    """
    path = os.fspath(path)
    return _read(path, tuple(changes), Held(), Reach(path, allow))


def changed(layout: Layout, changes: Iterable[str]) -> Layout:
    """Return a layout with more changes, from what was read of its files; raises LayoutError.

    Refused for one whose values are no longer those of its file: warm, or at other temperatures.
    """
    if layout.derived:
        raise LayoutError.at(
            Place(layout.path), f"the layout is {layout.derived}, and changes are made to what its "
            "file says", "change it first, and take it there then",
        )
    held = Held(layout.sources, layout.data_files)
    return _read(layout.path, (*layout.changes, *changes), held, Reach(layout.path, layout.allowed))


def read_again(layout: Layout, held: Held) -> Layout:
    """Return the Layout of other text of the same files, without changes; raises LayoutError."""
    return _read(layout.path, (), held, Reach(layout.path, layout.allowed))


def _read(path, changes, held, reach):
    problems = Problems()
    try:
        files = read_files(path, problems, held, reach)
    except MistakeError as mistake:
        problems.note(mistake)
        problems.refuse_if_any()
    make_changes(files.root, changes, problems)
    layout = _layout(path, changes, files, problems, held, reach)
    if changes and any("pump" in element.settings.values for element in layout.elements.values()):
        return replace(layout, written=_unchanged(layout, reach))
    return layout


def _unchanged(layout, reach):
    """Return the layout before its changes, whose pumps give the gains that it states; or None."""
    held = Held(layout.sources, layout.data_files)
    try:
        return _read(layout.path, (), held, reach)
    except LayoutError:
        return None


def _layout(path, changes, files, problems, held, reach):
    section = files.section
    context = ReadContext(
        problems, names_of(section("stages")), names_of(section("tones")),
        reach=reach, data_files=dict(held.data_files),
    )
    title, accepted, margins, warms = read_words(
        {name: section(name) for name in WORDS}, path, context
    )
    band = read_band(section("band"), context, files)
    stages = read_stages(section("stages"), context)
    add_rows({name: section(name) for name in ("coax", "materials")}, context)
    parts = Parts(rows_of(section("parts"), context, "parts"), context)
    written_lines = read_lines(section("lines"), context, parts, files)
    check_unique(written_lines.rows, "lines", context)
    tones = read_tones(section("tones"), written_lines, context)
    signals = read_signals(section("signals"), written_lines, context)
    elements, lines, record = expand(written_lines, tones, context)
    made_tones = make_tones(tones, record)
    made_signals = make_signals(signals, record)
    problems.refuse_if_any()
    return Layout(
        path=path, title=title, band=band, stages=stages, elements=elements,
        joints=tuple(record.joints), lines=lines, tones=made_tones, signals=made_signals,
        coax=context.coax, materials=context.materials, accepted=accepted, sources=files.sources,
        changes=changes, margins=margins, self_heating=warms, data_files=context.data_files,
        allowed=tuple(reach.folders[1:]),
    )

