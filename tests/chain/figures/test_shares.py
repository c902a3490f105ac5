"""Which shares a figure shows: copies as one, a spike beside the rest, nothing lost."""

import numpy as np
import pytest

from chain.figures import style
from chain.figures.budget import budget_figure
from chain.figures.shares import Drawn, by_stage
from chain.noise.budget import budgets

STAGES = """\
title: shares
band: {start: 4 GHz, stop: 8 GHz, points: 41}
stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}, base: {temperature: 20 mK}}
"""

NOTCHED = STAGES + """
lines:
  main:
    - {id: D1, kind: device, stage: base, loads: [in]}
    - {id: N1, kind: attenuator, stage: base,
       loss: {4 GHz: 0.1 dB, 5.95 GHz: 0.1 dB, 6 GHz: 35 dB, 6.05 GHz: 0.1 dB, 8 GHz: 0.1 dB}}
    - {id: H1, kind: amplifier, stage: plate, gain: 36 dB, noise_temperature: 2 K}
    - {id: R1, kind: port, stage: room}
signals: {main: {from: D1.out, to: R1}}
"""
"""A notch, as beside a pump: 35 dB before the amplifier."""

FED = STAGES + """
lines:
  main:
    - {id: S1, kind: port, stage: room}
    - {id: C1, kind: coupler, stage: plate, coupling: 20 dB, loads: [isolated]}
    - {id: C2, kind: coupler, stage: plate, coupling: 20 dB, loads: [isolated]}
    - {id: C3, kind: coupler, stage: plate, coupling: 20 dB, loads: [isolated]}
    - {id: R1, kind: port, stage: room}
  feed:
    copies: 3
    elements:
      - {id: F, kind: port, stage: room}
      - {id: A, kind: attenuator, stage: plate, loss: 30 dB}
  first: [{join: A-1.out}, {id: B1, kind: attenuator, stage: plate, loss: 0 dB}, {join: C1.coupled}]
  second: [{join: A-2.out}, {id: B2, kind: attenuator, stage: plate, loss: 0 dB}, {join: C2.coupled}]
  third: [{join: A-3.out}, {id: B3, kind: attenuator, stage: plate, loss: 0 dB}, {join: C3.coupled}]
signals: {main: {from: R1, to: S1}}
"""
"""Three equal lines into one: each couples into the line by 20 dB, and 0.04 dB later the next."""


def of(layout):
    [budget] = budgets(layout).values()
    return budget


def test_a_notch_does_not_flatten_the_rest(write_layout):
    budget = of(write_layout(NOTCHED))
    shares = budget_figure({"main": budget}).axes[0]
    assert shares.get_yscale() == "log"
    low, high = shares.get_ylim()
    noise = budget.system_noise_quanta
    assert low < noise.min() / 10
    assert noise.max() < high
    # Away from the notch the noise stands in the picture's upper half, not on its floor.
    assert np.log(np.median(noise) / low) / np.log(high / low) > 0.4
    drawn = {curve.get_label(): curve.get_ydata() for curve in shares.get_lines()}
    assert drawn["all"] == pytest.approx(noise, rel=1e-12)
    assert any(label.startswith("H1") for label in drawn)


def test_without_a_spike_shares_are_stacked_from_zero(write_layout):
    text = NOTCHED.replace("35 dB", "0.1 dB")
    shares = budget_figure({"main": of(write_layout(text))}).axes[0]
    assert shares.get_yscale() == "linear"
    assert shares.get_ylim()[0] == 0.0


def test_copies_that_give_about_the_same_are_one_and_nothing_is_lost(write_layout):
    budget = of(write_layout(FED))
    drawn = Drawn.of(budget)
    # Each coupler takes a hundredth of what came before it: 2 % from the first to the third.
    assert {("F-1", "F-2", "F-3"), ("A-1", "A-2", "A-3")} <= drawn.shares.keys()
    gain = 10 ** (budget.gain_db / 10)  # a line that only loses is drawn at its end
    for ids, values in drawn.shares.items():
        assert values / gain == pytest.approx(sum(budget.shares_quanta[key] for key in ids), rel=1e-12)
    assert drawn.total == pytest.approx(budget.noise_at_to_quanta, rel=1e-12)
    assert sorted(key for ids in drawn.shares for key in ids) == sorted(budget.shares_quanta)
    bars = by_stage(budget, drawn, 0)
    assert sum(value for _, value in bars) == pytest.approx(drawn.total[0], rel=1e-12)


def test_copies_that_differ_are_drawn_apart(write_layout):
    drawn = Drawn.of(of(write_layout(FED, "C2.coupling=17 dB")))
    assert {("A-1", "A-3"), ("A-2",)} <= drawn.shares.keys()


@pytest.mark.parametrize(("values", "told"), [
    ([1.0, 1.0, 30.0], True), ([1.0, 2.0], False), ([np.nan, 1.0, 1.0], False), ([], False),
    ([0.0, 1.0], False),
])
def test_what_ranges_wide_asks_for_a_logarithmic_axis(values, told):
    assert style.wide(np.array(values)) is told
