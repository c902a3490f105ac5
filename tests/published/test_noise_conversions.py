"""Noise in photons, quanta and kelvin; noise figures; the least that an amplifier adds.

Every row is a layout run through the whole program.  How each is held: R, read in the source; T,
transcribed; M, from memory; A, computed apart from this program from the formula that is named.
"""

import numpy as np
import pytest

from chain.errors import LayoutError

H, K = 6.62607015e-34, 1.380649e-23


@pytest.fixture
def noise(write_layout):
    """Return a function from a load's temperature and a frequency to the Budget of what it gives."""

    def budget(kelvin, ghz):
        return write_layout(
            f"band: {{start: {ghz} GHz, stop: {ghz} GHz, points: 1}}\n"
            f"stages: {{room: {{temperature: {kelvin} K}}}}\nlines:\n  main:\n"
            "    - {id: T, kind: termination, stage: room}\n"
            "    - {id: R, kind: port, stage: room}\nsignals: {main: {to: R}}\n"
        ).budget("main")

    return budget


# The White Mountain collaboration's cold-load table of 1982-83, antenna temperatures of the
# absorber with their printed uncertainty (R): frequency in GHz, kelvin.
COLD_LOAD = [(2.5, 3.716), (4.75, 3.663), (10.0, 3.541), (33.0, 3.039), (90.0, 2.020)]
UNCERTAIN_K = 0.004
"""Printed uncertainty of each; the five say the same temperature to 1 mK."""


@pytest.mark.parametrize(("ghz", "antenna_k"), COLD_LOAD)
def test_cold_loads_at_five_frequencies(noise, ghz, antenna_k):
    """One temperature, 3.776 K, gives all five antenna temperatures (hf/k)/(exp(hf/kT) - 1)."""
    photons = noise(3.776, ghz).photons_at_to[0]
    assert photons * H * ghz * 1e9 / K == pytest.approx(antenna_k, abs=UNCERTAIN_K)


# Planck 1901, n = 1/(exp(hf/kT) - 1) (A): kelvin, n at 4, 5, 6 and 8 GHz.
OCCUPATION = [
    (300, "1562.25", "1249.70", "1041.33", "780.873"),
    (290, "1510.15", "1208.02", "1006.60", "754.828"),
    (77, "400.605", "320.384", "266.904", "200.053"),
    (50, "259.958", "207.867", "173.139", "129.730"),
    (4, "20.3406", "16.1743", "13.3971", "9.92631"),
    (1, "4.72514", "3.68730", "2.99673", "2.13649"),
    (0.8, "3.68730", "2.85882", "2.30815", "1.62350"),
    (0.1, ".171854", ".0998103", ".0595019", ".0219793"),
    (0.05, ".0219793", "8.3044e-3", "3.1640e-3", "4.6275e-4"),
    (0.02, "6.7836e-5", "6.1559e-6", "5.5866e-7", "4.6011e-9"),
    (0.01, "4.6011e-9", "3.7895e-11", "3.1210e-13", "2.117e-17"),
]


@pytest.mark.parametrize("row", OCCUPATION, ids=[f"{row[0]} K" for row in OCCUPATION])
def test_thermal_occupation(noise, row):
    for ghz, printed in zip((4, 5, 6, 8), row[1:], strict=True):
        photons = noise(row[0], ghz).photons_at_to[0]
        digits = printed.lower().split("e")[0].strip("0").replace(".", "").lstrip("0")
        # Half of the last printed digit; the vacuum's 1/2 is taken off, which leaves 1e-16.
        half = 0.6 * 10.0 ** -(max(len(digits), 4) - 1)
        assert photons == pytest.approx(float(printed), rel=half, abs=2e-16)


# (hf/2k) coth(hf/2kT), H. B. Callen and T. A. Welton, Phys. Rev. 83, 34 (1951) (A): GHz, K, K.
LOADS = [
    (230, 300, 300.0338), (230, 77, 77.1318), (230, 20, 20.5051), (230, 4.2, 6.37826),
    (230, 2.725, 5.71471), (6, 300, 300.00002), (6, 4, 4.001727), (6, 0.1, 0.161111),
    (6, 0.01, 0.143977),
]


