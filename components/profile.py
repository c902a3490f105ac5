"""Temperature and loss along a cable, and what of both is seen from its ends."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from components.arrays import FloatArray
from components.thermal_noise import photons

NODES, WEIGHTS = np.polynomial.legendre.leggauss(24)
"""Gauss-Legendre points for each stretch between anchors, on -1 .. 1."""

_LN10_10 = np.log(10.0) / 10.0


def _running_integral():
    """Return the matrix that takes values at NODES to their integrals from -1 to each node."""
    fit = np.linalg.inv(np.polynomial.legendre.legvander(NODES, len(NODES) - 1))
    rows = []
    for power in range(len(NODES)):
        coefficients = np.zeros(len(NODES))
        coefficients[power] = 1.0
        antiderivative = np.polynomial.legendre.legint(coefficients, lbnd=-1)
        rows.append(np.polynomial.legendre.legval(NODES, antiderivative))
    return np.array(rows).T @ fit


_RUNNING = _running_integral()


WHOLE = np.array([0.0, 1.0])
"""Ends of the panels of a stretch that no tone warms: one panel."""

GRADED = np.array([0.0, 1e-3, 1e-2, 0.1, 0.5, 0.9, 0.99, 0.999, 1.0])
"""Ends of the panels of a stretch that tones warm: near a cold anchor its temperature rises as a
root of the distance, which polynomials over the whole stretch would follow to 1e-4 only."""


class Warming:
    """What tones add to the temperature along a cable; equal ones are equal as keys.

    A rod with a source obeys d/dx (A k(T) dT/dx) = -q.  In theta = A int k dT that is theta'' =
    -q whatever k(T) is (G. Kirchhoff's transform: H. S. Carslaw, J. C. Jaeger, Conduction of Heat
    in Solids, 2nd ed. 1959, section 1.6, from memory), so that theta is the straight line between
    its anchors, as without tones, and a rise that q alone fixes.
    """

    def __init__(self, rise_w_m: FloatArray) -> None:
        self.rise_w_m = rise_w_m
        """What tones add to theta at the nodes of the GRADED panels of every stretch, W m."""
        self._key = rise_w_m.tobytes()
        self._hash = hash(self._key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Warming) and self._key == other._key

    def __hash__(self) -> int:
        return self._hash

    @classmethod
    def none(cls, stretches: int) -> Warming:
        """Return the one without any rise, to ask a cable where it absorbs."""
        return cls(np.zeros(stretches * len(NODES) * (len(GRADED) - 1)))

    @classmethod
    def of(cls, slices_w: FloatArray, lengths_m: FloatArray) -> Warming:
        """Return the Warming by what the slice of each node absorbs (W), stretches in metres.

        theta'' = -q between ends at which the rise is zero: (1 - u) times the first moment of q
        up to u, plus u times its first moment from the other end on, by quadrature.
        """
        position, weights = _panels(GRADED)
        rises = []
        for slices, length_m in zip(slices_w.reshape(len(lengths_m), -1), lengths_m, strict=True):
            density = slices / weights  # W per unit of position along the stretch
            passed, moment = _running(np.array([density, density * position]), GRADED)
            beyond = slices.sum() - passed - (slices @ position - moment)
            rises.append(length_m * ((1.0 - position) * moment + position * beyond))
        return cls(np.concatenate(rises))


def _panels(edges):
    """Return (position in the stretch, weight) of the nodes of panels between `edges`."""
    widths = np.diff(edges)
    position = edges[:-1, None] + widths[:, None] * ((NODES + 1.0) / 2.0)
    return position.ravel(), (WEIGHTS * widths[:, None] / 2.0).ravel()


def _running(density, edges):
    """Return the integrals of densities (parts, nodes) over one stretch from its start on."""
    found, passed = [], np.zeros((len(density), 1))
    for index, width in enumerate(np.diff(edges)):
        panel = density[:, index * len(NODES) : (index + 1) * len(NODES)] * width / 2
        found.append(passed + panel @ _RUNNING.T)
        passed = passed + (panel @ WEIGHTS)[:, None]
    return np.concatenate(found, axis=1)


@dataclass(frozen=True)
class Rod:
    """What the anchors and the materials of a cable fix, whatever the frequency.

    Its loss is a sum of parts, each a function of position (here) times one of frequency (in a
    Profile), so that what needs the position is worked out once.
    """

    temperature_k: np.ndarray
    """At the nodes of every stretch between anchors."""
    spans: np.ndarray
    """Length of each stretch over the whole."""
    position: np.ndarray
    """Of the nodes of a stretch in that stretch, 0 .. 1."""
    slices: np.ndarray
    """Each part's loss in the slice of each node, shape (parts, nodes)."""
    before: np.ndarray
    """Each part's loss from the start to each node, shape (parts, nodes)."""

    @classmethod
    def of(cls, anchors, temperatures_between, losses_at=None, warming=None):
        """Return the Rod of anchors, (distance over length, kelvin) from start to end.

        `temperatures_between(start_k, end_k, position, rise_w_m)` gives kelvin at positions 0 .. 1
        of a stretch, the rise by tones zero or an array; `losses_at(kelvin)` the parts of the loss,
        shape (parts, nodes), or None for a loss that is spread evenly.
        """
        edges = WHOLE if warming is None else GRADED
        position, _ = _panels(edges)
        spans = np.diff([distance for distance, _ in anchors])
        rises = [0.0] * len(spans)
        if warming is not None:
            rises = warming.rise_w_m.reshape(len(spans), -1)
        stretches = [
            temperatures_between(start_k, end_k, position, rise)
            for ((_, start_k), (_, end_k)), rise in zip(
                itertools.pairwise(anchors), rises, strict=True
            )
        ]
        temperature_k = np.concatenate(stretches)
        even = np.ones((1, len(temperature_k)))
        density = even if losses_at is None else np.array(losses_at(temperature_k), float)
        panels = np.concatenate([span * np.diff(edges) for span in spans])
        weights = np.concatenate([WEIGHTS * panel / 2 for panel in panels])
        return cls(
            temperature_k, spans, position, density * weights, _before(density, panels)
        )

    @property
    def whole(self):
        """Each part's loss from end to end, shape (parts,)."""
        return self.slices.sum(axis=1)


