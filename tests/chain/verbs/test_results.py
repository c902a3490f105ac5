"""What programs get: `--json` is the result's own as_dict(), from Python and the command line."""

import json
from pathlib import Path

import pytest

import chain
from chain.design.failures import each_failure
from chain.measurement.warm_sheet import sheet
from chain.writing.json_text import as_json

DEMO = str(Path(__file__).parents[3] / "demo_chains" / "haloscope.yaml")
CHANGE = "H1.gain=30 dB"
RESULTS = {
    "budget": (("--signal", "receive"), lambda layout: layout.budget("receive")),
    "power": ((), lambda layout: layout.power()),
    "heat": ((), lambda layout: layout.heat()),
    "check": ((), lambda layout: layout.check()),
    "service": (
        ("--remove", "H1"), lambda layout: layout.service(remove=("H1",))
    ),
    "compare": (
        ("--signal", "receive", "--set", CHANGE),
        lambda layout: layout.compare(layout.changed(CHANGE), "receive"),
    ),
}


@pytest.mark.parametrize("verb", RESULTS)
def test_json_is_the_results_own(run, verb):
    words, result = RESULTS[verb]
    printed = json.loads(run(verb, DEMO, *words, "--json")[1])
    own = json.loads(as_json(result(chain.load(DEMO)).as_dict()))
    if verb == "service":  # Levels are asked for by the command line alone.
        printed, own = printed["undo"], own["undo"]
    assert printed == own


def test_other_results_are_whole_as_json():
    layout = chain.load(DEMO)
    more = layout.heat().as_dict()["stages"]
    assert more.keys() == layout.stages.keys()
    failures = each_failure(layout, "receive").as_dict()["failures"]
    assert {"signal", "change", "noise_ratio"} <= failures[0].keys()
    traces = sheet(layout.warm(), draws=10).as_dict()["traces"]
    assert {"from", "to", "expected_db"} <= traces[0].keys()
    assert as_json({"failures": failures, "traces": traces})


def test_powers_are_found_under_the_names_of_json_too():
    power = chain.load(DEMO).power()
    for tone in power.tones.values():
        assert tone.by_stage_w is tone.dissipated_by_stage_w
        assert tone.leaving_w is tone.exiting_w
    assert power.by_stage_w == power.dissipated_by_stage_w
