"""A measured trace against the band of a layout: where it leaves it, and what is said to it."""

import json
from pathlib import Path

import numpy as np
import pytest

import chain
from chain import LayoutError
from chain.figures.measured_trace import measured_trace_figure
from chain.figures.style import as_bytes
from chain.measurement.analyser import opened, traces
from chain.measurement.measured_trace import against_trace
from chain.writing.json_text import as_json
from components.quantities import parse

DEMOS = Path(__file__).parents[3] / "demo_chains"

LAYOUT = """
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK}}
lines:
  line:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: base, loss: 20 dB +/- 0.5 dB}
    - {id: B, kind: attenuator, stage: base, loss: 10 dB +/- 0.1 dB max}
    - {id: D, kind: device, stage: base}
    - {id: H, kind: amplifier, stage: base, gain: 30 dB, noise_temperature: 3 K,
       unpowered_loss: 20 dB}
    - {id: R, kind: port, stage: room}
signals: {up: {from: D.out, to: R}, through: {from: S, to: R}}
"""

F = np.linspace(3e9, 9e9, 301)


@pytest.fixture
def layout(write_layout):
    return write_layout(LAYOUT)


@pytest.fixture
def measured(tmp_path):
    """Return a function that writes a two-port of some S21 (dB, array) and S12 30 dB below."""

    def write(s21_db, f=F):
        path = tmp_path / "trace.s2p"
        rows = ["# Hz S DB R 50"]
        rows += [f"{a:.0f} -25 0 {b:.6f} 0 {b - 30:.6f} 0 -22 0"
                 for a, b in zip(f, np.broadcast_to(s21_db, f.shape), strict=True)]
        path.write_text("\n".join(rows) + "\n")
        return path

    return write


def _s21(found):
    return next(o for o in found.overlays if o.parameter == "S21")


def test_inside(layout, measured):
    # Cold: 30 dB of loss, 30 dB of gain.
    found = against_trace(layout, "S:R", measured(0.3))
    assert _s21(found).inside
    assert _s21(found).words == ("S21, S to R: inside its interval throughout",)


def test_warm_is_another_layout(layout, measured):
    # Warm the amplifier loses 20 dB.
    assert not _s21(against_trace(layout, "S:R", measured(-50.0))).inside
    assert _s21(against_trace(layout, "S:R", measured(-50.0), warm=True)).inside


def test_where_it_leaves_the_band(layout, measured):
    low = np.where((F >= 5.1e9) & (F <= 5.9e9), -7.0, 0.0)
    overlay = _s21(against_trace(layout, "S:R", measured(low)))
    [one] = overlay.deviations
    assert (one.low_hz, one.high_hz) == (5.1e9, 5.9e9)
    assert one.off_db == pytest.approx(-7.0, abs=1e-5)
    assert "from 5.1 to 5.9 GHz 7 dB low: more than any one tolerance explains" in one.words
    assert "A.loss" in one.words


def test_one_tolerance_that_explains_it(layout, measured):
    # 1.6 dB: more than 95 of 100 realisations and half a decibel, and 3.2 times A's tolerance; with
    # what connections may add three times are enough.
    overlay = _s21(against_trace(layout, "S:R", measured(-1.6)))
    [one] = overlay.deviations
    assert "A.loss, 20 dB +/- 0.5 dB, off by 3 sigma would explain it" in one.words


def test_a_uniform_tolerance_ends_where_it_ends(write_layout, measured):
    layout = write_layout(LAYOUT, "A.loss=20 dB")
    [one] = _s21(against_trace(layout, "S:R", measured(-0.9))).deviations
    assert "B.loss, gives 0.1 dB" in one.words


def test_no_tolerance_at_all(write_layout, measured):
    layout = write_layout(LAYOUT, "A.loss=20 dB", "B.loss=10 dB")
    [one] = _s21(against_trace(layout, "S:R", measured(-0.9))).deviations
    assert "no value in the path has a tolerance" in one.words


def test_both_sides_and_slopes(layout, measured):
    sloped = np.where(F < 5e9, 4.0, np.where(F > 7e9, -(F / 1e9 - 7) * 8 - 3, 0.0))
    high, low = _s21(against_trace(layout, "S:R", measured(sloped))).deviations
    assert "4 dB high" in high.words
    assert "3.6 to 11 dB low" in low.words


def test_a_single_point_is_a_spike(layout, measured):
    spiked = np.where(np.arange(F.size) == 150, -20.0, 0.0)
    assert _s21(against_trace(layout, "S:R", measured(spiked))).inside


