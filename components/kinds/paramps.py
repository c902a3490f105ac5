"""Parametric amplifiers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from components.bounds import MOST_QUANTA
from components.declaration import GAIN, LOSS, Caution, Kind, kind
from components.direct_current import Passage
from components.faults import EXCESS, LESS_GAIN, MORE_GAIN, in_state, shifted
from components.hot_films import HOT, hot_problems, stated_law
from components.kinds.amplifiers import LEVELS
from components.nport import NPort, bosma, magnitude2
from components.parameters import (
    Choice,
    DataFile,
    Flag,
    Measure,
    Parameter,
    ParameterError,
    Reference,
)
from components.phases import backward, mirrored
from components.quantities import power_ratio
from components.touchstone import DataError
from components.two_mode import two_mode

if TYPE_CHECKING:
    from components.arrays import ComplexLike

_GAIN = replace(GAIN, over_level=True)

STATED_GAIN = (
    Parameter(
        "gain", _GAIN,
        "power gain of the signal from port to port, absolute; it holds at the pump's level in the "
        "layout, or over levels {-32 dBm: 12 dB, -30 dBm: 18 dB} (not over both)",
    ),
    Parameter(
        "gain_over_off", _GAIN,
        "the same relative to the paramp off: insertion_loss comes off it",
    ),
    Parameter("data", DataFile(), "Touchstone file whose |S21|^2 (one port: |S11|^2) is the gain"),
)

_WITHIN = Measure("ratio", least=0.0, most=40.0, over_frequency=True)

LOSSES = (
    Parameter(
        "insertion_loss", LOSS,
        "loss when off, and backward; when on it adds nothing unless it is also given as one of "
        "the three below, whose sum it is where not given",
    ),
    Parameter("loss_before", _WITHIN, "loss before the gain, a part of it", "0 dB"),
    Parameter("loss_after", _WITHIN, "loss behind the gain, a part of it", "0 dB"),
    Parameter(
        "distributed_loss", _WITHIN,
        "loss spread evenly along the gain of a travelling-wave paramp, a part of it", "0 dB",
    ),
    Parameter("reverse_isolation", LOSS, "loss backward, in place of insertion_loss"),
)


@kind
class Paramp(Kind):
    """A phase-preserving parametric amplifier with the idler's waves as ports of their own.

    Forward it is the two-mode amplifier b_s = sqrt(G) a_s + sqrt(G - 1) a_i^*, b_i^* =
    sqrt(G - 1) a_s + sqrt(G) a_i^*: noiseless in itself, so what it adds is what arrives at its
    idler, plus `excess_noise`.  C. M. Caves, Quantum limits on noise in linear amplifiers, Phys.
    Rev. D 26, 1817 (1982).  Loss that is given before and behind the gain, signal and idler pass
    as pads at its stage, loss along it as `components.two_mode` says, and G makes up for it.
    Backward, and when off, it is its insertion loss.
    A flux line's end (port `pump`) sends back the pump less its pump loss, and couples to nothing.
    """

    name = "paramp"
    also_called = ("jpa", "twpa", "parametric-amplifier")
    symbol = "paramp"
    parametric = True
    summary = "A parametric amplifier: gain at the signal, an idler that brings in noise."
    noise = (
        "Adds (1 - 1/G) of what arrives at its idler, and its excess noise, at its input; its "
        "losses emit at its stage."
    )
    states = ("ok", "off", "dead", "bypassed", "open", "shorted")
    passive = False
    without = frozenset({"data", "dc_resistance"})
    parameters = (
        *STATED_GAIN,
        Parameter(
            "mixing", Choice(("three-wave", "four-wave")),
            "idler at fp - fs (three-wave) or 2 fp - fs (four-wave)", required=True,
        ),
        Parameter("pump", Reference("tone"), "the tone that drives it", required=True, fixed=True),
        Parameter(
            "excess_noise", Measure("number", least=0.0, most=MOST_QUANTA, over_frequency=True),
            "quanta that it adds at its input beyond the idler's", "0",
        ),
        *LOSSES,
        Parameter("pump_loss", LOSS, "what it absorbs of the pump, at its stage", "0 dB"),
        Parameter("reflects", Flag(), "one port `in`: amplifies in reflection", "false",
                  fixed=True),
        Parameter("flux_pumped", Flag(), "the pump has a port of its own, `pump`", "false"),
        Parameter("dc_current", Measure("current", zero=True), "direct current that biases it"),
        Parameter(
            "dc_resistance", Measure("resistance", zero=True),
            "what that current meets at its stage: dissipates I^2 R",
        ),
        *LEVELS,
        *HOT,
    )
    example = (
        "{id: X1, kind: paramp, stage: mixing, gain: 18 dB, mixing: three-wave, pump: pump, "
        "pump_loss: 0.5 dB}"
    )

    def direct_current(self, settings, enter):
        """A flux line ends in a short; what it resists on the chip is `dc_resistance`."""
        return Passage(None) if enter == "pump" else None

    def ports(self, settings):
        own = ("in",) if settings["reflects"] else ("in", "out")
        return (*own, "pump") if settings["flux_pumped"] else own

    def default_route(self, settings):
        return ("in", None) if settings["reflects"] else ("in", "out")

    def fragility(self, settings):
        return 3

    def handling(self, settings):
        return (Caution("static charge and overdrive destroy it: pump and bias off, earth "
                        "yourself and the cable first, cap its connectors at once; note where "
                        "its shield stood"),)

    def known_warm(self, settings):
        """Without `warm:` it is off then, and its loss when off is known."""
        return True

    def faults(self, settings):
        """Return no gain at all, a gain that has drifted, noise beyond the idler's, and loss."""
        found = [in_state("off", 4.0, "off, or without its pump")]
        name = settings.first("gain", "gain_over_off")
        if name is not None:
            found += [shifted(name, -1, 4.0, "less gain", LESS_GAIN),
                      shifted(name, 1, 2.0, "more gain", MORE_GAIN)]
        return (*found, shifted("excess_noise", 1, 3.0, "more noise", EXCESS))

    def pumps(self, settings):
        return settings["state"] == "ok"

    def amplifies(self, settings):
        return settings["state"] == "ok"

    def phases(self, settings):
        """Return the phase of what it sends back, or of what it leaks backward while it is on."""
        if settings["reflects"]:
            return mirrored("reflects", "in")
        leaks = self.pumps(settings) and settings.given("reverse_isolation")
        return backward("reverse_isolation") if leaks else ()

    def check(self, settings):
        """Yield a gain that is stated twice or not at all, and a direct current by half."""
        yield from hot_problems(settings)
        given = [parameter.name for parameter in STATED_GAIN if settings.given(parameter.name)]
        if not given:
            yield ParameterError(
                "gain", "the paramp has no gain", "give gain, or gain_over_off, or data"
            )
        if len(given) > 1:
            yield ParameterError(
                given[1], f"{' and '.join(given)} are {'both' if len(given) == 2 else 'all'} given",
                "keep one",
            )
        both = [name for name in ("dc_current", "dc_resistance") if settings.given(name)]
        if settings["reflects"] and settings.given("distributed_loss"):
            yield ParameterError(
                "distributed_loss", "a paramp in reflection has no length for it",
                "give loss_before, or leave it out",
            )
        if len(both) == 1:
            missing = "dc_resistance" if both == ["dc_current"] else "dc_current"
            yield ParameterError(both[0], f"{both[0]} stands alone", f"give {missing} too")

    def hot_law(self, settings):
        return stated_law(settings)

    def dissipates(self, settings):
        """Return I^2 R of the direct current, which flows with the pump off too."""
        if settings["state"] not in ("ok", "off") or not settings.given("dc_current"):
            return 0.0
        return settings["dc_current"].value ** 2 * settings["dc_resistance"].value

    def idler_hz(self, settings, *, signal_hz, pump_hz):
        """Return the idler's frequency, Hz (array): fp - fs or 2 fp - fs."""
        waves = 1 if settings["mixing"] == "three-wave" else 2
        return waves * pump_hz - np.asarray(signal_hz, float)

    def respond(self, settings, at):
        """Return the NPort of the paramp when off: its insertion loss in both directions."""
        return self._lossy(settings, at, Losses.of(settings, at).off)

    def respond_to_pump(self, settings, at):
        """Return the NPort at the pump's own frequency: its pump loss, where the pump comes in."""
        if settings["flux_pumped"]:
            return self.respond(settings, at)
        return self._lossy(settings, at, settings.lets_through("pump_loss", at))

    def _lossy(self, settings, at, through):
        s = {(0, 0): through} if settings["reflects"] else {(0, 1): through, (1, 0): through}
        ports = self.ports(settings)
        if settings["flux_pumped"]:
            s[len(ports) - 1, len(ports) - 1] = _flux_line(settings, at)
        return NPort.plain(ports, s, bosma(s, len(ports), at.emitted))

    def respond_with_idler(self, settings, at, at_idler):
        """Return the NPort over signal ports then idler ports, the idler's waves conjugate.

        The gain at the signal serves both rows: photons of signal and idler are made in pairs
        (J. M. Manley and H. E. Rowe, Proc. IRE 44, 904, 1956).
        """
        ports = self.ports(settings)
        n, leaves = len(ports), 0 if settings["reflects"] else 1
        signal, idler = Losses.of(settings, at), Losses.of(settings, at_idler)
        inner = _inner(settings, at, (signal, idler))
        s = _forward(inner, signal, idler, leaves, n)
        c = _forward_noise(inner, (signal, at), (idler, at_idler), leaves, n)
        excess = settings.at("excess_noise", at)
        gain = magnitude2(s[leaves, 0])
        for offset, here, losses in ((0, at, signal), (n, at_idler, idler)):
            if np.any(excess):
                row = offset + leaves
                c[row, row] = c.get((row, row), 0.0) + gain * excess
            if leaves:
                s[offset, offset + 1] = losses.back
                c[offset, offset] = (1.0 - losses.back**2) * here.emitted
            if settings["flux_pumped"]:
                last = offset + n - 1
                s[last, last] = _flux_line(settings, here)
                c[last, last] = (1.0 - s[last, last] ** 2) * here.emitted
        return NPort((*ports, *ports), s, c, (1,) * n + (-1,) * n)


