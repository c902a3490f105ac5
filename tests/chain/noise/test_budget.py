"""Budgets worked out by hand, from formulas and not from the tool."""

import math

import numpy as np
import pytest

H, K = 6.62607015e-34, 1.380649e-23


def n(f_hz, t_k):
    """Quanta of a matched load: 1/2 coth(hf/2kT)."""
    return 0.5 / math.tanh(H * f_hz / (2 * K * t_k))


STAGES = "stages: {room: {temperature: 290 K}, plate: {temperature: 4 K}, base: {temperature: 20 mK}}\n"
ONE = "band: {start: 5 GHz, stop: 5 GHz, points: 1}\n"
F = 5e9


def test_a_matched_line_is_the_cascade_formula(write_layout):
    layout = write_layout(STAGES + ONE + """
lines:
  main:
    - {id: S, kind: port, stage: base}
    - {id: A, kind: attenuator, stage: base, loss: 1 dB}
    - {id: H, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 3 K}
    - {id: B, kind: attenuator, stage: room, loss: 6 dB}
    - {id: G, kind: amplifier, stage: room, gain: 20 dB, noise_figure: 2 dB}
    - {id: R, kind: port, stage: room}
signals: {main: {from: S, to: R}}
""")
    budget = layout.budget("main")
    loss, back = 10**0.1, 10**0.6
    hot = 3.0 * K / (H * F)
    late = 290.0 * (10**0.2 - 1) * K / (H * F)
    shares = {
        "S": n(F, 0.02),
        "A": (loss - 1) * n(F, 0.02),
        "H": loss * hot,
        "B": loss / 1e3 * (back - 1) * n(F, 290),
        "G": loss / 1e3 * back * late,
        "R": 0.0,
    }
    for key, share in shares.items():
        assert budget.shares_quanta[key][0] == pytest.approx(share, rel=1e-12, abs=1e-15), key
    assert budget.system_noise_quanta[0] == pytest.approx(sum(shares.values()), rel=1e-12)
    assert budget.incoming_quanta[0] == pytest.approx(shares["S"], rel=1e-12)
    assert budget.gain_db[0] == pytest.approx(-1 + 30 - 6 + 20, abs=1e-9)
    added_k = (sum(shares.values()) - shares["S"]) * H * F / K
    assert budget.noise_figure_db[0] == pytest.approx(10 * math.log10(1 + added_k / 290), abs=1e-9)
    assert [row.id for row in budget.rows if row.where == "path"] == ["A", "H", "B", "G", "R"]


def test_an_ideal_paramp_between_cold_loads_doubles_the_vacuum(write_layout):
    layout = write_layout(STAGES + ONE + """
lines:
  main:
    - {id: S, kind: port, stage: base, temperature: 0 K}
    - {id: X, kind: paramp, stage: base, temperature: 0 K, gain: 20 dB, mixing: four-wave, pump: p}
    - {id: R, kind: port, stage: base, temperature: 0 K}
tones: {p: {into: S, frequency: 5.2 GHz, power: 1 nW}}
signals: {main: {from: S, to: R}}
""")
    budget = layout.budget("main")
    # N = G/2 + (G - 1)/2, referred to the input: 1 - 1/2G.
    assert budget.system_noise_quanta[0] == pytest.approx(1 - 0.5 / 100, rel=1e-12)
    assert budget.incoming_quanta[0] == pytest.approx(0.5, rel=1e-12)
    assert sum(budget.idler_shares_quanta.values())[0] == pytest.approx(0.5 * 0.99, rel=1e-12)
    assert budget.idler_hz[0] == pytest.approx(2 * 5.2e9 - 5e9)


def test_the_idler_brings_its_own_temperature(write_layout):
    """An idler terminated at 4 K through a diplexer: half a quantum becomes N(4 K) at the idler."""
    layout = write_layout(STAGES + """
band: {start: 5 GHz, stop: 5 GHz, points: 1}
lines:
  main:
    - {id: S, kind: port, stage: base}
    - {id: Y, kind: diplexer, stage: base, crossover: 8 GHz, order: 21, enter: low, leave: common}
    - {id: X, kind: paramp, stage: base, gain: 20 dB, mixing: three-wave, pump: p}
    - {id: R, kind: port, stage: base}
  idler:
    - {join: Y.high}
    - {id: T, kind: termination, stage: plate}
tones: {p: {into: S, frequency: 18 GHz, power: 1 nW}}
signals: {main: {from: S, to: R}}
""")
    budget = layout.budget("main")
    ratio = (13 / 8) ** 42
    hot = 0.99 * (n(13e9, 4) * ratio + n(13e9, 0.02)) / (1 + ratio)
    low = 1 / (1 + (5 / 8) ** 42)
    assert budget.idler_quanta[0] == pytest.approx(hot / low, rel=1e-9)
    assert budget.idler_shares_quanta["T"][0] > 0.98 * budget.idler_quanta[0]


