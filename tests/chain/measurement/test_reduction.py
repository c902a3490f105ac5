"""From readings to gain and noise: what goes in comes out, with errors that add up."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import chain
from chain import LayoutError
from chain.figures.reduction import reduction_figure
from chain.figures.style import as_bytes
from chain.measurement.common_errors import Sizes
from chain.measurement.estimate import THROUGH_READINGS
from chain.measurement.load_noise import Load, LoadNoise
from chain.measurement.on_off import GainChange
from chain.measurement.readings import Readings, read_readings
from chain.measurement.readings_model import Task
from chain.measurement.reduce import reduce
from components.constants import H
from components.thermal_noise import quanta

DEMOS = Path(__file__).parents[3] / "demo_chains"

LAYOUT = """
band: {start: 4 GHz, stop: 8 GHz, points: 9}
stages: {room: {temperature: 295 K}, plate: {temperature: 3.8 K}, base: {temperature: 30 mK +/- 3 mK}}
lines:
  main:
    - {id: L, kind: termination, stage: base}
    - {id: W, kind: attenuator, stage: base, loss: 1 dB +/- 0.15 dB}
    - {id: D, kind: device, stage: base}
    - {id: I, kind: isolator, stage: base, insertion_loss: 0.4 dB, isolation: 18 dB}
    - {id: H1, kind: amplifier, stage: plate, gain: 36 dB +/- 1 dB, noise_temperature: 2 K +/- 0.2 K}
    - {id: R, kind: port, stage: room}
signals: {main: {from: D.out, to: R}}
"""

PUMPED = """
band: {start: 4.6 GHz, stop: 6.4 GHz, points: 5}
stages: {room: {temperature: 295 K}, plate: {temperature: 3.8 K}, base: {temperature: 30 mK}}
lines:
  main:
    - {id: L, kind: termination, stage: base}
    - {id: W, kind: attenuator, stage: base, loss: 1 dB +/- 0.1 dB}
    - {id: D, kind: device, stage: base}
    - {id: X, kind: paramp, stage: base, gain: 15 dB, mixing: four-wave, pump: pump, excess_noise: 0.2}
    - {id: H1, kind: amplifier, stage: plate, gain: 36 dB, noise_temperature: 2 K}
    - {id: R, kind: port, stage: room}
  pump:
    - {id: P, kind: port, stage: room}
    - {id: T, kind: termination, stage: base}
tones: {pump: {into: P, frequency: 5.503 GHz, power: -60 dBm}}
signals: {main: {from: D.out, to: R}}
"""

LOADS = (0.05, 1.0, 3.0)


def forward(layout, loads, *, signal="main", load="L", sigma=0.01, stage=None, changes=()):
    """Return Readings made by the layout's own budget, one step a load temperature."""
    f = layout.band.frequency_hz
    noise = []
    for kelvin in loads:
        key = f"stages.{stage}" if stage else load
        b = layout.changed(*changes, f"{key}.temperature={kelvin!r} K").budget(signal)
        noise.append(b.noise_at_to_quanta)
    shape = len(loads), f.size
    return Readings(
        f, np.repeat(np.array(loads)[:, None], f.size, axis=1), np.zeros(shape), np.array(noise),
        np.full(shape, sigma), None, (), (),
    )


@pytest.fixture
def layout(write_layout):
    return write_layout(LAYOUT)


# -- what goes in comes out ----------------------------------------------------------------------

def check_round_trip(layout, readings, **options):
    """Gain and added noise are the layout's own, to rounding."""
    r = reduce(layout, readings=readings, **options)
    b = layout.budget(options.get("signal"))
    np.testing.assert_allclose(r.added_quanta, b.added_quanta, rtol=1e-12)
    np.testing.assert_allclose(r.gain_db, b.gain_db, rtol=1e-12)
    np.testing.assert_allclose(r.residual, 0.0, atol=1e-12)
    return r


