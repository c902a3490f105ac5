"""How quiet generators have to be whose noise nobody stated."""

import numpy as np
import pytest

from chain.noise.budget import budget
from chain.noise.budget_text import budget_text
from components.constants import H

DRIVE = """
stages: {room: {temperature: 295 K}, base: {temperature: 10 mK}}
band: {start: 5 GHz, stop: 7 GHz, points: 3}
lines:
  drive:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: base, loss: 60 dB}
    - {id: D, kind: device, stage: base}
    - {id: I, kind: isolator, stage: base}
    - {id: R, kind: port, stage: base}
tones: {t: {into: S, frequency: 8 GHz, power: 0 dBm}}
signals: {drive: {from: S, to: D.in}, receive: {from: D.out, to: R}}
"""


def test_a_device_may_get_a_thousandth_of_a_photon(write_layout):
    """1e-3 h f over the pads' 1e-6, least at the lowest frequency: 1e3 x h 5 GHz = 3.31e-21 W/Hz."""
    [floor] = budget(write_layout(DRIVE), "drive").generator_floors
    assert floor.limit_w_hz == pytest.approx(1e3 * H * 5e9, rel=1e-9)
    assert floor.limit_dbm_hz == pytest.approx(-174.80, abs=0.01)
    assert floor.limit_dbc_hz == pytest.approx(-174.80, abs=0.01)
    assert floor.below_kt
    assert not floor.far
    assert floor.photons_at == "D.in"


def test_system_noise_may_grow_by_a_tenth(write_layout):
    """Stating just that noise makes the receiver a tenth worse at the frequency that decides."""
    quiet = write_layout(DRIVE, "I.isolation=20 dB", "tones.t.power=20 dBm", "A.loss=20 dB",
                         "D.loss=3 dB")
    [floor] = budget(quiet, "receive").generator_floors
    assert floor.photons_at == "D.in"  # which is stricter here
    warm = write_layout(DRIVE.replace("D, kind: device", "D, kind: attenuator, loss: 1 dB"),
                        "R.adds=10 K", "A.loss=20 dB")
    [floor] = budget(warm, "receive").generator_floors
    assert floor.photons_at is None
    said = warm.changed(f"tones.t.noise={floor.limit_dbc_hz:.9f} dBc/Hz")
    ratio = budget(said, "receive").system_noise_quanta / budget(warm, "receive").system_noise_quanta
    assert ratio.max() == pytest.approx(1.1, rel=1e-6)


def test_what_is_stated_is_not_asked_for(write_layout):
    for change in ("tones.t.noise=-150 dBc/Hz", "S.emits=-160 dBm/Hz"):
        assert budget(write_layout(DRIVE, change), "drive").generator_floors == ()


def test_text_says_the_floor_and_puts_the_harmless_on_one_line(write_layout):
    text = budget_text(budget(write_layout(DRIVE), "drive"))
    assert "t, 0.0 dBm into S: -174.8 dBm/Hz (-174.8 dBc/Hz) for 0.001 photons at D.in; less" in text
    # 100 dB less of the tone: even -105 dBc/Hz beside it is 1e-19 of what may be.
    weak = budget(write_layout(DRIVE, "tones.t.power=-100 dBm"), "drive")
    assert weak.generator_floors[0].far
    assert "from mattering, even from a poor generator: t\n" in budget_text(weak)


def test_program_reads_it_too(write_layout):
    [found] = budget(write_layout(DRIVE), "drive").as_dict()["generator_floors"]
    assert found["tone"] == "t"
    assert found["into"] == "S"
    assert found["tone_w"] == pytest.approx(1e-3)
    np.testing.assert_allclose(found["limit_w_hz"] / found["tone_w"], 10 ** (
        found["limit_dbc_hz"] / 10))


def test_copies_are_worked_out_once(write_layout, work):
    lines = DRIVE.replace("  drive:\n", "  drive:\n    copies: 20\n    elements:\n").replace(
        "    - {id", "      - {id")
    layout = write_layout(lines)
    first, calls = work(lambda: budget(layout, "drive-1").generator_floors)
    budgets = [budget(layout, f"drive-{n}") for n in range(2, 20)]
    others, more = work(lambda: [b.generator_floors for b in budgets])
    assert more < 12 * calls
    assert [floors[0].limit_w_hz for floors in others] == [first[0].limit_w_hz] * 18
    assert others[3][0].photons_at == "D-5.in"
