"""Tones by hand: levels, what is absorbed where, the balance of energy."""

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import chain
from chain.power.tones import power

STAGES = """
stages:
  room:  {temperature: 295 K}
  plate: {temperature: 4 K, cooling: {3 K: 1 W, 5 K: 2 W}}
  base:  {temperature: 20 mK, cooling: {10 mK: 1 uW, 100 mK: 400 uW}}
band: {start: 5 GHz, stop: 6 GHz, points: 3}
"""

PUMPED = STAGES + """
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: base, loss: 30 dB}
    - {id: C, kind: coupler, stage: base, coupling: 20 dB, reversed: true, loads: [isolated]}
    - {id: X, kind: paramp, stage: base, gain: 15 dB, mixing: three-wave, pump: pump, pump_loss: 1 dB}
    - {id: T, kind: termination, stage: plate}
  pump:
    - {id: P, kind: port, stage: room}
    - {id: B, kind: attenuator, stage: plate, loss: 10 dB}
    - {join: C.coupled}
tones:
  pump: {into: P, frequency: 12 GHz, arriving: {X.in: -30 dBm}}
signals: {main: {from: A.out, to: T}}
"""


def test_a_pump_through_a_coupler_with_its_spare_port_loaded_cold(write_layout):
    tone = power(write_layout(PUMPED)).tones["pump"]
    at_coupler = 1e-6 * 100  # 20 dB above -30 dBm
    assert tone.injected_w == pytest.approx(at_coupler * 10, rel=1e-9)
    assert tone.arriving_dbm["X.in"] == pytest.approx(-30, abs=1e-9)
    assert tone.arriving_dbm["C.coupled"] == pytest.approx(-10, abs=1e-9)
    assert tone.absorbed_w["B"] == pytest.approx(at_coupler * 9, rel=1e-9)
    assert tone.absorbed_w["C"] == pytest.approx(at_coupler * 0.99, rel=1e-9)
    assert tone.absorbed_w["X"] == pytest.approx(1e-6 * (1 - 10**-0.1), rel=1e-9)
    assert tone.absorbed_w["T"] == pytest.approx(1e-6 * 10**-0.1, rel=1e-9)
    assert tone.dissipated_by_stage_w["base"] == pytest.approx(
        at_coupler * 0.99 + 1e-6 * (1 - 10**-0.1), rel=1e-9
    )
    assert tone.dissipated_by_stage_w["plate"] == pytest.approx(
        at_coupler * 9 + 1e-6 * 10**-0.1, rel=1e-9
    )
    assert tone.closure < 1e-12


def test_the_cold_load_is_pointed_out_and_what_would_move_it(write_layout, run, tmp_path):
    found = power(write_layout(PUMPED))
    # 20 mK lies in 10 to 100 mK: 1 uW + 399 uW * (4 - 1) / (100 - 1), linear in T^2.
    assert found.cooling_w["base"] == pytest.approx(1e-6 + 399e-6 * 3 / 99, rel=1e-9)
    assert found.over == ("base",)
    path = tmp_path / "l.yaml"
    path.write_text(PUMPED)
    status, out, _ = run("power", path)
    assert status == 1
    assert "C on base absorbs 99 uW of pump" in out
    assert "join: C.isolated" in out
    assert "termination on plate" in out
    assert "too much" in out


def test_cable_heat_goes_to_its_anchors_by_position(write_layout):
    """A uniform loss in a uniform rod: the mean place of absorption fixes the parts.

    Mean position of exp(-a z) on 0..1: 1/a - 1/(e^a - 1).
    """
    layout = write_layout(STAGES + """
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: C, kind: cable, from: room, to: base, loss: 6 dB}
    - {id: T, kind: termination, stage: base}
tones: {t: {into: S, frequency: 5 GHz, power: 1 mW}}
""")
    tone = power(layout).tones["t"]
    a = 0.6 * math.log(10)
    place = 1 / a - 1 / (math.exp(a) - 1)
    absorbed = 1e-3 * (1 - 10**-0.6)
    assert tone.absorbed_w["C"] == pytest.approx(absorbed, rel=1e-9)
    assert tone.dissipated_by_stage_w["room"] == pytest.approx(absorbed * (1 - place), rel=1e-9)
    assert tone.dissipated_by_stage_w["base"] == pytest.approx(absorbed * place + 1e-3 * 10**-0.6, rel=1e-9)


def test_a_signal_tone_makes_an_idler_with_its_own_row(write_layout):
    """Photons are made in pairs: idler power = (G - 1) fi/fs of what arrives."""
    text = PUMPED.replace("tones:\n", "tones:\n  probe: {into: S, frequency: 5 GHz, power: -60 dBm}\n")
    found = power(write_layout(text))
    assert found.idler_of == {"probe idler": "probe"}
    arriving = 1e-9 * 1e-3 * 0.99
    gain = 10**1.5
    own, idler = found.tones["probe"], found.tones["probe idler"]
    assert own.absorbed_w["T"] == pytest.approx(arriving * gain, rel=1e-9)
    assert idler.frequency_hz[0] == pytest.approx(7e9)
    assert idler.absorbed_w["T"] == pytest.approx(arriving * (gain - 1) * 7 / 5, rel=1e-9)
    assert idler.injected_w == 0
    assert idler.given_w == pytest.approx(arriving * (gain - 1) * 7 / 5, rel=1e-9)
    assert own.given_w == pytest.approx(arriving * (gain - 1), rel=1e-9)


