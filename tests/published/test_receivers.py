"""Published readout and drive chains: each layout written from the text alone, and compared.

Held: R, read in the source; B, its abstract read; M, from memory; A, computed apart from this
program from the text's values and the formula named.  What a text rounds to "about" is compared
within what it rounds to.
"""

import numpy as np
import pytest

from chain.power.tones import power

H, K = 6.62607015e-34, 1.380649e-23


def kelvin_per_quantum(ghz):
    """hf/k."""
    return H * ghz * 1e9 / K


def band(ghz):
    """Return a band of one frequency."""
    return f"band: {{start: {ghz} GHz, stop: {ghz} GHz, points: 1}}\n"


# -- The amplifier and receiver of D. H. Slichter, PhD thesis, UC Berkeley (2011), ch. 5 to 7 (R) --

COLD_RECEIVER = """\
stages: {{room: {{temperature: 295 K}}, plate: {{temperature: 4 K}}, base: {{temperature: 20 mK}}}}
lines:
  main:
    - {{id: L, kind: termination, stage: base}}
    - {{id: H, kind: amplifier, stage: plate, gain: 80 dB, noise_temperature: {kelvin} K}}
    - {{id: R, kind: port, stage: room}}
signals: {{main: {{from: L, to: R}}}}
"""


def test_a_cold_amplifier_in_photons(write_layout):
    """4 to 8 GHz, 2.6 K: "9 photons" at 6 GHz."""
    b = write_layout(band(6) + COLD_RECEIVER.format(kelvin=2.6)).budget("main")
    assert b.added_quanta[0] == pytest.approx(9, abs=0.5)
    assert b.added_quanta[0] == pytest.approx(9.029, abs=6e-4)  # A


def test_what_a_cold_load_gives(write_layout):
    """About 145 mK at 6 GHz, and about 150 mK for an amplifier that adds half a photon."""
    half = kelvin_per_quantum(6) / 2
    b = write_layout(band(6) + COLD_RECEIVER.format(kelvin=half)).budget("main")
    assert b.incoming_quanta[0] * kelvin_per_quantum(6) == pytest.approx(0.145, abs=2.5e-3)
    assert b.added_noise_k[0] == pytest.approx(0.150, abs=7.5e-3)


def test_system_noise_over_the_quantum_limit(write_layout):
    """In saturation 5.6 T_Q = 0.8 K at 5.932 GHz, T_Q = hf/2k: 2.8 quanta."""
    f = 5.932
    added = (2.8 - 0.5) * kelvin_per_quantum(f)
    b = write_layout(band(f) + COLD_RECEIVER.format(kelvin=added)).budget("main")
    assert b.system_noise_quanta[0] / 0.5 == pytest.approx(5.6, abs=1e-4)
    assert b.system_noise_k[0] == pytest.approx(0.8, abs=0.05)
    assert b.system_noise_k[0] == pytest.approx(0.797, abs=6e-4)  # A


def test_a_warm_load_is_too_strong_for_a_paramp(write_layout):
    """kTB of a 4 K load in 20 MHz: about -120 dBm."""
    b = write_layout(
        band(6) + "stages: {plate: {temperature: 4 K}}\nlines:\n  main:\n"
        "    - {id: T, kind: termination, stage: plate}\n    - {id: R, kind: port, stage: plate}\n"
        "signals: {main: {to: R}}\n"
    ).budget("main")
    watt = b.photons_at_to[0] * H * 6e9 * 20e6
    assert 10 * np.log10(watt / 1e-3) == pytest.approx(-120, abs=0.5)


Y_LAYOUT = """\
stages: {{room: {{temperature: 295 K}}, plate: {{temperature: 4 K}}, base: {{temperature: 20 mK}}}}
lines:
  main:
    - {{id: L, kind: termination, stage: {load}}}
    - {{id: S, kind: attenuator, stage: base, loss: {loss} dB}}
    - {{id: H, kind: amplifier, stage: plate, gain: 80 dB, noise_temperature: {kelvin!r} K}}
    - {{id: R, kind: port, stage: room}}
signals: {{main: {{from: S.out, to: R}}}}
"""


