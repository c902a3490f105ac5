"""This time against last time: what cancels, what counts, what changed in the layout."""

import json
from pathlib import Path

import numpy as np
import pytest

from chain.measurement.two_results import compare_results

DEMOS = Path(__file__).parents[3] / "demo_chains"


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    """Return a function that reduces the demo, its powers off by some decibels, to a file."""
    from chain.command import main

    folder = tmp_path_factory.mktemp("results")

    def reduced(name, *more, off_db=0.0, on_db=0.0):
        files = []
        for kind, db in (("off", off_db), ("on", on_db)):
            lines = (DEMOS / f"paramp_{kind}.csv").read_text().splitlines()
            rows = [line.split(",") for line in lines[2:]]
            moved = [f"{f},{k},{float(p) + db:.6f},{s}" for f, k, p, s in rows]
            files.append(folder / f"{name}_{kind}.csv")
            files[-1].write_text("\n".join([*lines[:2], *moved]) + "\n")
        path = folder / f"{name}.json"
        import contextlib
        import io

        out = io.StringIO()
        with contextlib.redirect_stdout(out):
            status = main([str(word) for word in (
                "reduce", DEMOS / "paramp_line.yaml", "--source", "L1", "--readings", files[0],
                "--on", files[1], "--gain-change", DEMOS / "paramp_gain_change.csv",
                "--load-error", "1 %", "--drift", "0.2 %", "--json", *more)])
        assert status == 0
        path.write_text(out.getvalue())
        return path

    return reduced


def test_gain_alone_changed(results):
    """All powers 0.4 dB up: that is gain, and no noise."""
    t = compare_results(results("this", off_db=0.4, on_db=0.4), results("last"))
    np.testing.assert_allclose(t.gain.value, 0.4, atol=1e-5)
    np.testing.assert_allclose(t.added.value, 0.0, atol=1e-5)
    assert t.changed == ()
    assert [name for name, *_ in t.exceeds] == ["gain_db"]


def test_what_is_the_same_both_times_cancels(results):
    this, last = results("this"), results("last")
    t = compare_results(this, last)
    one = json.loads(this.read_text())
    assert {"thermometer, scale", "I1.insertion_loss"} <= set(t.shared)
    assert not any("drift" in name for name in t.shared)
    # Own errors are new each time; of the common ones only drift and what the readings bring.
    np.testing.assert_allclose(t.added.own, np.sqrt(2) * np.array(one["added_quanta_own"]))
    assert np.all(t.added.common < 0.7 * np.array(one["added_quanta_common"]))
    new = sum(np.array(effect["added_quanta"]) ** 2
              for name, effect in one["common_errors"].items() if "drift" in name)
    assert np.all(t.added.common >= np.sqrt(2 * new) * (1 - 1e-9))
    assert t.exceeds == []


@pytest.mark.long
def test_a_part_that_was_exchanged_is_off_by_something_else(results):
    this = results("this")
    last = results("last", "--set", "I1.insertion_loss=0.5 dB +/- 0.1 dB")
    t = compare_results(this, last)
    assert "I1.insertion_loss" not in t.shared
    assert "I1.insertion_loss: 0.4 dB +/- 0.1 dB, was 0.5 dB +/- 0.1 dB" in t.changed
    assert np.all(t.added.common > compare_results(this, results("other")).added.common)


@pytest.mark.long
def test_more_noise_with_the_paramp_on(results, run, tmp_path):
    this, last = results("this", on_db=0.6), results("last")
    status, out, _ = run("compare", this, last, "--figure", tmp_path / "c.svg")
    assert status == 0
    for words in ("added noise rose by", "beyond two sigma: added noise at 4.6 to 6.4 GHz",
                  "for a methods section", "Layout SHA-256", "reference plane", "  nothing"):
        assert words in out
    assert (tmp_path / "c.svg").read_text().startswith("<?xml")
    status, out, _ = run("compare", this, last, "--json")
    found = json.loads(out)
    # All noise, the incoming half quantum too, is 14.8 % more.
    reduced = json.loads(last.read_text())
    expected = (10**0.06 - 1) * (np.array(reduced["added_quanta"]) + 0.51)
    np.testing.assert_allclose(found["added_change_quanta"], expected, rtol=0.01)
    assert found["exceeds"][0]["quantity"] == "added_quanta"
    assert "drift 0.2 %" in found["methods"]


@pytest.mark.parametrize(("text", "said"), [
    ("{", "r.json:1:2: this is no JSON"), ("[]", "this is no result"), ("{}", "it has no 'frequency_hz'"),
    (None, "No such file"),
])
def test_files_that_are_no_results(results, run, tmp_path, text, said):
    path = tmp_path / "r.json"
    if text is not None:
        path.write_text(text)
    status, out, err = run("compare", results("this"), path)
    assert (status, out) == (2, "")
    assert said in err
    assert "r.json:1" in err


def test_results_of_other_planes_or_bands_are_refused(results, run, tmp_path):
    this = results("this")
    found = json.loads(this.read_text())
    for key, value, said in (("from", "D9.out", "referred from 'D9.out'"),
                             ("frequency_hz", [f + 5e9 for f in found["frequency_hz"]], "one band"),
                             ("gain_db", [1.0], "do not run over one rising frequency_hz")):
        path = tmp_path / "other.json"
        path.write_text(json.dumps({**found, key: value}))
        status, _, err = run("compare", this, path)
        assert status == 2
        assert said in err


def test_what_changes_a_layout_has_no_place_here(results, run):
    this = results("this")
    status, _, err = run("compare", this, this, "--set", "H1.gain=30 dB")
    assert status == 2
    assert "--set changes a layout" in err
