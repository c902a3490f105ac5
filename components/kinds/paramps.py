"""Parametric amplifiers."""

import numpy as np

from components.declaration import (
    LOSS,
    Choice,
    Flag,
    FrequencyRange,
    Kind,
    Measure,
    Parameter,
    Reference,
    kind,
)
from components.kinds.amplifiers import LEVELS
from components.nport import NPort, bosma, magnitude2
from components.quantities import power_ratio


@kind
class Paramp(Kind):
    """A phase-preserving parametric amplifier with the idler's waves as ports of their own.

    Forward it is the two-mode amplifier b_s = sqrt(G) a_s + sqrt(G - 1) a_i^*, b_i^* =
    sqrt(G - 1) a_s + sqrt(G) a_i^*: noiseless in itself, so what it adds is what arrives at its
    idler, plus `excess_noise`.  C. M. Caves, Quantum limits on noise in linear amplifiers, Phys.
    Rev. D 26, 1817 (1982).  Backward, and when off, it is its insertion loss.
    """

    name = "paramp"
    summary = "A parametric amplifier: gain at the signal, an idler that brings in noise."
    noise = "Adds (1 - 1/G) of what arrives at its idler, and its excess noise, at its input."
    states = ("ok", "off", "dead", "bypassed", "open", "shorted")
    passive = False
    parameters = (
        Parameter(
            "gain", Measure("ratio", least=0.0, over_frequency=True),
            "power gain of the signal, absolute", required=True,
        ),
        Parameter(
            "mixing", Choice(("three-wave", "four-wave")),
            "idler at fp - fs (three-wave) or 2 fp - fs (four-wave)", required=True,
        ),
        Parameter("pump", Reference("tone"), "the tone that drives it", required=True),
        Parameter(
            "excess_noise", Measure("number", least=0.0, over_frequency=True),
            "quanta that it adds at its input beyond the idler's", "0",
        ),
        Parameter("insertion_loss", LOSS, "loss when off, and backward", "0 dB"),
        Parameter("reverse_isolation", LOSS, "loss backward, in place of insertion_loss"),
        Parameter("pump_loss", LOSS, "what it absorbs of the pump, at its stage", "0 dB"),
        Parameter("reflects", Flag(), "one port `in`: amplifies in reflection", "false"),
        *LEVELS,
        Parameter("band", FrequencyRange(), "where the values are believed"),
    )
    example = (
        "{id: X1, kind: paramp, stage: mixing, gain: 18 dB, mixing: three-wave, pump: pump, "
        "pump_loss: 0.5 dB}"
    )

    def ports(self, settings):
        return ("in",) if settings["reflects"] else ("in", "out")

    def default_route(self, settings):
        return ("in", None) if settings["reflects"] else ("in", "out")

    def pumps(self, settings):
        return settings["state"] == "ok"

    def amplifies(self, settings):
        return settings["state"] == "ok"

    def idler_hz(self, settings, *, signal_hz, pump_hz):
        """Return the idler's frequency, Hz (array): fp - fs or 2 fp - fs."""
        waves = 1 if settings["mixing"] == "three-wave" else 2
        return waves * pump_hz - np.asarray(signal_hz, float)

    def respond(self, settings, at):
        """Return the NPort of the paramp when off: its insertion loss both ways."""
        return self._lossy(settings, at, "insertion_loss")

    def respond_to_pump(self, settings, at):
        """Return the NPort at the pump's own frequency: its pump loss both ways."""
        return self._lossy(settings, at, "pump_loss")

    def _lossy(self, settings, at, name):
        through = settings.lets_through(name, at)
        ports = self.ports(settings)
        s = {(0, 0): through} if len(ports) == 1 else {(0, 1): through, (1, 0): through}
        return NPort.plain(ports, s, bosma(s, len(ports), at.emitted))

    def respond_with_idler(self, settings, at, at_idler):
        """Return the NPort over signal ports then idler ports, the idler's waves conjugate.

        The gain at the signal serves both rows: photons of signal and idler are made in pairs
        (J. M. Manley and H. E. Rowe, Proc. IRE 44, 904, 1956).
        """
        ports = self.ports(settings)
        n, enters, leaves = len(ports), 0, len(ports) - 1
        gain = power_ratio(settings.at("gain", at))
        direct, crossed = np.sqrt(gain), np.sqrt(gain - 1.0)
        s = {
            (leaves, enters): direct, (leaves, n + enters): crossed,
            (n + leaves, enters): crossed, (n + leaves, n + enters): direct,
        }
        c = {}
        for offset, here in ((0, at), (n, at_idler)):
            excess = settings.at("excess_noise", at)
            if np.any(excess):
                c[offset + leaves, offset + leaves] = gain * excess
            if n == 2:
                name = "reverse_isolation" if settings.given("reverse_isolation") \
                    else "insertion_loss"
                back = settings.lets_through(name, here)
                s[offset, offset + 1] = back
                c[offset, offset] = (1.0 - magnitude2(back)) * here.emitted
        return NPort((*ports, *ports), s, c, (1,) * n + (-1,) * n)