@pytest.mark.parametrize("loss_db", [2.0, 2.5, 3.0])
@pytest.mark.parametrize("system_k", [7.0, 0.8])
def test_a_y_factor_with_a_cold_lossy_switch(write_layout, loss_db, system_k):
    """Eqs. (5.5) to (5.7): T_sys = {[T_H (1 - A) + (hf/2k) A] - Y hf/2k} / (Y - 1), A = 1 - 1/L.

    T_H of a 4 K load behind a cold switch of 2 to 3 dB, T_L = hf/2k.  The program's Y put into the
    thesis's formula gives the amplifier's noise back; the hot load counts with its vacuum.
    """
    f, half = 6.0, kelvin_per_quantum(6.0) / 2
    hot, cold = (
        write_layout(band(f) + Y_LAYOUT.format(load=load, loss=loss_db, kelvin=system_k))
        .budget("main").noise_at_to_quanta[0] for load in ("plate", "base")
    )
    y, absorbed = hot / cold, 1 - 10 ** (-loss_db / 10)
    hot_k = half / np.tanh(half / 4.0)
    found = ((hot_k * (1 - absorbed) + half * absorbed) - y * half) / (y - 1)
    # The 20 mK switch and load are warmer than the vacuum by 1e-6 of it.
    assert found == pytest.approx(system_k, rel=1e-5)
    uncorrected = (4.0 - y * 0.02) / (y - 1)
    assert uncorrected > 1.4 * system_k


# -- What an amplifier's noise is in excess photons ------------------------------------------------


@pytest.mark.parametrize(("kelvin", "photons", "digit"), [
    (0.680, 1.5, 0.05), (0.680, 1.4858, 6e-5), (0.700, 1.559, 6e-4), (0.480, 0.755, 6e-4),
])
def test_system_noise_as_excess_photons(write_layout, kelvin, photons, digit):
    """S. Simbierowicz et al., Rev. Sci. Instrum. 92, 034708 (2021) (B): a travelling-wave paramp and
    its chain, 680 (+20/-200) mK at 5.7 GHz, "1.5 (+0.1/-0.7) excess photons": T/(hf/k) - 1; the
    more exact values A."""
    added = kelvin - kelvin_per_quantum(5.7) / 2
    b = write_layout(band(5.7) + COLD_RECEIVER.format(kelvin=repr(added))).budget("main")
    assert b.system_noise_k[0] == pytest.approx(kelvin, rel=1e-5)
    assert b.system_noise_quanta[0] - 1 == pytest.approx(photons, abs=digit)


def test_system_added_noise_in_quanta_and_kelvin(write_layout):
    """M. Malnou et al., PRX Quantum 2, 010302 (2021) (M): 3.1(6) quanta or 0.66(15) K, 3.5 to
    5.5 GHz."""
    b = write_layout(band(4.5) + COLD_RECEIVER.format(kelvin=0.66)).budget("main")
    assert b.added_quanta[0] == pytest.approx(3.1, abs=0.6)


def test_efficiency_of_a_chain(write_layout):
    """C. Macklin et al., Science 350, 307 (2015) (M): 49 % of an ideal detector that takes in the
    vacuum's whole quantum: 2.04 quanta in all."""
    per_quantum = kelvin_per_quantum(6)
    b = write_layout(
        band(6) + COLD_RECEIVER.format(kelvin=repr((1 / 0.49 - 0.5) * per_quantum))
    ).budget("main")
    assert 1 / b.system_noise_quanta[0] == pytest.approx(0.49, abs=5e-3)


# -- The drive line of D. I. Schuster, PhD thesis, Yale (2007), ch. 6 and 8 (R) --------------------

SCHUSTER = """\
stages: {{room: {{temperature: 290 K}}, plate: {{temperature: 4 K}}, base: {{temperature: 20 mK}}}}
lines:
  drive:
    - {{id: S, kind: port, stage: room}}
{cable}    - {{id: A1, kind: attenuator, stage: plate, loss: 23 dB}}
    - {{id: A2, kind: attenuator, stage: base, loss: 30 dB}}
    - {{id: D, kind: device, stage: base, reflects: true}}
tones: {{probe: {{into: S, frequency: 5 GHz, power: {power} dBm}}}}
signals: {{drive: {{from: S, to: D.in}}, warm: {{from: S, to: A2.in}}}}
self_heating: off
"""
CABLE = "    - {id: W, kind: cable, from: room, to: plate, loss: 10 dB}\n"


