"""Isolation, and which way parts stand."""

import pytest

from components.quantities import parse


def test_the_receiver_is_well(found):
    assert found() == {}


def test_isolation_counts_every_part_on_the_way_back(fires):
    # 20 dB of the isolator are enough, 14 are not, and 14 behind another 6 dB pad are again.
    assert fires("no-isolation", "I1.isolation=14 dB") == ("D1", "X1")
    pad = (("    - {id: C1,", "    - {id: P1, kind: attenuator, stage: base, loss: 6 dB}\n"
            "    - {id: C1,"),)
    assert fires("no-isolation", "I1.isolation=14 dB", edits=pad) is None


def test_isolation_margin(fires):
    assert fires("no-isolation", margins={"isolation": parse("21 dB", "ratio")})
    assert fires("no-isolation", "margins.isolation=21 dB")
    assert fires("no-isolation", "margins.isolation=21 dB",
                 margins={"isolation": parse("15 dB", "ratio")}) is None


def test_a_circulator_with_a_load_isolates(fires):
    as_isolator = (
        "kind: isolator, stage: base, insertion_loss: 0.3 dB, isolation: 20 dB, tag: I-1}",
        "kind: circulator, stage: base, insertion_loss: 0.3 dB, isolation: 20 dB, loads: ['3'], "
        "tag: I-1}",
    )
    assert fires("no-isolation", edits=(as_isolator,)) is None
    assert fires("reversed", edits=(as_isolator,)) is None
    turned = ("loads: ['3'], ", "loads: ['3'], enter: '2', leave: '1', ")
    assert fires("reversed", edits=(as_isolator, turned)) == ("I1",)


def test_a_dead_amplifier_still_asks_for_isolation(fires):
    assert fires("paramp-unguarded", "H1.state=dead", "I2.state=bypassed") == ("X1", "H1")


def test_paramp_with_amplifier_and_isolator_behind(fires):
    assert fires("paramp-unguarded") is None
    assert fires("nothing-behind-paramp") is None
    gone = (("kind: amplifier, stage: plate, gain: 40 dB, noise_temperature: 2 K, bias: 9 mW,\n"
             "       tag: H-1}", "kind: attenuator, stage: plate, loss: 1 dB}"),)
    assert fires("nothing-behind-paramp", edits=gone) == ("X1",)


@pytest.mark.parametrize("key", ["I1", "I2", "H1", "X1"])
def test_whatever_passes_one_way_is_seen_when_turned(fires, key):
    assert fires("reversed", f"{key}.reversed=true") == (key,)


@pytest.mark.parametrize("key", ["A1", "W3", "C1"])
def test_what_passes_both_ways_may_be_turned(fires, key):
    assert fires("reversed", f"{key}.reversed=false") is None


def test_an_ideal_isolator_turned_round_stops_all_and_is_named(found):
    codes = found("I1.isolation=", "I1.reversed=true")
    assert codes["reversed"].elements == ("I1",)
    assert "nothing passes" in codes["reversed"].says
    assert "no-answer" in codes
