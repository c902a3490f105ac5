"""Active two-ports: how their noise is stated, and the waves that it makes."""

import numpy as np

from components.bounds import MOST_NOISE_FIGURE_DB, MOST_NOISE_K, MOST_NOISE_RESISTANCE_OHM
from components.constants import T0, H, K
from components.noise_parameters import NoiseParameters, ohm_per_quantum
from components.nport import Entries, NPort, lossiness, magnitude2
from components.parameters import Measure, Parameter, ParameterError
from components.quantities import Quantity, power_ratio
from components.thermal_noise import quanta
from components.touchstone import DataError

NOISE_TEMPERATURE = Measure("temperature", most=MOST_NOISE_K, over_frequency=True, zero=True)
NOISE_FIGURE = Measure("ratio", most=MOST_NOISE_FIGURE_DB, over_frequency=True)

NOISE = (
    Parameter(
        "noise_temperature", NOISE_TEMPERATURE,
        "noise it adds, referred to its input from a matched source: kT/hf quanta",
    ),
    Parameter(
        "noise_figure", NOISE_FIGURE,
        "the same as a noise figure with a source at 290 K", example="0.05 dB",
    ),
    Parameter(
        "minimum_noise_temperature", NOISE_TEMPERATURE,
        "noise parameters: the noise temperature with the best source, kT/hf quanta",
        example="2 K",
    ),
    Parameter(
        "minimum_noise_figure", NOISE_FIGURE,
        "the same as a noise figure at 290 K", example="0.03 dB",
    ),
    Parameter(
        "optimum_reflection", Measure("number", least=0.0, most=0.999, over_frequency=True),
        "noise parameters: size of the reflection of the best source, 50 ohm",
    ),
    Parameter(
        "optimum_reflection_angle", Measure("angle", over_frequency=True),
        "its angle; in a table without jumps of 360 deg; not needed where the size is 0",
    ),
    Parameter(
        "noise_resistance",
        Measure("resistance", most=MOST_NOISE_RESISTANCE_OHM, over_frequency=True, zero=True),
        "noise parameters: how fast the noise grows away from the best source", example="1 ohm",
    ),
)
"""How an active two-port's noise is stated; one of the first two, or the four parameters."""

_MINIMUM = ("minimum_noise_temperature", "minimum_noise_figure")
FOUR = (*_MINIMUM, "optimum_reflection", "optimum_reflection_angle", "noise_resistance")
ACCEPTED_NOISE = (
    "give noise_temperature, noise_figure, or the noise parameters (minimum_noise_temperature or "
    "minimum_noise_figure, optimum_reflection and its angle, noise_resistance)"
)


def noise_problems(settings):
    """Yield a ParameterError for noise that is stated twice, or by half."""
    given = [name for name in ("noise_temperature", "noise_figure") if settings.given(name)]
    four = [name for name in FOUR if settings.given(name)]
    if len(given) == 2:
        yield ParameterError(
            "noise_figure", "noise_temperature and noise_figure are both given", "keep one"
        )
    if given and four:
        yield ParameterError(
            four[0], f"{given[0]} and the noise parameters are both given", "keep one"
        )
    if all(settings.given(name) for name in _MINIMUM):
        yield ParameterError(
            "minimum_noise_figure",
            "minimum_noise_temperature and minimum_noise_figure are both given", "keep one",
        )
    if four:
        missing = _missing(settings)
        if missing:
            yield ParameterError(
                four[0], f"of the noise parameters {' and '.join(missing)} are not given"
                if len(missing) > 1 else f"of the noise parameters {missing[0]} is not given",
                "the noise takes all four",
            )


def _missing(settings):
    missing = [
        name for name in ("optimum_reflection", "noise_resistance") if not settings.given(name)
    ]
    if not settings.first(*_MINIMUM):
        missing.insert(0, "minimum_noise_temperature")
    size = settings["optimum_reflection"]
    matched = isinstance(size, Quantity) and size.value == 0
    if size is not None and not matched and not settings.given("optimum_reflection_angle"):
        missing.append("optimum_reflection_angle")
    return missing


def _kelvin(settings, at, temperature, figure):
    """Return a noise temperature that is given as one or as a figure, kelvin, or None."""
    kelvin = settings.at(temperature, at)
    if kelvin is not None:
        return kelvin
    figure_db = settings.at(figure, at)
    return None if figure_db is None else T0 * (power_ratio(figure_db) - 1.0)


