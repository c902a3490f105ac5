"""Ripples and echoes against their formulas; lengths and errors as computed apart."""

import numpy as np
import pytest

from chain.measurement.ripple import find_echoes, find_ripple, height_db, period_hz
from components.constants import C

F = np.linspace(4e9, 8e9, 201)


def test_period_and_height_of_a_standing_wave():
    # df = v/(2L): 0.3 m at 0.695 c; heights of 0.1 and 0.1, 0.2 and 0.1: standard formulas.
    assert period_hz(length_m=0.3, velocity_m_s=0.695 * C) == pytest.approx(347.26e6, abs=1e4)
    assert height_db(0.1, 0.1) == pytest.approx(0.17372, abs=1e-5)
    assert height_db(0.2, 0.1) == pytest.approx(0.34748, abs=1e-5)


def test_a_ripple_is_found_with_the_length_and_the_error_that_noise_makes():
    # A sinusoid's frequency in white noise: sL = (v/2)(s/a) sqrt(24/N)/(2 pi F), 0.330 mm here.
    v, length, a, s = 0.695 * C, 0.3, 0.08685, 0.02
    rng = np.random.default_rng(3)
    found = [
        find_ripple(F, a * np.cos(4 * np.pi * F * length / v + 1.0) + rng.normal(0, s, F.size))
        for _ in range(30)
    ]
    lengths = np.array([one.delay_s * v for one in found])
    assert lengths.mean() == pytest.approx(length, abs=3 * 0.33e-3 / np.sqrt(30) + 1e-5)
    assert lengths.std() == pytest.approx(0.33e-3, rel=0.4)
    assert np.mean([one.sigma_s for one in found]) * v == pytest.approx(0.33e-3, rel=0.1)
    assert np.mean([one.height_db for one in found]) == pytest.approx(2 * a, rel=0.03)


def test_the_product_of_two_reflections_follows_from_the_height():
    ripple = find_ripple(F, height_db(0.3, 0.2) / 2 * np.cos(2 * np.pi * F / 0.4e9))
    assert ripple.product == pytest.approx(0.06, rel=0.01)
    assert ripple.period_hz == pytest.approx(0.4e9, rel=1e-3)


@pytest.mark.parametrize("level", [
    np.zeros(201), np.linspace(0, -6, 201), -7.0 * ((F > 5.1e9) & (F < 5.9e9)),
    np.random.default_rng(5).normal(0, 0.1, 201), np.cos(2 * np.pi * F / 3e9),
])
def test_no_ripple_in_noise_slopes_steps_and_slow_waves(level):
    assert find_ripple(F, level) is None


def test_echoes_have_their_delays_and_amplitudes():
    reflection = 0.3 * np.exp(-4j * np.pi * F * 2e-9) + 0.1 * np.exp(-4j * np.pi * F * 5.5e-9 + 1j)
    first, second = find_echoes(F, reflection)
    assert first.delay_s == pytest.approx(2e-9, abs=0.02e-9)
    assert first.amplitude == pytest.approx(0.3, rel=0.02)
    assert second.delay_s == pytest.approx(5.5e-9, abs=0.02e-9)
    assert second.amplitude == pytest.approx(0.1, rel=0.05)


def test_without_phases_there_are_no_echoes():
    assert find_echoes(F, np.full(201, 0.3 + 0j)) == ()
