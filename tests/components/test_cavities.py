"""Cavities: what their Q's mean, and what they refuse."""

import numpy as np
import pytest

from components import response
from components.thermal_noise import quanta


def _s(settings, at):
    return settings.kind.scattering(settings, at)


def test_a_lossless_cavity_is_a_band_pass_of_order_one(element, conditions):
    """Phase and reflection too, at every frequency: f0 / QL is the filter's bandwidth."""
    at = conditions(*np.linspace(0.5, 30, 60))
    cavity = _s(element("cavity", frequency="6 GHz", coupling_q="24"), at)
    ladder = _s(element("filter", shape="band-pass", order=1, centre="6 GHz", bandwidth="0.5 GHz"),
                at)
    assert cavity[1, 0] == pytest.approx(ladder[1, 0], rel=1e-12)
    # The ladder's series circuit is open off resonance, the cavity's loop shorted.
    assert cavity[0, 0] == pytest.approx(-ladder[0, 0], abs=1e-12)


def test_peak_and_width_of_a_band_pass(element, conditions):
    """Peak 4 QL^2 / (Q1 Q2), half of it at f0 (1 +- 1/(2 QL)), what is missing absorbed."""
    loaded = 1 / (1 / 3000 + 1 / 4000 + 1 / 9000)
    cavity = element("cavity", frequency="6 GHz", coupling_q_in="3000", coupling_q_out="4000",
                     unloaded_q="9000")
    half = 0.5 / loaded
    s = _s(cavity, conditions(6.0, 6.0 * (1 + half), 6.0 * (1 - half)))
    peak = 4 * loaded**2 / (3000 * 4000)
    power = np.abs(s[1, 0]) ** 2
    assert power[0] == pytest.approx(peak, rel=1e-12)
    # f/f0 - f0/f is 2 (f - f0)/f0 within 1/(4 QL) of itself: 2e-4 here.
    assert power[1:] == pytest.approx(peak / 2, rel=4e-4)
    lost = 1 - power[0] - np.abs(s[0, 0][0]) ** 2
    assert lost == pytest.approx(4 * loaded**2 / (3000 * 9000), rel=1e-12)


def test_loaded_q_gives_the_same_cavity_as_its_couplings(element, conditions):
    at = conditions(*np.linspace(5.9, 6.1, 21), kelvin=0.1)
    for shape, coupling in (("band-pass", 2 / (1 / 100 - 1 / 900)), ("notch", 1 / (1 / 100 - 1 / 900))):
        by_load = element("cavity", shape=shape, frequency="6 GHz", unloaded_q="900",
                          loaded_q="100")
        by_coupling = element("cavity", shape=shape, frequency="6 GHz", unloaded_q="900",
                              coupling_q=f"{coupling!r}")
        for key, entry in _s(by_load, at).items():
            assert entry == pytest.approx(_s(by_coupling, at)[key], abs=1e-12)


def test_depth_and_width_of_a_notch(element, conditions):
    """On resonance Qc / (Qc + Q0) in amplitude; off it, everything passes."""
    notch = element("cavity", shape="notch", frequency="6 GHz", unloaded_q="2000",
                    coupling_q="500")
    s = _s(notch, conditions(6.0, 60.0))
    assert np.abs(s[1, 0][0]) == pytest.approx(500 / 2500, rel=1e-12)
    assert s[0, 0][0] == pytest.approx(-2000 / 2500, rel=1e-12)
    assert np.abs(s[1, 0][1]) == pytest.approx(1.0, abs=1e-4)


def test_the_notch_of_a_perfect_cavity_is_complete(element, conditions):
    notch = element("cavity", shape="notch", frequency="6 GHz", coupling_q="500")
    s = _s(notch, conditions(6.0))
    assert s[1, 0] == pytest.approx(0.0, abs=1e-15)
    assert np.abs(s[0, 0]) == pytest.approx(1.0, rel=1e-15)


@pytest.mark.parametrize("shape", ["band-pass", "notch"])
def test_a_critically_coupled_cavity_glows_at_resonance_alone(shape, element, conditions, matrices):
    """What it emits is (I - S S^H) N; far off it is cold however warm its walls are."""
    cavity = element("cavity", shape=shape, frequency="6 GHz", unloaded_q="1000",
                     coupling_q="1000")
    _, c, d = matrices(response.respond(cavity.kind, cavity, conditions(6.0, 9.0, kelvin=4.0)), 2)
    emitted = quanta(frequency_hz=np.array([6e9, 9e9]), temperature_k=4.0)
    assert c == pytest.approx(d * emitted[:, None, None], abs=1e-12)
    # S11, S21: -1/3 and 2/3 of the band-pass, -1/2 and 1/2 of the notch.
    lost = {"band-pass": 1 - 1 / 9 - 4 / 9, "notch": 1 - 1 / 4 - 1 / 4}[shape]
    assert c[0, 0, 0] == pytest.approx(emitted[0] * lost, rel=1e-12)
    assert c[1, 0, 0] < 1e-4 * emitted[1]
    # One mode emits both ways: fully correlated.
    assert np.linalg.det(c[0]).real == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("values", "said"), [
    ({}, "the cavity's coupling is not given"),
    ({"coupling_q": "100", "loaded_q": "90"}, "the cavity's coupling is twice given"),
    ({"coupling_q": "100", "coupling_q_in": "90", "coupling_q_out": "9"},
     "the cavity's coupling is twice given"),
    ({"coupling_q_in": "90"}, "coupling_q_in stands alone; give coupling_q_out too"),
    ({"coupling_q_out": "90"}, "coupling_q_out stands alone; give coupling_q_in too"),
    ({"coupling_q_in": "90", "coupling_q_out": "90", "shape": "notch"},
     "a notch couples to one line, the same both ways along it; give coupling_q alone"),
    ({"loaded_q": "900", "unloaded_q": "800"},
     "the loaded Q of 900 is not below the unloaded Q of 800; no passive cavity has that: "
     "give less than 800, or raise unloaded_q"),
])
def test_what_is_refused(values, said, element, problems):
    found = problems(element("cavity", frequency="6 GHz", **values))
    assert said in " ".join(found)


def test_a_whole_cavity_has_nothing_wrong(element, problems):
    for values in ({"coupling_q": "9"}, {"coupling_q_in": "9", "coupling_q_out": "8"},
                   {"loaded_q": "9", "unloaded_q": "10"}):
        assert not problems(element("cavity", frequency="6 GHz", **values))
