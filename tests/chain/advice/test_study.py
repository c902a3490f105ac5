"""The study: both demos broken in twenty ways and more are found, and unbroken they are quiet."""

import importlib.util
from pathlib import Path

import pytest

import chain
from chain.advice.check import NO_ANSWER, UNKNOWN, check, rules


def _beside(name):
    """Return a script beside this file as a module: tests are no package."""
    path = Path(__file__).with_name(f"{name}.py")
    spec = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


BREAKAGES, PAIRS = _beside("breakages"), _beside("pairs").PAIRS
STUDIES, DEMOS, broken = BREAKAGES.STUDIES, BREAKAGES.DEMOS, BREAKAGES.broken

CASES = [
    pytest.param(demo, breakage, id=f"{demo.partition('.')[0]}: {breakage.name}")
    for demo, breakages in STUDIES.items() for breakage in breakages
]


@pytest.mark.parametrize("demo", STUDIES)
def test_twenty_ways_each(demo):
    assert len(STUDIES[demo]) >= 20


@pytest.mark.parametrize(("demo", "breakage"), CASES)
def test_the_rule_that_one_would_hope_for(demo, breakage, tmp_path):
    advice = check(broken(demo, breakage, tmp_path))
    hits = [finding for finding in advice.every if finding.code == breakage.code]
    assert hits, [finding.code for finding in advice.findings]
    if breakage.element is not None:
        assert any(breakage.element in finding.elements for finding in hits)


@pytest.mark.parametrize("demo", STUDIES)
def test_the_unbroken_demo_is_quiet(demo):
    advice = check(chain.load(DEMOS / demo))
    assert advice.findings == ()
    assert all(reason for _, reason in advice.silenced)


def test_every_rule_is_hoped_for_somewhere():
    hoped = {breakage.code for breakages in STUDIES.values() for breakage in breakages}
    hoped |= {pair.code for pair in PAIRS}
    # idler-less-attenuated has its test beside it: in the demos it comes with idler-warmer; the
    # demos have no amplifier that sees itself.
    assert {*rules(), NO_ANSWER, UNKNOWN} - hoped == {"idler-less-attenuated", "may-oscillate"}
