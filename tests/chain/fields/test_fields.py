"""chain fields: every field of every verb's JSON has a meaning, a unit where it is one, a call."""

import json
import re

import pytest

from chain import verbs
from chain.fields import fields
from chain.fields.fields import _EVERYWHERE, asked_of, call_of, fields_of, verbs_with_fields
from chain.fields.samples import SAMPLES

REFERENCE = {"kinds", "catalogue", "fields"}
"""Verbs whose JSON tells of the program, and of no layout."""


@pytest.fixture(scope="module")
def every():
    return {verb: fields_of(verb) for verb in verbs_with_fields()}


@pytest.mark.long
def test_every_field_has_a_meaning(every):
    lacking = [
        f"{verb} {field.path}" for verb, found in every.items() for some in found.values()
        for field in some if len(field.meaning) < 5
    ]
    assert lacking == []


@pytest.mark.long
def test_every_question_has_its_call(every):
    for verb, found in every.items():
        assert sorted(found) == sorted(asked_of(verb))
        for asked, some in found.items():
            assert call_of(verb, asked).rpartition(" -> ")[2].strip("'")
            assert some


@pytest.mark.long
def test_every_number_named_for_a_unit_has_it(every):
    units = {"db": "dB", "w": "W", "k": "K", "hz": "Hz", "quanta": "quanta", "dbm": "dBm"}
    seen = set()
    for found in every.values():
        for some in found.values():
            for field in some:
                name = field.path.replace(".*", "").rpartition(".")[2]
                ending = name.rpartition("_")[2]
                if ending in units and "dbm_hz" not in name:
                    assert field.unit == units[ending], field
                    seen.add(ending)
    assert seen == units.keys()


@pytest.mark.long
def test_no_word_stands_by_hand_that_is_not_asked_for(every):
    used = {
        name.removesuffix("[]") for found in every.values() for some in found.values()
        for field in some for name in field.path.split(".")
    }
    assert _EVERYWHERE.keys() - used == set()


def test_verbs_that_print_json_are_told():
    asked = set()
    for name in verbs.names():
        options = []

        class Parser:
            def add_argument(self, *words, seen=options, **_):
                seen += words

            def add_mutually_exclusive_group(self, **_):
                return self

        verbs.verb(name).arguments(Parser())
        asked |= {name} if "--json" in options else set()
    assert asked - REFERENCE == set(SAMPLES)


def test_the_fields_are_those_that_the_verb_prints(run, tmp_path):
    assert run("demo", tmp_path)[0] == 0
    _, out, _ = run("heat", tmp_path / "haloscope.yaml", "--json")
    printed = json.loads(out)
    told = {field.path.split(".")[0].removesuffix("[]") for field in fields_of("heat")[""]}
    assert told == printed.keys()
    of_stage = {f.path.split(".")[2] for f in fields_of("heat")[""] if f.path.startswith("stages")}
    assert of_stage == printed["stages"]["mixing"].keys()


def test_the_verb_tells_them(run):
    status, out, _ = run("fields")
    assert status == 0
    assert "layout.heat() -> Heat" in out
    assert "layout.heat().more(line: str) -> MoreLines" in out
    assert "chain.compare_results(" in out
    status, out, _ = run("fields", "power")
    assert status == 0
    assert re.search(r"tones\.\*\.arriving_dbm\.\* +number or null, dBm", out) or \
        re.search(r"tones\.\*\.arriving_dbm\.\* +number.*dBm", out)
    assert re.search(r"warnings +list.*wording may change", out)
    status, out, _ = run("fields", "heat", "--json")
    found = json.loads(out)["verbs"]["heat"]
    assert found["calls"][""] == call_of("heat")
    assert found["fields"][""][0]["path"] == "format"
    status, _, err = run("fields", "heats")
    assert status == 2
    assert "did you mean 'heat'?" in err
    assert fields.ROOMS