def test_what_the_program_sends_forward_comes_back(layout):
    r = check_round_trip(layout, forward(layout, LOADS), source="L",
                         sizes=Sizes(load_scale=0.01, drift=0.003))
    assert np.allclose(r.added_missed_sigma, 0.0, atol=1e-9)
    np.testing.assert_allclose(r.loss_db, 1.0, rtol=1e-9)


def test_a_load_that_heats_the_idlers_band_too(write_layout):
    """With the paramp on a hot load comes in twice: N(fs) and N(fi)."""
    pumped = write_layout(PUMPED)
    check_round_trip(pumped, forward(pumped, LOADS), source="L")


def test_a_stage_that_was_warmed_with_all_that_stands_on_it(layout):
    r = check_round_trip(layout, forward(layout, LOADS, stage="base"), source="W")
    assert r.source == "W"


def test_an_attenuator_with_a_temperature_of_its_own_is_warmed_alone(write_layout):
    own = write_layout(LAYOUT.replace("loss: 1 dB +/- 0.15 dB", "loss: 20 dB, temperature: 40 mK"))
    check_round_trip(own, forward(own, LOADS, load="W"), source="W")


def test_a_port_and_a_leak_past_the_plane(write_layout):
    """Part of the load's noise goes round the plane by a coupler's finite directivity."""
    leaky = write_layout("""
band: {start: 5 GHz, stop: 6 GHz, points: 4}
stages: {room: {temperature: 295 K}, base: {temperature: 30 mK}}
lines:
  main:
    - {id: L, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: base, loss: 20 dB}
    - {id: D, kind: device, stage: base}
    - {id: C, kind: coupler, stage: base, coupling: 10 dB, loads: [coupled, isolated], directivity: 12 dB, insertion_loss: 0.4 dB}
    - {id: H1, kind: amplifier, stage: base, gain: 30 dB, noise_temperature: 2 K}
    - {id: R, kind: port, stage: room}
signals: {main: {from: D.out, to: R}}
""")
    check_round_trip(leaky, forward(leaky, (77.0, 295.0)), source="L")


SHAKY = LAYOUT.replace("isolation: 18 dB", "isolation: 18 dB, return_loss: 18 dB").replace(
    "loss: 1 dB +/- 0.15 dB", "loss: 1 dB +/- 0.15 dB, return_loss: 15 dB")


def test_a_layout_with_unknown_phases(write_layout):
    shaky = write_layout(SHAKY)
    r = check_round_trip(shaky, forward(shaky, LOADS), source="L")
    assert any("unknown phase" in text for text in r.warnings)


def test_unknown_phases_before_the_plane_are_errors_of_their_own(write_layout):
    """Loss L between two reflections r: what gets through goes as 1 / |1 - r^2 L e^ix|^2.

    Its standard deviation over x is sqrt(2) r^2 L to first order.  What stands behind the plane
    sends back what it lets the plane's own wave see too, and cancels.  The gain is then off by as
    much, and the added noise by that part of all the noise of a cold load.
    """
    shaky = write_layout(SHAKY)
    readings = replace(forward(shaky, LOADS), relative_sigma=np.full((3, 9), 1e-7))
    r = reduce(shaky, source="L", readings=readings)
    np.testing.assert_allclose(r.ripple, np.sqrt(2) * 10**-1.5 * 10**-0.1, rtol=1e-3)
    np.testing.assert_allclose(r.gain.own, 10 / np.log(10) * r.ripple, rtol=1e-4)
    cold = r.noise_quanta[0] + r.added_quanta
    np.testing.assert_allclose(r.added.own, r.ripple * cold, rtol=1e-4)
    still = write_layout(LAYOUT)
    assert np.all(reduce(still, source="L", readings=forward(still, LOADS)).ripple == 0)