def test_a_standing_wave_between_two_reflections(write_layout):
    """Two reflectors with a known cable between: the averaged gain is the incoherent sum.

    |S21|^2 = t1 t2 eta / |1 - r1 r2 eta e^jphi|^2 averages over phi to
    t1 t2 eta / (1 - (r1 r2 eta)^2), t = 1 - r^2 (a textbook etalon).
    """
    layout = write_layout(STAGES + ONE + """
lines:
  main:
    - {id: S, kind: port, stage: base}
    - {id: C, kind: cable, stage: base, loss: 1 dB, return_loss: 10 dB}
    - {id: R, kind: port, stage: base}
signals: {main: {from: S, to: R}}
""")
    budget = layout.budget("main")
    eta, r2 = 10**-0.1, 0.1
    gain = (1 - r2) ** 2 * eta / (1 - (r2 * eta) ** 2)
    assert 10 ** (budget.gain_db[0] / 10) == pytest.approx(gain, rel=1e-9)
    low, high = budget.ripple["gain_db"]
    worst = (1 - r2) ** 2 * eta / (1 + r2 * eta) ** 2
    # 61 phases come within 0.1 % of the extremes of a cosine.
    assert 10 ** (low[0] / 10) == pytest.approx(worst, rel=2e-3)
    assert high[0] > budget.gain_db[0] > low[0]


def test_a_warm_cable_emits_by_the_temperature_along_it(write_layout):
    """Linear from 290 K to 4 K with 3 dB, hf << kT at 1 MHz: the integral in closed form.

    With T(z) = T0 + (T1 - T0) z/L and tau = 3 dB in nepers, toward the end
    integral of T e^-(tau - t) dt = T1 (1 - e^-tau) - (T1 - T0) (1 - (1 + tau) e^-tau) / tau.
    """
    layout = write_layout(STAGES + """
band: {start: 1 MHz, stop: 1 MHz, points: 1}
lines:
  main:
    - {id: S, kind: port, stage: base, temperature: 0 K}
    - {id: C, kind: cable, from: room, to: plate, loss: 3 dB}
    - {id: R, kind: port, stage: base}
signals: {main: {from: S, to: R}}
""")
    budget = layout.budget("main")
    tau = 3 * math.log(10) / 10
    t0, t1 = 290.0, 4.0
    emitted = t1 * (1 - math.exp(-tau)) - (t1 - t0) * (1 - (1 + tau) * math.exp(-tau)) / tau
    found = budget.shares_quanta["C"][0] * 10**-0.3 * H * 1e6 / K
    assert found == pytest.approx(emitted, rel=1e-6)  # hf/kT is 1e-5 at 4 K


def test_incoming_and_added_with_a_reflecting_device(write_layout):
    """Behind a circulator the drive line feeds the signal, the isolator's load does not."""
    layout = write_layout(STAGES + ONE + """
lines:
  in:
    - {id: S, kind: port, stage: plate}
    - {id: K, kind: circulator, stage: base, enter: "1", leave: "2"}
    - {id: D, kind: device, stage: base, reflects: true}
  out:
    - {join: K.3}
    - {id: H, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 3 K}
    - {id: R, kind: port, stage: room}
signals: {main: {from: D, to: R}}
""")
    budget = layout.budget("main")
    assert budget.incoming_quanta[0] == pytest.approx(n(F, 4), rel=1e-12)
    assert budget.added_quanta[0] == pytest.approx(3 * K / (H * F), rel=1e-12)


def test_noise_without_a_start_is_the_noise_at_the_end(write_layout):
    layout = write_layout(STAGES + ONE + """
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: plate, loss: 20 dB}
    - {id: D, kind: termination, stage: base}
signals: {photons: {to: D}}
""")
    budget = layout.budget("photons")
    expected = n(F, 290) / 100 + 0.99 * n(F, 4)
    assert budget.noise_at_to_quanta[0] == pytest.approx(expected, rel=1e-12)
    assert budget.gain_db is None
    assert budget.system_noise_quanta is None
    assert budget.shares_quanta["A"][0] == pytest.approx(0.99 * n(F, 4), rel=1e-12)


def test_a_stated_floor_and_a_receivers_own_noise(write_layout):
    layout = write_layout(STAGES + ONE + """
lines:
  main:
    - {id: S, kind: port, stage: room, emits: -150 dBm/Hz}
    - {id: R, kind: port, stage: room, adds: 600 K}
signals: {main: {from: S, to: R}}
""")
    budget = layout.budget("main")
    assert budget.incoming_quanta[0] == pytest.approx(1e-18 / (H * F) + 0.5, rel=1e-12)
    assert budget.added_quanta[0] == pytest.approx(600 * K / (H * F), rel=1e-12)


