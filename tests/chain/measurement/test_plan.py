"""A plan: what it promises is what a reduction of such readings states."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from chain import LayoutError
from chain.measurement.common_errors import Sizes
from chain.measurement.plan import plan
from chain.measurement.readings import Readings
from chain.measurement.reduce import reduce

DEMO = Path(__file__).parents[3] / "demo_chains" / "paramp_line.yaml"

LAYOUT = """
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages: {room: {temperature: 295 K}, plate: {temperature: 3.8 K}, base: {temperature: 50 mK}}
lines:
  main:
    - {id: L, kind: termination, stage: base}
    - {id: W, kind: attenuator, stage: base, loss: 1 dB +/- 0.1 dB}
    - {id: D, kind: device, stage: base}
    - {id: H1, kind: amplifier, stage: plate, gain: 36 dB, noise_temperature: 2 K}
    - {id: R, kind: port, stage: room}
signals: {main: {from: D.out, to: R}}
"""

SIZES = Sizes(load_scale=0.01, drift=0.002)


def test_readings_taken_by_the_plan_have_the_error_that_it_promises(write_layout):
    layout = write_layout(LAYOUT)
    p = plan(layout, source="L", error_quanta=0.5, sizes=SIZES)
    f = layout.band.frequency_hz
    loads = [step.load_k for step in p.steps]
    powers = np.array([layout.changed(f"L.temperature={k!r} K").budget().noise_at_to_quanta
                       for k in loads])
    shape = powers.shape
    read = Readings(f, np.repeat(np.array(loads)[:, None], f.size, axis=1), np.zeros(shape), powers,
                    np.full(shape, p.relative_sigma), None, (), ())
    r = reduce(layout, source="L", readings=read, sizes=SIZES)
    assert np.median(r.added_quanta_sigma) == pytest.approx(0.5, rel=1e-3)
    assert p.relative_sigma == pytest.approx(1 / np.sqrt(1e6 * p.chosen.seconds))
    middle = f.size // 2
    watt = powers[:, middle] * 6.62607015e-34 * f[middle]
    np.testing.assert_allclose([step.power_dbm_hz for step in p.steps],
                               10 * np.log10(watt / 1e-3), rtol=1e-12)
    assert loads[0] == loads[-1] == min(loads)


def test_half_the_error_takes_four_times_as_long_where_nothing_is_common(write_layout):
    layout = write_layout(LAYOUT.replace(" +/- 0.1 dB", ""))
    once, twice = (plan(layout, source="L", error_quanta=e, bandwidth_hz=1e4) for e in (0.02, 0.01))
    hot = [o.seconds for o in once.options], [o.seconds for o in twice.options]
    np.testing.assert_allclose(np.array(hot[1]) / np.array(hot[0]), 4.0, rtol=5e-3)
    assert any("--load-error" in text for text in once.warnings)
    wide = plan(layout, source="L", error_quanta=0.02, bandwidth_hz=1e5)
    np.testing.assert_allclose(np.array(hot[0]) / [o.seconds for o in wide.options], 10, rtol=1e-6)


def test_no_time_takes_away_what_is_common(write_layout):
    layout = write_layout(LAYOUT)
    p = plan(layout, source="L", error_quanta=0.01, sizes=SIZES)
    assert p.chosen is None
    least = min(option.common_quanta for option in p.options)
    assert plan(layout, source="L", error_quanta=1.01 * least, sizes=SIZES).chosen is not None
    better = plan(layout, source="L", error_quanta=0.01, sizes=replace(SIZES, load_scale=0.0))
    assert min(option.common_quanta for option in better.options) < least


@pytest.mark.long
def test_the_sheet(run):
    words = ("reduce", DEMO, "--source", "L1", "--plan", "--error", "0.1 quanta", "--load-error",
             "1 %", "--drift", "0.2 %", "--hottest", "2 K")
    status, out, _ = run(*words)
    assert status == 0
    for said in ("take, in this order", "average for", "with the paramp on keep the load cold",
                 "caution: Heating a load"):
        assert said in out
    status, out, _ = run(*words, "--json")
    found = json.loads(out)
    assert [step["paramps_on"] for step in found["steps"]] == [False] * 4 + [True]
    status, out, _ = run(*words[:6], "1 mK", *words[7:])
    assert status == 1
    assert "no: however long it takes" in out


@pytest.mark.parametrize(("words", "said"), [
    (("--plan",), "--error is missing"), (("--readings", "x.csv", "--error", "1 quanta"), "--error belongs to a plan"),
    (("--plan", "--error", "0 quanta"), "is no error"), (("--plan", "--error", "x"), "--error"),
    (("--plan", "--error", "1 quanta", "--readings", "x.csv"), "a plan has no --readings"),
    (("--plan", "--error", "1 quanta", "--hottest", "10 mK"), "no hotter than L1"),
])
def test_words_that_make_no_plan(run, words, said):
    status, out, err = run("reduce", DEMO, "--source", "L1", *words)
    assert (status, out) == (2, "")
    assert said in err


def test_an_error_of_nothing_is_refused(write_layout):
    with pytest.raises(LayoutError, match="above 0"):
        plan(write_layout(LAYOUT), source="L", error_quanta=0.0)
