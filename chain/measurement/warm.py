"""The same layout with everything at room temperature, as it is before the cryostat closes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from chain.errors import LayoutError
from chain.layout.naming import called
from components.parameters import ParameterError
from components.quantities import Quantity
from components.settings import Settings

if TYPE_CHECKING:
    from chain.layout.layout import AnyLayout, Layout

ROOM_K = 295.0
"""Temperature taken where no stage of the layout is at room temperature."""

LEAST_ROOM_K = 273.0
"""A warmest stage below this is no room."""

INSTEAD = (
    ("noise_temperature", "noise_figure"),
    ("loss", "coax", "data"),
    ("insertion_loss", "data"),
    ("gain", "gain_over_off", "data"),
    ("p1db_in", "p1db_out"),
)
"""Values of which a warm one takes the place of the others' cold ones."""

BIASED_BY = ("state", "gain", "data", "noise_temperature", "noise_figure")
"""Warm values that say that an amplifier is biased."""


def warmed(layout: AnyLayout) -> AnyLayout:
    """Return the layout with everything at room temperature and the parts' `warm` values.

    Stages, and what has a temperature of its own, are at the temperature of the warmest stage;
    amplifiers are unbiased unless `warm` says otherwise.  What is taken as it is cold for want of
    warm values is told in its remarks.  Raises LayoutError where a warm value cannot hold.
    """
    room_k = room_temperature_k(layout)
    made, elements = {}, {}
    for key, element in layout.elements.items():
        # Equal copies share their settings, and are to share the warm ones too.
        if id(element.settings) not in made:
            made[id(element.settings)] = _warm_settings(element, room_k)
        elements[key] = replace(element, settings=made[id(element.settings)])
    stages = {
        name: replace(stage, temperature_k=room_k, tolerance=None)
        for name, stage in layout.stages.items()
    }
    warm = replace(layout, elements=elements, stages=stages, derived="warm")
    return warm.with_remarks(*_remarks(layout, warm, room_k))


def room_temperature_k(layout: Layout) -> float:
    """Return the temperature of the warmest stage, or ROOM_K where that is no room."""
    warmest = max((stage.temperature_k for stage in layout.stages.values()), default=ROOM_K)
    return warmest if warmest >= LEAST_ROOM_K else ROOM_K


def _warm_settings(element, room_k):
    settings, kind = element.settings, element.kind
    values = {name: value for name, value in settings.values.items() if name != "warm"}
    changes = dict(settings["warm"] or {}) if "warm" in kind.declared() else {}
    for names in INSTEAD:
        if any(name in changes for name in names):
            for name in set(names) - set(changes):
                values.pop(name, None)
    values |= changes
    if "temperature" in values:
        values["temperature"] = Quantity(room_k, "temperature", f"{room_k:g} K")
    if _unbiased(kind, settings, changes):
        values["state"] = "off"
    result = Settings(kind, values)
    try:
        problems = list(kind.check(result))
    except ParameterError as error:
        problems = [error]
    for problem in problems:
        raise LayoutError.at(
            element.place_of("warm"), f"{element.id}, warm: {problem.what}", problem.instead
        )
    return result


def _unbiased(kind, settings, changes):
    if settings["state"] != "ok" or "off" not in kind.states or not kind.amplifies(settings):
        return False
    if kind.pumps(settings):
        return changes.get("state") != "ok"
    return not any(name in changes for name in BIASED_BY)


def _remarks(layout, warm, room_k):
    yield f"warm: everything is at {room_k:g} K"
    off = [
        key for key, element in warm.elements.items()
        if element.settings["state"] == "off" and layout.elements[key].settings["state"] == "ok"
    ]
    if off:
        yield (
            f"warm: off are {called(layout, off)}; `warm: {{state: ok}}` keeps an amplifier "
            "biased, `warm: {gain: ...}` gives it another gain"
        )
    kept = [key for key, element in layout.elements.items() if _taken_as_cold(element)]
    if kept:
        yield (
            f"warm: taken as they are cold, for want of `warm:` values: {called(layout, kept)}"
        )


def _taken_as_cold(element):
    settings = element.settings
    if "warm" not in element.kind.declared() or settings["warm"] or settings["state"] != "ok":
        return False
    return settings.given("data") or not element.kind.known_warm(settings)
