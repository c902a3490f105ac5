"""Text of others in reports: on its line and visible, by every verb; JSON keeps it as it is."""

import json
import re
import unicodedata
from importlib import util
from pathlib import Path

import pytest

ESCAPE = "red \x1b[31malert\x1b[0m \u202eturned"
VERBS = (
    ("budget",), ("budget", "--draws", "2"), ("power",), ("heat",), ("heat", "--more", "receive"),
    ("check",), ("warm",), ("service", "--between", "plate", "mixing"), ("compare", "--each"),
    ("compare", "--set", "H1.gain=20 dB"),
)


def _hostile(text):
    spec = util.spec_from_file_location("hostile", Path(__file__).parents[1] / "hostile.py")
    module = util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.hostile_layout(text)


@pytest.fixture
def report(run, tmp_path):
    """Return a function that runs a verb on a layout: what it printed, all of it."""

    def call(text, verb, *words):
        path = tmp_path / "l.yaml"
        path.write_text(text)
        status, out, err = run(verb, path, *words)
        assert status in (0, 1), err
        return out + err

    return call


def steering(text):
    """Return the characters of a text that steer a terminal or cannot be seen."""
    return {c for c in text if c != "\n" and unicodedata.category(c) in ("Cc", "Cf", "Cs")}


@pytest.mark.parametrize("words", VERBS, ids=" ".join)
def test_what_steers_a_terminal_is_written_out(report, words):
    assert steering(report(_hostile(ESCAPE), *words)) == set()


@pytest.mark.parametrize("words", VERBS, ids=" ".join)
def test_a_line_break_in_a_text_is_a_blank(report, words):
    # Connectors are quoted where they are not known, and so show their breaks as written out.
    broken = re.sub(r",\s*connectors: {[^}]*}", "", _hostile("first\nsecond\u2028third"))
    # Blanks that take the same room in the file, so that places stay the same.
    joined = broken.replace(r"\n", r"\ ").replace(r"\u2028", r"\u0020")
    assert broken != joined
    assert report(broken, *words) == report(joined, *words)


PLAIN = """
title: plain
stages: {room: {temperature: 295 K}, base: {temperature: 4 K}}
band: {start: 5 GHz, stop: 5 GHz, points: 1}
lines:
  one: [{id: S, kind: port, stage: room},
        {id: H, kind: amplifier, stage: room, gain: 20 dB, noise_temperature: 300 K},
        {id: R, kind: port, stage: room}]
signals: {main: {from: S, to: R}}
"""


@pytest.mark.parametrize("key", ["H.note", "H.tag", "H.serial", "title", "accept.untagged"])
@pytest.mark.parametrize(
    "words", [("budget",), ("power",), ("heat",), ("check",), ("warm",), ("compare",),
              ("compare", "--each")], ids=" ".join)
def test_a_value_of_set_stays_on_its_line(report, words, key):
    verb, *rest = words
    broken, joined = (
        report(PLAIN, verb, *rest, "--set", f'{key}="{text}"')
        for text in ("one\\ntwo \\e[1m", "one two \\e[1m")
    )
    assert broken == joined
    assert steering(broken) == set()


def test_json_keeps_what_was_written(run, tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(PLAIN)
    _, out, _ = run("compare", path, "--set", 'H.note="one\\ntwo \\e[1m"', "--json")
    assert json.loads(out)["changed"] == ["H.note=one\ntwo \x1b[1m"]


@pytest.mark.parametrize("change", ["H.gian=1\n2 \x1b[1m", "H.gain=1\n2", "Q\n\x1b[1m=3", "no\nchange"])
def test_a_mistake_in_set_is_one_line(run, tmp_path, change):
    path = tmp_path / "l.yaml"
    path.write_text(PLAIN)
    status, out, err = run("budget", path, "--set", change)
    assert (status, out) == (2, "")
    assert len(err.splitlines()) == 1
    assert steering(err) == set()


def test_a_file_by_an_unkind_name(run, tmp_path):
    path = tmp_path / "a\nb\x1b[1m.yaml"
    path.write_text(PLAIN)
    status, out, _ = run("check", path)
    assert status == 0
    assert steering(out) == set()
    assert not [line for line in out.splitlines() if line.startswith("b")]
    status, _, err = run("budget", path, "--set", "H.gain=nothing")
    assert status == 2
    assert len(err.splitlines()) == 1
