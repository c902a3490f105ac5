"""Resonators on a line."""

import numpy as np

from components.declaration import Kind, kind
from components.nport import magnitude2
from components.parameters import Choice, Measure, Parameter, ParameterError
from components.phases import planes

_Q = Measure("number", least=0.1, most=1e13)
"""From what rings less than a cycle to a hundred times the best superconducting cavities (1e11)."""


@kind
class Cavity(Kind):
    """One resonance coupled to two ports: S = S0 (1 - 2 v v^T / z), z = 1/QL + j (f/f0 - f0/f).

    Coupled modes: 1/QL = 1/Q0 + |v|^2, with Q0 the unloaded Q.  Band-pass: S0 = -1 (shorted off
    resonance), v = (1/sqrt(Q1), 1/sqrt(Q2)).  Notch, beside a through line: S0 passes all, and each
    way along the line takes half of 1/Qc.  I - S S^H = 4 v v^H / (Q0 |z|^2) whatever the couplings,
    so it is passive, and what it emits comes from the unloaded Q.  H. A. Haus, Waves and Fields in
    Optoelectronics (1984), ch. 7 (from memory); f/f0 - f0/f, an LC circuit's, is 2 (f - f0)/f0 near
    resonance and keeps the far response right.
    """

    name = "cavity"
    also_called = ("resonator",)
    symbol = "cavity"
    summary = "A resonator: passes its resonance (band-pass) or takes it out of a line (notch)."
    noise = "Emits at resonance, by its unloaded Q, as a passive part at its temperature."
    parameters = (
        Parameter(
            "shape", Choice(("band-pass", "notch")),
            "coupled between the ports, or beside a line that passes", "band-pass",
        ),
        Parameter(
            "frequency", Measure("frequency"), "resonance frequency",
            required=True,
        ),
        Parameter("unloaded_q", _Q, "Q of its own dissipation; without any where not given"),
        Parameter("coupling_q", _Q, "band-pass: Q of each port's coupling; notch: of the line's"),
        Parameter("coupling_q_in", _Q, "band-pass: Q of the coupling to `in`"),
        Parameter("coupling_q_out", _Q, "band-pass: Q of the coupling to `out`"),
        Parameter(
            "loaded_q", _Q, "Q of everything together, in place of the couplings (equal then)"
        ),
    )
    example = (
        "{id: B1, kind: cavity, stage: mixing, frequency: 6 GHz, unloaded_q: 20000, "
        "coupling_q: 2000}"
    )

    def check(self, settings):
        """Yield couplings that are missing, said twice, or that no passive resonator has."""
        if settings.given("data"):
            return
        sides = [name for name in ("coupling_q_in", "coupling_q_out") if settings.given(name)]
        couplings = [name for name in ("coupling_q", "loaded_q") if settings.given(name)]
        if len(couplings) + bool(sides) != 1:
            said = "twice" if couplings else "not"
            yield ParameterError(
                (couplings or ["coupling_q"])[-1], f"the cavity's coupling is {said} given",
                "give coupling_q, or coupling_q_in and coupling_q_out, or loaded_q",
            )
        if len(sides) == 1:
            missing = "coupling_q_out" if sides == ["coupling_q_in"] else "coupling_q_in"
            yield ParameterError(sides[0], f"{sides[0]} stands alone", f"give {missing} too")
        if sides and settings["shape"] == "notch":
            yield ParameterError(
                sides[0], "a notch couples to one line, the same both ways along it",
                "give coupling_q alone",
            )
        yield from _not_passive(settings)

    def phases(self, settings):
        return planes("shape", "in", "out")

    def scattering(self, settings, at):
        first, second, z, _ = self._mode(settings, at)
        passed = 2.0 * first * second / z
        reflected = 2.0 * first**2 / z, 2.0 * second**2 / z
        if settings["shape"] == "notch":
            through = 1.0 - passed
            return {
                (0, 0): -reflected[0], (1, 1): -reflected[1], (0, 1): through, (1, 0): through
            }
        return {
            (0, 0): reflected[0] - 1.0, (1, 1): reflected[1] - 1.0,
            (0, 1): passed, (1, 0): passed,
        }

    def emission(self, settings, at, scattering):
        first, second, z, own = self._mode(settings, at)
        if not np.any(own):
            return {}
        each = 4.0 * own / magnitude2(z) * at.emitted
        return {(0, 0): each * first**2, (1, 1): each * second**2, (0, 1): each * first * second}

    @staticmethod
    def _mode(settings, at):
        """Return the coupling amplitudes of `in` and `out`, z, and 1/Q0."""
        unloaded = settings.at("unloaded_q", at)
        own = 0.0 if unloaded is None else 1.0 / unloaded
        first, second = _couplings(settings, at, own)
        detuned = at.frequency_hz / settings.at("frequency", at)
        z = own + first + second + 1j * (detuned - 1.0 / detuned)
        return first**0.5, second**0.5, z, own


def _couplings(settings, at, own):
    """Return 1/Q of the coupling to each port."""
    if settings.given("coupling_q_in"):
        return 1.0 / settings.at("coupling_q_in", at), 1.0 / settings.at("coupling_q_out", at)
    if settings.given("loaded_q"):
        each = (1.0 / settings.at("loaded_q", at) - own) / 2.0
        return each, each
    each = 1.0 / settings.at("coupling_q", at)
    if settings["shape"] == "notch":
        each = each / 2.0
    return each, each


def _not_passive(settings):
    if not (settings.given("loaded_q") and settings.given("unloaded_q")):
        return
    loaded, unloaded = settings["loaded_q"].value, settings["unloaded_q"].value
    if loaded >= unloaded:
        yield ParameterError(
            "loaded_q", f"the loaded Q of {loaded:g} is not below the unloaded Q of {unloaded:g}",
            f"no passive cavity has that: give less than {unloaded:g}, or raise unloaded_q",
        )
