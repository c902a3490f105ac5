"""Gain and noise of many variants, filled in as they are solved."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from chain.errors import LayoutError
from chain.network.stability import judged

if TYPE_CHECKING:
    from chain.layout.layout import Signal
    from chain.layout.variants import Variant
    from chain.network.varied import VariedNetwork
    from chain.network.waves import Wave
    from components.arrays import ComplexLike, FloatArray, FloatLike


@dataclass(frozen=True)
class VariantSolutions:
    """Gain and noise of one signal in every variant; arrays (variants, points), NaN by an error."""

    gain: np.ndarray | None
    """Power gain, averaged over unknown phases; None without a start."""
    noise: np.ndarray
    """Quanta at the end, averaged over unknown phases."""
    shares: Mapping[str, np.ndarray]
    """Each element's part of the noise, quanta at the end; empty where not asked for."""
    idler: Mapping[str, np.ndarray]
    """The part of each share that came through the idler."""
    errors: Mapping[int, LayoutError]
    """By the variant's number: why it has no solution."""
    warnings: Mapping[int, tuple[str, ...]]
    """By the variant's number: amplifiers that may oscillate."""


@dataclass(frozen=True)
class Solved:
    """What arrives in some of the variants at some frequencies, averaged over unknown phases.

    Arrays have the shape (variants, points), or (points,) where all variants are alike.
    """

    gain: FloatLike | None
    """Power gain; None without a start."""
    parts: Iterable[tuple[str, FloatLike, FloatLike]]
    """(id, quanta at the end, the part of them that came through the idler) of what emits."""
    seen: Mapping[Wave, ComplexLike]
    """What a unit added to an amplifier's wave makes of itself, (variants, draws, points) or less:
    what its loop gain follows from."""


class Results:
    """Arrays that are filled group by group."""

    def __init__(
        self, signal: Signal, frequency_hz: FloatArray, variants: Sequence[Variant]
    ) -> None:
        self.variants, self.frequency_hz = variants, frequency_hz
        self.columns = slice(0, len(frequency_hz))
        """Where among all frequencies those stand that are being solved."""
        self._shape = len(variants), len(frequency_hz)
        self.gain = None if signal.from_port is None else np.full(self._shape, np.nan)
        self.noise = np.full(self._shape, np.nan)
        self.shares: dict[str, FloatArray] = {}
        self.idler: dict[str, FloatArray] = {}
        self.errors: dict[int, LayoutError] = {}
        self.warnings: dict[int, list[str]] = {}
        self._signal = signal

    def fill(
        self, network: VariedNetwork, some: Any, numbers: Any, solved: Solved, *, shares: bool
    ) -> Any:
        """Write what is solved of the variants `some` of a network, whose `numbers` here those are.

        Return those of `some` without a finite solution.
        """
        here = numbers[:, None], np.arange(self.columns.start, self.columns.stop)
        for array in (*self.shares.values(), *self.idler.values()):
            array[here] = 0.0
        self.noise[here] = 0.0
        for key, whole, by_idler in solved.parts:
            self._add(key, here, whole, by_idler if network.idler_hz is not None else None, shares)
        end = self._signal.to_port[0]
        added = network.added_at(end, some)
        if added is not None:
            self._add(end, here, added, None, shares)
        finite = np.isfinite(self.noise[here]).all(axis=1)
        if self.gain is not None:
            self.gain[here] = solved.gain
            finite &= np.isfinite(self.gain[here]).all(axis=1)
        for wave, unit in solved.seen.items():
            self._warn(network, wave[0], 1.0 - 1.0 / unit, some, numbers)
        return some[~finite]

    def _add(self, key, here, whole, by_idler, shares):
        """Add an element's noise; a wave of another block of it may have been there."""
        self.noise[here] += whole
        for arrays, values in ((self.shares, whole), (self.idler, by_idler)):
            if shares and values is not None:
                arrays.setdefault(key, np.zeros(self._shape))[here] += values

    def _warn(self, network, key, loop, some, numbers):
        """Note which variants may oscillate around an amplifier that amplifies in them."""
        each = np.max(np.abs(loop), axis=(1, 2)) if np.ndim(loop) == 3 else np.max(np.abs(loop))
        amplifies = network.may_amplify(key)
        amplifies = amplifies[some] if len(amplifies) > 1 else amplifies
        for place in np.flatnonzero(np.broadcast_to((each >= 1.0) & amplifies, len(some))):
            own = loop[place] if np.ndim(loop) == 3 else loop
            reached, said = judged(
                key, own, network.frequency_hz, phased=network.phases is not None
            )
            number = int(numbers[place])
            self._not_known(number, reached)
            kept = self.warnings.setdefault(number, [])
            kept += [text for text in said if text not in kept]

    def _not_known(self, number, where):
        """Note that a variant has no mean over phases at some of the points being solved."""
        for array in (self.noise, self.gain, *self.shares.values(), *self.idler.values()):
            if array is not None:
                array[number, self.columns][where] = np.nan

    def no_solution(self, numbers: Iterable[int]) -> None:
        """Note that variants have no finite solution."""
        for number in numbers:
            self.errors[int(number)] = LayoutError.at(
                self._signal.place,
                f"{self.variants[number].name}: the waves have no finite solution",
                "look for a loop of which the gain is one",
            )

    def solutions(self) -> VariantSolutions:
        """Return what has been filled in."""
        broken = list(self.errors)
        arrays = [self.noise, *self.shares.values(), *self.idler.values()]
        for array in arrays if self.gain is None else [self.gain, *arrays]:
            array[broken] = np.nan
        return VariantSolutions(
            self.gain, self.noise, self.shares, self.idler, self.errors,
            {number: tuple(said) for number, said in self.warnings.items()},
        )
