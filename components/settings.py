"""The values that one element has."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from components.arrays import FloatLike
from components.parameters import ParameterError
from components.quantities import LevelTable, OutsideTable, Quantity, Table, power_ratio
from components.touchstone import NamedFile

if TYPE_CHECKING:
    from components.arrays import FloatLike
    from components.conditions import Conditions


class Settings:
    """The values that one element has, defaults filled in."""

    def __init__(self, kind: Any, values: Mapping[str, Any]) -> None:
        self.kind = kind
        self.values = MappingProxyType(dict(values))
        self._remembered = {}

    def remembered(self, key: Hashable, work_out: Callable[[], Any]) -> Any:
        """Return `work_out()`, called once for a key: what follows from these values alone."""
        if key not in self._remembered:
            self._remembered[key] = work_out()
        return self._remembered[key]

    def equals(self, other: Settings) -> bool:
        """Tell whether other settings are surely the same; a coax of its own counts as another."""
        return self.kind is other.kind and self.values.keys() == other.values.keys() and all(
            _same(value, other.values[name]) for name, value in self.values.items()
        )

    def given(self, name: str) -> bool:
        """Tell whether the layout gives the parameter."""
        return name in self.values

    def with_values(self, **changes: Any) -> Settings:
        """Return the settings with some values replaced."""
        return Settings(self.kind, {**self.values, **changes})

    def without(self, name: str) -> Any:
        """Return the settings without one value, the same ones every time."""
        return self.remembered(("without", name), lambda: Settings(
            self.kind, {key: value for key, value in self.values.items() if key != name}
        ))

    def __getitem__(self, name: str) -> Any:
        if name in self.values:
            return self.values[name]
        return self.kind.default(name)

    def at(self, name: str, at: Conditions) -> FloatLike | None:
        """Return a parameter's value in its base unit at the conditions `at`.

        A number or an array that broadcasts to (draws, points); None where neither the layout nor
        the declaration gives one.  Raises ParameterError outside a table's points.
        """
        value = self[name]
        if value is None:
            return None
        try:
            number = value.at(at.frequency_hz)
        except OutsideTable as error:
            raise ParameterError(
                name, f"{name}: {error}", "add points, or `outside: hold` to the table"
            ) from error
        change = at.vary.get(name)
        return number if change is None else self._varied(name, number, change)

    def _varied(self, name, number, change):
        """Return a value with its change, held inside the declared bounds."""
        measure = self.kind.declared()[name].reads
        changed = change(number) if callable(change) else number + change
        return np.clip(changed, measure.lowest, measure.most)

    def lets_through(self, name: str, at: Conditions) -> FloatLike | None:
        """Return the amplitude 10^(-dB/20) of a loss; None where the loss is infinite."""
        loss_db = self.at(name, at)
        return None if loss_db is None else np.sqrt(power_ratio(-np.asarray(loss_db)))

    def first(self, *names: str) -> str | None:
        """Return the first of the parameters that the layout gives, or None."""
        return next((name for name in names if self.given(name)), None)


_COMPARED = (Quantity, Table, LevelTable, NamedFile, str, bool, int, float)
"""Types of values of which equal ones are the same in everything that an element does."""


def _same(value, other):
    if value is other:
        return True
    if type(value) is not type(other):
        return False
    if isinstance(value, tuple):
        return len(value) == len(other) and all(map(_same, value, other))
    return isinstance(value, _COMPARED) and value == other