def test_paramp_on_and_off(write_layout):
    layout = write_layout(PUMPED)
    off = forward(layout, LOADS, changes=("X.state=off",))
    on = forward(layout, (0.05,))
    f = layout.band.frequency_hz
    gains = [layout.changed(*c).budget("main").gain_db for c in ((), ("X.state=off",))]
    change = GainChange(f, gains[0] - gains[1], np.full(f.size, 0.02), "")
    r = reduce(layout, source="L", readings=off, on=on, gain_change=change,
               sizes=Sizes(load_scale=0.01, gain_change_db=0.1))
    b = layout.budget("main")
    np.testing.assert_allclose(r.added_quanta, b.added_quanta, rtol=1e-11)
    np.testing.assert_allclose(r.gain_db, b.gain_db, rtol=1e-12)
    # A tenth of a decibel in the ratio of gains is 2.3 % of the system noise.
    system = on.quanta[0] / 10 ** (b.gain_db / 10)
    np.testing.assert_allclose(
        np.abs(r.added.effects["gain change, scale"]), 0.1 * np.log(10) / 10 * system, rtol=2e-3
    )
    np.testing.assert_allclose(r.off.added_quanta,
                               layout.changed("X.state=off").budget("main").added_quanta, rtol=1e-12)


# -- errors ---------------------------------------------------------------------------------------

def noisy(layout, seed=2, sigma=0.01, **options):
    readings = forward(layout, LOADS, sigma=sigma, **options)
    scatter = 1 + sigma * np.random.default_rng(seed).standard_normal(readings.quanta.shape)
    return replace(readings, quanta=readings.quanta * scatter)


SIZES = Sizes(load_scale=0.01, load_offset_k=0.002, drift=0.003, power_scale=0.05)


def test_own_and_common_parts_are_the_whole_error_and_every_error_has_its_part(layout):
    r = reduce(layout, source="L", readings=noisy(layout), sizes=SIZES)
    for estimate in (r.added, r.gain):
        np.testing.assert_allclose(estimate.sigma**2, estimate.own**2 + estimate.common**2)
        named = np.sqrt(sum(effect**2 for effect in estimate.effects.values()))
        assert np.all(named <= estimate.common * (1 + 1e-12))
        assert np.all(named > 0.9 * estimate.common)  # the rest comes of the readings
    assert r.added.mean_own == pytest.approx(np.sqrt(np.sum(r.added.own**2)) / 9)
    # An instrument's scale is in the gain, and not in the noise.
    np.testing.assert_allclose(r.added.effects["instrument, power scale"], 0.0, atol=1e-9)
    np.testing.assert_allclose(
        np.abs(r.gain.effects["instrument, power scale"]), 0.05 * 10 / np.log(10), rtol=1e-6
    )


def test_the_fit_is_that_of_the_full_covariance_written_out(layout):
    """A second method: one matrix of all readings' errors, own and common, solved at once."""
    readings = noisy(layout)
    noise = LoadNoise(layout, "main", Load.of(layout, "L"), layout.band.frequency_hz)
    task = Task(noise, readings, SIZES)
    errors = task.errors()
    model = task.model(errors)
    fit = model.fitted(readings.relative_sigma)
    linear = model._linear(fit.unknowns, fit.common)
    rows, points, count = linear.own.shape
    design = np.zeros((rows * points, points * count))
    common = np.zeros((rows * points, len(errors)))
    for i in range(rows):
        for j in range(points):
            design[i * points + j, j * count:(j + 1) * count] = linear.own[i, j]
            common[i * points + j] = linear.common[i, j]
    own = np.diag(np.full(rows * points, 0.01**2))
    inverse = np.linalg.inv(own + common @ common.T)
    covariance = np.linalg.inv(design.T @ inverse @ design)
    y = (linear.residual + linear.common @ fit.common).ravel()
    step = covariance @ design.T @ inverse @ y
    np.testing.assert_allclose(step, 0.0, atol=1e-8 * np.abs(fit.unknowns).max())
    blocks = np.array([covariance[j * count:(j + 1) * count, j * count:(j + 1) * count]
                       for j in range(points)])
    np.testing.assert_allclose(fit.covariance, blocks, rtol=1e-6)
    across = covariance[0:count, count:2 * count]
    response = fit.response
    np.testing.assert_allclose(
        response[0] @ fit.common_covariance @ response[1].T, across, rtol=1e-6
    )