@dataclass(frozen=True)
class Losses:
    """Amplitudes that a paramp's losses leave, at one set of frequencies."""

    before: ComplexLike
    after: ComplexLike
    off: ComplexLike
    """From port to port when off."""
    back: ComplexLike
    """Backward when on."""

    spread: ComplexLike
    """Of the loss along the gain alone."""

    @property
    def both(self):
        """Before and behind the gain together."""
        return self.before * self.after

    @classmethod
    def of(cls, settings, at):
        """Return the losses of a paramp; refuse a whole that is less than its parts."""
        before = settings.lets_through("loss_before", at)
        after = settings.lets_through("loss_after", at)
        spread = settings.lets_through("distributed_loss", at)
        parts = before * after * spread
        off = settings.lets_through("insertion_loss", at)
        if off is None:
            off = parts
        back = settings.lets_through("reverse_isolation", at)
        if back is None:
            back = off
        for name, whole in (("insertion_loss", off), ("reverse_isolation", back)):
            if np.any(whole > parts * (1 + 1e-12)):
                least_db = np.ceil(np.max(-2e4 * np.log10(parts))) / 1e3
                raise ParameterError(
                    name, f"{name} is less than the losses it is made of",
                    f"give at least {least_db:g} dB, or leave it out",
                )
        return cls(before, after, off, back, spread)


