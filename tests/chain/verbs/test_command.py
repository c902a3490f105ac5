"""The command line: what it prints, its exit status, and that it starts without heavy imports."""

import json
import os
import subprocess
import sys

import pytest

TEXT = """\
title: a line
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK}}
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: base, loss: 20 dB}
    - {id: R, kind: port, stage: room}
signals: {main: {from: S, to: R}}
"""


@pytest.fixture
def layout(tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(TEXT)
    return path


def test_budget_as_json_has_the_designs_fields(run, layout):
    status, out, err = run("budget", layout, "--signal", "main", "--json")
    assert (status, err) == (0, "")
    found = json.loads(out)
    assert list(found)[:5] == ["format", "signal", "from", "to", "frequency_hz"]
    for name in ("gain_db", "noise_at_to_quanta", "system_noise_quanta", "system_noise_k",
                 "incoming_quanta", "added_quanta"):
        assert len(found[name]) == 5
    assert set(found["shares_quanta"]) == {"S", "A", "R"}
    assert set(found["laws"]) == {"equilibrium", "energy", "commutation"}
    assert found["warnings"] == []


def test_one_frequency_for_programs(run, layout):
    _, out, _ = run("budget", layout, "--json", "--at", "5.5 GHz")
    assert json.loads(out)["frequency_hz"] == [5.5e9]


def test_csv_has_a_row_a_frequency(run, layout, tmp_path):
    target = tmp_path / "out.csv"
    status, _, _ = run("budget", layout, "--csv", target)
    assert status == 0
    rows = target.read_text().splitlines()
    assert rows[0].startswith("signal,frequency_hz,gain_db")
    assert len(rows) == 6
    assert float(rows[1].split(",")[2]) == pytest.approx(-20.0)


def test_a_folder_that_is_not_there_is_status_three_and_leaves_nothing(run, layout, tmp_path):
    status, out, err = run("budget", layout, "--csv", tmp_path / "no" / "out.csv")
    assert status == 3
    assert "out.csv" in err
    assert "Traceback" not in err + out
    assert sorted(os.listdir(tmp_path)) == ["l.yaml"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["budget", "LAYOUT", "--signal", "mian"], "there is no signal 'mian'; the layout has: main"),
        (["budget", "LAYOUT", "--at", "5"], "'5' has no unit"),
        (["budget", "LAYOUT", "--at", "-5 GHz"], "no frequency"),
        (["budget", "LAYOUT", "--set", "A.los=3 dB"], "los"),
        (["budget", "LAYOUT", "--set", "A.loss=-3 dB"], "loss"),
        (["budget", "nothing.yaml"], "nothing.yaml"),
        (["bugdet", "LAYOUT"], "bugdet"),
        (["budget"], "LAYOUT"),
        ([], "VERB"),
    ],
)
def test_bad_input_is_status_two_in_words(run, layout, words, said):
    status, out, err = run(*[str(layout) if word == "LAYOUT" else word for word in words])
    assert status == 2
    assert out == ""
    assert said in err
    assert "Traceback" not in err


def test_check_says_where(run, layout):
    layout.write_text(TEXT.replace("loss: 20 dB", "loss: 20"))
    status, out, err = run("check", layout)
    assert status == 2
    assert err.startswith(f"{layout}:7:52: A.loss:")
    status, out, _ = run("check", layout, "--json")
    assert status == 2
    assert json.loads(out)["findings"][0]["level"] == "error"


def test_a_budget_starts_without_heavy_imports(layout):
    program = (
        "import sys\nfrom chain.command import main\n"
        f"assert main(['budget', {str(layout)!r}]) == 0\n"
        "print([name for name in ('matplotlib', 'skrf', 'scipy', 'pandas') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.stdout.splitlines()[-1] == "[]", done.stderr


def test_a_reader_that_goes_away_is_no_error(layout):
    done = subprocess.run(
        f"{sys.executable} -m chain.command budget {layout} | head -1",
        shell=True, capture_output=True, text=True,
    )
    assert done.stderr == ""
    assert done.stdout == "a line\n"
