"""Transistor amplifiers."""

import numpy as np

from components.constants import T0, H, K
from components.declaration import (
    LOSS,
    FrequencyRange,
    Kind,
    Measure,
    Parameter,
    ParameterError,
    kind,
)
from components.nport import NPort, bosma, lossiness, magnitude2
from components.quantities import power_ratio
from components.thermal_noise import quanta

LEVELS = (
    Parameter("p1db_out", Measure("power"), "output level at which the gain has dropped by 1 dB"),
    Parameter("p1db_in", Measure("power"), "the same as a level at the input"),
)

NOISE = (
    Parameter(
        "noise_temperature", Measure("temperature", least=0.0, over_frequency=True),
        "noise it adds, referred to its input from a matched source: kT/hf quanta",
    ),
    Parameter(
        "noise_figure", Measure("ratio", least=0.0, over_frequency=True),
        "the same as a noise figure with a source at 290 K",
    ),
)


@kind
class Amplifier(Kind):
    """A transistor amplifier: S21 = sqrt(gain), S12 = 0 or the reverse isolation.

    Its output carries gain times the added quanta kT/hf; toward its source it emits thermally at
    its stage, or at `input_emission`.  The bound C +- (I - S S^H)/2 >= 0 holds always: added noise
    below (1 - 1/gain)/2 is refused (C. M. Caves, Phys. Rev. D 26, 1817, 1982, eq. for
    phase-preserving amplifiers).  Without bias it is a passive two-port at its stage.
    """

    name = "amplifier"
    summary = "A transistor amplifier with gain and noise; dead, a lossy two-port at its stage."
    noise = "Adds kT/hf quanta at its input; toward its source it emits as a load at its stage."
    states = ("ok", "off", "dead", "bypassed", "open", "shorted")
    passive = False
    parameters = (
        Parameter(
            "gain", Measure("ratio", over_frequency=True), "power gain in 50 ohm"
        ),
        *NOISE,
        Parameter(
            "input_emission", Measure("temperature", least=0.0),
            "temperature of what it emits toward its source, in place of its stage's",
        ),
        Parameter(
            "reverse_isolation", LOSS, "loss from output to input; infinite where not given"
        ),
        *LEVELS,
        Parameter("ip3_out", Measure("power"), "third-order intercept at the output"),
        Parameter("bias", Measure("power", least=0.0), "power that it dissipates", "0 W"),
        Parameter("band", FrequencyRange(), "where the values are believed"),
        Parameter(
            "unpowered_loss", LOSS, "loss both ways without bias", "25 dB",
            source="common practice, no source",
        ),
    )
    example = (
        "{id: H1, kind: amplifier, stage: plate, gain: 36 dB, noise_temperature: 2.2 K, "
        "bias: 9 mW}"
    )

    def amplifies(self, settings):
        return settings["state"] == "ok"

    def holds_reflections(self, settings):
        """In working order gain and noise are 50 ohm values with the reflections in place."""
        return settings["state"] == "ok"

    def check(self, settings):
        """Yield what is missing or given twice."""
        if not settings.given("gain") and not settings.given("data"):
            yield ParameterError("gain", "the amplifier has no gain", "give gain, or data")
        if settings.given("noise_temperature") and settings.given("noise_figure"):
            yield ParameterError(
                "noise_figure", "noise_temperature and noise_figure are both given", "keep one"
            )
        if not settings.first("noise_temperature", "noise_figure", "data"):
            yield ParameterError(
                "noise_temperature", "the amplifier's noise is not given",
                "give noise_temperature or noise_figure",
            )

    def dissipates(self, settings):
        if settings["state"] != "ok":
            return 0.0
        return settings["bias"].value

    def respond(self, settings, at):
        if settings["state"] in ("off", "dead"):
            return self._unpowered(settings, at)
        s = {(1, 0): np.sqrt(power_ratio(settings.at("gain", at)))}
        back = settings.lets_through("reverse_isolation", at)
        if back is not None:
            s[0, 1] = back
        reflection = settings.lets_through("return_loss", at)
        if reflection is not None:
            s[0, 0] = reflection * at.phase("in")
            s[1, 1] = reflection * at.phase("out")
        return active_two_port(settings, at, s)

    @staticmethod
    def _unpowered(settings, at):
        through = settings.lets_through("unpowered_loss", at)
        s = {(0, 1): through, (1, 0): through}
        return NPort.plain(("in", "out"), s, bosma(s, 2, at.emitted))


def added_quanta(settings, at):
    """Return the quanta that an active two-port adds at its input, or None where not given."""
    kelvin = settings.at("noise_temperature", at)
    if kelvin is None:
        figure_db = settings.at("noise_figure", at)
        if figure_db is None:
            return None
        kelvin = T0 * (power_ratio(figure_db) - 1.0)
    return K * kelvin / (H * at.frequency_hz)


def active_two_port(settings, at, s):
    """Return the NPort of an amplifier with scattering entries `s`, 50 ohm noise as given."""
    added = added_quanta(settings, at)
    gain = magnitude2(s[1, 0])
    least = np.maximum(0.5 * (1.0 - 1.0 / gain), 0.0)
    if np.any(added < least * (1 - 1e-9)):
        name = settings.first("noise_temperature", "noise_figure")
        kelvin = np.max(least * H * at.frequency_hz / K)
        raise ParameterError(
            name, "the amplifier would add less noise than quantum mechanics lets it",
            f"give at least {kelvin:.4g} K over this band ((1 - 1/gain)/2 quanta)",
        )
    emission_k = settings.at("input_emission", at)
    if emission_k is None or at.uniform_k is not None:
        emission_k = at.temperature_k
    back = quanta(frequency_hz=at.frequency_hz, temperature_k=emission_k)
    c = {
        (0, 0): back * (1.0 - magnitude2(s.get((0, 0), 0.0))),
        (1, 1): gain * added,
    }
    if set(s) == {(1, 0)}:
        return NPort.plain(("in", "out"), s, c)
    return NPort.plain(("in", "out"), s, at_least_quantum(s, c))


def at_least_quantum(s, c):
    """Return C raised, where it falls short, to what C +- (I - S S^H)/2 >= 0 asks.

    The given C has no correlation between its ports, which a mismatched amplifier near zero
    temperature would need; adding the missing positive part is the least change that will do.
    """
    n = 2
    bare = NPort.plain(("in", "out"), s, c)
    points = max((np.shape(entry)[-1] for entry in c.values() if np.ndim(entry)), default=1)
    _, full = bare.dense(points)
    _, half = NPort.plain(("in", "out"), s, lossiness(s, (1, 1))).dense(points)
    half = half / 2
    changed = False
    for sign in (1, -1):
        values, vectors = np.linalg.eigh(sign * half - full)
        missing = np.maximum(values, 0.0)
        if np.any(missing > 1e-12):
            changed = True
            full = full + (vectors * missing[..., None, :]) @ np.conj(np.swapaxes(vectors, -1, -2))
    if not changed:
        return c
    return {(i, j): full[..., i, j] if i != j else full[..., i, i].real
            for i in range(n) for j in range(i, n)}