def test_a_fitting_library_finds_the_same(write_layout):
    """scipy's least squares on the same model, common errors as parameters with priors."""
    from scipy.optimize import least_squares

    layout = write_layout(LAYOUT.replace("points: 9", "points: 3").replace(" +/- 3 mK", ""))
    f, readings = layout.band.frequency_hz, None
    readings = noisy(layout, sigma=0.002)
    r = reduce(layout, source="L", readings=readings, sizes=Sizes(load_scale=0.01, drift=0.003))
    cold = quanta(frequency_hz=f, temperature_k=0.03)
    start = np.array(LOADS)[:, None]
    gain = 10 ** (r.predicted_gain_db / 10)

    def powers(p):
        g, a, scale, loss, drift = p[:3], p[3:6], p[6], p[7], p[8:11]
        eta = 10 ** (-(1.0 + 0.15 * loss) / 10)
        load = quanta(frequency_hz=f, temperature_k=start * (1 + 0.01 * scale))
        noise = eta * load + (1 - eta) * cold
        return g * gain * (a + noise) * (1 + 0.003 * drift[:, None])

    first = np.concatenate([np.ones(3), r.predicted_added_quanta, np.zeros(5)])
    for _ in range(3):  # the weights by the model, as it comes out
        weight = 0.002 * powers(first)
        found = least_squares(
            lambda p, w=weight: np.concatenate([((readings.quanta - powers(p)) / w).ravel(), p[6:]]),
            first, x_scale="jac", xtol=1e-14, ftol=1e-14, gtol=1e-14,
        )
        first = found.x
    covariance = np.linalg.inv(found.jac.T @ found.jac)
    np.testing.assert_allclose(r.added_quanta, found.x[3:6], rtol=2e-3)
    np.testing.assert_allclose(r.added_quanta_sigma, np.sqrt(np.diag(covariance))[3:6], rtol=0.02)
    np.testing.assert_allclose(r.gain_db, 10 * np.log10(found.x[:3] * gain), atol=2e-3)


def test_the_mean_over_the_band_is_no_better_than_its_common_error(layout):
    few = reduce(layout, source="L", readings=noisy(layout), sizes=SIZES)
    exact = reduce(layout, source="L", readings=noisy(layout, sigma=1e-4), sizes=SIZES)
    assert exact.added.mean_own < 0.02 * exact.added.mean_common
    assert exact.added.mean_sigma > 0.8 * few.added.mean_common


def test_intervals_are_skewed_where_the_slope_is_uncertain(layout):
    r = reduce(layout, source="L", readings=noisy(layout, sigma=0.1))
    low, high = r.added.interval_68
    assert np.all(high - r.added_quanta > r.added_quanta - low)
    assert np.all(r.added.interval_95[0] < low)


def test_without_power_sigma_the_scatter_says_it(layout):
    readings = noisy(layout, sigma=0.02)
    r = reduce(layout, source="L", readings=replace(readings, relative_sigma=np.full((3, 9), np.nan)))
    assert r.sigma_from == "scatter"
    assert np.median(r.relative_sigma) == pytest.approx(0.02, rel=0.5)
    assert any("no power_sigma" in text for text in r.warnings)


def test_two_temperatures_without_sigma_are_told_by_their_neighbours(write_layout):
    layout = write_layout(LAYOUT.replace("points: 9", "points: 201"))
    readings = forward(layout, (0.05, 3.0))
    scatter = 1 + 0.02 * np.random.default_rng(1).standard_normal(readings.quanta.shape)
    r = reduce(layout, source="L", readings=replace(
        readings, quanta=readings.quanta * scatter, relative_sigma=np.full((2, 201), np.nan)))
    assert np.median(r.relative_sigma) == pytest.approx(0.02, rel=0.15)


def test_a_step_may_lack_frequencies(layout):
    readings = forward(layout, LOADS)
    quanta_read = readings.quanta.copy()
    quanta_read[1, 3:5] = np.nan
    loads = np.where(np.isfinite(quanta_read), readings.load_k, np.nan)
    r = reduce(layout, source="L", readings=replace(readings, quanta=quanta_read, load_k=loads),
               sizes=SIZES)
    np.testing.assert_allclose(r.added_quanta, layout.budget("main").added_quanta, rtol=1e-12)


