"""Stages over their cooling, and close to it."""

import pytest


@pytest.mark.parametrize(("other", "code"), [
    ("0.5 W", None), ("0.9 W", "close-to-cooling"), ("1.1 W", "over-cooling"),
])
def test_against_one_watt(found, other, code):
    # The plate carries 1 W at 4 K, half way between its points, and H1 gives it 9 mW.
    codes = found(f"stages.plate.other={{leads: {other}}}")
    assert set(codes) == ({code} if code else set())


def test_margin(fires):
    load = "stages.plate.other={leads: 0.9 W}"
    assert fires("close-to-cooling", load, "margins.cooling=5 %") is None


def test_unknown_cooling_is_not_zero(found):
    assert found("stages.plate.cooling=", "stages.plate.other={leads: 5 W}") == {}


def test_the_stage_and_what_gives_most_are_named(found):
    says = found("H1.bias=2 W")["over-cooling"].says
    assert "stage plate" in says
    assert "H1" in says
