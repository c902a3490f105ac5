"""Compression and intercept of a path, referred to its start."""

import pytest

from chain.power.levels import compression_w, level_warnings
from chain.power.signal_path import cascade, headrooms
from chain.power.tones import power

TEXT = """
stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}}
band: {start: 5 GHz, stop: 6 GHz, points: 3}
lines:
  main:
    - {id: S, kind: port, stage: plate}
    - {id: H, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 3 K, p1db_out: -10 dBm}
    - {id: A, kind: attenuator, stage: room, loss: 5 dB}
    - {id: G, kind: amplifier, stage: room, gain: 20 dB, noise_figure: 3 dB, p1db_in: -30 dBm}
    - {id: R, kind: port, stage: room}
tones: {t: {into: S, frequency: 5 GHz, power: -50 dBm}}
signals: {main: {from: S, to: R}}
"""


def test_headroom_at_each_amplifier(write_layout):
    first, second = headrooms(power(write_layout(TEXT)))
    assert first.headroom_db == pytest.approx(10.0, abs=1e-9)
    # In -30 dBm compresses by 1 dB: out -11 dBm; the tone gives -50 + 30 - 5 + 20 = -5 dBm.
    assert second.headroom_db == pytest.approx(-6.0, abs=1e-9)
    said = level_warnings(power(write_layout(TEXT)))
    assert len(said) == 1
    assert said[0].startswith("G is over its compression point by 6.0 dB")


def test_the_first_to_compress_sets_the_level_at_the_start(write_layout):
    layout = write_layout(TEXT)
    found = cascade(layout, layout.signals["main"], 5e9)
    # G: -30 dBm at its input is -30 - 25 dBm at the start; H: -10 - 30 + 1 = -39 dBm.
    assert found.first == "G"
    assert found.p1db_w == pytest.approx(1e-3 * 10**-5.5, rel=1e-9)


def test_compression_from_the_input_is_a_decibel_below_the_gain(write_layout):
    layout = write_layout(TEXT)
    watt = compression_w(layout.elements["G"].settings, 20.0)
    assert watt == pytest.approx(1e-3 * 10**-1.1, rel=1e-12)
