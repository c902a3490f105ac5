"""An amplifier's noise: by temperature or figure, by its four parameters, by its file."""

import re

import numpy as np
import pytest

from components import response
from components.constants import T0, H, K
from components.declaration import KINDS
from components.noise_parameters import NoiseParameters
from components.nport import NPort, loaded
from components.parameters import ParameterError
from components.settings import Settings
from components.touchstone import NamedFile

GHZ = (4.0, 6.0, 8.0)
QUANTUM_K = H * 1e9 * np.array(GHZ) / K

FOUR = {"gain": "36 dB", "minimum_noise_temperature": "2 K", "optimum_reflection": "0.3",
        "optimum_reflection_angle": "70 deg", "noise_resistance": "0.6 ohm"}


def _wave_temperature(s, c, source):
    """Added quanta at the input from a source that reflects `source`, by the waves themselves."""
    back = s[0, 0]
    into = s[1, 0] * source / (1 - source * back)
    noise = c[1, 1] + np.abs(into) ** 2 * c[0, 0] + 2 * np.real(into * c[0, 1])
    gain = np.abs(s[1, 0]) ** 2 * (1 - np.abs(source) ** 2) / np.abs(1 - source * back) ** 2
    return noise.real / gain


def test_waves_give_back_the_four_parameters():
    """From any source the noise of the waves is the formula's, whatever S is."""
    rng = np.random.default_rng(3)
    for _ in range(200):
        s = rng.normal(size=(2, 2)) + 1j * rng.normal(size=(2, 2))
        optimum, source = 0.6 * (rng.uniform(-1, 1, 2) + 1j * rng.uniform(-1, 1, 2))
        minimum, slope = rng.uniform(1, 30, 2)
        parameters = NoiseParameters(minimum, optimum, slope)
        entries = {(i, j): s[i, j] for i in range(2) for j in range(2)}
        _, c = NPort.plain(("in", "out"), entries, parameters.waves(entries)).dense(1)
        away = np.abs(source - optimum) ** 2 / (1 - np.abs(source) ** 2)
        expected = minimum + slope * away / np.abs(1 + optimum) ** 2
        # 1e-12: a few products and one difference of doubles.
        assert _wave_temperature(s, c[0, 0], source) == pytest.approx(expected, rel=1e-12)
        assert parameters.added_quanta(source) == pytest.approx(expected, rel=1e-12)


def test_the_least_minimum_is_half_a_commutator_at_the_best_source():
    """w^H C w = |w^H (I - S S^H) w| / 2 for the output wave of that source, by dense matrices."""
    rng = np.random.default_rng(5)
    for _ in range(50):
        s = rng.normal(size=(2, 2)) + 1j * rng.normal(size=(2, 2))
        s[0, 0] *= 0.3
        optimum = 0.6 * (rng.uniform(-1, 1) + 1j * rng.uniform(-1, 1))
        entries = {(i, j): s[i, j] for i in range(2) for j in range(2)}
        least = NoiseParameters(0.0, optimum, 0.0).least_minimum_quanta(entries)
        waves = NoiseParameters(least, optimum, 7.0).waves(entries)
        c = NPort.plain(("in", "out"), entries, waves).dense(1)[1][0, 0]
        to_output = np.array([s[1, 0] * optimum / (1 - optimum * s[0, 0]), 1.0])
        noise = to_output @ c @ to_output.conj()
        commutator = to_output @ (np.eye(2) - s @ s.conj().T) @ to_output.conj()
        assert noise.real == pytest.approx(abs(commutator) / 2, rel=1e-10)


