"""An amplifier's four noise parameters against the numbers of scikit-rf's tests and documents.

Its test amplifier: S21 = 10, all else 0; minimum noise figure 0.5 dB at 1 GHz and 1 dB at 2 GHz,
optimum reflection 0, R_n / 50 ohm = 0.1159.  scikit-rf uses k of 2014: 3.5e-7 off in temperatures.
"""

import numpy as np
import pytest

from components import response
from components.conditions import Conditions
from components.constants import T0, H, K
from components.declaration import KINDS
from components.noise_parameters import NoiseParameters
from components.quantities import Table, parse
from components.settings import Settings

GHZ = np.array([1.0, 2.0])
KELVIN = H * 1e9 * GHZ / K
FIGURE = Table((1e9, 2e9), (0.5, 1.0), "ratio")


def _amplifier():
    kind = KINDS["amplifier"]
    settings = Settings(kind, {
        "gain": parse("20 dB", "ratio"), "minimum_noise_figure": FIGURE,
        "optimum_reflection": parse("0", "number"), "noise_resistance": parse("5.795 ohm",
                                                                               "resistance"),
    })
    nport = response.respond(kind, settings, Conditions(1e9 * GHZ, 4.0))
    s, c = nport.dense(2)
    return s[0], c[0]


def _factor(s, c, source):
    """Noise factor from a source that reflects `source`, by the waves."""
    out = c[:, 1, 1] + np.abs(s[:, 1, 0] * source) ** 2 * c[:, 0, 0]
    out = out + 2 * np.real(s[:, 1, 0] * source * c[:, 0, 1])
    return 1 + out.real / (np.abs(s[:, 1, 0]) ** 2 * (1 - np.abs(source) ** 2)) * KELVIN / T0


def test_minimum_and_its_temperature():
    factor = _factor(*_amplifier(), 0.0)
    assert factor == pytest.approx([1.1220185, 1.2589254], abs=6e-8)
    assert (factor - 1) * T0 == pytest.approx([35.385, 75.088], abs=6e-4)


@pytest.mark.parametrize(("ohm", "expected"), [
    (50, 1.1220185), (25, 1.1799685), (100, 1.1799685),
])
def test_factor_from_other_sources(ohm, expected):
    assert _factor(*_amplifier(), (ohm - 50) / (ohm + 50))[0] == pytest.approx(expected, abs=6e-8)


def test_the_same_amplifier_in_waves():
    _, c = _amplifier()
    assert c[0, 0, 0].real * KELVIN[0] == pytest.approx(99.0586, abs=6e-5)
    assert c[0, 1, 1].real * KELVIN[0] == pytest.approx(3538.535, abs=6e-4)
    assert not c[:, 0, 1].any()


@pytest.mark.parametrize(("point", "figure_db", "number", "radius"), [
    (0, 1.0, 0.2953127, 0.4774784), (1, 2.0, 0.7031229, 0.6425288),
])
def test_noise_circles(point, figure_db, number, radius):
    """Centre G_opt / (1 + N) = 0, radius sqrt(N^2 + N (1 - |G_opt|^2)) / (1 + N)."""
    assert np.sqrt(number**2 + number) / (1 + number) == pytest.approx(radius, abs=6e-8)
    for angle in np.linspace(0, 2 * np.pi, 8, endpoint=False):
        factor = _factor(*_amplifier(), radius * np.exp(1j * angle))[point]
        # Seven digits of the radius: 1e-6 of N.
        assert 10 * np.log10(factor) == pytest.approx(figure_db, abs=1e-6)


CHAIN = """\
band: {{start: 1 GHz, stop: 2 GHz, points: 2}}
stages: {{room: {{temperature: 290 K}}}}
lines:
  main:
    - {{id: S, kind: port, stage: room}}
{elements}
    - {{id: R, kind: port, stage: room}}
signals: {{main: {{from: S, to: R}}}}
"""

AMPLIFIER = (
    "    - {{id: H{}, kind: amplifier, stage: room, gain: 20 dB, minimum_noise_figure: "
    "{{1 GHz: 0.5 dB, 2 GHz: 1 dB}}, optimum_reflection: 0, noise_resistance: 5.795 ohm}}"
)


def test_two_of_them_in_a_row(write_layout):
    text = CHAIN.format(elements="\n".join(AMPLIFIER.format(i) for i in (1, 2)))
    figure_db = write_layout(text).budget("main").noise_figure_db
    assert figure_db == pytest.approx([0.504720, 1.008923], abs=6e-7)
    assert 10 ** (figure_db / 10) == pytest.approx([1.1232386, 1.2615147], abs=6e-8)


def test_behind_a_warm_pad(write_layout):
    """L F = 2.5 dB, where scikit-rf takes the pad for noiseless: 1 + L (F - 1) = 1.1933862."""
    pad = "    - {id: A1, kind: attenuator, stage: room, loss: 2 dB}"
    text = CHAIN.format(elements=f"{pad}\n{AMPLIFIER.format(1)}")
    factor = 10 ** (write_layout(text).budget("main").noise_figure_db[0] / 10)
    # hf/kT is 1.7e-4 at 290 K and 1 GHz: a square of that is missing from 290 K as kT.
    assert factor == pytest.approx(1.7782794, rel=1e-6)
    assert factor != pytest.approx(1.1933862, rel=0.1)


def test_against_the_library_itself():
    """Random parameters and sources: its nf(z), to the 3.5e-7 of its Boltzmann constant."""
    from skrf import Frequency, Network

    rng = np.random.default_rng(11)
    f = Frequency.from_f([6e9], unit="hz")
    for _ in range(20):
        optimum = 0.6 * (rng.uniform(-1, 1) + 1j * rng.uniform(-1, 1))
        figure_db, ohm = rng.uniform(0.3, 3), rng.uniform(2, 40)
        s = 0.3 * (rng.normal(size=(2, 2)) + 1j * rng.normal(size=(2, 2)))
        network = Network(frequency=f, s=s[None], z0=50)
        network.set_noise_a(f, figure_db, optimum, ohm)
        source = rng.uniform(5, 200) + 1j * rng.uniform(-100, 100)
        ours = NoiseParameters.of(
            frequency_hz=6e9, minimum_k=T0 * (10 ** (figure_db / 10) - 1), optimum=optimum,
            resistance_ohm=ohm,
        )
        reflected = (source - 50) / (source + 50)
        factor = 1 + ours.added_quanta(reflected) * H * 6e9 / K / T0
        assert factor == pytest.approx(network.nf(source)[0].real, rel=1e-6)
        entries = {(i, j): s[i, j] for i in range(2) for j in range(2)}
        c = ours.waves(entries)
        into = s[1, 0] * reflected / (1 - reflected * s[0, 0])
        noise = c[1, 1] + np.abs(into) ** 2 * c[0, 0] + 2 * np.real(into * c[0, 1])
        gain = np.abs(into / reflected) ** 2 * (1 - np.abs(reflected) ** 2)
        assert 1 + noise / gain * H * 6e9 / K / T0 == pytest.approx(factor, rel=1e-9)
