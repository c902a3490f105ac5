"""Isolators and circulators."""

from dataclasses import dataclass

import numpy as np

from components.declaration import LOSS, MISMATCH, Caution, Kind, kind
from components.faults import extra_loss, turned
from components.hot_films import HOT, hot_problems, stated_law
from components.parameters import Measure, Parameter, ParameterError
from components.phases import UnknownPhase, backward

ISOLATION = Parameter(
    "isolation", Measure("ratio", over_frequency=True),
    "loss in the reverse direction; infinite where not given",
)

MAGNET = (
    Caution("it has a magnet inside: keep it clear of magnetic shields, of steel tools and of "
            "others of its kind"),
)


@kind
class Isolator(Kind):
    """A matched two-port: S21 = 10^(-insertion_loss/20), S12 = 10^(-isolation/20).

    Toward its input it emits (1 - 1/isolation) N: nearly a load at its own temperature.
    """

    name = "isolator"
    symbol = "isolator"
    serves = "isolation"
    usual = {"insertion_loss": "0.3 dB", "isolation": "20 dB"}
    breaks = True
    summary = "Passes waves in one direction; what comes back is absorbed at its stage."
    noise = "Emits as a passive part at its temperature: back toward its input nearly as a load."
    parameters = (
        Parameter("insertion_loss", LOSS, "loss in the forward direction", "0 dB"),
        ISOLATION,
        *HOT,
    )
    example = "{id: I1, kind: isolator, stage: mixing, insertion_loss: 0.3 dB, isolation: 20 dB}"

    def check(self, settings):
        """Yield what is missing of the law by which tones warm it."""
        yield from hot_problems(settings)

    def hot_law(self, settings):
        return stated_law(settings)

    def phases(self, settings):
        return backward("isolation") if settings.given("isolation") else ()

    def faults(self, settings):
        return (extra_loss(1.0), turned(0.5))

    def fragility(self, settings):
        return 1

    def handling(self, settings):
        return MAGNET

    def scattering(self, settings, at):
        s = {(1, 0): settings.lets_through("insertion_loss", at)}
        back = settings.lets_through("isolation", at)
        if back is not None:
            s[0, 1] = back
        return s


@kind
class Circulator(Kind):
    """A three-port that passes 1 to 2, 2 to 3 and 3 to 1, with equal ports.

    Without `return_loss` it is the lossless circulator whose ports reflect what unitarity asks
    (r = -l i / (l + i) for amplitudes l forward and i backward), times the insertion loss.  With
    `return_loss` the reflection has that size and one of the phases with which it is passive
    (`passive_phases`): to first order r + i* has to lie in a triangle about zero, so a reflection
    and a leak of equal size must nearly cancel, and where loss leaves them room they need not.
    """

    name = "circulator"
    symbol = "circulator"
    breaks = True
    summary = "Passes waves from port 1 to 2, 2 to 3, 3 to 1."
    port_names = ("1", "2", "3")
    route = ("1", "2")
    without = frozenset({"return_loss"})
    parameters = (
        Parameter("insertion_loss", LOSS, "loss in the forward direction", "0 dB"),
        ISOLATION,
        Parameter(
            "return_loss", MISMATCH,
            "reflection at each port; as much as it isolates where not given",
        ),
        *HOT,
    )
    example = (
        "{id: K1, kind: circulator, stage: mixing, insertion_loss: 0.3 dB, isolation: 20 dB, "
        "loads: ['3']}"
    )

    def check(self, settings):
        """Yield what is missing of the law by which tones warm it."""
        yield from hot_problems(settings)

    def hot_law(self, settings):
        return stated_law(settings)

    def holds_reflections(self, settings):
        return True

    def reflection_names(self, settings):
        return ("every port",)

    def phases(self, settings):
        """Return two phases, as many as there are that leave the ways through as they are.

        With l real, unitarity ties the phases of what leaks and of what is reflected to one
        another: reflections a, b, -(a + b) at ports 1, 2, 3, leaks a + b from 2 to 1, -a from 3 to
        2, -b from 1 to 3.  A phase of `isolation` that is given is that of the latter two.
        """
        if not settings.first("isolation", "return_loss"):
            return ()
        parameter = "isolation" if settings.given("isolation") else "return_loss"
        return (
            UnknownPhase(parameter, "a", {"1": 1}, {"3": -1}, sign=-1),
            UnknownPhase(parameter, "b", {"1": 1, "2": 1}, {"1": -1, "3": -1}, sign=-1),
        )

    def fragility(self, settings):
        return 1

    def handling(self, settings):
        return MAGNET

    def scattering(self, settings, at):
        forward = settings.lets_through("insertion_loss", at)
        back = settings.lets_through("isolation", at)
        reflection = settings.lets_through("return_loss", at)
        if reflection is not None:
            reflection = reflection * self._phase(forward, back, reflection, at.phase("1"))
        elif back is not None:
            forward, reflection = self._unitary(back / forward, forward)
        s = {}
        for i in range(3):
            s[(i + 1) % 3, i] = forward
            if back is not None:
                s[i, (i + 1) % 3] = back
            if reflection is not None:
                s[i, i] = reflection
        return s

    @staticmethod
    def _unitary(back, scale):
        """Return forward and reflection of the lossless circulator, times `scale`."""
        if np.any(back >= 0.6):
            # l = i = r in size at 2/3: there is no circulator with less isolation than that.
            raise ParameterError(
                "isolation", "a circulator cannot isolate less than about 4.5 dB",
                "give a higher isolation, or say return_loss",
            )
        # l^2 + i^2 + r^2 = 1 with r = -l i / (l + i) is the square of l^2 + l i + i^2 = l + i.
        forward = (1.0 - back + np.sqrt((1.0 - back) * (1.0 + 3.0 * back))) / 2.0
        return scale * forward, -scale * forward * back / (forward + back)

    @staticmethod
    def _phase(forward, back, reflection, drawn):
        """Return the phasor of the reflection for a drawn one; raises ParameterError."""
        back = 0.0 if back is None else back
        phases = passive_phases(forward=forward, back=back, reflection=reflection)
        if np.all(phases.exist):
            return phases.phasor(drawn)
        loss_db = least_loss_db(back=back, reflection=reflection)
        instead = "raise isolation or return_loss"
        if loss_db is not None:
            instead = f"give an insertion_loss of at least {loss_db:.4f} dB, or {instead}"
        raise ParameterError(
            "insertion_loss",
            "no passive circulator has this isolation and return loss with so little loss, "
            "whatever the phase of its reflection", instead,
        )