# -- doubts ----------------------------------------------------------------------------------------

def told(r, words):
    return any(words in text for text in r.warnings)


def test_hot_and_cold_within_the_thermometers_error(layout):
    r = reduce(layout, source="L", readings=forward(layout, (0.4, 0.45, 0.5)),
               sizes=Sizes(load_offset_k=0.04))
    assert told(r, "100 mK apart, and the thermometer's error of that is 56.6 mK")


def test_loads_that_are_all_vacuum(layout):
    r = reduce(layout, source="L", readings=forward(layout, (0.02, 0.06)))
    assert told(r, "all loads look alike")


def test_loads_that_differ_by_nothing_are_refused(layout):
    with pytest.raises(LayoutError, match="same at every temperature"):
        reduce(layout, source="L", readings=forward(layout, (0.002, 0.003)))


def test_negative_noise_says_how_far_loss_or_load_would_have_to_be_off(write_layout):
    """The layout believes 10 dB before the plane where there is 1: less than the vacuum is added."""
    text = LAYOUT.replace("noise_temperature: 2 K +/- 0.2 K", "noise_temperature: 0.25 K")
    truth = write_layout(text)
    believed = write_layout(text.replace("loss: 1 dB", "loss: 10 dB"))
    r = reduce(believed, source="L", readings=forward(truth, LOADS))
    assert r.added.mean < 0
    [said] = [text for text in r.warnings if "negative" in text]
    # With the loss less by what it says, nothing would be added.
    less = float(said.split("zero if ")[1].split(" dB")[0])
    at_zero = reduce(write_layout(text.replace("loss: 1 dB", f"loss: {10 - less} dB")), source="L",
                     readings=forward(truth, LOADS))
    assert abs(at_zero.added.mean) < 0.1 * abs(r.added.mean)
    assert "hotter than read" in said


def test_a_load_that_compresses(layout):
    readings = forward(layout, LOADS, sigma=0.001)
    part = readings.quanta / readings.quanta.max(axis=0)
    r = reduce(layout, source="L", readings=replace(readings, quanta=readings.quanta * (1 - .05 * part)))
    assert r.bend.missing == pytest.approx(0.05, rel=0.2)
    assert told(r, "not linear in the load's noise")
    straight = reduce(layout, source="L", readings=readings)
    assert abs(straight.bend.sigmas) < 1e-6


def test_a_hot_load_saturates_a_paramp_that_is_on(write_layout):
    pumped = write_layout(PUMPED)
    assert told(reduce(pumped, source="L", readings=forward(pumped, LOADS)), "states no p1db_in")
    # k 3 K in 1.8 GHz through 1 dB: -102.3 dBm; 4.7 dB over -107 dBm the gain is down by 2.5 dB.
    low = write_layout(PUMPED.replace("excess_noise: 0.2", "p1db_in: -107 dBm"))
    r = reduce(low, source="L", readings=forward(low, LOADS))
    level = 10 * np.log10(1.380649e-23 * 3 * 1.8e9 * 10**-0.1 / 1e-3)
    drop = 10 * np.log10(1 + 0.25893 * 10 ** ((level + 107) / 10))
    [said] = [text for text in r.warnings if "costs it" in text]
    assert float(said.split("costs it ")[1].split(" dB")[0]) == pytest.approx(drop, abs=0.06)


def test_readings_that_scatter_more_than_they_say(layout):
    readings = replace(noisy(layout, sigma=0.05), relative_sigma=np.full((3, 9), 0.005))
    assert told(reduce(layout, source="L", readings=readings), "scatter")


def test_errors_that_nobody_stated_are_asked_for(write_layout):
    bare = write_layout(LAYOUT.replace(" +/- 0.15 dB", "").replace(" +/- 3 mK", ""))
    r = reduce(bare, source="L", readings=forward(bare, LOADS))
    assert told(r, "--load-error")
    assert told(r, "a tolerance in the layout")
    full = write_layout(LAYOUT)
    assert not told(reduce(full, source="L", readings=forward(full, LOADS), sizes=SIZES),
                    "no error is stated")