def test_a_drive_lines_attenuators_bring_the_load_down(write_layout):
    """23 dB bring 290 K to 1.45 K and 30 dB bring 4 K to 4 mK (A from the text's values)."""
    layout = write_layout(band(5) + SCHUSTER.format(cable="", power=-29))
    warm, drive = layout.budget("warm"), layout.budget("drive")
    share = warm.shares_quanta["S"][0] * 10 ** (warm.gain_db[0] / 10)
    assert share * kelvin_per_quantum(5) == pytest.approx(290 / 10**2.3, rel=1e-5)
    share = drive.shares_quanta["A1"][0] * 10 ** (drive.gain_db[0] / 10)
    # The 4 K pad itself, not a whole load: 1 - 1/200 of it, and 4 K with its vacuum.
    assert share * kelvin_per_quantum(5) == pytest.approx(4e-3, rel=6e-3)


def test_photons_at_the_end_of_the_drive_line(write_layout):
    """0.022154 at 5 GHz without the cables' 10 dB (A), 63 dB in all with them (R)."""
    without = write_layout(band(5) + SCHUSTER.format(cable="", power=-29)).budget("drive")
    assert without.photons_at_to[0] == pytest.approx(0.022154, abs=6e-7)
    whole = write_layout(band(5) + SCHUSTER.format(cable=CABLE, power=-29)).budget("drive")
    assert whole.gain_db[0] == pytest.approx(-63.0, abs=1e-9)


def test_one_photon_in_the_resonator(write_layout):
    """-29 dBm at room temperature with 40 dB more in front: about 5e-17 W, "within a few dB"."""
    layout = write_layout(band(5) + SCHUSTER.format(cable=CABLE, power=-29 - 40))
    arriving = power(layout).tones["probe"].arriving_w["D.in"]
    assert abs(10 * np.log10(arriving / 5e-17)) < 3


# -- The rule of S. Krinner et al., EPJ Quantum Technology 6:2 (2019) (M; values A) ----------------

KRINNER = """\
stages: {{room: {{temperature: 300 K}}, plate: {{temperature: 4 K}}, middle: {{temperature: 100 mK}},
  base: {{temperature: {base} mK}}}}
lines:
  drive:
    - {{id: S, kind: port, stage: room}}
    - {{id: A1, kind: attenuator, stage: plate, loss: 20 dB}}
    - {{id: A2, kind: attenuator, stage: middle, loss: 20 dB}}
    - {{id: A3, kind: attenuator, stage: base, loss: 20 dB}}
    - {{id: Q, kind: device, stage: base, reflects: true}}
signals: {{one: {{from: S, to: A2.in}}, two: {{from: S, to: A3.in}}, three: {{from: S, to: Q.in}}}}
"""

# GHz, base stage mK, photons behind 20 dB at 4 K, at 100 mK, at the base stage; of the room alone
PHOTONS = [
    (5, 10, 28.50952, 0.3839074, 3.839074e-3, 1.24970e-3),
    (5, 20, 28.50952, 0.3839074, 3.845169e-3, 1.24970e-3),
    (6, 10, 23.67642, 0.2956711, 2.956711e-3, 1.04133e-3),
    (6, 20, 23.67642, 0.2956711, 2.957264e-3, 1.04133e-3),
]


@pytest.mark.parametrize("row", PHOTONS, ids=[f"{row[0]} GHz {row[1]} mK" for row in PHOTONS])
def test_photons_behind_each_attenuator(write_layout, row):
    """n_i = n_(i-1)/A_i + (1 - 1/A_i) n(T_i, f), Bose-Einstein n."""
    ghz, base, *behind, room = row
    layout = write_layout(band(ghz) + KRINNER.format(base=base))
    for signal, photons in zip(("one", "two", "three"), behind, strict=True):
        assert layout.budget(signal).photons_at_to[0] == pytest.approx(photons, rel=2e-7)
    three = layout.budget("three")
    share = (three.shares_quanta["S"][0] * 10 ** (three.gain_db[0] / 10) - 0.5e-6)
    assert share == pytest.approx(room, abs=6e-9)