def noise_parameters(settings, at, named=None):
    """Return the NoiseParameters that the layout or the file `named` gives, or None.

    What the layout says of the noise replaces what the file holds.
    """
    if settings.first("noise_temperature", "noise_figure"):
        return None
    minimum_k = _kelvin(settings, at, *_MINIMUM)
    if minimum_k is not None:
        degrees = settings.at("optimum_reflection_angle", at)
        optimum = settings.at("optimum_reflection", at) * np.exp(
            1j * np.deg2rad(0.0 if degrees is None else degrees)
        )
        return NoiseParameters.of(
            frequency_hz=at.frequency_hz, minimum_k=minimum_k, optimum=optimum,
            resistance_ohm=settings.at("noise_resistance", at),
        )
    try:
        held = None if named is None else named.noise(at.frequency_hz)
    except DataError as error:
        raise ParameterError("data", error.what, error.instead) from error
    if held is None:
        return None
    figure, optimum, resistance_ohm = held
    return NoiseParameters.of(
        frequency_hz=at.frequency_hz, minimum_k=T0 * (figure - 1.0), optimum=optimum,
        resistance_ohm=resistance_ohm,
    )


def active_two_port(settings, at, s, named=None):
    """Return the NPort of an amplifier with scattering entries `s`, noise as the layout gives it.

    `named` is a Touchstone file whose noise data serve where the layout states nothing; None where
    neither says anything.
    """
    parameters = noise_parameters(settings, at, named)
    if parameters is not None:
        return NPort.plain(("in", "out"), s, _waves(parameters, settings, at, s))
    kelvin = _kelvin(settings, at, "noise_temperature", "noise_figure")
    if kelvin is None:
        return None
    gain = magnitude2(s[1, 0])
    least = np.maximum(0.5 * (1.0 - 1.0 / gain), 0.0)
    added = kelvin * K / (H * at.frequency_hz)
    _not_below(added, least, at, settings.first("noise_temperature", "noise_figure"))
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


def _not_below(added, least, at, name):
    """Refuse added quanta below the least that quantum mechanics lets the amplifier add."""
    if np.any(added < least * (1 - 1e-9)):
        kelvin = np.max(least * H * at.frequency_hz / K)
        raise ParameterError(
            name, "the amplifier would add less noise than quantum mechanics lets it",
            f"give at least {_up(kelvin)} K over this band ((1 - 1/gain)/2 quanta)",
        )


def _waves(parameters, settings, at, s):
    """Return C of the noise parameters; refuse those that no amplifier can have."""
    name = settings.first(*_MINIMUM) or "data"
    _not_below(parameters.minimum_quanta, parameters.least_minimum_quanta(s), at, name)
    c = parameters.waves(s)
    raised = at_least_quantum(s, c)
    if raised is c:
        return c
    least = parameters.least_resistance_quanta
    if np.any(parameters.resistance_quanta < least * (1 - 1e-9)):
        least_ohm = np.max(least * ohm_per_quantum(at.frequency_hz))
        raise ParameterError(
            "noise_resistance" if settings.first(*_MINIMUM) else "data",
            "no amplifier has noise parameters with so small a noise resistance",
            f"give at least {_up(least_ohm)} ohm over this band "
            "(4 N T0 >= T_min + hf/2k, N = R_n Re Y_opt), or a lower minimum",
        )
    return raised


def _up(value):
    """Return four digits of a value, rounded up, so that what the message says will do."""
    scale = 10.0 ** (np.floor(np.log10(value)) - 3)
    return f"{np.ceil(value / scale) * scale:.4g}"


def at_least_quantum(s, c):
    """Return C raised, where it falls short, to what C +- (I - S S^H)/2 >= 0 asks.

    The given C has no correlation between its ports, which a mismatched amplifier near zero
    temperature would need; adding the missing positive part is the least change that will do.
    """
    bound: Entries = {key: entry / 2.0 for key, entry in lossiness(s, (1, 1)).items()}
    if all(_positive(c, bound, sign) for sign in (1, -1)):
        return c
    points = max((np.shape(entry)[-1] for entry in c.values() if np.ndim(entry)), default=1)
    _, full = NPort.plain(("in", "out"), s, c).dense(points)
    _, half = NPort.plain(("in", "out"), s, bound).dense(points)
    for sign in (1, -1):
        values, vectors = np.linalg.eigh(sign * half - full)
        missing = np.maximum(values, 0.0)
        full = full + (vectors * missing[..., None, :]) @ np.conj(np.swapaxes(vectors, -1, -2))
    return {(i, j): full[..., i, j] if i != j else full[..., i, i].real
            for i in range(2) for j in range(i, 2)}


def _positive(c, half, sign):
    """Tell whether C - sign D/2 of a two-port has no negative eigenvalue beyond rounding."""
    first, second = (c[i, i].real - sign * half[i, i].real for i in (0, 1))
    cross = c.get((0, 1), 0.0) - sign * half.get((0, 1), 0.0)
    trace = first + second
    scale = np.maximum(trace, 1.0)  # products of the entries themselves could overflow
    determinant = first / scale * (second / scale) - magnitude2(cross / scale)
    return bool(np.all((trace >= 0.0) & (determinant >= -1e-12 * trace / scale)))
