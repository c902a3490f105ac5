"""What nobody gave and matters once something fails: answered at both ends of what is usual."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chain.layout.variants import Variant
from components.quantities import Quantity

if TYPE_CHECKING:
    from chain.layout.layout import Layout

LOST = 100.0
"""Rise of the noise from which a line is called lost: ten thousand times as long in a radiometer.

Common practice, no source.
"""


def ends(layout: Layout) -> tuple[Variant, ...]:
    """Return two Variants, every assumed value at its least and at its most; () without any."""
    found: tuple[dict, dict] = ({}, {})
    for key, element in layout.elements.items():
        settings = element.settings
        for parameter, values in settings.kind.assumed(settings).items():
            dimension = settings[parameter].dimension
            for changes, value in zip(found, values, strict=True):
                changes.setdefault(key, {})[parameter] = Quantity(value, dimension, f"{value:g}")
    if not found[0]:
        return ()
    return Variant("least", found[0]), Variant("most", found[1])


def assumed(layout: Layout) -> dict[str, str]:
    """Return {id.parameter: what is assumed, as text}."""
    return {
        f"{key}.{parameter}": f"{e.settings[parameter].text} ({least:g} to {most:g} usual)"
        for key, e in layout.elements.items()
        for parameter, (least, most) in e.settings.kind.assumed(e.settings).items()
    }


def bypassed(layout: Layout) -> Variant | None:
    """Return the Variant that bypasses every element of which something is assumed, or None."""
    keys = [
        key for key, e in layout.elements.items()
        if e.settings.kind.assumed(e.settings) and "bypassed" in e.kind.states
    ]
    return Variant("bypassed", {key: {"state": "bypassed"} for key in keys}) if keys else None