# -- refusals of the layout ------------------------------------------------------------------------

@pytest.mark.parametrize(("source", "said"), [
    ("Q", "no element 'Q'"), ("H1", "amplifies"),
])
def test_a_source_that_is_no_load(layout, source, said):
    with pytest.raises(LayoutError, match=said):
        reduce(layout, source=source, readings=forward(layout, LOADS))


def test_a_load_behind_perfect_isolation(write_layout):
    blind = write_layout(LAYOUT.replace("insertion_loss: 0.4 dB, isolation: 18 dB", "reversed: true"))
    read = forward(write_layout(LAYOUT), LOADS)
    with pytest.raises(LayoutError, match=r"nothing that|nothing arrives"):
        reduce(blind, source="L", readings=read)


def test_power_that_falls_as_the_load_gets_hotter(layout):
    readings = forward(layout, LOADS)
    wrong = replace(readings, quanta=readings.quanta[::-1], steps=tuple(
        chain.errors.Place("r.csv", line, 3) for line in (2, 11, 20)))
    with pytest.raises(LayoutError, match=r"r\.csv:20:3: over the band the power falls"):
        reduce(layout, source="L", readings=wrong)


# -- the command line ------------------------------------------------------------------------------

def demo(*more):
    return (
        "reduce", DEMOS / "paramp_line.yaml", "--source", "L1",
        "--readings", DEMOS / "paramp_off.csv", "--load-error", "1 %", "--drift", "0.2 %", *more,
    )


ON = ("--on", DEMOS / "paramp_on.csv", "--gain-change", DEMOS / "paramp_gain_change.csv",
      "--gain-change-error", "0.05 dB")


def test_the_demo_adds_twice_what_was_planned(run):
    status, out, _ = run(*demo("--json", *ON))
    assert status == 0
    found = json.loads(out)
    first = ["format", "signal", "from", "to", "source", "frequency_hz", "gain_db", "gain_db_sigma",
             "added_quanta", "added_quanta_sigma", "added_quanta_common", "gain_db_common"]
    assert list(found)[: len(first)] == first
    assert {"predicted_added_quanta", "predicted_gain_db", "warnings", "laws"} <= set(found)
    band = found["band"]
    assert band["added_quanta"] / band["predicted_added_quanta"] == pytest.approx(2, abs=0.3)
    assert band["added_quanta_missed_sigma"] > 5
    assert abs(band["gain_db_missed_sigma"]) < 2
    assert abs(found["off"]["band"]["added_quanta_missed_sigma"]) < 2
    assert len(found["layout"]["sha256"]) == 64


@pytest.mark.long
def test_the_readings_of_the_demo_are_what_its_script_makes(run, tmp_path, monkeypatch):
    import importlib.util
    import shutil

    shutil.copy(DEMOS / "paramp_line.yaml", tmp_path)
    monkeypatch.chdir(tmp_path)
    spec = importlib.util.spec_from_file_location("made", DEMOS / "make_paramp_readings.py")
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    made.main()
    for name in ("paramp_off.csv", "paramp_on.csv", "paramp_gain_change.csv", "paramp_grid.csv"):
        lines = (tmp_path / name).read_text().splitlines(), (DEMOS / name).read_text().splitlines()
        assert lines[0][:2] == lines[1][:2]
        numbers = [np.array([[float(c) for c in row.split(",")] for row in part[2:]]) for part in lines]
        np.testing.assert_allclose(*numbers, atol=2e-5)


def test_text_csv_and_figure(run, tmp_path):
    table, picture = tmp_path / "out.csv", tmp_path / "out.svg"
    status, out, _ = run(*demo(*ON, "--csv", table, "--figure", picture))
    assert status == 0
    for words in ("reference plane: the wave that leaves I1.out", "with the paramps off",
                  "is more than the layout's", "thermometer, scale", "1/2 coth(hf/2kT)"):
        assert words in out
    rows = table.read_text().splitlines()
    assert rows[0].startswith("frequency_hz,gain_db,gain_db_sigma,gain_db_common,added_quanta,")
    assert len(rows) == 38
    assert picture.read_text().startswith("<?xml")


