"""What failures cost, by hand."""

import math

import pytest

from chain.design.comparison import compare
from chain.design.failures import each_failure

H, K = 6.62607015e-34, 1.380649e-23
F = 5e9


def n(f_hz, t_k):
    return 0.5 / math.tanh(H * f_hz / (2 * K * t_k))


TEXT = """
stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}, base: {temperature: 20 mK}}
band: {start: 5 GHz, stop: 5 GHz, points: 1}
lines:
  main:
    - {id: S, kind: port, stage: base}
    - {id: W, kind: cable, from: base, to: plate, loss: 0 dB}
    - {id: H, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 3 K, unpowered_loss: 20 dB}
    - {id: G, kind: amplifier, stage: plate, gain: 20 dB, noise_temperature: 6 K}
    - {id: R, kind: port, stage: room}
signals: {main: {from: S, to: R}}
"""


def kelvin(t_k):
    return t_k * K / (H * F)


def test_a_dead_amplifier_is_a_cold_pad(write_layout):
    layout = write_layout(TEXT)
    dead = write_layout(TEXT, "H.state=dead")
    found = compare(layout, dead, "main")
    whole = n(F, 0.02) + kelvin(3) + kelvin(6) / 1e3
    broken = n(F, 0.02) + 99 * n(F, 4) + 100 * kelvin(6)
    assert found.noise_a_quanta[0] == pytest.approx(whole, rel=1e-9)
    assert found.noise_b_quanta[0] == pytest.approx(broken, rel=1e-9)
    assert found.time_ratio_coherent[0] == pytest.approx(broken / whole, rel=1e-9)
    assert found.time_ratio_radiometer[0] == pytest.approx((broken / whole) ** 2, rel=1e-9)
    assert found.gain_change_db[0] == pytest.approx(-50, abs=1e-9)
    assert found.changed == ("H.state=dead",)
    assert next(iter(found.share_change_quanta)) == "G"


def test_a_dead_amplifier_that_reflects(write_layout):
    """Two reflectors around a pad, their phases averaged: the etalon's mean transmission."""
    text = TEXT.replace("unpowered_loss: 20 dB}", "unpowered_loss: 6 dB, return_loss: 10 dB}")
    found = write_layout(text, "H.state=dead").budget("main")
    eta, r2 = 10**-0.6, 0.1
    gain = (1 - r2) ** 2 * eta / (1 - (r2 * eta) ** 2)
    assert 10 ** (found.gain_db[0] / 10) == pytest.approx(gain * 100, rel=1e-9)


def test_bypassing_joins_the_ends(write_layout):
    found = write_layout(TEXT, "H.state=bypassed").budget("main")
    assert found.system_noise_quanta[0] == pytest.approx(n(F, 0.02) + kelvin(6), rel=1e-9)


def test_every_failure_is_ranked_with_the_lost_signals_first(write_layout):
    ranked = each_failure(write_layout(TEXT)).failures
    assert [one.change for one in ranked] == ["W.state=open", "H.state=dead", "G.state=dead"]
    assert ranked[0].loses_signal
    whole = n(F, 0.02) + kelvin(3) + kelvin(6) / 1e3
    later = n(F, 0.02) + kelvin(3) + (10**2.5 - 1) * n(F, 4) / 1e3
    assert ranked[2].noise_ratio == pytest.approx(later / whole, rel=1e-9)


def test_a_lost_pump_switches_the_paramp_off(write_layout):
    text = TEXT.replace(
        "    - {id: W,",
        "    - {id: C, kind: coupler, stage: base, coupling: 20 dB, reversed: true, "
        "loads: [isolated]}\n"
        "    - {id: X, kind: paramp, stage: base, gain: 20 dB, mixing: three-wave, pump: p}\n"
        "    - {id: W,",
    ).replace("signals:", "  pump:\n    - {id: P, kind: port, stage: room}\n"
              "    - {id: V, kind: cable, from: room, to: base, loss: 3 dB}\n"
              "    - {join: C.coupled}\n"
              "tones: {p: {into: P, frequency: 11 GHz, power: 1 uW}}\nsignals:")
    ranked = {one.change: one for one in each_failure(write_layout(text)).failures}
    assert ranked["V.state=open"].unpumped == ("X",)
    # Without the pump the open cable's end only adds what the coupler brings back.
    assert ranked["V.state=open"].gain_change_db == pytest.approx(-20, abs=1e-9)


def test_the_command_says_it_in_words(run, tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(TEXT)
    status, out, _ = run("compare", path, "--set", "H.state=dead")
    assert status == 0
    assert "changed: H.state=dead" in out
    assert "times as long in a coherent readout" in out.replace("\n", " ")
    status, out, _ = run("compare", path, "--each")
    assert status == 0
    assert "nothing arrives" in out
    status, _, err = run("compare", path)
    assert status == 2
    assert "nothing to compare" in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--each", "--measured", "x.s2p"], "--each and --measured ask different things"),
        (["--ports", "S:R"], "add --measured FILE"),
        (["--measured", "nothing.s2p"], "nothing.s2p"),
    ],
)
def test_questions_that_do_not_go_together(run, tmp_path, words, said):
    path = tmp_path / "l.yaml"
    path.write_text(TEXT)
    status, out, err = run("compare", path, *words)
    assert (status, out) == (2, "")
    assert said in err


def test_a_measured_trace_is_held_against_the_layout(run, tmp_path):
    path, trace = tmp_path / "l.yaml", tmp_path / "t.s2p"
    path.write_text(TEXT)
    # 50 dB through, a decibel and a half low; nothing back.
    trace.write_text("# GHz S DB R 50\n5 -90 0 48.5 0 -90 0 -90 0\n5.1 -90 0 48.5 0 -90 0 -90 0\n")
    status, out, _ = run("compare", path, "--measured", trace, "--ports", "S:R")
    assert status == 0
    assert "1.5 dB low" in out.replace("\n", " ")