@pytest.mark.parametrize(("ghz", "kelvin", "expected"), LOADS)
def test_a_load_with_its_vacuum(noise, ghz, kelvin, expected):
    found = noise(kelvin, ghz).noise_at_to_quanta[0] * H * ghz * 1e9 / K
    assert found == pytest.approx(expected, rel=5e-6)


# Noise figure in dB and noise temperature in kelvin, T = 290 K (10^(F/10) - 1): spot values
# transcribed from textbooks (T), the rest computed apart (A).
FIGURES = [
    (0.1, 6.755), (0.2, 13.667), (0.3, 20.741), (0.4, 27.979), (0.5, 35.385), (0.6, 42.965),
    (0.7, 50.720), (0.8, 58.657), (0.9, 66.778), (1.0, 75.088), (1.1, 83.592), (1.5, 119.636),
    (2.0, 169.619), (2.5, 225.701), (3.0, 288.626), (4.0, 438.447), (5.0, 627.061), (6.0, 864.511),
    (7.0, 1163.44), (8.0, 1539.78), (9.0, 2013.55), (10.0, 2610.0), (12.0, 4306.19), (15.0, 8880.6),
    (20.0, 28710.0),
]
TEMPERATURES = [
    (1, 0.0149), (2, 0.0298), (3, 0.0447), (4, 0.0595), (5, 0.0742), (10, 0.1472), (20, 0.2896),
    (50, 0.6908), (77, 1.0227), (100, 1.2867), (150, 1.8105), (290, 3.0103),
]


@pytest.fixture
def amplified(write_layout):
    """Return a function from an amplifier's keys, a source and a frequency to its Budget."""

    def budget(keys, *, source_k=0.0, ghz=6.0):
        return write_layout(
            f"band: {{start: {ghz} GHz, stop: {ghz} GHz, points: 1}}\n"
            "stages: {room: {temperature: 290 K}, cold: {temperature: 0 K}}\nlines:\n  main:\n"
            f"    - {{id: S, kind: port, stage: room, temperature: {source_k} K}}\n"
            f"    - {{id: H, kind: amplifier, stage: cold, {keys}}}\n"
            "    - {id: R, kind: port, stage: room}\nsignals: {main: {from: S, to: R}}\n"
        ).budget("main")

    return budget


@pytest.mark.parametrize(("figure_db", "kelvin"), FIGURES)
def test_noise_figure_as_temperature(amplified, figure_db, kelvin):
    b = amplified(f"gain: 30 dB, noise_figure: {figure_db} dB")
    # Printed to three decimals, or six digits.
    assert b.added_noise_k[0] == pytest.approx(kelvin, abs=6e-4, rel=5e-6)
    assert b.noise_figure_db[0] == pytest.approx(figure_db, abs=1e-9)


@pytest.mark.parametrize(("kelvin", "figure_db"), TEMPERATURES)
def test_noise_temperature_as_figure(amplified, kelvin, figure_db):
    b = amplified(f"gain: 30 dB, noise_temperature: {kelvin} K")
    assert b.noise_figure_db[0] == pytest.approx(figure_db, abs=5.1e-5)


# Added quanta of the best amplifier that keeps phases, |1 - 1/G| / 2: C. M. Caves, Quantum limits
# on noise in linear amplifiers, Phys. Rev. D 26, 1817 (1982) (the half photon R, the formula M).
LEAST = [(10, 0.4500), (15, 0.48419), (16.5, 0.48881), (20, 0.4950), (30, 0.4995)]


@pytest.mark.parametrize(("gain_db", "quanta"), LEAST)
def test_the_least_that_an_amplifier_adds(amplified, write_layout, gain_db, quanta):
    per_quantum = H * 6e9 / K
    for part in (0.9995, 0.9):
        with pytest.raises(LayoutError, match="less noise than quantum mechanics lets it"):
            amplified(f"gain: {gain_db} dB, noise_temperature: {part * quanta * per_quantum} K")
    b = amplified(f"gain: {gain_db} dB, noise_temperature: {1.0005 * quanta * per_quantum} K")
    assert b.added_quanta[0] == pytest.approx(quanta, rel=1e-3)
    assert b.system_noise_quanta[0] == pytest.approx(0.5 + quanta, rel=1e-3)
    ideal = write_layout(PARAMP.format(gain=gain_db, loss=0, source=0, pump=11)).budget("main")
    assert ideal.added_quanta[0] == pytest.approx(quanta, abs=6e-6)