@pytest.mark.long
def test_the_figure_is_the_same_every_time(layout):
    r = reduce(layout, source="L", readings=noisy(layout), sizes=SIZES)
    assert as_bytes(reduction_figure(r), ".svg") == as_bytes(reduction_figure(r), ".svg")


@pytest.mark.parametrize(("words", "said"), [
    (("--drift", "-1 %"), "--drift:1:1: '-1 %' is negative"),
    (("--load-error", "1 dB"), "--load-error"),
    (("--gain-change", "x.csv"), "--gain-change says nothing without --on"),
    (("--bandwidth", "0 Hz"), "is no bandwidth"),
    (("--figure", "x.bmp"), "--figure"),
    (("--readings", "nowhere.csv"), "nowhere.csv: No such file"),
])
def test_words_that_cannot_be_followed(run, words, said):
    status, out, err = run(*demo(*words))
    assert (status, out) == (2, "")
    assert said in err


def test_a_power_in_the_bandwidth_a_density_and_a_floor_agree(layout, run, tmp_path):
    """The same readings in W, dBm and dBm/Hz, with the instrument's own noise in them."""
    readings = noisy(layout)
    floor = 10**-18.0
    density = (readings.quanta * H * readings.frequency_hz)
    width = 1e6
    results = []
    for unit, values in (("power_w", (density + floor) * width),
                         ("power_dbm", 10 * np.log10((density + floor) * width / 1e-3)),
                         ("power_dbm_hz", 10 * np.log10((density + floor) / 1e-3))):
        rows = [f"frequency_hz,load_k,{unit}"] + [
            f"{hz:.0f},{kelvin},{float(value)!r}" for kelvin, row in zip(LOADS, values, strict=True)
            for hz, value in zip(readings.frequency_hz, row, strict=True)]
        path = tmp_path / f"{unit}.csv"
        path.write_text("\n".join(rows) + "\n")
        status, out, _ = run("reduce", layout.path, "--source", "L", "--readings", path,
                             "--bandwidth", "1 MHz", "--floor", "-150 dBm/Hz", "--json")
        assert status == 0
        results.append(json.loads(out)["added_quanta"])
    plain = reduce(layout, source="L", readings=readings)
    np.testing.assert_allclose(results[0], results[1], rtol=1e-9)
    np.testing.assert_allclose(results[0], results[2], rtol=1e-9)
    # The floor is a thousandth of the power here: what is left agrees within what it adds in errors.
    np.testing.assert_allclose(results[0], plain.added_quanta, rtol=0.02)


def test_an_instruments_floor_and_its_error(layout):
    """A floor that is a tenth of the power: 5 % of it is half a percent of every cold power."""
    readings = forward(layout, LOADS)
    f = readings.frequency_hz
    floor = 0.1 * (readings.quanta * H * f)[0, 4]
    with_floor = replace(readings, quanta=readings.quanta + floor / (H * f))
    r = reduce(layout, source="L", readings=with_floor, floor_w_hz=floor, sizes=Sizes(floor=0.05))
    np.testing.assert_allclose(r.added_quanta, layout.budget("main").added_quanta, rtol=1e-9)
    # All of it acts as added noise: its own referred to the plane.
    expected = 0.05 * floor / (H * f) / 10 ** (r.gain_db / 10)
    np.testing.assert_allclose(np.abs(r.added.effects["instrument, floor"]), expected, rtol=0.02)


def test_the_call_mirrors_the_verb(run):
    layout = chain.load(str(DEMOS / "paramp_line.yaml"))
    r = layout.reduce(
        source="L1", readings=DEMOS / "paramp_off.csv", on=DEMOS / "paramp_on.csv",
        gain_change=DEMOS / "paramp_gain_change.csv",
        sizes=Sizes(load_scale=0.01, drift=0.002, gain_change_db=0.05),
    )
    _, out, _ = run(*demo("--json", *ON))
    np.testing.assert_allclose(r.added_quanta, json.loads(out)["added_quanta"])
    assert r.as_dict()["signal"] == "receive"
    [shown] = re.findall(r"added noise, quanta\s+([\d.]+)", repr(r))
    assert float(shown) == pytest.approx(r.as_dict()["band"]["added_quanta"], rel=1e-3)


