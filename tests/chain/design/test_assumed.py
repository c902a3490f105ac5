"""A dead amplifier of unknown loss: a range, a lost line, and what bypassing would give."""

import numpy as np
import pytest

LAYOUT = """\
band: {start: 5 GHz, stop: 6 GHz, points: 3}
stages: {room: {temperature: 295 K}, cold: {temperature: 4 K, cooling: {3 K: 1 W, 5 K: 2 W}}}
lines:
  main:
    - {id: D, kind: device, stage: cold, loads: [in]}
    - {id: H, kind: amplifier, stage: cold, gain: 30 dB, noise_temperature: 3 K, bias: 5 mW}
    - {id: G, kind: amplifier, stage: room, gain: 30 dB, noise_temperature: 100 K}
    - {id: R, kind: port, stage: room}
signals: {main: {from: D.out, to: R}}
"""


def noise_ratio(layout, *changes):
    return layout.changed(*changes).budget().system_noise_quanta / layout.budget().system_noise_quanta


def test_the_range_is_that_of_the_ends_given_outright(write_layout):
    layout = write_layout(LAYOUT)
    found = layout.compare(layout.changed("H.state=dead"))
    low, high = found.noise_ratio_range
    ends = [noise_ratio(layout, "H.state=dead", f"H.unpowered_loss={end}")
            for end in ("15 dB", "40 dB")]
    assert low == pytest.approx(ends[0], rel=1e-12)
    assert high == pytest.approx(ends[1], rel=1e-12)
    assert np.all(high > 200 * low)  # 25 dB between them
    # Gain 30 dB less 15 or 40 dB of loss.
    assert [float(end[1]) for end in found.gain_change_range_db] == pytest.approx([-70.0, -45.0])
    assert found.line_lost
    assert found.bypassed_ratio == pytest.approx(noise_ratio(layout, "H.state=bypassed"), rel=1e-12)
    text = str(found)
    assert "The line is lost." in text
    assert "H.unpowered_loss 25 dB (15 to 40 usual)" in " ".join(text.split())


def test_each_failure_says_the_same(write_layout):
    layout = write_layout(LAYOUT)
    [dead] = [one for one in layout.failures().failures if one.change == "H.state=dead"]
    found = layout.compare(layout.changed("H.state=dead"))
    low, high = (float(end[1]) for end in found.noise_ratio_range)
    assert dead.noise_ratio_range == pytest.approx((low, high), rel=1e-9)
    assert dead.bypassed_ratio == pytest.approx(float(found.bypassed_ratio[1]), rel=1e-9)
    assert dead.line_lost


def test_a_loss_that_is_given_is_one_value(write_layout):
    layout = write_layout(LAYOUT, "H.unpowered_loss=20 dB")
    found = layout.compare(layout.changed("H.state=dead"))
    assert found.noise_ratio_range is None
    assert found.at_ends == ()


def test_warm_intervals_contain_the_weakest_assumption(write_layout):
    """An unbiased amplifier in a warm line: 15 to 40 dB, 25 dB expected."""
    text = LAYOUT.replace("{id: D, kind: device, stage: cold, loads: [in]}",
                          "{id: S, kind: port, stage: room}").replace("from: D.out", "from: S")
    sheet = write_layout(text, "G.warm={state: ok}").warm_sheet(draws=400)
    [trace] = [one for one in sheet.traces if one.what == "transmission"]
    middle = len(trace.frequency_hz) // 2
    # 30 dB of G; 95 of 100 lie between the 2.5th and the 97.5th of 15 .. 25 .. 40 dB.
    assert trace.expected_db[middle] == pytest.approx(5.0, abs=0.01)
    assert trace.low_db[middle] == pytest.approx(30 - 39.25 - 0.5, abs=0.15)
    assert trace.high_db[middle] == pytest.approx(30 - 15.5 + 0.5, abs=0.15)
