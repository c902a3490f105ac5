"""Scattering read from Touchstone files: checked, renormalised to 50 ohm, interpolated."""

from __future__ import annotations

import functools
import io
import os
import stat
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from components.bounds import MOST_NOISE_FIGURE_DB, MOST_NOISE_RESISTANCE_OHM
from components.constants import Z0
from components.nport import lossiness
from components.touchstone_form import checked, ports_named
from components.touchstone_head import LEAST_OHM, MOST_OHM, DataError

if TYPE_CHECKING:
    from components.arrays import ComplexArray, FloatArray
    from components.nport import Entries

CALIBRATION_SLACK = 0.02
"""Power gain over one that a passive part's file may show through calibration error, 0.09 dB
(common practice, no source); such points are scaled back to one."""

MAX_BYTES = 32 << 20
"""Bytes of a file: 100,001 points of a two-port with fifteen digits take 20 MB."""

MAX_GAIN = 1e6
"""Amplitudes of S that a file may hold, 120 dB: more than any part or chain of them that is stable
(common practice, no source)."""

_KEPT_GRIDS = 4
"""Sets of frequencies for which a file's S is kept: signal, idler, and those of the laws."""


@dataclass(frozen=True)
class NamedFile:
    """A Touchstone file that a layout names; read when first asked, and held from then on."""

    path: str
    hold: bool = False
    """True where the end points hold beyond the file's frequencies."""

    @functools.cached_property
    def data(self) -> Contents:
        """The file's contents, those of the first time that it was asked for; raises DataError."""
        return read(self.path)

    @property
    def ports(self) -> int:
        """Number of ports."""
        return self.data.scattering.shape[1]

    @property
    def active(self) -> bool:
        """True where the file shows gain beyond what calibration explains."""
        return self.data.active

    def scattering(self, frequency_hz: FloatArray) -> ComplexArray:
        """Return S at `frequency_hz`, shape (n, n, points); raises DataError outside the file."""
        return self.data.at(frequency_hz, hold=self.hold)

    def entries(self, frequency_hz: FloatArray) -> tuple[Entries, Entries]:
        """Return S and I - S S^H at `frequency_hz`, of what is not zero all over the file."""
        found = self.data.interpolated(frequency_hz, hold=self.hold)
        return found.entries, found.lossiness

    def noise(self, frequency_hz: FloatArray) -> tuple[FloatArray, ComplexArray, FloatArray] | None:
        """Return Fmin (ratio), Gamma_opt and Rn (ohm) at `frequency_hz`, or None without them."""
        return self.data.noise_at(frequency_hz, hold=self.hold)


@dataclass(frozen=True)
class Interpolated:
    """What a file says at some frequencies; it is handed out more than once."""

    scattering: ComplexArray
    """Shape (n, n, points)."""
    paths: tuple[tuple[int, int], ...]
    """Entries (row, column) that are not zero all over the file."""

    @functools.cached_property
    def entries(self) -> Entries:
        """{(row, column): S} of what is not zero all over the file."""
        return {(i, j): self.scattering[i, j] for i, j in self.paths}

    @functools.cached_property
    def lossiness(self) -> Entries:
        """The upper entries of I - S S^H."""
        return lossiness(self.entries, (1,) * len(self.scattering))