def test_a_reflecting_source_behind_a_cable_sees_the_correlation(element, conditions, matrices):
    """The element as a network would use it: turning the source's phase turns its noise."""
    settings = element("amplifier", **FOUR)
    nport = response.respond(settings.kind, settings, conditions(*GHZ, kelvin=4.0))
    s, c, _ = matrices(nport, 3)
    optimum = 0.3 * np.exp(1j * np.deg2rad(70))
    for source in (0.0, optimum, 0.5, 0.5j, -0.5):
        away = np.abs(source - optimum) ** 2 / ((1 - np.abs(source) ** 2) * np.abs(1 + optimum) ** 2)
        expected_k = 2.0 + 4 * 0.6 * T0 / 50 * away
        found = [_wave_temperature(s[i], c[i], source) for i in range(3)]
        assert found * QUANTUM_K == pytest.approx(expected_k, rel=1e-9)
    # What it emits has both waves' product: C[in, out] is <c_in c_out*>.
    assert np.all(np.abs(c[:, 0, 1]) > 1)


def test_with_a_matched_optimum_it_is_a_noise_temperature(element, conditions, matrices):
    """G_opt = 0: the added noise from a matched source, and t - T_min toward the source."""
    at = conditions(*GHZ, kelvin=4.0)
    four = element("amplifier", gain="36 dB", minimum_noise_temperature="2 K",
                   optimum_reflection="0", noise_resistance="0.6 ohm")
    plain = element("amplifier", gain="36 dB", noise_temperature="2 K")
    _, c, _ = matrices(response.respond(four.kind, four, at), 3)
    _, expected, _ = matrices(response.respond(plain.kind, plain, at), 3)
    assert c[:, 1, 1] == pytest.approx(expected[:, 1, 1], rel=1e-12)
    assert c[:, 0, 0] * QUANTUM_K == pytest.approx(4 * 0.6 * T0 / 50 - 2, rel=1e-12)
    assert not c[:, 0, 1].any()


@pytest.mark.parametrize(("by_k", "by_db", "rest"), [
    ("noise_temperature", "noise_figure", {"gain": "36 dB"}),
    ("minimum_noise_temperature", "minimum_noise_figure",
     {"gain": "36 dB", "optimum_reflection": "0.2", "optimum_reflection_angle": "9 deg",
      "noise_resistance": "20 ohm"}),
])
def test_a_figure_says_the_same_as_a_temperature(by_k, by_db, rest, element, conditions, matrices):
    figure_db = float(10 * np.log10(1 + 90 / T0))
    found = []
    for value in ({by_k: "90 K"}, {by_db: f"{figure_db!r} dB"}):
        settings = element("amplifier", **rest, **value)
        nport = response.respond(settings.kind, settings, conditions(*GHZ, kelvin=4.0))
        found.append(matrices(nport, 3)[1])
    assert found[0] == pytest.approx(found[1], rel=1e-12)


SAID = [
    ({"gain": "30 dB"}, "the amplifier's noise is not given; give noise_temperature, noise_figure"),
    ({"noise_temperature": "2 K"}, "the amplifier has no gain; give gain, or data"),
    ({**FOUR, "noise_temperature": "2 K"},
     "noise_temperature and the noise parameters are both given; keep one"),
    ({**FOUR, "minimum_noise_figure": "1 dB"},
     "minimum_noise_temperature and minimum_noise_figure are both given; keep one"),
    ({"gain": "30 dB", "noise_temperature": "2 K", "noise_figure": "1 dB"},
     "noise_temperature and noise_figure are both given; keep one"),
    ({"gain": "30 dB", "noise_resistance": "2 ohm"},
     "of the noise parameters minimum_noise_temperature and optimum_reflection are not given; "
     "the noise takes all four"),
    ({key: value for key, value in FOUR.items() if key != "optimum_reflection_angle"},
     "of the noise parameters optimum_reflection_angle is not given; the noise takes all four"),
    ({**FOUR, "input_emission": "4 K"},
     "the noise parameters say what it emits toward its source; take input_emission out"),
]


@pytest.mark.parametrize(("values", "said"), SAID)
def test_noise_said_twice_or_by_half(values, said, element, problems):
    assert said in " ".join(problems(element("amplifier", **values)))