def test_a_comb_counts_its_total_and_its_peak(write_layout):
    from chain.power.signal_path import headrooms

    layout = write_layout(STAGES + """
lines:
  main:
    - {id: S, kind: port, stage: base}
    - {id: H, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 3 K, p1db_out: -10 dBm}
    - {id: R, kind: port, stage: room}
tones: {comb: {into: S, frequency: 5 GHz, count: 100, spacing: 2 MHz, power: -70 dBm}}
signals: {main: {from: S, to: R}}
""")
    found = power(layout)
    assert found.tones["comb"].injected_w == pytest.approx(1e-8, rel=1e-9)
    assert np.size(found.tones["comb"].frequency_hz) == 100
    level, = headrooms(found)
    assert level.total_out_w == pytest.approx(1e-5, rel=1e-9)
    # In phase a hundred amplitudes make a hundred times the mean power.
    assert level.peak_out_w == pytest.approx(1e-3, rel=1e-9)
    assert level.headroom_db == pytest.approx(10.0, abs=1e-9)


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_energy_closes_on_random_layouts(data, write_layout):
    loss, gain = data.draw(st.floats(0, 30)), data.draw(st.floats(0.1, 40))
    mirror = data.draw(st.floats(0.5, 40))
    back = gain + data.draw(st.floats(5, 40))
    layout = write_layout(STAGES + f"""
lines:
  main:
    - {{id: S, kind: port, stage: room}}
    - {{id: W, kind: cable, from: room, to: plate, loss: {loss:.3f} dB, return_loss: 20 dB}}
    - {{id: D, kind: device, stage: base, return_loss: {mirror:.3f} dB}}
    - {{id: H, kind: amplifier, stage: plate, gain: {gain:.3f} dB, noise_temperature: 9 K,
        reverse_isolation: {back:.3f} dB}}
    - {{id: K, kind: circulator, stage: base, isolation: 17 dB, insertion_loss: 0.5 dB, loads: ['3']}}
    - {{id: V, kind: cable, from: base, to: room, loss: 3 dB}}
    - {{id: R, kind: port, stage: room}}
tones: {{t: {{into: S, frequency: 5 GHz, power: 1 nW}}}}
""")
    tone = power(layout).tones["t"]
    assert tone.closure < 1e-10
    assert sum(tone.dissipated_by_stage_w.values()) == pytest.approx(sum(tone.absorbed_w.values()), rel=1e-9)
    for key, watt in tone.absorbed_w.items():
        assert watt >= -1e-12 * (tone.injected_w + abs(tone.given_w)), key


REFUSED = [
    ("arriving: {X.in: -30 dBm}", "arriving: {A.in: -30 dBm}", "nothing of tone pump"),
    ("into: P,", "into: X,", "X, a paramp and no outside connector"),
    ("pump: pump, pump_loss", "pump: pimp, pump_loss", "pimp"),
]


@pytest.mark.parametrize(("old", "new", "said"), REFUSED)
def test_tones_that_cannot_be(old, new, said, write_layout):
    text = PUMPED.replace(old, new)
    assert text != PUMPED
    if "A.in" in new:
        text = text.replace("kind: attenuator, stage: base, loss: 30 dB",
                            "kind: isolator, stage: base")
    with pytest.raises(chain.LayoutError, match=said):
        power(write_layout(text))


def test_two_pumps_in_one_network_are_refused_by_name(write_layout):
    text = PUMPED.replace("    - {id: T,", "    - {id: Z, kind: paramp, stage: base, gain: 9 dB, "
                          "mixing: three-wave, pump: other}\n    - {id: T,")
    text = text.replace("tones:\n", "tones:\n  other: {into: P, frequency: 11 GHz, power: 1 uW}\n")
    with pytest.raises(chain.LayoutError, match=r"Z and X are in one network and are pumped at 11"):
        write_layout(text).budget("main")


def test_a_tone_beyond_a_table_is_refused_at_its_place(write_layout):
    text = PUMPED.replace("loss: 10 dB}", "loss: {4 GHz: 9 dB, 8 GHz: 11 dB}}")
    with pytest.raises(chain.LayoutError, match=r"\.yaml:\d+:\d+: B: loss: the table reaches from 4"):
        power(write_layout(text))


COMB = STAGES + """
lines:
  main:
    - {id: S, kind: port, stage: base}
    - {id: A, kind: attenuator, stage: base, loss: 3 dB}
    - {id: R, kind: port, stage: room}
tones: {comb: {into: S, band: {start: 5 GHz, stop: 6 GHz}, count: 11, power: -70 dBm}}
signals: {main: {from: S, to: R}}
"""


def test_a_comb_over_a_band(write_layout):
    found = power(write_layout(COMB)).tones["comb"]
    assert found.frequency_hz == pytest.approx(np.linspace(5e9, 6e9, 11))
    assert found.injected_w == pytest.approx(11e-10, rel=1e-12)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("count: 11, ", "", "tone comb has a band, and is a single one; add `count:`"),
        ("count: 11", "count: 11, frequency: 5 GHz", "tone comb has a band and a frequency"),
        ("band: {start: 5 GHz, stop: 6 GHz}, count: 11, ", "", "tone comb has no frequency"),
        ("band: {start: 5 GHz, stop: 6 GHz}", "frequency: 5 GHz", "is a comb without a spacing"),
    ],
)
def test_combs_that_cannot_be(old, new, said, write_layout):
    with pytest.raises(chain.LayoutError, match=said):
        write_layout(COMB.replace(old, new))
