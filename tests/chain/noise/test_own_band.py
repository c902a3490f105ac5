"""Signals with frequencies of their own: drive, readout and flux each in theirs."""

import json

import numpy as np
import pytest

from chain import LayoutError
from chain.design.comparison import compare, compare_signals

TEXT = """
stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}}
band: {start: 5 GHz, stop: 6 GHz, points: 3}
lines:
  main:
    - {id: S, kind: port, stage: plate}
    - {id: A, kind: attenuator, stage: plate, loss: {5 GHz: 1 dB, 6 GHz: 2 dB}}
    - {id: H, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 3 K}
    - {id: R, kind: port, stage: room}
  flux:
    copies: 2
    elements:
      - {id: F, kind: port, stage: room}
      - {id: P, kind: attenuator, stage: plate, loss: 20 dB}
      - {id: Q, kind: device, stage: plate, reflects: true}
signals:
  main: {from: S, to: R}
  low: {from: S, to: R, band: {start: 5.1 GHz, stop: 5.2 GHz, points: 2}}
  flux: {from: F, to: Q.in, band: {start: 10 MHz, stop: 500 MHz, points: 50}}
"""
H, K = 6.62607015e-34, 1.380649e-23


def test_each_signal_is_budgeted_at_its_own_frequencies(write_layout):
    layout = write_layout(TEXT)
    assert layout.budget("main").frequency_hz == pytest.approx([5e9, 5.5e9, 6e9])
    assert layout.budget("low").frequency_hz == pytest.approx([5.1e9, 5.2e9])
    assert layout.budget("flux-2").frequency_hz == pytest.approx(np.linspace(10e6, 500e6, 50))
    # One line of loss over frequency: the same numbers as at those frequencies asked by hand.
    asked = layout.budget("main", frequency_hz=[5.1e9, 5.2e9])
    assert layout.budget("low").system_noise_quanta == pytest.approx(asked.system_noise_quanta)
    assert layout.budget("low").gain_db == pytest.approx([30 - 1.1, 30 - 1.2])


def test_asked_frequencies_go_before_a_signals_own(write_layout):
    assert write_layout(TEXT).budget("low", frequency_hz=[6e9]).frequency_hz == pytest.approx([6e9])


def test_noise_at_a_flux_line_is_that_of_its_own_frequencies(write_layout):
    found = write_layout(TEXT).budget("flux-1")
    f = found.frequency_hz
    photons = 0.01 / np.expm1(H * f / (K * 295)) + 0.99 / np.expm1(H * f / (K * 4))
    assert found.photons_at_to == pytest.approx(photons, rel=1e-6)


def test_all_signals_at_once_each_in_its_band(write_layout, tmp_path, run):
    path = tmp_path / "l.yaml"
    path.write_text(TEXT)
    found = json.loads(run("budget", path, "--json")[1])["signals"]
    assert list(found) == ["main", "low", "flux-1", "flux-2"]
    assert [len(one["frequency_hz"]) for one in found.values()] == [3, 2, 50, 50]
    text = run("budget", path)[1]
    assert "flux-1 .. flux-2" in text
    assert "0.26" in text  # GHz, the middle of the flux line's band


def test_comparisons_and_spreads_follow(write_layout):
    a, b = write_layout(TEXT), write_layout(TEXT, "P-1.loss=23 dB")
    one = compare(a, b, "flux-1")
    assert one.frequency_hz[0] == pytest.approx(10e6)
    assert one.gain_change_db == pytest.approx(np.full(50, -3.0))
    every = compare_signals(a, b, list(a.signals))
    assert [len(c.frequency_hz) for c in every.signals] == [3, 2, 50, 50]
    assert a.spread("flux-1", draws=20).frequency_hz[-1] == pytest.approx(500e6)


def test_check_judges_a_signal_in_its_own_band(write_layout):
    from chain.advice.inspection import Inspection

    inspection = Inspection(write_layout(TEXT))
    assert inspection.budget("low").frequency_hz == pytest.approx([5.1e9, 5.2e9])
    assert inspection.budget("main").frequency_hz.size == 3


@pytest.mark.parametrize(("band", "message"), [
    ("{start: 2 GHz, stop: 1 GHz}", "signals.flux.band: it stops at 1 GHz, below its start"),
    ("{start: 2 GHz}", "has no stop"),
    ("4 GHz", "signals.flux.band"),
])
def test_bands_that_are_none_are_told_once(write_layout, band, message):
    wrong = TEXT.replace("{start: 10 MHz, stop: 500 MHz, points: 50}", band)
    with pytest.raises(LayoutError) as caught:
        write_layout(wrong)
    assert message in str(caught.value)
    assert len(caught.value.problems) == 1


def test_set_changes_a_signals_band(write_layout):
    layout = write_layout(TEXT, "signals.flux.band.stop=100 MHz")
    assert layout.budget("flux-1").frequency_hz[-1] == pytest.approx(100e6)