PARAMP = """\
band: {{start: 5 GHz, stop: 5 GHz, points: 1}}
stages: {{room: {{temperature: 290 K}}, cold: {{temperature: 0 K}}}}
lines:
  main:
    - {{id: S, kind: port, stage: room, temperature: {source} K}}
    - {{id: E, kind: attenuator, stage: cold, loss: {loss} dB}}
    - {{id: X, kind: paramp, stage: cold, gain: {gain} dB, mixing: three-wave, pump: pump}}
    - {{id: R, kind: port, stage: room}}
  pump: [{{id: P, kind: port, stage: room}}, {{id: Q, kind: termination, stage: cold}}]
tones: {{pump: {{into: P, frequency: {pump} GHz, power: 1 uW}}}}
signals: {{main: {{from: S, to: R}}}}
"""

# What loss in front of a paramp of high gain adds where all is cold and signal and idler pass the
# same loss: 1/eta - 1/2 (A; the structure is that of the noise of M. Malnou et al., PRX Quantum 2,
# 010302, 2021, M).
LOSSES = [(1.0, 0.5), (0.5, 1.5), (0.25, 3.5), (0.1, 9.5)]


@pytest.mark.parametrize(("eta", "quanta"), LOSSES)
def test_loss_in_front_of_a_paramp(write_layout, eta, quanta):
    loss_db = float(-10 * np.log10(eta))
    text = PARAMP.format(gain=80, loss=loss_db, source=0, pump=11)
    b = write_layout(text).budget("main")
    # The gain of 80 dB leaves 1e-8 of the high-gain limit.
    assert b.added_quanta[0] == pytest.approx(quanta, rel=1e-7)


def test_an_idler_that_is_terminated_at_4_kelvin(write_layout):
    """5 GHz, idler within 2 MHz of it, its band at 4 K: 16.674 quanta added, not 0.5 (A)."""
    text = PARAMP.format(gain=80, loss=0, source=4, pump=10.000002)
    b = write_layout(text).budget("main")
    assert b.idler_hz[0] == pytest.approx(5e9, abs=3e3)
    assert b.added_quanta[0] == pytest.approx(16.674, abs=6e-4)


# A. R. Kerr, M. J. Feldman, S.-K. Pan, Receiver noise temperature, the quantum noise limit, and the
# role of the zero-point fluctuations, MMA Memo 161 (1996): of three ways to count the loads of a
# Y measurement the one with the vacuum in them (its convention M; numbers A) has hf/2k less than
# the one without, whatever Y is: 230 GHz, 300 K and 77 K.
RECEIVERS = [(2.0, 145.7702, 151.2893), (2.5, 71.4695, 76.9887), (3.0, 34.3192, 39.8383)]


@pytest.mark.parametrize(("y", "with_vacuum_k", "without_k"), RECEIVERS)
def test_three_ways_to_count_a_load(amplified, noise, y, with_vacuum_k, without_k):
    keys = f"gain: 20 dB, noise_temperature: {with_vacuum_k} K"
    hot, cold = (amplified(keys, source_k=k, ghz=230.0).noise_at_to_quanta[0] for k in (300.0, 77.0))
    assert hot / cold == pytest.approx(y, abs=6e-6)
    # The same measurement, loads counted without their vacuum: the receiver seems hf/2k warmer.
    loads = [noise(kelvin, 230).photons_at_to[0] * H * 230e9 / K for kelvin in (300.0, 77.0)]
    seems = (loads[0] - y * loads[1]) / (y - 1)
    assert seems == pytest.approx(without_k, abs=6e-5)
    assert seems - with_vacuum_k == pytest.approx(H * 230e9 / (2 * K), abs=2e-4)
