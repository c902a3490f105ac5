"""Remedies are tried: what is said of one is what the layout with it gives."""

import json

import pytest

from chain.advice.check import check


def _tried(finding, word):
    return next(one for one in finding.tried if word in one.remedy.says)


def test_a_remedy_says_in_numbers_what_it_does(found, receiver):
    finding = found("A4.loss=0 dB")["side-port-noise"]
    best = finding.tried[0]
    assert best.helps
    effect = best.effects[0]
    assert effect.what == "system noise of receive"
    assert effect.before == pytest.approx(
        receiver("A4.loss=0 dB").budget("receive").system_noise_quanta.max(), rel=1e-6)
    assert effect.after < effect.before
    assert str(effect) in finding.remedy


def test_the_best_comes_first(found):
    finding = found("A2.loss=0 dB")["thermal-photons"]
    helping = [one for one in finding.tried if one.helps]
    assert [one.solves for one in helping] == sorted((o.solves for o in helping), reverse=True)
    assert helping[0].effects[0].after == min(o.effects[0].after for o in helping)


def test_where_nothing_helps_it_says_so(found):
    # 60 dBm: no stage of this receiver takes kilowatts, and moving the pad is no remedy.
    finding = found("tones.pump.arriving={X1.in: 20 dBm}")["pump-dumped-cold"]
    assert not any(one.helps for one in finding.tried)
    assert "no help" in finding.remedy


def test_no_remedy_overloads_another_stage(receiver):
    advice = check(receiver("tones.pump.arriving={X1.in: -40 dBm}"))
    watts = [
        (one, effect) for finding in advice.every for one in finding.tried
        for effect in one.effects if effect.unit == "W" and effect.limit is not None
    ]
    over = [one for one, e in watts if e.after > e.limit >= e.before]
    assert over
    assert not any(one.helps for one in over)


def test_one_cause_one_finding(receiver):
    advice = check(receiver("I1.state=bypassed"))
    [cause] = [f for f in advice.findings if f.level != "note"]
    assert cause.code == "out-of-order"
    assert {f.code for f in cause.consequences} >= {"no-isolation"}
    assert cause.level == "warning"
    assert "follows from it: no-isolation" in str(advice)


def test_equal_findings_are_one_line(receiver):
    advice = check(receiver("I1.tag=", "I2.tag=", "H1.tag="))
    [finding] = [f for f in advice.findings if f.code == "untagged"]
    assert finding.elements == ("I1", "I2", "H1")
    assert finding.says == "I1, I2 and H1 cost or can break and have neither tag nor serial"


def test_json_has_what_was_tried(receiver):
    finding = check(receiver("A2.loss=10 dB")).as_dict()["findings"][0]
    first = finding["remedies"][0]
    assert first["tried"]
    assert first["helps"]
    assert {"what", "before", "after", "unit", "limit"} == set(first["effects"][0])
    assert finding["consequences"] == []
    json.dumps(finding, allow_nan=False)


def test_what_is_accepted_is_not_tried(receiver):
    advice = check(receiver("A2.loss=10 dB", "accept.thermal-photons=it is no qubit"))
    assert all(not finding.tried for finding, _ in advice.silenced)


def test_values_swapped_are_exchanged_not_turned(found):
    finding = found("I1.insertion_loss=20 dB", "I1.isolation=0.3 dB")["reversed"]
    assert "exchange insertion_loss (20 dB) and isolation (0.3 dB)" in finding.remedy
    assert finding.tried[0].solves


def test_the_file_is_left_as_it_is(receiver):
    layout = receiver("A2.loss=10 dB")
    before = layout.elements["A2"].settings["loss"].value, len(layout.joints)
    check(layout)
    assert (layout.elements["A2"].settings["loss"].value, len(layout.joints)) == before
