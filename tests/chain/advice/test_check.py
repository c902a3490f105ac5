"""The verb: levels, status, what a layout accepts, margins, copies, what cannot be worked out."""

import json
from pathlib import Path

import pytest

from chain import LayoutError
from chain.advice import replacement
from chain.advice.check import check, rules
from chain.advice.rules import LEVELS
from chain.layout.margins import BY_NAME

DEMO = Path(__file__).parents[3] / "demo_chains" / "haloscope.yaml"


def test_every_rule_has_its_reason_and_known_margins():
    for code, one in rules().items():
        assert one.level in LEVELS, code
        assert len(one.why) > 20, code
        assert one.source, code
        assert set(one.margins) <= set(BY_NAME), code


def test_every_margin_is_used():
    used = {name for one in rules().values() for name in one.margins}
    assert used | set(replacement.MARGINS) == set(BY_NAME)


def test_json_as_designed(run):
    status, out, _ = run("check", DEMO, "--json", "--set", "I1.reversed=true")
    result = json.loads(out)
    assert status == 1
    first = result["findings"][0]
    assert first["level"] == "error"
    assert first["code"] == "reversed"
    assert f"{DEMO}:" in first["where"]
    assert "(I1)" in first["where"]
    assert first["says"]
    assert first["why"]
    assert result["accepted"][0]["accepted"]


def test_where_is_the_line_of_the_element(run):
    _, out, _ = run("check", DEMO, "--json", "--set", "I1.isolation=3 dB")
    line = json.loads(out)["findings"][0]["line"]
    assert "id: D1" in DEMO.read_text().splitlines()[line - 1]


def test_warnings_alone_are_no_no(run):
    status, out, _ = run("check", DEMO, "--set", "I1.isolation=10 dB")
    assert status == 0
    assert "warning: no-isolation" in out


def test_bad_input_is_told_in_json_too(run):
    status, out, _ = run("check", DEMO, "--json", "--set", "I1.isolation=10")
    assert status == 2
    assert json.loads(out)["findings"][0]["level"] == "error"


@pytest.mark.parametrize(("words", "said"), [
    ("isolatoin=3 dB", "did you mean 'isolation'"),
    ("isolation", "is no NAME=VALUE"),
    ("isolation=3", "has no unit"),
    ("photons=-1", "below 0"),
])
def test_wrong_margins(run, words, said):
    status, _, err = run("check", DEMO, "--margin", words)
    assert status == 2
    assert said in err


def test_margins_of_the_command_line_and_of_the_layout(run):
    assert "thermal-photons" in run("check", DEMO, "--margin", "photons=1e-3")[1]
    assert "thermal-photons" in run("check", DEMO, "--set", "margins.photons=1e-3")[1]
    out = run("check", DEMO, "--set", "margins.photons=1e-3", "--margin", "photons=0.1")[1]
    assert "thermal-photons" not in out
    assert "photons 0.1" in out


def test_accepting_a_code(found):
    assert "no-isolation" in found("I1.isolation=6 dB", "margins.photons=1")
    assert "no-isolation" not in found(
        "I1.isolation=6 dB", "margins.photons=1", "accept.no-isolation=the device is a resonator")


def test_accepting_a_code_on_one_element(receiver):
    # Both X1 with X1's next amplifier and D1 with X1 are unguarded; one of them is accepted.
    advice = check(receiver("I1.state=bypassed", "margins.photons=10", "margins.load=10",
                            "accept.no-isolation.D1=a resonator"))
    assert "no-isolation" not in {f.code for f in advice.findings}
    assert [r for f, r in advice.silenced if f.code == "no-isolation"] == ["a resonator"]
    advice = check(receiver("I1.state=bypassed", "accept.no-isolation.H1=another"))
    assert "no-isolation" in {f.code for f in advice.every}


def test_every_report_prints_what_is_accepted(run):
    assert "accepted: side-port-noise.A3" in run("check", DEMO)[1]
    assert "accepted: side-port-noise.A3" in run("budget", DEMO)[1]


def test_copies_are_told_once(write_layout):
    layout = write_layout("""
band: {start: 5 GHz, stop: 6 GHz, points: 5}
stages: {room: {temperature: 295 K}, base: {temperature: 15 mK}}
lines:
  drive:
    copies: 40
    elements:
      - {id: S, kind: port, stage: room}
      - {id: A, kind: attenuator, stage: base, loss: 40 dB}
      - {id: Q, kind: device, stage: base, reflects: true}
    except: {7: {A: {loss: 70 dB}}}
signals: {drive: {from: S, to: Q.in}}
""")
    [finding] = [f for f in check(layout).findings if f.code == "thermal-photons"]
    assert {key for key in finding.elements if key.startswith("Q")} == {
        f"Q-{n}" for n in range(1, 41) if n != 7
    }


def test_what_cannot_be_worked_out_is_a_finding(found):
    short = (("loss: 40 dB", "loss: {5.2 GHz: 40 dB, 6 GHz: 40 dB}"),)
    finding = found(edits=short)["no-answer"]
    assert finding.level == "error"
    assert "5.2 GHz" in finding.says
    assert finding.place.line > 1


def test_no_signal_no_tone(found):
    edits = (("signals:\n  receive: {from: D1.out, to: R1}\n"
              "  drive:   {from: S1, to: D1.in}\n", ""),)
    assert found(edits=edits) == {}


@pytest.mark.parametrize(("change", "said"), [
    ("margins.photon=1", "unknown key 'photon'"),
    ("margins.isolation=3 K", "no unit of ratio"),
    ("margins.cooling=-5 %", "below 0"),
])
def test_margins_of_a_layout_are_checked_as_everything(receiver, change, said):
    with pytest.raises(LayoutError, match=said):
        receiver(change)


def test_from_python(receiver):
    advice = receiver("I1.reversed=true").check()
    assert advice.wrong
    assert "reversed" in str(advice)
