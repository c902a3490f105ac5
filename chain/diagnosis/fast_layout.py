"""A layout made ready for thousands of variants: pumps, heat and phases as they are, held.

What costs most in a budget hardly depends on what is wrong: the mean over unknown phases, and the
search for the pump's level and for parts that tones warm.  Here phases have one value each, small
reflections are left out, heated parts keep their temperature, and every paramp has the gain that
its pump gives in the layout.  Only differences from the layout as it is are taken from this.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from chain.network.assembly import pumps_of
from chain.network.pumps import NOT_WIRED
from chain.power.self_heating import heating_of
from components.declaration import outside_kind
from components.heating import UNHEATED, Heating
from components.quantities import Quantity
from components.settings import Settings

if TYPE_CHECKING:
    from chain.layout.layout import Element, Layout

SOURCE = "pump source"
"""Id of a connector from which held pumps come; no element's id has a space."""

TURN_DEG = 137.508
"""From element to element the fixed phases turn by the golden angle, so that none add up."""


def fast_layout(layout: Layout) -> Layout:
    """Return the layout with pumps, heat and phases held; raises LayoutError."""
    heated, pumped = heating_of(layout), pumps_of(layout)
    elements = {}
    for number, (key, element) in enumerate(layout.elements.items()):
        settings = pumped[key].settings if key in pumped else element.settings
        heating = heated.get(key, UNHEATED)
        elements[key] = _held(element, settings, number * TURN_DEG % 360.0, heating)
    kind = outside_kind()
    first = next(iter(layout.elements.values()))
    elements[SOURCE] = replace(
        first, id=SOURCE, kind=kind, settings=Settings(kind, {}), ports=kind.port_names,
        enter=None, leave=None, stage=next(iter(layout.stages)), from_stage=None, to_stage=None,
        via=(),
    )
    tones = {name: replace(tone, into=SOURCE, arriving=None, power_w=1e-3)
             for name, tone in layout.tones.items()}
    return replace(layout, elements=elements, tones=tones, written=None, derived="held")


def _held(element: Element, settings: Settings, angle_deg: float, heating: Heating) -> Element:
    kind = element.kind
    values = dict(settings.values)
    if not (settings.given("data") or settings["return_loss"] is None
            if "return_loss" in kind.declared() else True):
        values.pop("return_loss", None)
    for name in ("hot_power", "hot_temperature", "hot_exponent"):
        values.pop(name, None)
    if heating.part_k is not None:
        values["temperature"] = Quantity(
            heating.part_k, "temperature", f"{heating.part_k:g} K"
        )
    if "phase" in kind.declared():
        angle = Quantity(angle_deg, "angle", f"{angle_deg:g} deg")
        values["phase"] = {**dict.fromkeys(kind.declared(), angle), **(settings["phase"] or {})}
    return replace(element, settings=Settings(kind, values))


def pump_changes(layout: Layout, changed: Layout) -> Mapping[str, Mapping[str, object]]:
    """Return what a change of a layout does to its paramps by their pumps, as typed settings."""
    found, before = {}, pumps_of(layout)
    for key, now in pumps_of(changed).items():
        if key not in before or now.state == NOT_WIRED:
            continue
        was = before[key].settings
        own = {
            name: now.settings[name] for name in ("state", "gain", "gain_over_off")
            if now.settings[name] != was[name]
        }
        if own:
            found[key] = own
    return found
