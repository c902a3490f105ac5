"""Noise beside a tone: its level in quanta, and over the offset."""

import numpy as np
import pytest

from components.constants import H
from components.generators import GeneratorNoise
from components.parameters import ParameterError
from components.quantities import Table, parse

FLAT = parse("-150 dBc/Hz", "noise beside a tone")


def test_it_is_the_tones_power_by_the_stated_ratio_over_hf():
    """1e-10 W and -150 dBc/Hz are 1e-25 W/Hz, 0.0252 quanta at 6 GHz (h f = 3.976e-24 J)."""
    noise = GeneratorNoise("pump", (8e9,), 1e-10, FLAT)
    np.testing.assert_allclose(noise.quanta([6e9, 10e9]), 1e-25 / (H * np.array([6e9, 10e9])))
    assert noise.quanta([6e9])[0] == pytest.approx(0.02515, rel=1e-3)


def test_a_comb_brings_the_noise_of_every_line():
    comb = GeneratorNoise("comb", (5e9, 6e9, 7e9), 1e-10, FLAT)
    assert comb.quanta([6e9])[0] == pytest.approx(3 * 1e-25 / (H * 6e9))


def test_a_table_is_linear_in_decibels_over_the_logarithm_of_the_offset_on_either_side():
    """-100 dBc/Hz at 1 kHz, -160 at 1 GHz: ten decibels a decade, so -130 at 1 MHz."""
    beside = Table((1e3, 1e9), (-100.0, -160.0), "noise beside a tone")
    noise = GeneratorNoise("pump", (8e9,), 1.0, beside)
    above, below = noise.quanta(np.array([8e9 + 1e6])), noise.quanta(np.array([8e9 - 1e6]))
    assert above[0] * H * (8e9 + 1e6) == pytest.approx(1e-13, rel=1e-9)
    assert below[0] * H * (8e9 - 1e6) == pytest.approx(1e-13, rel=1e-9)


def test_a_table_is_not_read_beyond_its_ends_unless_it_holds():
    short = Table((1e3, 1e8), (-100.0, -150.0), "noise beside a tone")
    with pytest.raises(ParameterError, match=r"1e\+08 Hz beside it, and 2e\+09 Hz to 2e\+09 Hz"):
        GeneratorNoise("pump", (8e9,), 1.0, short).quanta(np.array([6e9]))
    held = Table((1e3, 1e8), (-100.0, -150.0), "noise beside a tone", hold=True)
    noise = GeneratorNoise("pump", (8e9,), 1.0, held)
    assert noise.quanta([6e9])[0] * H * 6e9 == pytest.approx(1e-15, rel=1e-9)
    assert noise.quanta([8e9])[0] * H * 8e9 == pytest.approx(1e-10, rel=1e-9)
