"""The demos that come with the package, written into a folder of the user's."""

import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

import chain
from chain.reference import demos
from chain.reference.schema import layout_schema

TOP = Path(__file__).parents[3]


def test_demos_load_from_the_folder_that_they_are_written_into(run, tmp_path):
    folder = tmp_path / "new" / "demos"
    status, out, err = run("demo", folder)
    assert (status, err) == (0, "")
    layouts = sorted(folder.glob("*.yaml"))
    assert len(layouts) == 3
    for path in layouts:
        assert chain.load(path).lines
        first = path.read_text().split("\n")[0]
        assert (folder / first.removeprefix("# $schema: ")).is_file(), "what editors look for"
    command = out.strip().split("\n")[-1].split()
    assert command[0] == "chain"
    assert run(*command[1:])[0] == 0
    jsonschema.Draft202012Validator.check_schema(layout_schema())
    assert run("demo", folder)[0] == 0, "again is no mistake"


def test_demos_replace_nothing_of_others(run, tmp_path):
    path = tmp_path / "haloscope.yaml"
    path.write_text("mine")
    status, _, err = run("demo", tmp_path)
    assert status == 3
    assert "haloscope.yaml is there already" in err
    assert [each.name for each in tmp_path.iterdir()] == ["haloscope.yaml"]
    assert path.read_text() == "mine"
    assert run("demo", path / "below")[0] == 3


def test_demos_are_listed(run):
    status, out, _ = run("demo")
    assert status == 0
    assert "A row of twelve qubits (invented)" in out


def test_an_installation_without_demos_says_so(monkeypatch, tmp_path, run):
    monkeypatch.setattr(demos, "_CLONE", tmp_path / "none")
    monkeypatch.setattr(demos, "PACKAGE", "no-such-package")
    status, _, err = run("demo")
    assert status == 2
    assert "this installation has no demos; install no-such-package again" in err


@pytest.mark.parametrize("words", [("-c", "import chain"), ("-m", "chain", "--version")])
@pytest.mark.parametrize("name", ["components.py", "components/__init__.py"])
def test_a_foreign_components_is_told_in_plain_words(tmp_path, words, name):
    path = tmp_path / name
    path.parent.mkdir(exist_ok=True)
    path.write_text("mine = 1\n")
    told = subprocess.run(
        [sys.executable, *words], cwd=tmp_path, env={"PYTHONPATH": f"{tmp_path}:{TOP}"},
        capture_output=True, text=True, check=False,
    )
    assert told.returncode != 0
    last = told.stderr.strip().split("\n")[-1]
    assert f"Python finds another one first: {path}. Rename that one" in last
    assert ("Traceback" in told.stderr) == (words[0] == "-c")


def test_a_folder_without_init_is_in_nobodys_way(tmp_path):
    (tmp_path / "components").mkdir()
    subprocess.run([sys.executable, "-c", "import chain"], cwd=tmp_path, check=True,
                   env={"PYTHONPATH": f"{tmp_path}:{TOP}"})
