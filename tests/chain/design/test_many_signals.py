"""Many signals compared as one table; one of which nothing arrives stops no other."""

import json

import pytest

from chain.design.comparison import compare, compare_signals

TEXT = """
stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}}
band: {start: 5 GHz, stop: 6 GHz, points: 3}
lines:
  main:
    - {id: S, kind: port, stage: plate}
    - {id: H, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 3 K}
    - {id: R, kind: port, stage: room}
  row:
    copies: 3
    elements:
      - {id: E, kind: port, stage: room}
      - {id: P, kind: attenuator, stage: plate, loss: 20 dB}
      - {id: Q, kind: device, stage: plate, reflects: true}
signals:
  main: {from: S, to: R}
  row: {from: E, to: Q.in}
"""


def test_each_signal_as_if_alone(write_layout):
    a, b = write_layout(TEXT), write_layout(TEXT, "H.gain=20 dB", "P-2.loss=23 dB")
    found = compare_signals(a, b, list(a.signals))
    assert [one.signal for one in found.signals] == ["main", "row-1", "row-2", "row-3"]
    assert found.missing == {}
    for one in found.signals:
        alone = compare(a, b, one.signal)
        assert one.noise_ratio == pytest.approx(alone.noise_ratio, rel=1e-12)
        assert one.gain_change_db == pytest.approx(alone.gain_change_db, abs=1e-12)
    assert found.signals[2].gain_change_db == pytest.approx([-3, -3, -3], abs=1e-9)


def test_a_row_each_and_equal_copies_once(write_layout):
    a = write_layout(TEXT)
    text = str(compare_signals(a, write_layout(TEXT, "H.gain=20 dB"), list(a.signals)))
    below = text.partition("---")[2].splitlines()[1:3]
    rows = [line.split("  ")[0] for line in below]
    assert rows == ["main", "row-1 .. row-3"]
    assert text.count("changed: H.gain=20 dB") == 1


def test_a_signal_left_without_anything_is_told_for_that_signal(tmp_path, run):
    path = tmp_path / "l.yaml"
    path.write_text(TEXT)
    status, out, _ = run("compare", path, "--set", "P-2.state=open")
    assert status == 0
    assert "signal row-2: nothing that leaves E-2.port arrives at Q-2.in, in B" in out
    assert "main" in out
    status, out, _ = run("compare", path, "--set", "P-2.state=open", "--json")
    found = json.loads(out)
    assert status == 0
    assert list(found["signals"]) == ["main", "row-1", "row-3"]
    assert list(found["nothing_arrives"]) == ["row-2"]
    assert found["warnings"][0].startswith("signal row-2: ")
    status, _, err = run("compare", path, "--set", "P-2.state=open", "--signal", "row-2")
    assert status == 2
    assert "nothing that leaves E-2.port" in err


def test_the_budget_tells_it_for_that_signal_too(tmp_path, run):
    path = tmp_path / "l.yaml"
    path.write_text(TEXT)
    status, out, _ = run("budget", path, "--set", "H.state=open")
    assert status == 0
    assert "signal main: nothing that leaves S.port arrives at R.port" in out
    assert "row-1 .. row-3" in out
    found = json.loads(run("budget", path, "--set", "H.state=open", "--json")[1])
    assert list(found["nothing_arrives"]) == ["main"]
    assert "row-1" in found["signals"]
    assert found["laws"]


def test_where_nothing_arrives_at_all_it_is_a_mistake(tmp_path, run):
    path = tmp_path / "l.yaml"
    path.write_text(TEXT)
    status, out, err = run("budget", path, "--set", "H.state=open", "--set", "P-1.state=open",
                           "--set", "P-2.state=open", "--set", "P-3.state=open")
    assert status == 2
    assert out == ""
    assert "nothing that leaves S.port" in err
