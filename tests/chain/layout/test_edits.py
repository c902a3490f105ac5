"""Layouts with parts moved, put in, parted and turned: joints, anchors and physics follow."""

import numpy as np
import pytest

from chain.heat.stages import heat
from chain.layout import edits
from chain.noise.budget import budget
from components.quantities import parse

TEXT = """
band: {start: 5 GHz, stop: 6 GHz, points: 3}
stages:
  room:  {temperature: 295 K}
  plate: {temperature: 4 K}
  still: {temperature: 0.9 K}
  base:  {temperature: 15 mK}
lines:
  drive:
    - {id: S1, kind: port, stage: room}
    - {id: W1, kind: cable, from: room, to: plate, length: 0.6 m, coax: stainless-304-0.86}
    - {id: A1, kind: attenuator, stage: plate, loss: 20 dB}
    - {id: W2, kind: cable, from: plate, to: base, length: 0.5 m, coax: stainless-304-0.86,
       via: {still: 0.2 m}}
    - {id: A2, kind: attenuator, stage: base, loss: 30 dB}
    - {id: D1, kind: device, stage: base}
    - {id: I1, kind: isolator, stage: base, insertion_loss: 0.3 dB, isolation: 20 dB}
    - {id: W3, kind: cable, from: base, to: plate, length: 0.4 m, coax: niobium-titanium-0.86,
       via: {still: 0.3 m}}
    - {id: T1, kind: termination, stage: plate}
signals: {drive: {from: S1, to: D1.in}, out: {from: D1.out, to: T1}}
"""


@pytest.fixture
def layout(write_layout):
    return write_layout(TEXT)


def test_a_cable_parted_at_its_anchor_is_the_same_cable(layout):
    parted, end, start = edits.split(layout, "W2", "still")
    assert (end[0], parted.partners[end]) == ("W2", start)
    assert parted.elements["W2"].settings["length"].value == pytest.approx(0.2)
    assert parted.elements[start[0]].settings["length"].value == pytest.approx(0.3)
    before, after = budget(layout, "drive"), budget(parted, "drive")
    assert np.allclose(before.gain_db, after.gain_db, rtol=1e-12)
    assert np.allclose(before.noise_at_to_quanta, after.noise_at_to_quanta, rtol=1e-6)
    for name, row in heat(layout).stages.items():
        assert heat(parted).stages[name].total_w == pytest.approx(row.total_w, rel=1e-9)


def test_a_pad_moved_between_the_halves_of_its_cable(layout):
    moved = edits.on_stage(layout, "A2", "still")
    own = moved.partners["A2", "in"][0], moved.partners["A2", "out"][0]
    assert own[0] == "W2"
    assert moved.elements[own[1]].to_stage == "base"
    assert moved.elements["A2"].stage == "still"
    assert np.allclose(budget(moved, "drive").gain_db, budget(layout, "drive").gain_db)
    # 3.3 photons of 0.9 K at 5 GHz, less what 0.3 m of thin steel coax keep.
    assert budget(layout, "drive").noise_at_to_quanta[0] < 0.6
    assert 1.5 < budget(moved, "drive").noise_at_to_quanta[0] < 3.8


def test_a_pad_moved_past_the_whole_cable_and_past_its_neighbours(layout):
    moved = edits.on_stage(layout, "A2", "plate")
    assert moved.partners["A2", "in"] == ("A1", "out")
    assert moved.partners["A2", "out"] == ("W2", "in")
    assert moved.partners["D1", "in"] == ("W2", "out")
    far = edits.on_stage(layout, "I1", "still")
    assert far.partners["I1", "in"][0] == "W3"
    assert far.elements["I1"].stage == "still"


def test_a_pad_does_not_go_past_the_device(layout):
    with pytest.raises(edits.CannotEdit):
        edits.on_stage(layout.changed("W2.via=", "W2.from=still", "W2.to=base"), "A2", "plate")


def test_a_load_takes_the_end_of_its_cable_with_it(layout):
    moved = edits.on_stage(layout, "T1", "still")
    assert moved.elements["W3"].to_stage == "still"
    assert moved.elements["W3"].via == ()
    assert moved.elements["W3"].settings["length"].value == pytest.approx(0.3)
    warm = edits.on_stage(layout, "T1", "room")
    assert warm.elements["W3"].to_stage == "room"


def test_a_part_put_in(layout):
    put = edits.put_in(layout, [("A1", "out")], "attenuation", stage="plate",
                       loss=parse("10 dB", "ratio"))
    new = put.partners["A1", "out"][0]
    assert put.partners[new, "out"] == ("W2", "in")
    assert np.allclose(budget(put, "drive").gain_db, budget(layout, "drive").gain_db - 10)
    assert new in put.lines["drive"].elements


def test_turned_round_it_passes_the_other_way(layout):
    turned = edits.reversed_element(layout, ["I1"])
    assert np.allclose(budget(turned, "out").gain_db, budget(layout, "out").gain_db - 19.7)


def test_ports_exchanged_twice_are_as_before(layout):
    once = edits.exchanged_ports(layout, "I1", "in", "out")
    twice = edits.exchanged_ports(once, "I1", "in", "out")
    assert once.partners != layout.partners
    assert twice.partners == layout.partners


def test_anchored_at_more_stages(layout, write_layout):
    bare = write_layout(TEXT.replace("via: {still: 0.2 m}", "state: ok"))
    anchored = edits.anchored_at(bare, ["W2"], ["still"])
    assert anchored.elements["W2"].via == (("still", pytest.approx(0.25)),)
    assert heat(anchored).stages["base"].total_w < heat(bare).stages["base"].total_w


@pytest.mark.parametrize(("key", "stage"), [("W2", "room"), ("W2", "plate"), ("A1", "still")])
def test_what_cannot_be_parted_is_refused(layout, key, stage):
    with pytest.raises(edits.CannotEdit):
        edits.split(layout, key, stage)


def test_a_tone_sent_weaker(write_layout):
    layout = write_layout(TEXT + "tones: {t: {into: S1, frequency: 5 GHz, power: 1 mW}}\n")
    assert edits.with_tone_power(layout, "t", -3).tones["t"].power_w == pytest.approx(0.501e-3, 1e-3)
