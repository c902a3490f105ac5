"""Stated intervals hold the truth as often as they say, over sets with every error drawn."""

import importlib.util
import sys
from pathlib import Path

import pytest

BENCH = Path(__file__).parents[2] / "bench" / "coverage.py"


@pytest.fixture(scope="module")
def bench():
    spec = importlib.util.spec_from_file_location("coverage_bench", BENCH)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def check_parts(found, at_68, at_95):
    """Points and the mean over the band lie within so much of 68 and 95 %."""
    for part in (found.points, found.mean):
        for one, two in part.values():
            assert one == pytest.approx(0.68, abs=at_68)
            assert two == pytest.approx(0.95, abs=at_95)


def test_intervals_cover_about_what_they_say(bench):
    """300 sets of 3 frequencies, within three times the binomial error."""
    found = bench.coverage(bench.replace(bench.CASES[0], points=3), 300)
    check_parts(found, 0.08, 0.04)
    # With errors of power alone the mean over the band would be believed far too much.
    assert found.power_only[1] < 0.4


@pytest.mark.long
@pytest.mark.parametrize("place", range(6))
def test_intervals_cover_what_they_say(bench, place):
    """68 +/- 5 and 95 +/- 3 %, the mean over the band included; 2,000 sets of 5 frequencies."""
    check_parts(bench.coverage(bench.replace(bench.CASES[place], points=5), 2000), 0.05, 0.03)


@pytest.mark.long
def test_intervals_with_a_paramp_on_cover_what_they_say(bench):
    """The same for noise from spectra on and off, and a change of gain with errors of its own."""
    for one, two in bench.paramp_coverage(2000).values():
        assert one == pytest.approx(0.68, abs=0.05)
        assert two == pytest.approx(0.95, abs=0.03)