def _before(density, spans):
    """Return the integrals of densities (parts, nodes) over panels from the start to each node."""
    found, passed = [], np.zeros((len(density), 1))
    for index, span in enumerate(spans):
        stretch = density[:, index * len(NODES) : (index + 1) * len(NODES)] * span / 2
        found.append(passed + stretch @ _RUNNING.T)
        passed = passed + (stretch @ WEIGHTS)[:, None]
    return np.concatenate(found, axis=1)


class Profile:
    """A Rod at frequencies: `amounts` are the parts' functions of frequency, (parts, ..., points).

    Amounts times the Rod's parts are decibels.
    """

    def __init__(self, rod, amounts):
        self._rod = rod
        self._slices = _summed(rod.slices, amounts)
        self._before = _summed(rod.before, amounts)
        self.loss_db = self._slices.sum(axis=0)
        """From end to end, shape (..., points)."""

    def photons_at_ends(self, frequency_hz):
        """Return the loss-weighted mean photons toward the start and toward the end."""
        nodes = (-1,) + (1,) * self.loss_db.ndim
        own = photons(
            frequency_hz=frequency_hz, temperature_k=self._rod.temperature_k.reshape(nodes)
        )
        return [(weight * own).sum(axis=0) / total for weight, total in self._seen_from_ends()]

    def absorbed_slices(self):
        """Return how what is absorbed of a wave from the start, the end, parts over the slices.

        Two arrays (nodes, ..., points), each column adding to one.
        """
        return [weight / total for weight, total in self._seen_from_ends()]

    def _seen_from_ends(self):
        """Return (weights, total): how much each slice emits to (absorbs from) each end's wave.

        Divided by their total, a cable at one temperature emits exactly as that temperature.
        """
        found = []
        for passed in (self._before, self.loss_db - self._before):
            weight = self._slices * np.exp(-_LN10_10 * passed)
            total = weight.sum(axis=0)
            found.append((weight, np.where(total > 0, total, 1.0)))
        return found

    def absorbed_at_anchors(self):
        """Return how what is absorbed of a wave from the start, the end, parts over the anchors.

        Two arrays (anchors, ..., points), each column adding to one.  Every slice's heat goes to
        the anchors on both sides in proportion to position: exact for a steady uniform rod,
        whatever k(T) is.
        """
        position, spans, found = self._rod.position, self._rod.spans, []
        for slices in self.absorbed_slices():
            stretches = slices.reshape(len(spans), len(position), *slices.shape[1:])
            anchors = np.zeros((len(spans) + 1, *slices.shape[1:]))
            anchors[:-1] += np.tensordot(stretches, 1.0 - position, (1, 0))
            anchors[1:] += np.tensordot(stretches, position, (1, 0))
            found.append(anchors)
        return found


def _summed(parts, amounts):
    """Return the sum of parts (parts, nodes) times amounts (parts, ...), shape (nodes, ...)."""
    flat = amounts.reshape(len(parts), -1)
    return (parts.T @ flat).reshape(-1, *amounts.shape[1:])