@pytest.mark.parametrize("values", [
    FOUR, {"gain": "30 dB", "noise_temperature": "2 K", "input_emission": "4 K"},
    {"gain": "30 dB", "minimum_noise_figure": "1 dB", "optimum_reflection": "0",
     "noise_resistance": "9 ohm"},
])
def test_noise_said_once_is_right(values, element, problems):
    assert not problems(element("amplifier", **values))


def _refused(settings, at):
    with pytest.raises(ParameterError) as caught:
        response.respond(settings.kind, settings, at)
    return caught.value


def test_less_noise_than_quantum_mechanics_lets_it(element, conditions):
    at = conditions(*GHZ)
    half = QUANTUM_K[-1] / 2
    for name, values in (
        ("noise_temperature", {"gain": "60 dB"}),
        ("minimum_noise_temperature", {**FOUR, "gain": "60 dB", "noise_resistance": "30 ohm"}),
    ):
        error = _refused(element("amplifier", **{**values, name: f"{0.99 * half:.6f} K"}), at)
        assert error.parameter == name
        assert "less noise than quantum mechanics lets it" in error.what
        least = re.search(r"give at least ([\d.]+ K)", error.instead)[1]
        assert float(least[:-2]) == pytest.approx(half, rel=2e-3)
        enough = element("amplifier", **{**values, name: least})
        response.respond(enough.kind, enough, at)


def test_too_small_a_noise_resistance_is_refused_with_the_least(element, conditions, matrices):
    """4 N T0 >= T_min + hf/2k: at that bound the waves' bound is met with nothing to spare."""
    at = conditions(*GHZ)
    error = _refused(element("amplifier", **{**FOUR, "noise_resistance": "0.12 ohm"}), at)
    assert error.parameter == "noise_resistance"
    least = re.search(r"give at least ([\d.]+ ohm)", error.instead)[1]
    enough = element("amplifier", **{**FOUR, "gain": "60 dB", "noise_resistance": least})
    s, c, d = matrices(response.respond(enough.kind, enough, at), 3)
    edge = min(np.linalg.eigvalsh(c[2] + sign * d[2] / 2)[0] for sign in (1, -1))
    # The least is rounded up by up to 1/2000 of some 40 quanta; the other eigenvalue is 1e7.
    assert -1e-6 < edge < 0.05
    assert _wave_temperature(s[2], c[2], 0.3 * np.exp(1j * np.deg2rad(70))) * QUANTUM_K[2] == (
        pytest.approx(2.0, rel=1e-6)
    )


def test_mismatch_and_reverse_isolation_keep_the_parameters(element, conditions, matrices):
    """The parameters hold with the reflections in place, whatever phase those have."""
    settings = element("amplifier", **FOUR, return_loss="10 dB", reverse_isolation="50 dB")
    at = conditions(*GHZ, kelvin=4.0, phase=lambda port: np.array([[np.exp(2j)]]))
    s, c, _ = matrices(response.respond(settings.kind, settings, at), 3)
    assert np.abs(s[:, 0, 0]) == pytest.approx(10**-0.5)
    source = 0.4j
    optimum = 0.3 * np.exp(1j * np.deg2rad(70))
    away = np.abs(source - optimum) ** 2 / ((1 - 0.16) * np.abs(1 + optimum) ** 2)
    found = [_wave_temperature(s[i], c[i], source) for i in range(3)] * QUANTUM_K
    assert found == pytest.approx(2.0 + 4 * 0.6 * T0 / 50 * away, rel=1e-9)


# The file's noise -----------------------------------------------------------------------------

ROWS = "4 0.1 30 40 -50 0.001 10 0.2 70\n8 0.1 30 40 -150 0.001 10 0.2 70\n"
NOISE = "4 0.04 0.3 20 0.02\n8 0.06 0.3 40 0.04\n"


@pytest.fixture
def file(tmp_path):
    def write(text, name="lna.s2p"):
        path = tmp_path / name
        path.write_text("# GHz S MA R 50\n" + text)
        return NamedFile(str(path))

    return write


