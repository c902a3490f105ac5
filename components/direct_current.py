"""What direct current meets in elements: where it goes on, what resists it, where that heats."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from components.conductivity import LORENZ
from components.constants import Z0
from components.profile import NODES, WEIGHTS

if TYPE_CHECKING:
    from components.arrays import FloatArray
    from components.coax import Coax
    from components.materials import Material


@dataclass(frozen=True)
class Passage:
    """How an element passes the direct current that enters it by one of its ports."""

    leave: str | None
    """The port by which it goes on; None where it ends, in `ohm`."""
    ohm: float = 0.0
    """Resistance in series, or of the end."""
    pad_db: float | None = None
    """Loss of a matched pad of resistors, in place of a resistance."""
    blocks: bool = False
    """True where nothing passes: a capacitor, an open."""
    stated: bool = True
    """False where there is some resistance, and for want of a statement none is counted."""


BLOCKED = Passage(None, blocks=True)


def passage(kind: Any, settings: Any, enter: str) -> Passage | None:
    """Return the Passage of an element as it stands; None where nobody says what it does."""
    state = settings["state"]
    route = kind.default_route(settings)
    through = None
    if enter in route:
        through = route[1] if enter == route[0] else route[0]
    if state == "open":
        return BLOCKED
    if state == "shorted":
        return Passage(None)
    if state == "bypassed":
        return Passage(through)
    found = kind.direct_current(settings, enter)
    if not settings.given("dc_resistance"):
        return found
    ohm = settings["dc_resistance"].value
    if found is None:
        return Passage(through, ohm)
    return found if found.blocks else replace(found, ohm=ohm, pad_db=None, stated=True)


def before_pad(*, loss_db: float, volt: float, ampere: float) -> tuple[float, float]:
    """Return (V, A) before a matched 50 ohm pad that has these behind it.

    V1 = V c + I Z0 s, I1 = V s / Z0 + I c with K = 10^(loss/20), c = (K^2 + 1)/(2 K),
    s = (K^2 - 1)/(2 K): T and pi pads alike (D. M. Pozar, Microwave Engineering, sec. 4.4, from
    memory).  Into a short 2 K/(K^2 + 1) of the current goes on.
    """
    k = 10 ** (loss_db / 20)
    cosine, sine = (k * k + 1) / (2 * k), (k * k - 1) / (2 * k)
    return volt * cosine + ampere * Z0 * sine, volt * sine / Z0 + ampere * cosine


@dataclass(frozen=True)
class Resistance:
    """The resistance along a cable or wire between its anchors, both ways of the current."""

    at_anchors_ohm: tuple[float, ...]
    """What counts at each anchor, by position: heat of a place goes to both anchors beside it in
    proportion to its distance from the other, exact for a steady uniform rod."""
    centre_ohm: tuple[float, ...]
    """Of the centre conductor alone, stretch by stretch between the anchors."""
    ends_k: tuple[float, ...]
    """Temperature of each anchor."""
    normal: tuple[tuple[str, float], ...] = ()
    """Superconductors (name, critical temperature in K) that alone carry the current and are too
    warm for it somewhere."""

    @property
    def ohm(self) -> float:
        """The whole of it."""
        return sum(self.at_anchors_ohm)

    def hottest_centre_k(self, ampere: float) -> float:
        """Return the most that a centre conductor reaches which is clamped at the anchors alone.

        Of electrons that obey the Wiedemann-Franz law, T^2 is a parabola over the resistance
        passed: T^2 = T1^2 (1 - u) + T2^2 u + V^2 u (1 - u)/L0, whatever the resistivity (standard;
        case of equal ends V^2/(4 L0), as in A. Huard et al., arXiv 0708.3935).  The dielectric
        carries heat too, so it is an upper bound.
        """
        most = max(self.ends_k)
        for ohm, first, second in zip(self.centre_ohm, self.ends_k, self.ends_k[1:], strict=False):
            square = (ampere * ohm) ** 2 / LORENZ
            if square <= 0:
                continue
            place = min(max(0.5 + (second**2 - first**2) / (2 * square), 0.0), 1.0)
            here = first**2 * (1 - place) + second**2 * place + square * place * (1 - place)
            most = max(most, float(np.sqrt(here)))
        return most


def resistance_along(
    temperature_k: FloatArray, spans: FloatArray, length_m: float,
    conductors: Sequence[Sequence[tuple[Material, float]]], ends_k: Sequence[float],
) -> Resistance:
    """Return the Resistance of conductors at the nodes of every stretch between anchors.

    `temperature_k` (stretches x nodes) at components.profile.NODES, `spans` the stretches' parts of
    `length_m`; the first conductor is the centre, each is [(Material, area in m^2)] side by side.
    Raises OutsideRange, MissingProperty.
    """
    per_m = [ohm_per_m(parts, temperature_k) for parts in conductors]
    return _spread(
        np.array(per_m).reshape(len(per_m), len(spans), len(NODES)), spans, length_m, ends_k,
        _too_warm(conductors, float(np.max(temperature_k))),
    )


def _too_warm(conductors, warmest_k):
    """Return the superconductors that have no normal metal beside them, and are too warm."""
    found = {}
    for parts in conductors:
        limits = [(one.name, one.critical_temperature_k) for one, _ in parts]
        if all(limit_k is not None for _, limit_k in limits):
            found |= {name: limit_k for name, limit_k in limits if warmest_k >= limit_k}
    return tuple(found.items())


def even_resistance(ohm: float, spans: FloatArray, ends_k: Sequence[float]) -> Resistance:
    """Return the Resistance of so many ohm that lie evenly along a cable."""
    return _spread(np.full((1, len(spans), len(NODES)), ohm), spans, 1.0, ends_k, ())


def _spread(per_m, spans, length_m, ends_k, normal):
    weights = np.outer(spans, WEIGHTS) / 2 * length_m
    slices, position = per_m * weights, (NODES + 1.0) / 2.0
    both = slices.sum(axis=0)
    anchors = np.zeros(len(spans) + 1)
    anchors[:-1] += (both * (1.0 - position)).sum(axis=1)
    anchors[1:] += (both * position).sum(axis=1)
    centre = slices[0].sum(axis=1)
    return Resistance(
        tuple(map(float, anchors)), tuple(map(float, centre)), tuple(ends_k), normal
    )


def ohm_per_m(parts: Sequence[tuple[Material, float]], temperature_k: FloatArray) -> FloatArray:
    """Return the resistance of materials side by side, ohm/m, at temperatures (array, K).

    Nothing where one of them superconducts.  Raises OutsideRange, MissingProperty.
    """
    siemens, cold = np.zeros(np.shape(temperature_k)), np.zeros(np.shape(temperature_k), bool)
    for material, area_m2 in parts:
        siemens = siemens + area_m2 / material.resistivity_ohm_m(temperature_k=temperature_k)
        if material.critical_temperature_k is not None:
            cold = cold | (temperature_k < material.critical_temperature_k)
    return np.where(cold, 0.0, 1.0 / siemens)


def conductors_of(coax: Coax) -> list[list[tuple[Material, float]]]:
    """Return centre and outer conductor of a coax, each as [(Material, area in m^2)]."""
    return [
        [(material, area) for name, material, area in coax.sections if name.startswith(part)]
        for part in ("centre", "outer")
    ]


def temperatures_at_nodes(
    anchors: Sequence[tuple[float, float]], between: Callable[[float, float, FloatArray], Any]
) -> FloatArray:
    """Return kelvin at the nodes of every stretch; `between(start_k, end_k, position 0 .. 1)`."""
    position = (NODES + 1.0) / 2.0
    return np.concatenate([
        np.broadcast_to(between(first, second, position), position.shape)
        for (_, first), (_, second) in pairwise(anchors)
    ])