@dataclass(frozen=True)
class PassivePhases:
    """Phases of the reflection, the same at each port, with which a circulator is passive.

    In rad from pi, to either side: from 0 to `near`, and from `start` to `end`; an arc whose end
    lies before its start is closed.  Numbers, or arrays that broadcast to (draws, points).
    """

    near: np.ndarray
    start: np.ndarray
    end: np.ndarray

    @property
    def exist(self):
        """True where there are any; a single one, without loss, is met to 1e-11 rad."""
        return (self.near >= -1e-11) | (self.end - self.start >= -1e-11)

    def phasor(self, drawn):
        """Return the phasor of a passive phase for a drawn one (any unit phasor).

        Phases that are drawn evenly lie evenly on what is passive, and as drawn where all is.
        """
        near, far = np.maximum(self.near, 0.0), np.maximum(self.end - self.start, 0.0)
        turned = np.angle(-np.asarray(drawn))
        way = np.abs(turned) / np.pi * (near + far)
        closed = self.near < -1e-11
        beyond = closed | ((way > near) & (far > 0))
        way = np.where(beyond, self.start + way - near, way)
        return -np.exp(1j * np.copysign(way, turned))


def passive_phases(*, forward, back, reflection):
    """Return the PassivePhases of a symmetric circulator, S of its matched ports real.

    `forward`, `back` and `reflection` are amplitudes (sizes of S21, S12, S11); numbers or arrays.
    S is circulant and so normal: its singular values are |r + l w^k + i w^2k|, w = exp(2 pi j / 3),
    k = 0, 1, 2, and it is passive where none is above one.  Each takes an arc out of the circle of
    r's phases, about the phase of l w^k + i w^2k; those of k = 1 and 2 mirror each other.
    """
    turn = np.exp(2j * np.pi / 3)
    along, across = forward + back, forward * turn + back * np.conj(turn)
    end = np.pi - _half_width(reflection, np.abs(along))
    middle, width = np.pi - np.abs(np.angle(across)), _half_width(reflection, np.abs(across))
    return PassivePhases(np.minimum(middle - width, end), middle + width, end)


def _half_width(reflection, size):
    """Return half the angle (rad) in which two phasors of these sizes add to more than one.

    Two turns where they always do, so that no arc is left of a circle.
    """
    room, product = 1.0 - reflection**2 - size**2, 2.0 * reflection * size
    cosine = np.where(room < product, room / np.where(product > 0.0, product, 1.0), 1.0)
    return np.where(cosine < -1.0 - 1e-12, 4.0 * np.pi, np.arccos(np.clip(cosine, -1.0, 1.0)))


def least_loss_db(*, back, reflection):
    """Return the least insertion loss (dB, rounded up) of a passive circulator, None without one.

    The largest over the points where arrays are given.
    """
    both = np.broadcast_arrays(np.asarray(back, float), np.asarray(reflection, float))
    pairs = np.unique(np.stack([np.ravel(one) for one in both]), axis=1)
    # Largest first; a thousand points of a sweep are as good as all of them.
    pairs = pairs[:, np.argsort(-pairs.sum(axis=0), kind="stable")[:1000]]
    loss_db = [_least_loss_db(*pair) for pair in pairs.T]
    return None if None in loss_db else max(loss_db)


def _least_loss_db(back, reflection):
    def passive(loss_db):
        forward = 10.0 ** (-np.asarray(loss_db) / 20.0)
        return passive_phases(forward=forward, back=back, reflection=reflection).exist

    grid = np.linspace(0.0, 60.0, 6001)
    fits = np.flatnonzero(passive(grid))
    if not fits.size:
        return None
    low, high = grid[max(fits[0] - 1, 0)], grid[fits[0]]
    while high - low > 1e-6:
        half = (low + high) / 2.0
        low, high = (low, half) if passive(half) else (half, high)
    return float(np.ceil(high * 1e4) / 1e4)
