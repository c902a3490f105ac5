"""What verbs write beside their report, and to standard output in its place."""

import csv
import io
import json
from pathlib import Path

import pytest

DEMOS = Path(__file__).parents[3] / "demo_chains"
HALOSCOPE = DEMOS / "haloscope.yaml"
PARAMP = DEMOS / "paramp_line.yaml"
WORDS = {
    "budget": ("budget", HALOSCOPE, "--set", "band.points=3", "--signal", "receive"),
    "power": ("power", HALOSCOPE),
    "heat": ("heat", HALOSCOPE),
    "warm": ("warm", HALOSCOPE, "--set", "band.points=3", "--draws", "4"),
    "compare": ("compare", HALOSCOPE, "--set", "H1.state=dead", "--signal", "receive"),
    "failures": ("compare", HALOSCOPE, "--each", "--signal", "receive"),
    "trace": ("compare", DEMOS / "qubit_row.yaml", "--warm", "--measured",
              DEMOS / "warm_trace.s2p", "--ports", "S1:R1"),
    "reduce": ("reduce", PARAMP, "--source", "L1", "--readings", DEMOS / "paramp_off.csv"),
}


@pytest.mark.parametrize("words", WORDS.values(), ids=WORDS)
def test_csv_goes_to_standard_output_in_the_reports_place(run, words, tmp_path):
    status, out, err = run(*words, "--csv", "-")
    assert (status, err) == (0, "")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert len(rows) >= 3
    assert all(None not in row for row in rows)
    path = tmp_path / "out.csv"
    _, report, _ = run(*words, "--csv", path)
    assert path.read_text() == out
    assert report != out


def test_two_things_on_standard_output_are_refused(run):
    status, out, err = run("heat", HALOSCOPE, "--csv", "-", "--json")
    assert (status, out) == (2, "")
    assert "--csv - and --json both write standard output; keep one" in err


def test_several_layouts_are_checked_and_the_worst_decides(run, tmp_path):
    broken = tmp_path / "broken.yaml"
    broken.write_text("lines: 3")
    status, out, err = run("check", HALOSCOPE, PARAMP)
    assert (status, err) == (0, "")
    assert out.count("margins (--margin NAME=VALUE)") == 2
    assert run("check", HALOSCOPE, PARAMP, "--margin", "photons=1e-9")[0] in (0, 1)
    wrong = tmp_path / "wrong.yaml"
    wrong.write_text(HALOSCOPE.read_text().replace("id: I1, kind: isolator,",
                                                   "id: I1, kind: isolator, reversed: true,"))
    assert run("check", HALOSCOPE, wrong)[0] == 1
    status, out, err = run("check", broken, HALOSCOPE)
    assert status == 2
    assert "nothing wrong, nothing to remark" in out
    assert str(broken) in err
    status, out, err = run("check", broken, wrong, "--json")
    assert (status, err) == (2, "")
    found = json.loads(out)["layouts"]
    assert [one["code"] for one in found[str(broken)]["findings"]].count("layout") >= 1
    assert "reversed" in [one["code"] for one in found[str(wrong)]["findings"]]
