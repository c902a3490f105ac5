"""Layouts whose numbers run out: answered in words, without a warning of arithmetic."""

import json

import pytest

HEAD = """\
band: {start: 4 GHz, stop: 8 GHz, points: 3}
stages: {room: {temperature: 295 K}}
lines:
  main:
"""
SIGNALS = "signals: {main: {from: S, to: R}}\n"


def written(tmp_path, lines):
    path = tmp_path / "l.yaml"
    path.write_text(HEAD + "".join(f"    - {line}\n" for line in lines) + SIGNALS)
    return path


def test_a_wave_shut_in_is_an_error_in_words(run, tmp_path):
    path = written(tmp_path, [
        "{id: S, kind: port, stage: room, state: open}",
        "{id: M, kind: attenuator, stage: room, loss: 1 dB, state: bypassed}",
        "{id: R, kind: port, stage: room, state: open}",
    ])
    status, out, err = run("budget", path)
    assert (status, out) == (2, "")
    assert "a wave is shut in" in err


def test_hundreds_of_metres_of_lossy_cable_let_nothing_through(run, tmp_path):
    path = written(tmp_path, [
        "{id: S, kind: port, stage: room}",
        "{id: W, kind: cable, stage: room, length: 1000 m, coax: cupronickel-0.86}",
        "{id: R, kind: port, stage: room}",
    ])
    status, out, err = run("budget", path)
    assert (status, out) == (2, "")
    assert "nothing that leaves S.port arrives at R.port" in err


@pytest.mark.filterwarnings("error")
def test_a_tolerance_of_no_size_moves_nothing(run, tmp_path):
    path = written(tmp_path, [
        "{id: S, kind: port, stage: room}",
        "{id: A, kind: attenuator, stage: room, loss: 3 dB +/- 1e-30 dB}",
        "{id: B, kind: attenuator, stage: room, loss: 3 dB +/- 0.1 dB}",
        "{id: R, kind: port, stage: room}",
    ])
    status, out, _ = run("budget", path, "--draws", "8", "--json")
    assert status == 0
    assert json.loads(out)["draws"] == 8