def test_load_noise_is_the_formula_for_a_load_behind_a_loss(layout):
    f = layout.band.frequency_hz
    noise, ratio = LoadNoise(layout, "main", Load.of(layout, "L"), f).at(np.full((1, 9), 2.0))
    eta = 10**-0.1
    expected = eta * quanta(frequency_hz=f, temperature_k=2.0) \
        + (1 - eta) * quanta(frequency_hz=f, temperature_k=0.03)
    np.testing.assert_allclose(noise[0], expected, rtol=1e-12)
    assert np.all(ratio == 1.0)


def test_every_name_of_an_error_is_once(layout):
    r = reduce(layout, source="L", readings=noisy(layout), sizes=SIZES)
    names = [error.name for error in r.errors]
    assert len(names) == len(set(names))
    assert THROUGH_READINGS in r.added.mean_effects


def test_readings_of_a_file_are_read_again_the_same(tmp_path, layout):
    readings = forward(layout, LOADS)
    path = tmp_path / "r.csv"
    path.write_text("frequency_hz,load_k,power_w,bandwidth_hz\n" + "".join(
        f"{hz},{kelvin},{float(q * H * hz * 2.0)!r},2.0\n"
        for kelvin, row in zip(LOADS, readings.quanta, strict=True)
        for hz, q in zip(readings.frequency_hz, row, strict=True)))
    again = read_readings([path], band=layout.band)
    np.testing.assert_allclose(again.quanta, readings.quanta, rtol=1e-14)
    assert again.bandwidth_hz == 2.0


def test_powers_that_nothing_fits_are_refused(layout):
    """One power in watt among those in milliwatt: the fit says so, and no traceback."""
    readings = forward(layout, (0.05, 1.0, 2.0, 3.0), sigma=1e-3)
    wrong = readings.quanta.copy()
    wrong[1] *= 1e12
    wrong[3] *= 1e14
    with pytest.raises(LayoutError, match=r"does not settle"):
        reduce(layout, source="L", readings=replace(readings, quanta=wrong), sizes=SIZES)


def test_powers_that_do_not_determine_a_slope_leave_gaps_and_say_so(run, tmp_path):
    """Errors of 60 % a power: no traceback, nothing but nulls where nothing is known."""
    lines = (DEMOS / "paramp_off.csv").read_text().splitlines()
    path = tmp_path / "loose.csv"
    path.write_text("\n".join([lines[1], *(",".join([*line.split(",")[:3], "5"])
                                          for line in lines[2:])]) + "\n")
    words = ("reduce", DEMOS / "paramp_line.yaml", "--source", "L1", "--readings", path,
             "--set", "X1.state=off")
    status, out, _ = run(*words, "--json", "--figure", tmp_path / "f.svg")
    assert status == 0
    found = json.loads(out)
    assert None in found["added_quanta"]
    assert any("gain and noise are not known there" in text for text in found["warnings"])
    status, out, _ = run(*words)
    assert status == 0
    assert "neither gain nor noise" in out or "open" in out


def test_a_tolerance_to_a_side_that_cannot_be(write_layout):
    """An amplifier at the quantum limit, a coupler at its least loss: reduced all the same."""
    tight = write_layout(LAYOUT.replace("noise_temperature: 2 K", "noise_temperature: 0.25 K").replace(
        "insertion_loss: 0.4 dB, isolation: 18 dB", "insertion_loss: 0.4 dB, isolation: 18 dB, temperature: 30 mK"))
    r = reduce(tight, source="L", readings=forward(tight, LOADS))
    np.testing.assert_allclose(r.added_quanta, tight.budget("main").added_quanta, rtol=1e-12)
    assert told(r, "how far tolerances let the layout's prediction be off is not known")
    assert np.all(r.predicted.added_quanta_sigma == 0)
