"""Single readings beside the data: a stage's thermometer, the power that a source sends."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError, Place
from chain.power.tones import power
from chain.suggestions import choose
from components.quantities import QuantityError, parse, watt_to_dbm

if TYPE_CHECKING:
    from chain.diagnosis.healthy import Ripple
    from chain.layout.layout import Layout
    from components.arrays import FloatArray
    from components.quantities import Quantity

OPTION = "--reading"


class Reading:
    """One value that was read, as a data set of a single datum.

    `key` is `stages.NAME.temperature` (datum in kelvin) or `tones.NAME.power` (in dBm).
    """

    def __init__(self, key: str, value: Quantity) -> None:
        self.key = key
        _, self.name, _ = key.split(".")
        self.of_stage = key.startswith("stages.")
        assert value.tolerance is not None
        self.sigma = value.tolerance.size
        self.measured_db = np.array([
            value.value if self.of_stage else float(watt_to_dbm(value.value))])
        self._layout: Layout | None = None
        self._sent: dict[Any, float] = {}

    def of_layout(self, layout: Layout) -> None:
        """Note the layout that the reading is of."""
        self._layout = layout

    @property
    def layout(self) -> Layout:
        """The layout that the reading is of."""
        assert self._layout is not None
        return self._layout

    def of(self, combinations: Sequence[Any]) -> FloatArray:
        """Return what would be read with combinations of causes, shape (combinations, 1)."""
        if self.of_stage:
            return np.array([[self._kelvin(one)] for one in combinations])
        nominal = self._sent_dbm(())
        return np.array([
            [nominal + sum(self._sent_dbm((pair,)) - nominal for pair in one)]
            for one in combinations
        ])

    def _kelvin(self, combination):
        for cause, size in combination:
            if cause.stage == self.name and not cause.rewires:
                return cause.variant(self.layout, size).temperature_k[self.name]
        return self.layout.stages[self.name].temperature_k

    def _sent_dbm(self, combination):
        """Return what the source sends with a cause in place, dBm; as in the layout if unknown."""
        layout = self.layout
        tone = layout.tones[self.name]
        if tone.arriving is None or any(
            cause.fault is None or cause.rewires
            or cause.place not in layout.connected(tone.into) for cause, _ in combination
        ):
            combination = ()
        key = tuple((cause.name, cause.what, round(float(np.log(size)), 1) if size else 0.0)
                    for cause, size in combination)
        if key not in self._sent:
            for cause, size in combination:
                layout = cause.variant(layout, size).apply(layout)
            try:
                sent = power(layout).tones[self.name].injected_w
            except LayoutError:
                sent = None
            if not sent:
                return self._sent_dbm(()) if combination else 0.0
            self._sent[key] = float(watt_to_dbm(sent))
        return self._sent[key]

    def slopes(self, values: Sequence[Any], combinations: Sequence[Any]) -> FloatArray:
        """Return what tolerances do: a stage's own temperature alone."""
        found = np.zeros((len(combinations), len(values), 1))
        for place, one in enumerate(values):
            if one.name == self.key:
                found[:, place, 0] = one.sigma
        return found

    def stated(self) -> FloatArray:
        """Return the covariance of its error."""
        return np.array([[self.sigma**2]])

    def ripple(self, ripple: Ripple) -> FloatArray:
        """Return no ripple: it is one value."""
        return np.zeros((1, 1))


def read_reading(layout: Layout, text: str) -> Reading:
    """Return the Reading of `KEY=VALUE +/- ERROR`; raises LayoutError."""
    key, equals, value = text.partition("=")
    place = Place(OPTION)
    right = 'write it like stages.mixing="25 mK +/- 1 mK" or pump.power="-3 dBm +/- 0.5 dB"'
    if not equals:
        raise LayoutError.at(place, f"{text!r} is no reading", right)
    parts = key.strip().split(".")
    if parts[0] == "stages" and len(parts) in (2, 3) and parts[2:] in ([], ["temperature"]):
        name, full, dimension = parts[1], f"stages.{parts[1]}.temperature", "temperature"
        known = list(layout.stages)
    elif parts[-1] == "power" and (len(parts) == 2 or (len(parts) == 3 and parts[0] == "tones")):
        name, full, dimension = parts[-2], f"tones.{parts[-2]}.power", "power"
        known = list(layout.tones)
    else:
        raise LayoutError.at(place, f"{key.strip()!r} is not read as a single value", right)
    if name not in known:
        raise LayoutError.at(place, f"there is no {name!r}", choose(name, known, parts[0]))
    try:
        found = parse(value, dimension)
    except QuantityError as error:
        raise LayoutError.at(place, f"{key.strip()}: {error.what}", error.instead) from error
    if found.tolerance is None or found.tolerance.size <= 0:
        raise LayoutError.at(place, f"{key.strip()}: {value.strip()!r} has no error",
                             "say how sure it is: +/- 1 mK")
    if found.value <= 0:
        raise LayoutError.at(place, f"{key.strip()}: {value.strip()!r} is not above zero", right)
    reading = Reading(full, found)
    if dimension == "power" and not found.tolerance.in_db:
        reading.sigma = 10.0 / np.log(10.0) * found.tolerance.size / found.value
    return reading