def test_a_standing_wave_is_called_so(layout, measured):
    # 0.7 c / (2 * 0.5 GHz) = 0.21 m.
    overlay = _s21(against_trace(layout, "S:R", measured(4 * np.cos(2 * np.pi * F / 0.5e9))))
    assert "0.5 GHz" in overlay.remark
    assert "0.21 m" in overlay.remark
    assert any("more stretches" in text for text in overlay.words)


def test_what_the_layout_says_nothing_of_is_told(layout, measured):
    found = against_trace(layout, "S:R", measured(0.0))
    # No reflection has a size, and back through the amplifier nothing comes.
    assert [o.parameter for o in found.overlays] == ["S21"]
    said = " ".join(found.remarks)
    assert "S12, S11, S22" in said
    assert "outside the layout's band" in said


def test_ports_by_signal_open_the_joint_of_its_start(layout, measured):
    found = against_trace(layout, "up", measured(30.0))
    assert found.ports == ("H.in", "R")
    assert _s21(found).inside


def test_ports_named_inside(layout, measured):
    found = against_trace(layout, ("S", "B.out"), measured(-30.0))
    assert _s21(found).inside
    assert _s21(found).trace.through == ("A", "B")


def test_turned_round_file(layout, measured):
    found = against_trace(layout, "B.out:S", measured(-30.0))
    assert _s21(found).inside


def test_the_only_pair_needs_no_name(layout, measured):
    assert against_trace(layout, None, measured(0.0)).ports == ("S", "R")


def test_one_port(layout, tmp_path):
    path = tmp_path / "trace.s1p"
    path.write_text("# GHz S DB R 50\n" + "".join(f"{f} -20 0\n" for f in (4, 5, 6, 7, 8)))
    mirror = layout.with_settings({"A": {"return_loss": parse("20 dB", "ratio")}})
    [overlay] = against_trace(mirror, "S", path).overlays
    assert overlay.parameter == "S11"
    assert overlay.inside


def test_its_own_expectation_is_inside(layout, measured):
    """What `traces` expects, measured, is inside by the same band."""
    [trace] = [t for t in traces(opened(layout, ()), frequency_hz=F)
               if (t.first, t.second) == ("S", "R")]
    assert _s21(against_trace(layout, "S:R", measured(trace.expected_db))).inside


def test_the_demo_trace():
    """An invented trace with a joint that takes 7 dB from 5.1 to 5.9 GHz."""
    layout = chain.load(DEMOS / "haloscope.yaml")
    overlay = _s21(against_trace(layout, "S1:R1", DEMOS / "warm_trace.s2p", warm=True))
    [one] = overlay.deviations
    assert one.low_hz == pytest.approx(5.1e9, abs=2e7)
    assert one.high_hz == pytest.approx(5.9e9, abs=2e7)
    # The other parts of the invented line are 0.3 dB better than written.
    assert one.off_db == pytest.approx(-6.7, abs=0.1)
    assert "more than any one tolerance explains" in one.words


@pytest.mark.parametrize(("ports", "said"), [
    ("S:Q", "there is no element 'Q'"), ("S", "the file has 2 ports and 1 are named"),
    ("upp", "there is no element 'upp'"),
])
def test_refused_ports(layout, measured, ports, said):
    with pytest.raises(LayoutError, match=said):
        against_trace(layout, ports, measured(0.0))


def test_refused_files(layout, measured, tmp_path):
    with pytest.raises(LayoutError, match="--measured"):
        against_trace(layout, "S:R", tmp_path / "none.s2p")
    with pytest.raises(LayoutError, match="outside the band"):
        against_trace(layout, "S:R", measured(0.0, f=np.linspace(10e9, 12e9, 5)))


def test_several_pairs_have_to_be_told_apart(write_layout, measured):
    more = LAYOUT.replace("signals:", "  other:\n    - {id: U, kind: port, stage: room}\n"
                          "    - {id: V, kind: port, stage: room}\nsignals:")
    with pytest.raises(LayoutError, match="2 pairs of connectors"):
        against_trace(write_layout(more), None, measured(0.0))


def test_text_json_and_figure(layout, measured):
    found = against_trace(layout, "S:R", measured(np.where(F > 6e9, -7.0, 0.0)))
    assert "port 1 is S, port 2 is R" in str(found)
    result = json.loads(as_json(found.as_dict()))
    assert result["inside"] is False
    assert result["traces"][0]["deviations"][0]["off_db"] == pytest.approx(-7.0, abs=1e-5)
    assert len(as_bytes(measured_trace_figure(found), ".png")) > 5000
