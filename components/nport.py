"""The border between components and chains: an n-port that scatters and emits.

Power waves in 50 ohm, time as exp(+j w t).  A wave's squared magnitude is counted in quanta (hf per
hertz) where it is noise and in watt where it is a tone.  Emission is symmetrised: a matched load at
zero temperature emits 1/2, the vacuum, and it is never left out.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias, cast

import numpy as np

from components.arrays import ComplexArray, ComplexLike, FloatLike

Entries: TypeAlias = dict[tuple[int, int], ComplexLike]
"""Entries of a matrix by (row, column); what is absent is zero at every frequency.

A value is a complex number or an array that broadcasts to (draws, points).  Absent entries are
zero by structure: nothing is computed with them, so a matched chain costs what a cascade costs.
"""
EntryMap: TypeAlias = Mapping[tuple[int, int], ComplexLike]
"""Entries that are only read."""


@dataclass(frozen=True)
class NPort:
    """What an element does at given frequencies: b = S a + c, with <c_i c_j*> = C_ij.

    `ports` names the waves' places.  `sidebands` is +1 for a wave at the signal frequency and -1
    for the conjugate of a wave at the idler, which only a pumped parametric amplifier mixes.
    """

    ports: tuple[str, ...]
    scattering: EntryMap
    emission: EntryMap
    """C in quanta; only entries with row <= column are kept, C being Hermitian."""
    sidebands: tuple[int, ...]
    emitted: FloatLike | None = None
    """N in quanta where the element emits D N (C = (I - S S^H) N, Bosma), or None."""

    @functools.cached_property
    def lossiness(self) -> Entries:
        """D = J - S J S^H, what the emission's commutator has to be (upper entries).

        J is diagonal with the sidebands' signs.  Bosma's theorem for one temperature is C = D N,
        and any element at all obeys C +- D/2 >= 0 (C. M. Caves, Quantum limits on noise in linear
        amplifiers, Phys. Rev. D 26, 1817, 1982).
        """
        return lossiness(self.scattering, self.sidebands)

    @classmethod
    def thermal(
        cls, ports: Sequence[str], scattering: EntryMap, emitted: FloatLike,
        loss: Entries | None = None,
    ) -> NPort:
        """Return a passive n-port at one temperature, which emits by Bosma's theorem.

        `emitted` is N in quanta; `loss` is I - S S^H where that is known already.
        """
        loss = lossiness(scattering, (1,) * len(ports)) if loss is None else loss
        nport = cls(
            tuple(ports), scattering, _thermal(loss, emitted), (1,) * len(ports), emitted
        )
        nport.__dict__["lossiness"] = loss
        return nport

    @classmethod
    def plain(cls, ports: Sequence[str], scattering: EntryMap, emission: EntryMap) -> NPort:
        """Return the n-port whose waves are all at the signal frequency."""
        return cls(tuple(ports), scattering, emission, (1,) * len(ports))

    def conjugate(self) -> NPort:
        """Return the same element for the conjugate waves at the idler frequency."""
        return NPort(
            self.ports,
            {key: np.conj(entry) for key, entry in self.scattering.items()},
            {key: np.conj(entry) for key, entry in self.emission.items()},
            tuple(-side for side in self.sidebands),
            self.emitted,
        )

    def dense(self, points: int) -> tuple[ComplexArray, ComplexArray]:
        """Return S and C as arrays (draws, points, n, n); `points` is the number of frequencies."""
        n = len(self.ports)
        shape = np.broadcast_shapes(
            (1, points),
            *(np.shape(entry) for entry in (*self.scattering.values(), *self.emission.values())),
        )
        s, c = np.zeros((*shape, n, n), complex), np.zeros((*shape, n, n), complex)
        for (i, j), entry in self.scattering.items():
            s[..., i, j] = entry
        for (i, j), entry in self.emission.items():
            c[..., i, j] = entry
            if i != j:
                c[..., j, i] = np.conj(entry)
        return s, c


def lossiness(scattering: EntryMap, sidebands: Sequence[int]) -> Entries:
    """Return the upper entries of J - S J S^H for scattering entries and sideband signs."""
    rows = {}
    for (i, k), entry in scattering.items():
        rows.setdefault(i, {})[k] = entry
    scattered: Entries = {}
    for i, row in rows.items():
        for j, other in rows.items():
            if i > j:
                continue
            for k in row:
                if k in other:
                    term = magnitude2(row[k]) if i == j else row[k] * np.conj(other[k])
                    term = term if sidebands[k] > 0 else -term
                    scattered[i, j] = scattered[i, j] + term if (i, j) in scattered else term
    result: Entries = {(i, i): float(sign) for i, sign in enumerate(sidebands)}
    for key, term in scattered.items():
        result[key] = result[key] - term if key in result else -term
    return result


def magnitude2(entry: ComplexLike) -> FloatLike:
    """Return |entry|^2 without the square root of abs()."""
    if not np.iscomplexobj(entry):
        return cast("FloatLike", entry * entry)
    squared = np.square(entry.real)
    squared += np.square(entry.imag)
    return cast("FloatLike", squared)


def bosma(scattering: EntryMap, ports: int, emitted: FloatLike) -> Entries:
    """Return C = (I - S S^H) N of a passive element at one temperature, N = `emitted` quanta.

    H. Bosma, On the theory of linear noisy systems, Philips Res. Repts Suppl. 10 (1967).
    """
    return _thermal(lossiness(scattering, (1,) * ports), emitted)


def _thermal(loss, emitted):
    """Return D N; rounding can leave a lossless port with D of -1e-16 where nothing is absorbed."""
    return {
        (i, j): (np.maximum(entry, 0.0) if i == j else entry) * emitted
        for (i, j), entry in loss.items()
    }


def evenly_lossy(ports: int, kept: FloatLike, emitted: FloatLike) -> Entries:
    """Return C of an element whose S is the amplitude `kept` times a unitary matrix.

    Then I - S S^H is 1 - kept^2 on the diagonal, free of the rounding of a product; nothing where
    the element is lossless.
    """
    lost = 1.0 - np.asarray(kept) ** 2
    if not np.any(lost):
        return {}
    return {(i, i): lost * emitted for i in range(ports)}


def entry_of(hermitian: EntryMap, i: int, j: int) -> ComplexLike | None:
    """Return entry (i, j) of a Hermitian matrix kept as its upper entries, or None."""
    if i <= j:
        return hermitian.get((i, j))
    entry = hermitian.get((j, i))
    return None if entry is None else np.conj(entry)


def behind_reflector(nport: NPort, index: int, reflection: ComplexLike) -> NPort:
    """Return `nport` with a lossless reflector in front of port `index`, seen as `reflection`.

    The reflector sends back `reflection` outside and minus its conjugate inside and lets
    sqrt(1 - |reflection|^2) through, so it is passive and emits nothing of its own.
    """
    through = np.sqrt(1.0 - magnitude2(reflection))
    inside = -np.conj(reflection)
    s, own = nport.scattering, nport.scattering.get((index, index))
    # What a wave makes of one visit to the port: the sum over its bounces against the reflector.
    bounce = 1.0 if own is None else 1.0 / (1.0 - inside * own)
    fed = {i: s[i, index] for i in range(len(nport.ports)) if (i, index) in s}
    left = {j: s[index, j] for j in range(len(nport.ports)) if (index, j) in s}
    scattering = {}
    for (i, j), entry in s.items():
        if i != index and j != index:
            scattering[i, j] = entry
    for i, into in fed.items():
        for j, out in left.items():
            if i != index and j != index:
                term = into * inside * bounce * out
                scattering[i, j] = scattering[i, j] + term if (i, j) in scattering else term
    for i, into in fed.items():
        if i != index:
            scattering[i, index] = through * bounce * into
    for j, out in left.items():
        if j != index:
            scattering[index, j] = through * bounce * out
    outer = reflection if own is None else reflection + through**2 * bounce * own
    scattering[index, index] = outer
    mixing = {i: inside * bounce * into for i, into in fed.items() if i != index}
    emission = _mixed_emission(nport.emission, index, through * bounce, mixing)
    return NPort(nport.ports, scattering, emission, nport.sidebands)


def _mixed_emission(emission, index, scale, mixing):
    """Return C after c_index -> scale c_index and c_i -> c_i + mixing_i c_index."""
    result = {key: entry for key, entry in emission.items() if index not in key}
    own = emission.get((index, index))

    def add(i, j, term):
        key, value = ((i, j), term) if i <= j else ((j, i), np.conj(term))
        result[key] = result[key] + value if key in result else value

    others = {i for key in emission for i in key if i != index} | set(mixing)
    for i in sorted(others):
        cross = entry_of(emission, i, index)
        into = cross
        if i in mixing and own is not None:
            into = mixing[i] * own if into is None else into + mixing[i] * own
        if into is not None:
            add(i, index, into * np.conj(scale))
    for i in sorted(others):
        for j in sorted(others):
            if i > j:
                continue
            terms = []
            if j in mixing and (cross := entry_of(emission, i, index)) is not None:
                terms.append(cross * np.conj(mixing[j]))
            if i in mixing and (cross := entry_of(emission, index, j)) is not None:
                terms.append(mixing[i] * cross)
            if i in mixing and j in mixing and own is not None:
                terms.append(mixing[i] * np.conj(mixing[j]) * own)
            for term in terms:
                add(i, j, np.real(term) if i == j else term)
    if own is not None:
        result[index, index] = magnitude2(scale) * own
    return result


def loaded(nport: NPort, index: int, emitted: FloatLike) -> NPort:
    """Return `nport` with a matched load that emits `emitted` quanta on port `index`."""
    keep = [i for i in range(len(nport.ports)) if i != index]
    place = {old: new for new, old in enumerate(keep)}
    s = nport.scattering
    emission = {
        (place[i], place[j]): entry
        for (i, j), entry in nport.emission.items()
        if index not in (i, j)
    }
    fed = {i: s[i, index] for i in keep if (i, index) in s}
    for i, into in fed.items():
        for j, other in fed.items():
            if i > j:
                continue
            term = (magnitude2(into) if i == j else into * np.conj(other)) * emitted
            key = (place[i], place[j])
            emission[key] = emission[key] + term if key in emission else term
    return NPort(
        tuple(nport.ports[i] for i in keep),
        {(place[i], place[j]): e for (i, j), e in s.items() if index not in (i, j)},
        emission,
        tuple(nport.sidebands[i] for i in keep),
    )
