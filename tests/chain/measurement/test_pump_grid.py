"""A grid over the pump: what the layout sends forward comes back at every point, and the best."""

import json
from pathlib import Path

import numpy as np
import pytest

from chain.figures.pump_grid import pump_grid_figure
from chain.figures.style import as_bytes
from chain.heat.stages import heat
from chain.measurement.common_errors import Sizes
from chain.measurement.grid_readings import GridPoint, read_grid
from chain.measurement.pump_grid import pump_grid
from chain.measurement.readings import Readings
from chain.measurement.reduce import reduce

DEMOS = Path(__file__).parents[3] / "demo_chains"

LAYOUT = """
band: {start: 4.6 GHz, stop: 6.4 GHz, points: 3}
stages: {room: {temperature: 295 K}, plate: {temperature: 3.8 K, cooling: {3 K: 0.5 W, 4 K: 1 W}}, base: {temperature: 30 mK, cooling: {10 mK: 2 uW, 50 mK: 100 uW}}}
lines:
  main:
    - {id: L, kind: termination, stage: base}
    - {id: W, kind: attenuator, stage: base, loss: 1 dB +/- 0.1 dB}
    - {id: D, kind: device, stage: base}
    - {id: C, kind: coupler, stage: base, coupling: 20 dB, reversed: true}
    - {id: X, kind: paramp, stage: base, gain: 15 dB, mixing: four-wave, pump: pump, excess_noise: 0.2}
    - {id: H1, kind: amplifier, stage: plate, gain: 36 dB, noise_temperature: 2 K}
    - {id: R, kind: port, stage: room}
  pump-in:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: base, loss: 30 dB}
    - {join: C.coupled}
  pump-back:
    - {join: C.isolated}
    - {id: T, kind: termination, stage: base}
tones: {pump: {into: S, frequency: 5.503 GHz, power: -20 dBm}}
signals: {main: {from: D.out, to: R}}
"""

LOADS = (0.03, 1.0, 3.0)
PUMPED = {-22.0: (12.0, 0.3), -20.0: (15.0, 0.1), -8.0: (18.0, 0.05)}
"""Gain and excess noise that a pump gives, by its power in dBm."""
TONES = (5.453e9, 5.503e9)


def budget(layout, *changes):
    return layout.changed(*changes).budget("main")


@pytest.fixture
def layout(write_layout):
    return write_layout(LAYOUT)


@pytest.fixture
def off(layout):
    f = layout.band.frequency_hz
    noise = np.array([budget(layout, "X.state=off", f"L.temperature={k} K").noise_at_to_quanta
                      for k in LOADS])
    zero = np.zeros_like(noise)
    return Readings(f, zero + np.array(LOADS)[:, None], zero, noise, zero + 0.005, None, (), ())


@pytest.fixture
def grid(layout):
    f = layout.band.frequency_hz
    gain_off = budget(layout, "X.state=off").gain_db
    points = []
    for hz in TONES:
        for dbm, (gain, excess) in PUMPED.items():
            b = budget(layout, f"X.gain={gain} dB", f"X.excess_noise={excess}",
                       f"tones.pump.frequency={hz} Hz", f"tones.pump.power={dbm} dBm")
            points.append(GridPoint(
                dbm, hz, f, b.gain_db - gain_off, np.full(f.size, 0.02), b.noise_at_to_quanta,
                np.full(f.size, 0.005), 0.2))
    return points


def test_every_point_is_the_layout_with_that_pump(layout, off, grid):
    g = pump_grid(layout, source="L", readings=off, grid=grid, sizes=Sizes(load_scale=0.01))
    for point in g.points:
        gain, excess = PUMPED[point.pump_dbm]
        changes = (f"X.gain={gain} dB", f"X.excess_noise={excess}",
                   f"tones.pump.frequency={point.pump_hz} Hz", f"tones.pump.power={point.pump_dbm} dBm")
        b = budget(layout, *changes)
        assert point.added_quanta == pytest.approx(b.added_quanta.mean(), rel=2e-3)
        assert point.gain_db == pytest.approx(b.gain_db.mean(), abs=1e-3)
        stages = heat(layout.changed(*changes)).stages
        for name, watt in point.tones_w.items():
            assert watt == pytest.approx(stages[name].tones_w, rel=1e-9, abs=1e-25)
            assert point.margin_w[name] == (
                None if stages[name].margin_w is None
                else pytest.approx(stages[name].margin_w, rel=1e-9)
            )


def test_the_best_is_within_the_cooling_and_has_the_gain(layout, off, grid):
    """The strongest pump is the quietest, and heats the base plate more than it can bear."""
    g = pump_grid(layout, source="L", readings=off, grid=grid, least_gain_db=10.0)
    strong = [p for p in g.points if p.pump_dbm == -8.0]
    assert all(p.over == ("base",) for p in strong)
    assert min(p.added_quanta for p in strong) < g.best.added_quanta
    assert g.best.pump_dbm == -20.0
    assert {(p.pump_dbm, p.pump_hz) for p, *_ in g.neighbours} == {
        (-22.0, g.best.pump_hz), (-8.0, g.best.pump_hz),
        (-20.0, next(hz for hz in TONES if hz != g.best.pump_hz))}
    for p, gain, noise in g.neighbours:
        assert gain == pytest.approx(p.gain_change_db - g.best.gain_change_db)
        assert noise == pytest.approx(p.added_quanta - g.best.added_quanta)
    [twin] = [p for p in g.points if p.pump_dbm == -20.0 and p is not g.best]
    assert twin in g.as_good
    assert pump_grid(layout, source="L", readings=off, grid=grid, least_gain_db=40.0).best is None


