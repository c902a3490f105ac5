"""Temperature and loss along a cable, and what of both is seen from its ends."""

import itertools
from dataclasses import dataclass

import numpy as np

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
    slices: np.ndarray
    """Each part's loss in the slice of each node, shape (parts, nodes)."""
    before: np.ndarray
    """Each part's loss from the start to each node, shape (parts, nodes)."""

    @classmethod
    def of(cls, anchors, temperatures_between, losses_at=None):
        """Return the Rod of anchors, (distance over length, kelvin) from start to end.

        `temperatures_between(start_k, end_k, position)` gives kelvin at positions 0 .. 1 of a
        stretch; `losses_at(kelvin)` the parts of the loss, shape (parts, nodes), or None for a
        loss that is spread evenly.
        """
        position = (NODES + 1.0) / 2.0
        stretches = [
            temperatures_between(start_k, end_k, position)
            for (_, start_k), (_, end_k) in itertools.pairwise(anchors)
        ]
        temperature_k = np.concatenate(stretches)
        spans = np.diff([distance for distance, _ in anchors])
        even = np.ones((1, len(temperature_k)))
        density = even if losses_at is None else np.array(losses_at(temperature_k), float)
        weights = np.concatenate([WEIGHTS * span / 2 for span in spans])
        return cls(temperature_k, spans, density * weights, _before(density, spans))

    @property
    def whole(self):
        """Each part's loss from end to end, shape (parts,)."""
        return self.slices.sum(axis=1)


def _before(density, spans):
    """Return the integrals of densities (parts, nodes) from the start to each node."""
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
        position, spans, found = (NODES + 1.0) / 2.0, self._rod.spans, []
        for weight, total in self._seen_from_ends():
            stretches = (weight / total).reshape(len(spans), len(NODES), *weight.shape[1:])
            anchors = np.zeros((len(spans) + 1, *weight.shape[1:]))
            anchors[:-1] += np.tensordot(stretches, 1.0 - position, (1, 0))
            anchors[1:] += np.tensordot(stretches, position, (1, 0))
            found.append(anchors)
        return found


def _summed(parts, amounts):
    """Return the sum of parts (parts, nodes) times amounts (parts, ...), shape (nodes, ...)."""
    flat = amounts.reshape(len(parts), -1)
    return (parts.T @ flat).reshape(-1, *amounts.shape[1:])