@dataclass(frozen=True)
class Contents:
    """What a Touchstone file holds."""

    name: str
    frequency_hz: FloatArray
    scattering: ComplexArray
    """Shape (points, n, n), 50 ohm power waves."""
    noise: tuple[FloatArray, FloatArray, ComplexArray, FloatArray] | None
    """Frequency (Hz), Fmin (ratio), Gamma_opt (50 ohm), Rn (ohm), or None."""
    largest_gain: float
    """Largest squared singular value of S over the file."""

    @property
    def active(self) -> bool:
        """True where the file shows gain beyond what calibration explains."""
        return self.largest_gain > 1 + CALIBRATION_SLACK

    def at(self, frequency_hz: FloatArray, *, hold: bool = False) -> ComplexArray:
        """Return S at frequencies (Hz, (points,)), shape (n, n, points).

        Linear in magnitude and in unwrapped phase: between points of a long cable, linear in real
        and imaginary parts errs by more than a decibel.  Raises DataError outside, unless `hold`.
        """
        return self.interpolated(frequency_hz, hold=hold).scattering

    def interpolated(self, frequency_hz: FloatArray, *, hold: bool = False) -> Interpolated:
        """Return the same with what follows from it, worked out once for equal frequencies."""
        f = np.asarray(frequency_hz, float)
        self._cover(f, self.frequency_hz, hold)
        grid = f.tobytes()
        if grid not in self._lately:
            while len(self._lately) >= _KEPT_GRIDS:
                del self._lately[next(iter(self._lately))]
            self._lately[grid] = Interpolated(self._between_points(f), self.paths)
        return self._lately[grid]

    def _between_points(self, f):
        if np.array_equal(f, self.frequency_hz):
            s = np.moveaxis(self.scattering, 0, -1).copy(order="C")
            passive = self.largest_gain <= 1.0
        else:
            size, phase = self._polar
            right, part = _between(f, self.frequency_hz)
            s = _linear(size, right, part) * np.exp(1j * _linear(phase, right, part))
            passive = False  # between passive points it need not be
        if not (self.active or passive):
            s = _no_gain(s)
        s.flags.writeable = False  # handed out more than once
        return s

    @functools.cached_property
    def paths(self) -> tuple[tuple[int, int], ...]:
        """Entries (row, column) of S that are not zero at every frequency."""
        return tuple(
            (int(i), int(j)) for i, j in np.argwhere(np.any(self.scattering != 0, axis=0))
        )

    @functools.cached_property
    def _polar(self):
        """Magnitude and unwrapped phase, shape (n, n, points) each."""
        s = np.ascontiguousarray(np.moveaxis(self.scattering, 0, -1))
        return np.abs(s), np.unwrap(np.angle(s), axis=-1)

    @functools.cached_property
    def _lately(self) -> dict[bytes, Interpolated]:
        """What was asked last, by its frequencies as bytes."""
        return {}

    def noise_at(
        self, frequency_hz: FloatArray, *, hold: bool = False
    ) -> tuple[FloatArray, ComplexArray, FloatArray] | None:
        """Return Fmin (ratio), Gamma_opt and Rn (ohm) at frequencies (Hz), or None."""
        if self.noise is None:
            return None
        f, (own, fmin, gamma, rn) = np.asarray(frequency_hz, float), self.noise
        self._cover(f, own, hold)
        turned = np.interp(f, own, np.unwrap(np.angle(gamma)))
        opt = np.interp(f, own, np.abs(gamma)) * np.exp(1j * turned)
        return np.interp(f, own, fmin), opt, np.interp(f, own, rn)

    def _cover(self, f, own, hold):
        if hold or not f.size:
            return
        if f.min() < own[0] * (1 - 1e-9) or f.max() > own[-1] * (1 + 1e-9):
            raise DataError(
                f"{self.name} reaches from {own[0] / 1e9:g} GHz to {own[-1] / 1e9:g} GHz, and "
                f"{f.min() / 1e9:g} GHz to {f.max() / 1e9:g} GHz is needed",
                "measure it over all of that (idler band included), or write "
                "`data: {file: ..., outside: hold}`",
            )


def _between(f, own):
    """Return the index of the point at or right of each frequency, and the part of the way there.

    Beyond the ends the end points hold.
    """
    if len(own) == 1:
        return np.zeros(f.size, int), np.ones(f.size)
    right = np.clip(np.searchsorted(own, f), 1, len(own) - 1)
    return right, np.clip((f - own[right - 1]) / (own[right] - own[right - 1]), 0.0, 1.0)


def _linear(values, right, part):
    """Return values (n, n, points) between points."""
    left = values[..., np.maximum(right - 1, 0)]
    return left + (values[..., right] - left) * part


def _no_gain(s):
    """Scale back the points where a passive file shows gain through calibration error.

    No eigenvalue of S^H S is above the largest sum of |S^H S| along a row (S. Gershgorin, 1931);
    only where that is above one is the largest singular value worked out.
    """
    gram = np.einsum("ki...,kj...->ij...", np.conj(s), s)
    above = np.flatnonzero(np.abs(gram).sum(axis=1).max(axis=0) > 1.0)
    if above.size:
        largest = np.linalg.norm(np.moveaxis(s[..., above], -1, 0), ord=2, axis=(1, 2))
        s[..., above] = s[..., above] / np.maximum(largest, 1.0)
    return s


def read(path: str) -> Contents:
    """Return the Contents of the Touchstone file at `path`; raises DataError.

    Versions 1 and 2, any number of ports, read by scikit-rf and renormalised to 50 ohm; cached
    until the file changes.
    """
    try:
        found = os.stat(path)
    except OSError as error:
        raise _out_of_reach(path, error) from error
    if not stat.S_ISREG(found.st_mode):
        raise DataError(f"{path} is not a file", "name a Touchstone file")
    if found.st_size > MAX_BYTES:
        raise DataError(
            f"{path} has {found.st_size >> 20} MB", f"thin it out to at most {MAX_BYTES >> 20} MB"
        )
    return _read(path, found.st_mtime_ns, found.st_size)


def _out_of_reach(path, error):
    return DataError(
        f"{path}: {error.strerror or error}", "name a Touchstone file that is there"
    )


@functools.lru_cache(maxsize=256)
def _read(path, _changed, _size):
    name = os.path.basename(path)
    try:
        with open(path, "rb") as file:
            content = file.read()
    except OSError as error:
        raise _out_of_reach(path, error) from error
    if b"\0" in content:
        raise DataError(f"{name} is not text", "name a Touchstone file")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    del content
    form = checked(name, text)
    return _contents(name, form, _parsed(name, path, form.text))


