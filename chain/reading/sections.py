"""The band, the stages, and the words of a layout."""

import os
from itertools import pairwise

from chain.layout.layout import Band, Stage
from chain.reading import declared
from chain.reading.context import SpoiltError
from chain.reading.fields import read_fields, rows_of
from chain.reading.names import check_name
from chain.reading.nodes import Mapping, Removed, Scalar
from chain.reading.problems import MistakeError
from chain.reading.values import read

_LAYOUT = declared.by_name(declared.LAYOUT)
_BAND = declared.by_name(declared.BAND)
_STAGE = declared.by_name(declared.STAGE)


def given(section):
    """Tell whether a section is there and holds anything."""
    if section is None or isinstance(section, Removed):
        return False
    return not (isinstance(section, Scalar) and section.empty)


WORDS = ("format", "title", "note", "accept", "margins", "self_heating")
"""Sections that are a word, or short."""


def read_words(sections, path, context):
    """Return title, accepted findings (code -> why), the advice's margins, whether parts warm."""
    found = {}
    for name in WORDS:
        node = sections.get(name)
        if not given(node):
            continue
        try:
            found[name] = read(node, _LAYOUT[name].reads, context, name)
        except MistakeError as mistake:
            context.problems.note(mistake)
        except SpoiltError:
            pass
    title = found.get("title") or os.path.splitext(os.path.basename(path))[0]
    warms = found.get("self_heating") != "off"
    return title, found.get("accept", {}), found.get("margins", {}), warms


def read_band(node, context, files):
    """Return the Band, or None where it is wrong."""
    if not given(node):
        if "band" not in files.meant:
            context.problems.add(
                files.root.place if node is None else node.place, "the layout has no band",
                "add `band: {start: 4 GHz, stop: 8 GHz, points: 201}`",
            )
        return None
    found = read_fields(node, _BAND, context, "band", dot="band.")
    if found.spoilt:
        return None
    try:
        return made_band(found.values, node.place, "band", found.places["stop"])
    except MistakeError as mistake:
        context.problems.note(mistake)
        return None


def made_band(values, place, called, stop_place=None):
    """Return the Band of values that were read; raises MistakeError where it ends below its start.
    """
    start, stop = values["start"], values["stop"]
    if start.value > stop.value:
        raise MistakeError(
            stop_place or place, f"{called}: it stops at {stop.text}, below its start at "
            f"{start.text}", "exchange start and stop",
        )
    points = values.get("points", int(_BAND["points"].default))
    return Band(start.value, stop.value, points, place)


def read_stages(node, context):
    """Return the stages by name; one that is wrong is left out, its name known all the same."""
    stages, before = {}, None
    for name, key, value in rows_of(node, context, "stages"):
        try:
            check_name(key, "stages")
        except MistakeError as mistake:
            context.problems.note(mistake)
        found = read_fields(value, _STAGE, context, f"stage {name}", dot=f"stages.{name}.")
        if found.spoilt:
            continue
        stage = Stage(
            name, found.values["temperature"].value, found.get("cooling", ()),
            found.get("other", {}), key.place, found.values["temperature"].tolerance,
        )
        _check_rising(stage, found, context)
        if before is not None and stage.temperature_k > before.temperature_k:
            context.problems.add(
                found.places["temperature"],
                f"stage {name} at {stage.temperature_k:g} K stands below stage {before.name} at "
                f"{before.temperature_k:g} K and is warmer",
                f"list stages from warm to cold: put {name} before {before.name}, or correct "
                "a temperature",
            )
        stages[name] = before = stage
    return stages


def _check_rising(stage, found, context):
    """Note a cooling that does not rise with temperature: no load would have one temperature."""
    for (cold_k, cold_w), (warm_k, warm_w) in pairwise(stage.cooling):
        if warm_w <= cold_w:
            context.problems.add(
                found.places["cooling"],
                f"stage {stage.name}: its cooling does not rise from {cold_k:g} K to {warm_k:g} K",
                "give more power at the warmer point, or take one of them out",
            )


def names_of(node):
    """Return the names of a section's rows, right or wrong."""
    if not isinstance(node, Mapping):
        return ()
    return tuple(name for name, (_, row) in node.entries.items() if not isinstance(row, Removed))
