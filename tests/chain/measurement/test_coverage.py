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


@pytest.mark.parametrize("place", [0, 3])
def test_intervals_cover_what_they_say(bench, place):
    """68 +/- 5 and 95 +/- 3 %, the mean over the band included; 2,000 sets of 5 frequencies."""
    case = bench.replace(bench.CASES[place], points=5)
    found = bench.coverage(case, 2000)
    for part in (found.points, found.mean):
        for one, two in part.values():
            assert one == pytest.approx(0.68, abs=0.05)
            assert two == pytest.approx(0.95, abs=0.03)
    # With errors of power alone the mean over the band would be believed far too much.
    assert found.power_only[1] < 0.35
