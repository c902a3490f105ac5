"""Tones and noise against what parts, generators and receivers can do."""

import pytest

from chain.errors import LayoutError
from chain.noise.budget import budget
from chain.power.ratings import watt_text
from chain.power.tones import power
from components.constants import K
from components.kinds.ends import digitiser_noise_w_hz
from components.quantities import dbm_to_watt, watt_to_dbm

LINE = """
stages: {room: {temperature: 290 K}, base: {temperature: 20 mK}}
band: {start: 5 GHz, stop: 7 GHz, points: 41}
lines:
  one:
    - {id: S, kind: port, stage: room, max_output: 10 dBm}
    - {id: A, kind: attenuator, stage: room, loss: 3 dB, max_power: 2 mW}
    - {id: R, kind: port, stage: room, full_scale: 10 dBm}
tones:
  a: {into: S, frequency: 5 GHz, power: 0 dBm, duty: 10 %}
  b: {into: S, frequency: 6 GHz, power: 0 dBm}
signals: {main: {from: S, to: R}}
"""


def test_parts_are_rated_on_average_generators_while_on_receivers_in_phase(write_layout):
    """A gets 0.1 + 1 mW; S gives 2 mW at once; R sees 3 dB less, in phase four times 0.501 mW."""
    found = {one.rating: one for one in power(write_layout(LINE)).ratings}
    assert found["max_power"].level_w == pytest.approx(1.1e-3, rel=1e-9)
    assert found["max_power"].port == "A.in"
    assert found["max_output"].level_w == pytest.approx(2e-3, rel=1e-9)
    assert found["full_scale"].level_w == pytest.approx(4e-3 * 10**-0.3, rel=1e-3)
    assert found["max_output"].margin_db == pytest.approx(10 - 3.01, abs=0.01)
    assert not any(one.over for one in found.values())


def test_noise_alone_can_fill_a_receiver(write_layout):
    """291 K through 100 dB: 4.02e-11 W/Hz over 2 GHz is 80 mW; times 8 for its peaks 28.1 dBm."""
    text = LINE.replace("kind: attenuator, stage: room, loss: 3 dB, max_power: 2 mW",
                        "kind: amplifier, stage: room, gain: 100 dB, noise_temperature: 1 K")
    layout = write_layout(text, "tones.a.power=-200 dBm", "tones.b.power=-200 dBm")
    [_, found] = power(layout).ratings
    expected = 8 * K * 291 * 1e10 * 2e9
    assert found.level_w == pytest.approx(expected, rel=1e-3)
    assert float(watt_to_dbm(expected)) == pytest.approx(28.1, abs=0.05)
    assert found.over


def test_a_rating_that_is_exceeded_is_a_no_and_a_finding(write_layout, run, tmp_path):
    over = write_layout(LINE, "A.max_power=1 mW", "tones.a.power=3 dBm")
    codes = {(f.code, f.level, f.elements) for f in over.check().findings}
    assert ("over-rating", "error", ("A",)) in codes
    path = tmp_path / "l.yaml"
    path.write_text(LINE)
    assert run("power", path)[0] == 0
    status, out, _ = run("power", path, "--set", "A.max_power=1 mW")
    assert status == 1
    assert "A is over its max_power by 0.4 dB: 1.1 mW at A.in, rated 1 mW" in out
    near = write_layout(LINE, "A.max_power=1.5 mW")
    assert [f.level for f in near.check().findings if f.code == "over-rating"] == ["warning"]


LOSSY = """
stages: {room: {temperature: 290 K}, base: {temperature: 20 mK}}
band: {start: 5 GHz, stop: 7 GHz, points: 3}
lines:
  one:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: base, loss: 20 dB}
    - {id: F, kind: attenuator, stage: base, loss: 80 dB}
    - {id: D, kind: device, stage: base}
    - {id: T, kind: termination, stage: base}
tones: {a: {into: S, frequency: 5 GHz, arriving: {D.in: -30 dBm}}}
"""


def test_an_absurd_generator_names_the_element_to_blame(write_layout):
    """-30 dBm behind 100 dB are 70 dBm, ten kilowatts, and 80 dB of that are F's."""
    layout = write_layout(LOSSY)
    [one] = power(layout).demands
    assert one.sent_w == pytest.approx(1e4, rel=1e-9)
    assert (one.blame, one.loss_db) == ("F", pytest.approx(80.0))
    [finding] = [f for f in layout.check().findings if f.code == "absurd-generator"]
    assert finding.elements == ("S", "F")
    assert finding.level == "error"
    assert "a takes 10 kW at S: F alone loses 80.0 dB of it" in finding.says
    assert any("no such generator" in text for text in power(layout).as_dict()["warnings"])
    assert power(write_layout(LOSSY, "F.loss=50 dB")).demands == ()
    assert power(write_layout(LOSSY, "F.loss=50 dB", "S.max_output=9 dBm")).demands != ()
    assert power(write_layout(LOSSY, "margins.generator=20 kW")).demands == ()


def test_what_no_prefix_reaches_is_said_all_the_same():
    assert watt_text(3e58) == "3.0e49 GW"
    assert watt_text(9.4e3) == "9.4 kW"


def test_effective_bits_are_a_noise(write_layout):
    """1 Vpp in 50 ohm, 9 bits, 2 GS/s: -141.961 dBm/Hz.

    Own arithmetic from SINAD = 6.02 bits + 1.76 dB (IEEE 1057 form, read second-hand); the exact
    3/2 x 4^bits lies 0.007 dB below.
    """
    noise = digitiser_noise_w_hz(
        full_scale_w=dbm_to_watt(3.979), effective_bits=9.0, sample_rate_hz=2e9)
    assert float(watt_to_dbm(noise)) == pytest.approx(-141.961, abs=0.01)
    more = ("R.full_scale=3.979 dBm", "R.effective_bits=9", "R.sample_rate=2 GHz")
    first, second = (budget(write_layout(LINE, *more[:count])) for count in (1, 3))
    share = (second.shares_quanta["R"] - first.shares_quanta["R"]) * 10**-0.3
    assert share[20] * 6.62607015e-34 * 6e9 == pytest.approx(noise, rel=1e-9)


def test_shorter_full_scale_tutorial_example():
    """3.2 Vpp (+14.08 dBm), 82 dB, 40 MHz of band: noise figure 30.1 dB (W. Kester's tutorial on
    converters, from memory)."""
    noise = digitiser_noise_w_hz(
        full_scale_w=dbm_to_watt(14.08), effective_bits=(82 - 1.76) / 6.02, sample_rate_hz=80e6)
    assert float(watt_to_dbm(noise)) + 173.975 == pytest.approx(30.1, abs=0.1)


@pytest.mark.parametrize(("changes", "says"), [
    (("R.effective_bits=9",), "effective_bits is given, and sample_rate is not"),
    (("R.effective_bits=9", "R.sample_rate=2 GHz", "R.adds=4 K"), "by adds and by effective_bits"),
])
def test_a_digitiser_is_given_whole_and_once(write_layout, changes, says):
    with pytest.raises(LayoutError, match=says):
        write_layout(LINE, *changes)
