"""A paramp's gain follows the pump that arrives."""

import json

import pytest

import chain
from chain.design.failures import each_failure
from chain.errors import LayoutError
from chain.network.assembly import pumps_of

DEMO = "demo_chains/haloscope.yaml"
PAD = "A3.loss=20 dB"


def receive(*changes):
    # What the pump warms is another subject, and changes with its level.
    return chain.load(DEMO, ["self_heating=off", *changes]).budget("receive")


WHOLE, OFF = (receive(*changes) for changes in ((), ("X1.state=off",)))


def test_a_lost_pump_switches_the_paramp_off():
    """The same as each single failure says, and nearly as the paramp off by hand."""
    lost = receive("W6.state=open")
    # The open end of W6 sends a little back through the coupler, which the paramp off does not.
    assert lost.gain_db == pytest.approx(OFF.gain_db, abs=1e-4)
    assert any("X1 has lost its pump" in text for text in lost.warnings)
    each = each_failure(chain.load(DEMO, ["self_heating=off"]), "receive").failures
    one = next(failure for failure in each if failure.change == "W6.state=open")
    ratio = lost.system_noise_quanta / WHOLE.system_noise_quanta
    assert one.unpumped == ("X1",)
    assert one.worst_ratio == pytest.approx(ratio.max(), rel=1e-3)


@pytest.mark.parametrize(("dbm", "state"), [
    (-30.4, "holds"), (-29.6, "holds"), (-31, "unknown"), (-45, "unknown"), (-28, "unknown"),
    (-49.9, "unknown"), (-50.1, "off"), (-80, "off"),
])
def test_a_stated_gain_holds_within_half_a_decibel_and_is_off_20_below(dbm, state):
    layout = chain.load(DEMO, [f"tones.pump.arriving={{X1.in: {dbm} dBm}}"])
    one = pumps_of(layout)["X1"]
    assert one.state == state
    assert one.level_dbm == pytest.approx(dbm, abs=1e-9)
    assert one.stated_dbm == pytest.approx(-30, abs=1e-9)


def test_a_pump_given_by_its_power_is_followed():
    sent_dbm = 16.4
    at_home = chain.load(DEMO, ["tones.pump.arriving=", f"tones.pump.power={sent_dbm} dBm"])
    assert pumps_of(at_home)["X1"].state == "holds"
    low = chain.load(
        DEMO, ["self_heating=off", "tones.pump.arriving=", "tones.pump.power=-20 dBm"]
    )
    assert pumps_of(low)["X1"].state == "off"
    assert low.budget("receive").gain_db == pytest.approx(OFF.gain_db, abs=1e-9)
    assert any(finding.code == "pump-level" for finding in low.check().findings)


TABLE = "X1.gain={-32 dBm: 12 dB, -30 dBm: 18 dB}"


@pytest.mark.parametrize(("dbm", "gain_db"), [(-30, 18), (-32, 12), (-31, 15), (-30.5, 16.5)])
def test_a_table_over_levels_is_linear_in_decibels(dbm, gain_db):
    found = receive(TABLE, f"tones.pump.arriving={{X1.in: {dbm} dBm}}")
    assert found.gain_db - WHOLE.gain_db == pytest.approx(gain_db - 18.0, abs=1e-9)
    assert not any("pump" in text for text in found.warnings)


def test_outside_the_table_the_gain_is_not_known():
    layout = chain.load(DEMO, [TABLE, "tones.pump.arriving={X1.in: -35 dBm}"])
    finding = next(f for f in layout.check().findings if f.code == "pump-level")
    assert finding.level == "error"
    assert "-35.0 dBm of pump arrives" in finding.says
    held = TABLE.replace("}", ", outside: hold}")
    assert pumps_of(chain.load(DEMO, [held, "tones.pump.arriving={X1.in: -35 dBm}"]))[
        "X1"
    ].state == "holds"


def test_a_changed_gain_is_that_of_the_level_it_is_changed_at():
    layout = chain.load(DEMO, ["X1.gain=14 dB", "tones.pump.arriving={X1.in: -34 dBm}"])
    assert pumps_of(layout)["X1"].state == "holds"


def test_nobody_turns_the_source_up_against_a_break():
    """A leak of an open cable could carry the pump at 1e6 times the power: that is no repair."""
    layout = chain.load(DEMO, ["A3.loss=45 dB"])
    assert pumps_of(layout)["X1"].state == "off"
    assert pumps_of(chain.load(DEMO, ["A3.loss=30 dB"]))["X1"].state == "holds"


UNWIRED = """band: {start: 5 GHz, stop: 6 GHz, points: 2}
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK}}
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: X, kind: paramp, stage: base, gain: 20 dB, mixing: three-wave, pump: pump}
    - {id: R, kind: port, stage: room}
  other:
    - {id: P, kind: port, stage: room}
    - {id: T, kind: termination, stage: base}
tones: {pump: {into: P, frequency: 11 GHz, power: 1 uW}}
signals: {up: {from: S, to: R}}
"""


def test_a_pump_that_is_not_wired_is_taken_as_arriving_and_listed(write_layout, run, tmp_path):
    layout = write_layout(UNWIRED)
    budget = layout.budget("up")
    assert budget.gain_db == pytest.approx(20.0, abs=1e-9)
    assert any("does not wire pump to X" in text for text in budget.warnings)
    path = tmp_path / "unwired.yaml"
    path.write_text(UNWIRED)
    _, out, _ = run("check", path, "--json")
    levels = {f["level"] for f in json.loads(out)["findings"] if f["code"] == "pump-level"}
    assert levels == {"note"}


def test_a_table_over_levels_has_no_frequencies_in_it():
    with pytest.raises(LayoutError, match=r"X1\.gain"):
        chain.load(DEMO, ["X1.gain={-32 dBm: 12 dB, 6 GHz: 18 dB}"])
