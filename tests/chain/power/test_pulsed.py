"""Pulsed tones: averages for heat, what is there while they are on for levels and noise."""

import numpy as np
import pytest

from chain.errors import LayoutError
from chain.heat.stages import heat
from chain.noise.budget import budget
from chain.power.power_text import power_text
from chain.power.tones import power

DRIVES = """
stages:
  room:   {temperature: 295 K}
  plate:  {temperature: 4 K,    cooling: {3 K: 1 W, 5 K: 2 W}}
  middle: {temperature: 100 mK, cooling: {50 mK: 100 uW, 150 mK: 600 uW}}
  mixing: {temperature: 20 mK,  cooling: {10 mK: 2 uW, 30 mK: 40 uW}}
band: {start: 5 GHz, stop: 5 GHz, points: 1}
lines:
  drive:
    copies: 100
    elements:
      - {id: S, kind: port, stage: room}
      - {id: A, kind: attenuator, stage: plate, loss: 20 dB}
      - {id: B, kind: attenuator, stage: middle, loss: 20 dB}
      - {id: C, kind: attenuator, stage: mixing, loss: 20 dB}
      - {id: Q, kind: device, stage: mixing}
      - {id: T, kind: termination, stage: mixing}
tones:
  drive: {into: S, frequency: 5 GHz, arriving: {Q.in: -66 dBm}, duty: 3 %, pulse: 20 ns}
signals: {drive: {from: S, to: Q.in}}
"""


def test_a_hundred_drives_of_20_20_20_db_heat_as_a_hand_calculation_says(write_layout):
    """-66 dBm is 251.2 pW while on; 100 drives at 3 % are 753.6 pW on average at the devices.

    Of a power P behind them 20 dB pads keep 99 P, 9900 P and 990,000 P, the devices' loads P: 7.536e-8 W
    at mixing, 7.46e-6 W at middle, 7.46e-4 W at the plate; each generator sends 1e6 P, -6 dBm.
    """
    found = power(write_layout(DRIVES))
    all_w = 100 * 0.03 * 1e-3 * 10**-6.6
    expected = {"mixing": 100 * all_w, "middle": 9_900 * all_w, "plate": 990_000 * all_w}
    for stage, watt in expected.items():
        assert found.dissipated_by_stage_w[stage] == pytest.approx(watt, rel=1e-9)
    assert expected["mixing"] == pytest.approx(7.54e-8, rel=1e-3)
    assert expected["plate"] == pytest.approx(7.46e-4, rel=1e-3)
    one = found.tones["drive-1"]
    assert one.injected_w == pytest.approx(0.03 * 1e-3 * 10**-0.6, rel=1e-9)
    assert one.arriving_dbm["A-1.in"] == pytest.approx(-6.0, abs=1e-9)
    assert one.arriving_dbm["Q-1.in"] == pytest.approx(-66.0, abs=1e-9)
    assert one.arriving_w["Q-1.in"] == pytest.approx(0.03 * 1e-3 * 10**-6.6, rel=1e-9)
    assert heat(write_layout(DRIVES)).as_dict()["stages"]["middle"]["tones_w"] == pytest.approx(
        expected["middle"], rel=1e-9)


def test_energy_closes_whatever_the_duty(write_layout):
    for duty in ("100 %", "0.1 %"):
        found = power(write_layout(DRIVES, f"tones.drive.duty={duty}"))
        assert all(tone.closure < 1e-9 for tone in found.tones.values())


AMPLIFIED = """
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK}}
band: {start: 5 GHz, stop: 5 GHz, points: 1}
lines:
  one: [{id: S, kind: port, stage: room},
        {id: H, kind: amplifier, stage: room, gain: 20 dB, noise_temperature: 300 K, p1db_out: 0 dBm},
        {id: R, kind: port, stage: room}]
tones: {t: {into: S, frequency: 6 GHz, power: -26 dBm, duty: 1 %, noise: -150 dBc/Hz}}
signals: {main: {from: S, to: R}}
"""