def _flux_line(settings, at):
    """Return the reflection of the pump's own port, a shorted line with the pump loss."""
    return -settings.lets_through("pump_loss", at)


def _inner(settings, at, losses):
    """Return the TwoMode between loss_before and loss_after; refuse less than its own loss."""
    signal, idler = losses
    gain = _gain(settings, at, signal) / signal.both**2
    least = magnitude2(signal.spread)
    if np.all(gain >= least * (1 - 1e-9)):
        return two_mode(
            gain=np.maximum(gain, least), signal_left=signal.spread, idler_left=idler.spread
        )
    name = settings.first("gain", "gain_over_off", "data")
    short_db = np.max(-10.0 * np.log10(gain / least))
    instead = f"give at least {np.ceil(short_db * 1e3) / 1e3:g} dB more gain"
    if name == "gain_over_off":
        instead += ", or say where the insertion loss lies: loss_before, loss_after"
    raise ParameterError(
        name, "the paramp attenuates by more than the losses that it is given", instead
    )


def _gain(settings, at, losses):
    """Return the power gain from port to port."""
    if settings.given("gain_over_off"):
        return power_ratio(settings.at("gain_over_off", at)) * losses.off**2
    if settings.given("data"):
        return _gain_of_file(settings, at)
    return power_ratio(settings.at("gain", at))


def _gain_of_file(settings, at):
    named, wanted = settings["data"], 1 if settings["reflects"] else 2
    try:
        if named.ports != wanted:
            raise DataError(
                f"{named.data.name} has {named.ports} ports and the gain is from `in` to "
                f"`{'in' if wanted == 1 else 'out'}`", f"name a file of {wanted}",
            )
        return magnitude2(named.scattering(at.frequency_hz)[wanted - 1, 0])
    except DataError as error:
        raise ParameterError("data", error.what, error.instead) from error


def _forward(inner, signal, idler, leaves, n):
    """Return the entries of S from port 0 to port `leaves`, both sidebands."""
    return {
        (leaves, 0): inner.signal * signal.both,
        (leaves, n): inner.to_signal * signal.after * idler.before,
        (n + leaves, 0): inner.to_idler * idler.after * signal.before,
        (n + leaves, n): inner.idler * idler.both,
    }


def _forward_noise(inner, signal, idler, leaves, n):
    """Return the entries of C that the losses before, along and behind the gain make.

    `signal` and `idler` are pairs of Losses and Conditions.
    """
    (ours, at), (its, at_idler) = signal, idler
    if all(not np.any(one.both * one.spread != 1.0) for one in (ours, its)):
        return {}
    before = (1.0 - ours.before**2) * at.emitted, (1.0 - its.before**2) * at_idler.emitted
    along = inner.emitted(at.emitted, at_idler.emitted)
    made = inner.signal**2 * before[0] + inner.to_signal**2 * before[1] + along[0]
    paired = (inner.signal * inner.to_idler * before[0]
              + inner.to_signal * inner.idler * before[1] + along[1])
    mixed = inner.to_idler**2 * before[0] + inner.idler**2 * before[1] + along[2]
    return {
        (leaves, leaves): ours.after**2 * made + (1.0 - ours.after**2) * at.emitted,
        (leaves, n + leaves): ours.after * its.after * paired,
        (n + leaves, n + leaves): its.after**2 * mixed + (1.0 - its.after**2) * at_idler.emitted,
    }
