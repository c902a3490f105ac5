"""Direct current in pads, conductors and superconductors."""

import numpy as np
import pytest

from components import catalogue
from components.direct_current import (
    before_pad,
    conductors_of,
    even_resistance,
    ohm_per_m,
    resistance_along,
)
from components.profile import NODES

MATERIALS, COAX = catalogue.materials(), catalogue.coax()
NODE_COUNT = len(NODES)


def test_a_pad_into_a_short_passes_two_k_over_k_squared_plus_one():
    """20 dB: K = 10, so 20/101 goes on; 1 mA behind it takes 5.05 mA and burns 1.25 mW.

    By hand with a T of 40.91, 10.10 and 40.91 ohm: 5.05^2 x 40.91 + 4.05^2 x 10.10 + 1^2 x 40.91 uW.
    """
    volt, ampere = before_pad(loss_db=20.0, volt=0.0, ampere=1e-3)
    assert 1e-3 / ampere == pytest.approx(20 / 101, rel=1e-12)
    assert volt * ampere == pytest.approx(1.25e-3, rel=1e-3)
    series, shunt = 50 * 9 / 11, 50 * 20 / 99
    by_hand = ampere**2 * series + (ampere - 1e-3) ** 2 * shunt + 1e-6 * series
    assert volt * ampere == pytest.approx(by_hand, rel=1e-12)


def test_a_matched_pad_behind_its_like_is_the_sum_of_both():
    """Two 10 dB pads are one of 20 dB, whatever ends them."""
    for volt, ampere in ((0.0, 1e-3), (0.05, 1e-3), (1.0, 0.0)):
        once = before_pad(loss_db=20.0, volt=volt, ampere=ampere)
        inner = before_pad(loss_db=10.0, volt=volt, ampere=ampere)
        twice = before_pad(loss_db=10.0, volt=inner[0], ampere=inner[1])
        np.testing.assert_allclose(twice, once, rtol=1e-12)


def test_a_matched_load_sees_the_loss_of_the_pad_as_power():
    volt, ampere = before_pad(loss_db=20.0, volt=0.05, ampere=1e-3)
    assert volt / ampere == pytest.approx(50.0, rel=1e-12)
    assert volt * ampere == pytest.approx(100 * 0.05 * 1e-3, rel=1e-12)


def test_conductors_of_a_coax_are_resistivity_over_area():
    """304 at 4 K is 49 uohm cm; the outer is what lies between dielectric and outside."""
    coax = COAX["stainless-304-0.86"]
    centre, outer = (ohm_per_m(parts, np.array([4.0]))[0] for parts in conductors_of(coax))
    d, big, out = coax.centre.diameter_m, coax.dielectric.diameter_m, coax.outer.diameter_m
    assert centre == pytest.approx(49e-8 / (np.pi / 4 * d**2), rel=1e-9)
    assert outer == pytest.approx(49e-8 / (np.pi / 4 * (out**2 - big**2)), rel=1e-9)


def test_metals_side_by_side_share_the_current_and_a_superconductor_takes_all():
    copper, alloy = MATERIALS["copper-rrr100"], MATERIALS["niobium-titanium"]
    warm, cold = np.array([20.0]), np.array([4.0])
    both = [(copper, 1e-8), (alloy, 1e-8)]
    expected = sum(1e-8 / m.resistivity_ohm_m(temperature_k=warm)[0] for m, _ in both)
    assert ohm_per_m(both, warm)[0] == pytest.approx(1 / expected, rel=1e-12)
    assert ohm_per_m(both, cold)[0] == 0.0


def _along(kelvin, material, length_m=1.0):
    return resistance_along(
        np.full(NODE_COUNT, kelvin), np.array([1.0]), length_m, [[(MATERIALS[material], 1e-8)]],
        (kelvin, kelvin),
    )


def test_a_superconductor_alone_is_said_to_be_too_warm():
    assert _along(4.0, "niobium-titanium").ohm == 0.0
    assert _along(4.0, "niobium-titanium").normal == ()
    assert _along(20.0, "niobium-titanium").normal == (("niobium-titanium", 9.2),)
    assert _along(20.0, "copper-rrr100").normal == ()


def test_half_of_an_even_resistance_counts_at_each_end():
    one = even_resistance(8.0, np.array([0.25, 0.75]), (4.0, 1.0, 0.1))
    np.testing.assert_allclose(one.at_anchors_ohm, (1.0, 4.0, 3.0))
    assert one.ohm == pytest.approx(8.0)


def test_a_centre_conductor_clamped_at_its_ends_is_hottest_in_the_middle():
    """0.335 ohm of 304, 1 mA, both ends cold: 1.07 K (Wiedemann-Franz, V^2/(4 L0); own arithmetic
    from the standard formula)."""
    cold = even_resistance(0.335, np.array([1.0]), (0.015, 0.015))
    assert cold.hottest_centre_k(1e-3) == pytest.approx(1.07, rel=0.01)
    # A warm end keeps the maximum: nothing in between is hotter than it without much current.
    warm = even_resistance(0.335, np.array([1.0]), (4.0, 0.015))
    assert warm.hottest_centre_k(1e-4) == 4.0


def test_a_hot_end_shifts_the_hottest_place_and_the_formula_is_the_parabola():
    one = even_resistance(1.0, np.array([1.0]), (1.0, 0.5))
    u = np.linspace(0, 1, 100_001)
    square = (1e-3 * 1.0) ** 2 / 2.443e-8
    brute = np.sqrt((1.0 * (1 - u) + 0.25 * u + square * u * (1 - u)).max())
    assert one.hottest_centre_k(1e-3) == pytest.approx(brute, rel=1e-9)