def _parsed(name, path, text):
    """Return the file as scikit-rf's parser holds it."""
    from skrf.io.touchstone import Touchstone

    file = io.StringIO(text)
    file.name = path
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return Touchstone(file)
    except Exception as error:  # the reader raises whatever its parsing happens to trip over
        raise DataError(
            f"{name} cannot be read as Touchstone ({_first_line(error)})",
            "give a complete Touchstone 1 or 2 file, named .sNp for N ports, or .ts",
        ) from error


def _first_line(error):
    lines = str(error).strip().splitlines()
    return lines[0][:120] if lines else type(error).__name__


def _contents(name, form, raw):
    s, f = np.array(raw.s, complex), np.array(raw.f, float)
    named = ports_named(name)
    if named is not None and named != s.shape[1]:
        raise DataError(f"{name} holds {s.shape[1]} ports and its name says {named}", "rename it")
    _bounded(name, form, s)
    z0 = _references(name, form, np.array(raw.z0, complex), s.shape[:2])
    if np.any(np.abs(z0 - Z0) > 1e-9):
        s = _renormalised(name, s, z0, raw.s_def or "power")
        _bounded(name, form, s)
    largest = float(np.max(np.linalg.norm(s, ord=2, axis=(1, 2))) ** 2)
    return Contents(name, f, s, _noise(name, form, z0), largest)


def _bounded(name, form, s):
    """Refuse a file whose S is not finite or beyond all measure."""
    size = np.max(np.abs(s), axis=(1, 2))
    wrong = np.flatnonzero(~(size <= MAX_GAIN))
    if wrong.size:
        raise DataError(
            f"{name}:{form.points[wrong[0]]}: the point has an S that is not finite or above "
            f"{20 * np.log10(MAX_GAIN):g} dB", "measure it again",
        )


def _references(name, form, z0, shape):
    """Return the ports' references, `shape` (points, n), where waves can be had in them."""
    z0 = np.broadcast_to(z0, shape)
    wrong = np.argwhere(~((z0.real >= LEAST_OHM) & (np.abs(z0) <= MOST_OHM)))
    if wrong.size:
        point, port = wrong[0]
        line = form.impedance_lines[point] if form.impedance_lines else 1
        raise DataError(
            f"{name}:{line}: port {port + 1} has an impedance of {z0[point, port]:g} ohm",
            f"give a reference between {LEAST_OHM:g} and {MOST_OHM:g} ohm, as 50",
        )
    return z0


def _renormalised(name, s, z0, definition):
    """Return S in 50 ohm power waves of a network with ports of `z0` ohm (points, n).

    `definition` is the reader's word for the file's waves; it matters for complex `z0`.

    K. Kurokawa, Power waves and the scattering matrix, IEEE Trans. MTT 13, 194 (1965), the change
    of reference; needs no impedance matrix, which a series element does not have.
    """
    from skrf.network import s2s

    power = s if np.all(z0.imag == 0) else s2s(s, z0, "power", definition)
    r = (Z0 - z0) / (Z0 + np.conj(z0))
    # New waves from old ones: a' = k (a - r b), b' = k* (b - r* a).
    k = (Z0 + np.conj(z0)) / (2.0 * np.sqrt(Z0 * z0.real))
    eye = np.eye(s.shape[1])
    try:
        bounced = np.linalg.inv(eye - r[:, :, None] * power)
    except np.linalg.LinAlgError as error:
        raise DataError(
            f"{name}: its port reference of {z0[0, 0]:g} ohm cannot be changed to 50 ohm here",
            "export the file in 50 ohm",
        ) from error
    changed = (power - np.conj(r)[:, :, None] * eye) @ bounced
    return np.conj(k)[:, :, None] * changed / k[:, None, :]


def _noise(name, form, z0):
    """Return the noise data of a two-port's file, its optimum renormalised to 50 ohm, or None."""
    if not form.noise:
        return None
    own, figure_db, size, degrees, resistance = np.array(form.noise).T
    reference = z0[0, 0].real
    # Version 1 gives the noise resistance over the reference, version 2 in ohm.
    resistance = resistance * reference if form.version == 1 else resistance
    wrong = (figure_db < 0) | (size >= 1) | (size < 0) | (resistance < 0)
    if np.any(wrong):
        raise DataError(
            f"{name}:{form.noise_lines[np.argmax(wrong)]}: noise that no two-port has (a minimum "
            "noise figure or noise resistance below 0, or an optimum reflection of 1 or more)",
            "measure it again",
        )
    wrong = (figure_db > MOST_NOISE_FIGURE_DB) | (resistance > MOST_NOISE_RESISTANCE_OHM)
    if np.any(wrong):
        raise DataError(
            f"{name}:{form.noise_lines[np.argmax(wrong)]}: a noise figure above "
            f"{MOST_NOISE_FIGURE_DB:g} dB or a noise resistance above "
            f"{MOST_NOISE_RESISTANCE_OHM / 1e3:g} kohm",
            "measure it again",
        )
    optimum = size * np.exp(1j * np.deg2rad(degrees))
    if reference != Z0:
        source = reference * (1 + optimum) / (1 - optimum)
        optimum = (source - Z0) / (source + Z0)
    return own * form.unit_hz, 10.0 ** (figure_db / 10.0), optimum, resistance