def test_a_point_that_compresses_is_no_candidate(layout, off, grid):
    from dataclasses import replace

    squeezed = [replace(p, compression_db=1.5) if p.pump_dbm == -20.0 else p for p in grid]
    g = pump_grid(layout, source="L", readings=off, grid=squeezed)
    assert g.best.pump_dbm == -22.0


def test_its_errors_are_those_of_a_single_reduction(layout, off, grid):
    """Own and common part together; the own one is what repeating the point would spread."""
    from dataclasses import replace

    from chain.measurement.on_off import GainChange

    sizes = Sizes(load_scale=0.01, drift=0.002)
    point = grid[1]
    g = pump_grid(layout.changed(f"tones.pump.frequency={point.pump_hz} Hz"), source="L",
                  readings=off, grid=[point], sizes=sizes)
    on = replace(off, load_k=off.load_k[:1], load_k_sigma=off.load_k_sigma[:1],
                 quanta=point.quanta[None], relative_sigma=point.relative_sigma[None])
    r = reduce(layout.changed(f"tones.pump.frequency={point.pump_hz} Hz"), source="L", readings=off,
               on=on, sizes=sizes, gain_change=GainChange(
                   off.frequency_hz, point.gain_change_db, point.gain_change_sigma_db, ""))
    assert g.points[0].added_quanta == pytest.approx(r.added.mean, rel=1e-6)
    assert g.points[0].sigma == pytest.approx(r.added.mean_sigma, rel=1e-3)
    rng = np.random.default_rng(5)
    repeated = []
    for _ in range(400):
        new = replace(
            point, quanta=point.quanta * (1 + 0.005 * rng.standard_normal(3))
            * (1 + 0.002 * rng.standard_normal()),
            gain_change_db=point.gain_change_db + 0.02 * rng.standard_normal(3))
        repeated.append(new)
    found = pump_grid(layout, source="L", readings=off, grid=repeated[:150], sizes=sizes)
    spread = np.std([p.added_quanta for p in found.points])
    assert spread == pytest.approx(g.points[0].own, rel=0.2)


def demo(*more):
    return ("reduce", DEMOS / "paramp_line.yaml", "--source", "L1", "--readings",
            DEMOS / "paramp_off.csv", "--grid", DEMOS / "paramp_grid.csv", "--load-error", "1 %",
            "--drift", "0.2 %", *more)


@pytest.mark.long
def test_the_demo(run, tmp_path):
    table, picture = tmp_path / "grid.csv", tmp_path / "grid.svg"
    status, out, _ = run(*demo("--least-gain", "15 dB", "--csv", table, "--figure", picture))
    assert status == 0
    assert "least added noise for at least 15 dB: 1.4" in out
    assert "beside it, -3.5 dBm" in out
    assert len(table.read_text().splitlines()) == 36
    assert picture.read_text().startswith("<?xml")
    status, out, _ = run(*demo("--json"))
    found = json.loads(out)
    assert len(found["points"]) == 35
    status, out, _ = run(*demo("--least-gain", "40 dB"))
    assert status == 1
    assert "no point has 40 dB more gain than off" in out


def test_curves_where_the_pump_has_one_frequency(layout, off, grid):
    some = [p for p in grid if p.pump_hz == TONES[0]]
    g = pump_grid(layout, source="L", readings=off, grid=some)
    assert as_bytes(pump_grid_figure(g), ".png")[:4] == b"\x89PNG"
    assert "ends before the most gain" in " ".join(g.warnings)


HEAD = "pump_dbm,pump_hz,frequency_hz,gain_change_db,power_dbm_hz"


@pytest.mark.parametrize(("lines", "said"), [
    (("pump_dbm,frequency_hz,gain_change_db,power_dbm_hz", "1,5e9,20,-120"), "1:1: there is no column pump_hz"),
    ((HEAD + ",colour", "1,5e9,5e9,20,-120,3"), "1:59: there is no column 'colour'"),
    ((HEAD, "1,5e9,9e9,20,-120"), "2:7: 9 GHz lies outside the layout's band"),
    ((HEAD, "1,5e9,5e9,20,-120", "1,5e9,5e9,20,-120"), "2:1: a frequency stands twice"),
    ((HEAD, "1,5e9,5e9,20,-120", "2,5e9,6e9,20,-120"), "3:1: the pump at 2 dBm, 5 GHz has other signal"),
    ((HEAD, "99,5e9,5e9,20,-120"), "2:1: pump_dbm is 99"),
    (("pump_dbm,pump_hz,frequency_hz,gain_change_db", "1,5e9,5e9,20"), "1:1: there are 0 powers"),
])
def test_grids_that_cannot_be_read(layout, tmp_path, lines, said):
    from chain import LayoutError

    path = tmp_path / "g.csv"
    path.write_text("\n".join(lines) + "\n")
    with pytest.raises(LayoutError) as error:
        read_grid(path, band=layout.band)
    assert f"{path}:{said}" in str(error.value)


@pytest.mark.parametrize(("words", "said"), [
    (("--on", "x.csv", "--gain-change", "y.csv"), "a grid holds the powers"),
    (("--least-gain", "15"), "--least-gain"), (("--plan", "--error", "1 quanta"), "a plan has no"),
    (("--set", "X1.state=off"), "meets no paramp that is on"),
])
def test_words_that_do_not_go_with_a_grid(run, words, said):
    status, out, err = run(*demo(*words))
    assert (status, out) == (2, "")
    assert said in err
