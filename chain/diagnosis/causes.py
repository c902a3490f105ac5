"""What may be wrong with a layout: every fault of every element and stage, one by one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from chain.layout.layout import Joint
from chain.layout.variants import Variant
from chain.writing.value_text import as_rounded
from components.faults import WARMER, Fault
from components.quantities import Quantity

if TYPE_CHECKING:
    from chain.layout.layout import Layout
    from components.faults import Size

STAGE_ODDS = 2.0
"""Of a stage that is warmer than the layout says (an assumption, like all odds)."""

ANCHOR_ODDS = 0.5
"""Of an anchor of a cable that has come loose."""

COOLER_THAN_NEXT = 0.9
"""A warmer stage stays below this part of the next warmer one's temperature."""


@dataclass(frozen=True)
class Cause:
    """One thing that may be wrong, of a size or of none."""

    key: str
    """What changes, as --set names it: `H1.noise_temperature`."""
    place: str
    """Id of the element, or `stages.NAME`."""
    what: str
    """In words."""
    odds: float
    """Relative to other causes."""
    fault: Fault | None = None
    size: Size | None = None
    state: str = ""
    """Value of a cause without a size, as --set writes it."""
    stage: str = ""
    """The stage that is warmer, or whose anchor is lost."""

    @property
    def rewires(self) -> bool:
        """True where joints or anchors change, and not values alone."""
        return self.key.endswith(".reversed") or ".via." in self.key

    @property
    def name(self) -> str:
        """The cause as a list of unseen ones names it."""
        return self.key if self.size is not None else f"{self.key}={self.state}"

    def variant(self, layout: Layout, size: float = 0.0) -> Variant:
        """Return the Variant of a layout with the fault of a size; of rewired ones it is empty."""
        if self.fault is not None and not self.rewires:
            settings = layout.elements[self.place].settings
            values = self.fault.values(settings, size)
            return Variant(self.name, {self.place: dict(values)})
        if self.fault is None and not self.rewires:
            return Variant(self.name, temperature_k={self.stage: self._kelvin(layout, size)})
        return Variant(self.name)

    def _kelvin(self, layout, size):
        stages = list(layout.stages)
        own = layout.stages[self.stage].temperature_k
        wanted = own * (1.0 + size)
        before = stages[: stages.index(self.stage)]
        warmer = [layout.stages[name].temperature_k for name in before]
        most = COOLER_THAN_NEXT * min(warmer, default=wanted / COOLER_THAN_NEXT)
        return max(min(wanted, most), own)

    def rewired(self, layout: Layout) -> Layout:
        """Return the layout with other joints or anchors."""
        if not self.rewires:
            return layout
        element = layout.elements[self.place]
        if self.stage:
            via = tuple(one for one in element.via if one[0] != self.stage)
            elements = {**layout.elements, self.place: replace(element, via=via)}
            return replace(layout, elements=elements, derived="with an anchor lost")
        enter, leave = (self.place, element.enter or ""), (self.place, element.leave or "")
        ends = {enter: leave, leave: enter}
        joints = tuple(
            Joint(ends.get(j.first, j.first), ends.get(j.second, j.second), j.place)
            for j in layout.joints
        )
        return replace(layout, joints=joints, derived="with an element reversed")

    def change(self, layout: Layout, size: float = 0.0) -> str:
        """Return it in --set form."""
        if self.size is None:
            return f"{self.key}={self.state}"
        variant = self.variant(layout, size)
        if self.fault is None:
            kelvin = Quantity(variant.temperature_k[self.stage], "temperature", "")
            return f"{self.key}={as_rounded(kelvin)}"
        value: Any = variant.settings[self.place][self.fault.parameter]
        return f"{self.key}={as_rounded(value)}"


def causes(layout: Layout, ids: Iterable[str]) -> list[Cause]:
    """Return every Cause of the elements `ids` and of the stages that they touch."""
    ids = list(ids)
    found = [cause for key in ids for cause in _of_element(layout, key)]
    elements = [layout.elements[key] for key in ids]
    touched = {
        stage for e in elements for stage in (e.stage, e.from_stage, e.to_stage,
                                              *(stage for stage, _ in e.via))
    }
    warmest = next(iter(layout.stages), None)
    for stage in layout.stages:
        if stage in touched and stage != warmest:
            found.append(Cause(
                f"stages.{stage}.temperature", f"stages.{stage}", "warmer", STAGE_ODDS,
                size=WARMER, stage=stage,
            ))
    return [cause for cause in found if cause.odds > 0]


def _of_element(layout: Layout, key: str) -> Iterator[Cause]:
    element = layout.elements[key]
    settings = element.settings
    if settings["state"] != "ok":
        return  # what the layout itself has as broken is not asked about
    more = settings["odds"].value
    for fault in element.kind.faults(settings):
        name = f"{key}.{fault.parameter}"
        odds = fault.odds * more
        if fault.size is not None:
            yield Cause(name, key, fault.what, odds, fault, fault.size)
        elif fault.parameter == "reversed":
            if element.enter != element.leave and element.enter and element.leave:
                state = "false" if settings["reversed"] else "true"
                yield Cause(name, key, fault.what, odds, fault, state=state)
        else:
            value: Any = fault.values(settings, 0.0)[fault.parameter]
            text = value if isinstance(value, str) else value.text
            yield Cause(name, key, fault.what, odds, fault, state=text)
    for stage, _ in element.via:
        yield Cause(f"{key}.via.{stage}", key, f"anchor at {stage} lost", ANCHOR_ODDS * more,
                    stage=stage)


def together(variants: Iterable[Variant]) -> Variant:
    """Return variants as one; what the later ones say of a value holds."""
    settings: dict[str, dict[str, object]] = {}
    temperature_k: dict[str, float] = {}
    names = []
    for variant in variants:
        names.append(variant.name)
        for key, values in variant.settings.items():
            settings.setdefault(key, {}).update(values)
        temperature_k |= variant.temperature_k
    return Variant(" + ".join(names), settings, temperature_k)


def compatible(first: Cause, second: Cause) -> bool:
    """Tell whether two causes can hold at once and be two."""
    if first.key == second.key:
        return False
    if first.place != second.place:
        return True
    return not any(one.key.endswith((".state", ".reversed")) for one in (first, second))
