"""Few frequencies in place of many: as exact as all of them, and never where it would not be."""

import numpy as np
import pytest

from components.catalogue import coax
from components.conditions import Conditions
from components.declaration import KINDS
from components.quantities import Table, parse
from components.settings import Settings
from components.smooth import over_band

EXACT = 1e-12
"""Relative; what the few frequencies may cost, far below every other rounding of a budget."""


class Counted:
    """A function that knows how many frequencies it has been asked for."""

    def __init__(self, function):
        self.function, self.asked = function, 0

    def __call__(self, frequency_hz):
        self.asked += frequency_hz.size
        return self.function(frequency_hz)


@pytest.mark.parametrize(("start", "stop"), [(4e9, 8e9), (0.3e9, 20e9), (5e9, 5.01e9)])
def test_a_smooth_function_is_asked_at_few(start, stop):
    f = np.linspace(start, stop, 2001)
    function = Counted(lambda f: np.array([np.exp(-0.1 * np.sqrt(f / 1e9)), 3.0 + f / 1e9]))
    found = over_band(function, f)
    assert function.asked < 200
    assert found == pytest.approx(function.function(f), rel=EXACT)


def test_draws_stay_an_axis():
    f, scale = np.linspace(4e9, 8e9, 301), np.array([[1.0], [2.0]])
    found = over_band(lambda f: scale * np.sqrt(f), f)
    assert found == pytest.approx(scale * np.sqrt(f), rel=EXACT)


@pytest.mark.parametrize("function", [
    lambda f: np.abs(f - 6.1e9),
    lambda f: np.sign(f - 6.1e9),
    lambda f: 1 / (1 + ((f - 6e9) / 1e6) ** 2),
])
def test_a_function_with_a_kink_or_a_resonance_is_asked_everywhere(function):
    f = np.linspace(4e9, 8e9, 801)
    counted = Counted(function)
    assert np.array_equal(over_band(counted, f), function(f))
    assert counted.asked > f.size


@pytest.mark.parametrize("f", [np.array([5e9]), np.full(100, 5e9), np.linspace(4e9, 8e9, 20)])
def test_few_frequencies_are_asked_as_they_are(f):
    counted = Counted(lambda f: f**2)
    assert np.array_equal(over_band(counted, f), f**2)
    assert counted.asked == f.size


ANCHORS = ((0.0, 3.8), (0.4, 0.9), (0.7, 0.1), (1.0, 0.012))


@pytest.mark.parametrize("values", [
    {"coax": coax()["cupronickel-0.86"], "length": parse("0.5 m", "length")},
    {"coax": coax()["niobium-titanium-0.86"], "length": parse("0.5 m", "length")},
    {"loss": parse("13 dB", "ratio")},
    {"loss": parse("0 dB", "ratio"), "length": parse("0.5 m", "length")},
    {"loss": Table((1e6, 6e9, 40e9), (1.0, 2.0, 30.0), "ratio")},
], ids=["coax", "superconducting coax", "loss", "no loss", "table"])
@pytest.mark.parametrize(("start", "stop"), [(4e9, 8e9), (1e6, 20e9)])
def test_a_cable_over_a_band_is_the_cable_at_each_frequency(values, start, stop):
    kind = KINDS["cable"]
    settings, f = Settings(kind, values), np.linspace(start, stop, 501)
    whole = kind.respond(settings, Conditions(f, 3.8, ANCHORS))
    for at in (0, 77, 250, 500):
        one = kind.respond(settings, Conditions(f[at : at + 1], 3.8, ANCHORS))
        for name in ("scattering", "emission"):
            for key, entry in getattr(one, name).items():
                all_of_it = np.broadcast_to(getattr(whole, name)[key], f.shape)
                assert all_of_it[at] == pytest.approx(np.broadcast_to(entry, 1)[0], rel=EXACT)