@pytest.mark.parametrize("name", ["amplifier", "measured"])
def test_noise_of_the_file_serves(name, file, conditions, matrices):
    settings = Settings(KINDS[name], {"data": file(ROWS + NOISE)})
    s, c, _ = matrices(response.respond(settings.kind, settings, conditions(6.0, kelvin=4.0)), 1)
    # Half way between the points: Fmin as a ratio, the angle, and R_n are linear there.
    minimum_k = T0 * ((10**0.004 + 10**0.006) / 2 - 1)
    optimum, source = 0.3 * np.exp(1j * np.deg2rad(30)), 0.2
    away = np.abs(source - optimum) ** 2 / ((1 - source**2) * np.abs(1 + optimum) ** 2)
    expected_k = minimum_k + 4 * 1.5 * T0 / 50 * away
    found_k = _wave_temperature(s[0], c[0], source) * H * 6e9 / K
    assert found_k == pytest.approx(expected_k, rel=1e-9)
    assert np.abs(s[0, 1, 0]) == pytest.approx(40)


def test_what_the_layout_says_replaces_the_file(file, element, conditions, matrices):
    said = element("amplifier", noise_temperature="5 K")
    settings = Settings(said.kind, {**said.values, "data": file(ROWS + NOISE)})
    s, c, _ = matrices(response.respond(settings.kind, settings, conditions(6.0, kelvin=4.0)), 1)
    assert _wave_temperature(s[0], c[0], 0.0) * H * 6e9 / K == pytest.approx(5.0, rel=1e-9)


def test_an_active_file_without_noise_is_refused(file, conditions):
    settings = Settings(KINDS["measured"], {"data": file(ROWS)})
    error = _refused(settings, conditions(6.0))
    assert error.what == "lna.s2p shows gain, and its noise is neither given nor in the file"
    assert error.instead.startswith("give noise_temperature, noise_figure, or the noise parameters")


def test_noise_that_does_not_cover_the_band_is_refused(file, conditions):
    settings = Settings(KINDS["measured"], {"data": file(ROWS + "5 0.04 0.3 20 0.02\n")})
    error = _refused(settings, conditions(6.0))
    assert "lna.s2p reaches from 5 GHz to 5 GHz, and 6 GHz to 6 GHz is needed" in error.what


def test_noise_of_a_file_that_no_amplifier_has_is_refused(file, conditions):
    settings = Settings(KINDS["measured"], {"data": file(ROWS + NOISE.replace("0.02", "1e-5"))})
    error = _refused(settings, conditions(4.0))
    assert error.parameter == "data"
    assert "no amplifier has noise parameters with so small a noise resistance" in error.what


def test_a_three_port_with_gain_is_refused(file, conditions):
    rows = "4 0 0 2 0 0 0\n 0 0 0 0 0 0\n 0 0 0 0 0 0\n"
    settings = Settings(KINDS["measured"], {"data": file(rows, "amp.s3p")})
    error = _refused(settings, conditions(4.0))
    assert error.what == "amp.s3p shows gain, and only amplifying two-ports are known here"


def test_a_passive_file_needs_no_noise_and_emits_at_its_temperature(file, conditions, matrices):
    named = file("4 0.1 0 0.5 0 0.5 0 0.1 0\n8 0.1 0 0.5 0 0.5 0 0.1 0\n", "pad.s2p")
    settings = Settings(KINDS["measured"], {"data": named, "loads": ("out",)})
    nport = response.respond(settings.kind, settings, conditions(6.0, kelvin=0.3))
    whole = response.respond(
        settings.kind, Settings(settings.kind, {"data": named}), conditions(6.0, kelvin=0.3)
    )
    emitted = conditions(6.0, kelvin=0.3).emitted
    by_hand = loaded(whole, 1, emitted)
    assert nport.ports == ("in",)
    assert nport.emission[0, 0] == pytest.approx(by_hand.emission[0, 0])
    assert nport.emission[0, 0].real == pytest.approx(emitted * (1 - 0.1**2), rel=1e-12)