def test_compression_and_noise_are_those_while_the_tone_is_on(write_layout):
    """-26 dBm + 20 dB is 6 dB below compression, pulsed or not; on average it is 20 dB less."""
    pulsed, steady = write_layout(AMPLIFIED), write_layout(AMPLIFIED, "tones.t.duty=100 %")
    [level], [usual] = power(pulsed).headrooms, power(steady).headrooms
    for one in (level, usual):
        assert one.headroom_db == pytest.approx(6.0, abs=1e-9)
    assert level.total_out_w == pytest.approx(0.01 * usual.total_out_w)
    found = power(pulsed).as_dict()
    assert found["levels"][0]["total_out_dbm"] == pytest.approx(-6.0, abs=1e-9)
    assert found["levels"][0]["total_out_w"] == pytest.approx(1e-5 * 10**-0.6, rel=1e-9)
    assert found["tones"]["t"]["duty"] == 0.01
    of_pulsed, of_steady = budget(pulsed), budget(steady)
    np.testing.assert_array_equal(of_pulsed.system_noise_quanta, of_steady.system_noise_quanta)
    said = "the noise beside t is that while it is on, 1 % of the time"
    assert said in of_pulsed.warnings
    assert said not in of_steady.warnings


def test_text_says_both_powers(write_layout):
    text = power_text(power(write_layout(DRIVES)))
    assert "injected: -6.0 dBm while on, in pulses of 20 ns 3 % of the time (7.54 uW on average)" in text
    assert "of a pulsed tone levels in dBm are those while it is on" in " ".join(text.split())
    assert "pulsed" not in power_text(power(write_layout(AMPLIFIED, "tones.t.duty=")))


def test_a_pulse_without_a_duty_is_refused(write_layout):
    with pytest.raises(LayoutError, match="what part of the time it is on is not stated; add `duty"):
        write_layout(DRIVES, "tones.drive.duty=")
    with pytest.raises(LayoutError, match="is above 100 %"):
        write_layout(DRIVES, "tones.drive.duty=120 %")


FILM = """
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK}}
band: {start: 5 GHz, stop: 5 GHz, points: 1}
lines:
  one:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: base, loss: 20 dB}
    - {id: D, kind: device, stage: base}
    - {id: R, kind: port, stage: base}
tones: {t: {into: S, frequency: 5 GHz, arriving: {D.in: -70 dBm}, duty: 3 %}}
signals: {d: {to: D.in}}
"""


@pytest.mark.parametrize(("pulse", "follows", "kelvin"), [
    ("2 us", "average", 68.3e-3), ("4 us", "peak", 137.7e-3), (None, "either", 68.3e-3),
])
def test_films_follow_pulses_longer_than_their_electrons_time(write_layout, pulse, follows, kelvin):
    """A takes 99 x 0.1 nW while on, 0.297 nW on average; over Sigma V = 2e-4 W/K^5 the fifth roots
    are 137.7 and 68.3 mK, and electrons at 137.7 mK follow in 8.14e-9/0.1377^3 s = 3.1 us."""
    layout = write_layout(FILM, *([] if pulse is None else [f"tones.t.pulse={pulse}"]))
    [film] = power(layout).warmed.films
    assert film.follows == follows
    assert film.kelvin == pytest.approx(kelvin, rel=1e-3)
    assert film.on_k == pytest.approx(137.7e-3, rel=1e-3)
    [found] = power(layout).as_dict()["self_heating"]["films"]
    assert found["while_on_k"] == film.on_k


def test_a_steady_film_follows_its_tone(write_layout):
    [film] = power(write_layout(FILM, "tones.t.duty=")).warmed.films
    assert (film.follows, film.on_k) == ("steady", None)
    text = power_text(power(write_layout(FILM)))
    assert "or the pulse if it is long" in text
    assert "it follows" not in power_text(power(write_layout(FILM, "tones.t.duty=")))
