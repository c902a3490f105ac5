"""The diagnosis's own fast predictions against the whole program, and its causes."""

import numpy as np
import pytest

import chain
from chain.diagnosis.causes import causes, compatible
from chain.diagnosis.healthy import jacobians, stated_covariance, toleranced
from chain.diagnosis.prediction import Prediction
from chain.measurement.data_sets import ADDED, GAIN, SYSTEM, Column, DataSet


def _all(layout, signal, quantities=(GAIN, SYSTEM, ADDED), points=5):
    f = np.linspace(layout.band.start_hz, layout.band.stop_hz, points)
    own = np.full(points, 0.1)
    columns = tuple(Column(quantity, f, np.zeros(points), own, 0.3) for quantity in quantities)
    return Prediction(layout, signal, DataSet("none", columns)), f


def _whole_program(layout, signal, f):
    b = layout.budget(signal, frequency_hz=f)
    return np.concatenate([b.gain_db, 10 * np.log10(b.system_noise_quanta),
                           10 * np.log10(b.added_quanta + 0.5)])


@pytest.mark.parametrize(("name", "signal"), [
    ("haloscope", "receive"), ("qubit_row", "readout"), ("paramp_line", "receive"),
])
@pytest.mark.long
def test_every_cause_does_what_the_whole_program_says(name, signal):
    """Within 0.1 dB, the mean over phases and the held pump included, where anything arrives."""
    layout = chain.load(f"demo_chains/{name}.yaml")
    prediction, f = _all(layout, signal, points=3)
    compared = 0
    for cause in causes(layout, [key for key in prediction.ids() if key in layout.elements]):
        size = 0.0 if cause.size is None else cause.size.median
        change = cause.change(layout, size)
        try:
            wanted = _whole_program(layout.changed(change), signal, f)
        except chain.LayoutError:
            continue
        found = prediction.of([((cause, size),)])[0]
        if not np.isfinite(wanted).all() or wanted[0] < -100:
            continue
        tolerance = 0.1 if cause.state != "open" else 0.5
        assert np.abs(found - wanted).max() < tolerance, (change, found - wanted)
        compared += 1
    assert compared > 20


def test_two_causes_together_are_not_the_sum_of_both(layout):
    prediction, f = _all(layout, "main")
    found = {cause.name: cause for cause in causes(layout, prediction.ids()[:6])}
    off, noisy = found["X.state=off"], found["H.noise_temperature"]
    both = prediction.of([((off, 0.0), (noisy, 0.6))])[0]
    wanted = _whole_program(layout.changed("X.state=off", "H.noise_temperature=3.52 K"), "main", f)
    assert np.allclose(both, wanted, atol=0.02)
    alone = prediction.of([((off, 0.0),), ((noisy, 0.6),)])
    added = alone.sum(axis=0) - prediction.expected
    assert np.abs(both - added)[5:10].max() > 0.5


def test_a_tolerance_acts_by_its_own_size_and_as_the_causes_let_it(layout):
    prediction, _ = _all(layout, "main", (GAIN, SYSTEM))
    values = toleranced(layout, prediction.ids())
    assert [one.name for one in values] == ["X.gain", "H.gain"]
    off = next(cause for cause in causes(layout, ["X"]) if cause.name == "X.state=off")
    slopes = jacobians(prediction, values, [(), ((off, 0.0),)])
    assert np.allclose(slopes[0, :, :5], 0.5, atol=1e-6)
    assert np.allclose(slopes[1, 0], 0.0, atol=1e-9)


def test_errors_that_a_column_states_are_its_own_and_common(layout):
    prediction, _ = _all(layout, "main", (GAIN,))
    covariance = stated_covariance(prediction)
    assert np.allclose(covariance, 0.09 + 0.01 * np.eye(5))


def test_unknown_phases_are_part_of_the_healthy_spread(tmp_path):
    path = tmp_path / "ripple.yaml"
    path.write_text("""\
band: {start: 4 GHz, stop: 7 GHz, points: 31}
stages: {room: {temperature: 295 K}}
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: room, loss: 0.1 dB, return_loss: 20 dB}
    - {id: B, kind: attenuator, stage: room, loss: 0.1 dB, return_loss: 20 dB}
    - {id: R, kind: port, stage: room}
signals: {main: {from: S, to: R}}
""")
    prediction, _ = _all(chain.load(path), "main", (GAIN,))
    spread = np.sqrt(np.diag(stated_covariance(prediction) - 0.09 - 0.01 * np.eye(5)))
    # Of the loops, that of the facing reflections, 0.1 x 0.1, moves the gain by 0.087 dB at most.
    assert (spread > 0.03).all()
    assert (spread < 0.3).all()


def test_a_broken_part_is_not_more_than_broken():
    layout = chain.load("demo_chains/haloscope.yaml")
    found = {cause.name: cause for cause in causes(layout, ["X1", "H1", "A2", "I1"])}
    assert not compatible(found["H1.state=dead"], found["H1.noise_temperature"])
    assert not compatible(found["A2.loss=10 dB"], found["A2.loss=20 dB"])
    assert compatible(found["H1.noise_temperature"], found["A2.loss=10 dB"])
    assert compatible(found["H1.noise_temperature"], found["H1.gain"])


def test_odds_that_the_layout_gives_count(layout):
    more = layout.changed("H.odds=5", "W.odds=0")
    own = {cause.name: cause.odds for cause in causes(layout, ["H", "W"])}
    changed = {cause.name: cause.odds for cause in causes(more, ["H", "W"])}
    assert changed["H.state=dead"] == 5 * own["H.state=dead"]
    assert not any(name.startswith("W.") for name in changed)
    assert any(name.startswith("W.") for name in own)
