"""Where tones go as text: which tones stand together, and by which margin it judges."""

import pytest

from chain.power.power_text import alike_tones, power_text
from chain.power.tones import power

LINES = """
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK, cooling: {10 mK: 1 mW, 30 mK: 3 mW}}}
band: {start: 5 GHz, stop: 5 GHz, points: 1}
lines:
  one: [{id: S1, kind: port, stage: room}, {id: A1, kind: attenuator, stage: base, loss: 90 dB},
        {id: T1, kind: termination, stage: base}]
  two: [{id: S7, kind: port, stage: room}, {id: A7, kind: attenuator, stage: base, loss: 90 dB},
        {id: T7, kind: termination, stage: base}]
tones:
  lo-1: {into: S1, frequency: 5 GHz, power: 1 mW}
  lo-7: {into: S7, frequency: 5 GHz, power: 1 mW}
"""

COPIES = """
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK}}
band: {start: 5 GHz, stop: 5 GHz, points: 1}
lines:
  one:
    copies: 3
    except: {2: {A1: {loss: 10 dB}}}
    elements: [{id: S1, kind: port, stage: room}, {id: A1, kind: attenuator, stage: base, loss: 20 dB},
               {id: R1, kind: port, stage: room}]
tones: {lo: {into: S1, frequency: 5 GHz, power: 1 mW}}
"""


def test_tones_named_by_hand_stand_for_themselves(write_layout):
    found = power(write_layout(LINES))
    assert list(alike_tones(found).values()) == [["lo-1"], ["lo-7"]]
    text = power_text(found)
    assert "A1 " in text
    assert "A7 " in text


def test_copies_of_a_tone_stand_together_where_they_go_the_same_way(write_layout):
    assert list(alike_tones(power(write_layout(COPIES))).values()) == [["lo-1", "lo-3"], ["lo-2"]]


@pytest.mark.parametrize(("margin", "dumped"), [(None, True), ("70 %", False), ("40 %", True)])
def test_power_scolds_from_the_margin_of_the_layout_on(write_layout, margin, dumped):
    """Each pad takes half of the 2 mW that its stage carries at 20 mK."""
    changes = [] if margin is None else [f"margins.dumped={margin}"]
    text = power_text(power(write_layout(LINES, *changes)))
    assert ("A1 on base absorbs" in text) is dumped


def test_power_and_check_judge_by_the_same_margin(write_layout):
    """At 15 % both are silent, at 25 % both speak."""
    for watt, speaks in (("0.3 mW", False), ("0.5 mW", True)):
        layout = write_layout(LINES, f"tones.lo-1.power={watt}", "tones.lo-7.power=1 nW")
        said = "A1 on base absorbs" in power_text(power(layout))
        codes = {finding.code for finding in layout.check().findings}
        assert (said, "pump-dumped-cold" in codes) == (speaks, speaks)


AMPLIFIED = """
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK}}
band: {start: 5 GHz, stop: 5 GHz, points: 1}
lines:
  one: [{id: S, kind: port, stage: base},
        {id: H, kind: amplifier, stage: room, gain: 20 dB, noise_temperature: 300 K, p1db_out: 0 dBm},
        {id: R, kind: port, stage: room}]
tones: {t: {into: S, frequency: 5 GHz, power: -26 dBm}}
"""


def test_the_margin_of_compression_holds_for_power_and_check(write_layout):
    """The amplifier gives -6 dBm, 6 dB below its compression point."""
    for change, speaks in (("margins.compression=10 dB", True), ("margins.compression=5 dB", False)):
        layout = write_layout(AMPLIFIED, change)
        codes = {finding.code for finding in layout.check().findings}
        assert ("headroom of only" in power_text(power(layout))) is speaks
        assert ("near-compression" in codes) is speaks


def test_what_a_person_asks_comes_first_and_elements_last(write_layout):
    """50 mW on a stage that takes 2 mW at 20 mK."""
    text = power_text(power(write_layout(LINES, "tones.lo-1.power=50 mW")))
    order = ["over their cooling power by tones alone: base", "power dissipated at each stage",
             "! A1 on base absorbs", "tone lo-1", "arriving  outgoing", "tone lo-7", "conventions:"]
    places = [text.index(each) for each in order]
    assert places == sorted(places)
    assert text.startswith(order[0])
    weaker = ("tones.lo-1.power=0.5 mW", "tones.lo-7.power=0.5 mW")
    assert power_text(power(write_layout(LINES, *weaker))).startswith("tones alone exceed no stage")
    assert power_text(power(write_layout(COPIES))).startswith("whether a stage gets too much is unk")


def test_one_tone_is_shown_by_its_name(write_layout, run, tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(LINES)
    _, out, _ = run("power", path, "--tone", "lo-7")
    assert "tone lo-7" in out
    assert "tone lo-1" not in out
    status, _, err = run("power", path, "--tone", "lo-2")
    assert status == 2
    assert "there is no tone 'lo-2'; did you mean 'lo-" in err
    path.write_text(COPIES)
    _, out, _ = run("power", path, "--tone", "lo")
    assert "tone lo-1 .. lo-3" in out
    assert "tone lo-2" in out


def test_levels_a_hundred_decibels_below_the_tone_are_counted(write_layout):
    """0 dBm less two pads of 60 dB: what is behind the second lies at -120 dBm, what is before it
    at -60 dBm."""
    text = power_text(power(write_layout(
        LINES.replace("90 dB},", "60 dB}, {id: B1, kind: attenuator, stage: base, loss: 60 dB},", 1)
    )))
    one = text[text.index("tone lo-1"):text.index("tone lo-7")]
    assert "-60.0" in one
    assert "-120.0" not in one
    assert "-- 1 more see less than -100.0 dBm" in one