def test_an_amplifier_that_hears_itself_is_warned_of(write_layout):
    text = STAGES + ONE + """
lines:
  main:
    - {id: S, kind: port, stage: base, return_loss: 3 dB}
    - {id: H, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 3 K, reverse_isolation: 26 dB}
    - {id: R, kind: port, stage: base, return_loss: 0.5 dB}
signals: {main: {from: S, to: R}}
"""
    said = write_layout(text).budget("main").warnings
    # Loop: 30 - 26 - 3 - 0.5 dB = +0.5 dB.
    assert any("H may oscillate" in line and "0.5 dB" in line for line in said)
    quiet = write_layout(text, "H.reverse_isolation=40 dB").budget("main").warnings
    assert not any("oscillate" in line for line in quiet)


def test_results_print_themselves_and_show_in_notebooks(write_layout):
    layout = write_layout(STAGES + ONE.replace("points: 1", "points: 1") + """
title: <script>alert(1)</script>
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: plate, loss: 20 dB}
    - {id: R, kind: port, stage: room}
signals: {main: {from: S, to: R}}
""")
    budget = layout.budget("main")
    text = str(budget)
    for word in ("gain", "system noise", "incoming", "added", "noise figure", "equilibrium",
                 "commutation", "quantum limit", "conventions"):
        assert word in text
    assert "<table>" in budget._repr_html_()
    assert "<script>" not in budget._repr_html_()


def test_arrays_have_the_bands_shape(write_layout):
    layout = write_layout(STAGES + """
band: {start: 4 GHz, stop: 8 GHz, points: 17}
lines:
  main:
    - {id: S, kind: port, stage: room, return_loss: 20 dB}
    - {id: A, kind: attenuator, stage: plate, loss: 20 dB, return_loss: 20 dB}
    - {id: R, kind: port, stage: room}
signals: {main: {from: S, to: R}}
""")
    budget = layout.budget("main")
    for values in (budget.frequency_hz, budget.gain_db, budget.system_noise_k,
                   budget.added_quanta, *budget.shares_quanta.values()):
        assert np.shape(values) == (17,)


def test_a_circulator_of_a_data_sheet_before_a_mirror(write_layout):
    """Any phase of 18 dB would ask for 2.2 dB of loss; those that are passive need 0.3 dB."""
    layout = write_layout(STAGES + ONE + """
lines:
  in:
    - {id: S, kind: port, stage: plate}
    - {id: K, kind: circulator, stage: plate, insertion_loss: 0.3 dB, isolation: 20 dB, return_loss: 18 dB}
    - {id: D, kind: device, stage: plate, reflects: true}
  out:
    - {join: K.3}
    - {id: R, kind: port, stage: plate}
signals: {main: {from: S, to: R}}
""")
    budget = layout.budget("main")
    # The whole network is passive, whatever the phase, and at one temperature.
    low, high = budget.ripple["gain_db"]
    assert low[0] < budget.gain_db[0] < high[0] < 0
    assert budget.noise_at_to_quanta[0] == pytest.approx(n(F, 4), rel=1e-12)
    assert max(v for v in budget.laws.as_dict().values() if v is not None) < 1e-12


def test_a_signal_without_a_start_has_no_noise_referred_to_one(write_layout):
    budget = write_layout(STAGES + ONE + """
lines:
  main:
    - {id: T, kind: termination, stage: base}
    - {id: H, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 3 K}
    - {id: R, kind: port, stage: room}
signals: {s: {to: R}}
""").budget("s")
    assert budget.photons_at_to is not None
    assert (budget.system_noise_k, budget.added_noise_k, budget.noise_figure_db) == (None,) * 3


def test_a_band_solved_in_parts_is_the_band_solved_at_once(write_layout, monkeypatch):
    """A paramp's own emission has no vacuum of a passive part; it has to have a shape all the same."""
    layout = write_layout(STAGES + """
band: {start: 5 GHz, stop: 5.2 GHz, points: 3}
lines:
  main:
    - {id: S, kind: port, stage: base}
    - {id: X, kind: paramp, stage: base, gain: 20 dB, mixing: three-wave, pump: p}
    - {id: R, kind: port, stage: base}
tones: {p: {into: S, frequency: 11 GHz, power: -60 dBm}}
signals: {main: {from: S, to: R}}
""")
    whole = layout.budget("main")
    monkeypatch.setattr("chain.noise.budget.CHUNK", 1)
    parts = layout.budget("main")
    np.testing.assert_array_equal(parts.system_noise_quanta, whole.system_noise_quanta)
    assert parts.vacuum_shares_quanta["X"].shape == (3,)
