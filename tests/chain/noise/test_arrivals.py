"""Photons at devices: equal to equilibrium's, to a budget's, and by hand behind attenuators."""

import numpy as np
import pytest

import chain
from chain.noise.arrivals import arrivals

H_OVER_K = 6.62607015e-34 / 1.380649e-23
"""CODATA 2018, exact, kelvin seconds."""

LINE = """
band: {start: 4 GHz, stop: 8 GHz, points: 3}
stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}, base: {temperature: 20 mK}}
lines:
  drive:
    copies: 3
    elements:
      - {id: S, kind: port, stage: room}
      - {id: A, kind: attenuator, stage: plate, loss: 20 dB}
      - {id: B, kind: attenuator, stage: base, loss: 30 dB}
      - {id: Q, kind: device, stage: base, loads: [out]}
signals:
  drive: {from: S, to: Q.in}
"""


def planck(kelvin, f):
    """Photons of a load, 1 / (exp(hf/kT) - 1)."""
    return 1.0 / np.expm1(H_OVER_K * f / kelvin)


def test_behind_attenuators_each_emitter_gives_what_is_worked_out_by_hand(write_layout):
    layout = write_layout(LINE)
    [arriving] = arrivals(layout)
    assert arriving.port == "Q-1.in"
    assert arriving.alike == ("Q-2.in", "Q-3.in")
    f = arriving.frequency_hz
    assert f == pytest.approx([6e9])
    by_hand = {
        "S-1": planck(295, f) * 1e-5, "A-1": planck(4, f) * (1 - 1e-2) * 1e-3,
        "B-1": planck(0.02, f) * (1 - 1e-3),
    }
    for key, photons in by_hand.items():
        assert arriving.photons[key] == pytest.approx(photons, rel=1e-9)
    assert arriving.total_photons == pytest.approx(sum(by_hand.values()), rel=1e-9)


def test_a_copy_that_is_named_or_differs_is_told_by_its_own_name(write_layout):
    [named] = arrivals(write_layout(LINE), ["Q-3"])
    assert (named.port, named.alike) == ("Q-3.in", ())
    both = arrivals(write_layout(LINE, "B-2.loss=10 dB"))
    assert [(one.port, one.alike) for one in both] == [("Q-1.in", ("Q-3.in",)), ("Q-2.in", ())]


@pytest.mark.parametrize("demo", ["haloscope", "qubit_row"])
def test_photons_are_those_of_a_budget_that_ends_there(request, demo):
    layout = chain.load(request.config.rootpath / f"demo_chains/{demo}.yaml")
    f = np.array([5e9, 7e9])
    for one in arrivals(layout, frequency_hz=f):
        for name, signal in layout.signals.items():
            if ".".join(signal.to_port) == one.port:
                budget = layout.budget(name, frequency_hz=f)
                assert one.total_photons == pytest.approx(budget.photons_at_to, rel=1e-9)
                assert sum(one.photons.values()) == pytest.approx(one.total_photons, rel=1e-12)


def test_with_everything_at_one_temperature_a_device_gets_that_temperatures_photons(write_layout):
    text = LINE.replace("295 K", "1 K").replace("temperature: 4 K", "temperature: 1 K")
    found = arrivals(write_layout(text.replace("20 mK", "1 K")))
    for one in found:
        assert one.total_photons == pytest.approx(planck(1.0, one.frequency_hz), rel=1e-12)
