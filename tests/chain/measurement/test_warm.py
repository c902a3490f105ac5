"""Everything at room temperature, and the sheet of what an analyser should show."""

import csv
import io
import json

import numpy as np
import pytest

from chain import LayoutError
from chain.measurement.analyser import opened, traces
from components import catalogue

LAYOUT = """
band: {start: 4 GHz, stop: 8 GHz, points: 21}
stages: {room: {temperature: 296 K}, plate: {temperature: 4 K}, base: {temperature: 20 mK}}
lines:
  line:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: plate, loss: 20 dB +/- 0.3 dB}
    - {id: W, kind: cable, from: plate, to: base, length: 0.5 m, coax: niobium-titanium-0.86}
    - {id: D, kind: device, stage: base}
    - {id: I, kind: isolator, stage: base, insertion_loss: 0.3 dB, isolation: 20 dB,
       warm: {insertion_loss: 0.7 dB, isolation: 13 dB}}
    - {id: X, kind: paramp, stage: base, gain: 20 dB, mixing: three-wave, pump: pump,
       insertion_loss: 1 dB}
    - {id: H, kind: amplifier, stage: plate, gain: 36 dB, noise_temperature: 2 K,
       unpowered_loss: 28 dB}
    - {id: G, kind: amplifier, stage: room, gain: 30 dB, noise_figure: 2 dB,
       warm: {gain: 27 dB}}
    - {id: R, kind: port, stage: room}
  pump:
    - {id: P, kind: port, stage: room}
    - {id: T, kind: termination, stage: base, temperature: 50 mK}
tones: {pump: {into: P, frequency: 14 GHz, power: -30 dBm}}
signals: {up: {from: D.out, to: R}, down: {from: S, to: D.in}}
"""


@pytest.fixture
def load(write_layout):
    return lambda *changes: write_layout(LAYOUT, *changes)


def _trace(found, first, second):
    return next(t for t in found if (t.first, t.second) == (first, second))


def test_gain_by_hand(load):
    # 0.7 dB isolator, paramp off 1 dB, amplifier without bias 28 dB, the room's with 27 dB.
    gain = load().warm().budget("up").gain_db
    assert np.allclose(gain, -0.7 - 1.0 - 28.0 + 27.0, atol=1e-9)


def test_superconducting_coax_is_a_lossy_normal_metal(load):
    layout = load()
    coax = catalogue.coax()["niobium-titanium-0.86"]
    f = layout.band.frequency_hz
    cold, warm = (each.budget("down").gain_db for each in (layout, layout.warm()))
    assert np.allclose(cold, -20 - 0.5 * coax.loss_db_per_m(frequency_hz=f, temperature_k=2.0),
                       atol=1e-9)
    assert np.allclose(warm, -20 - 0.5 * coax.loss_db_per_m(frequency_hz=f, temperature_k=296.0),
                       atol=1e-9)
    assert np.all(warm < cold - 5)


def test_everything_emits_at_room_temperature(load):
    """Equilibrium: all is passive but G, and what arrives at D is that of a load at 296 K."""
    from components.thermal_noise import quanta

    b = load().warm().budget("down")
    expected = quanta(frequency_hz=b.frequency_hz, temperature_k=296.0)
    assert np.allclose(b.noise_at_to_quanta, expected, rtol=1e-9)


def test_states_and_remarks(load):
    warm = load("H.state=dead").warm()
    states = {key: element.settings["state"] for key, element in warm.elements.items()}
    assert (states["X"], states["H"], states["G"]) == ("off", "dead", "ok")
    assert warm.elements["T"].settings["temperature"].value == 296.0
    said = " ".join(warm.remarks)
    assert "X" in said
    assert "everything is at 296 K" in said


def test_what_is_taken_as_cold_is_told(load):
    assert not any("taken as they are cold" in text for text in load().warm().remarks)
    assert any("taken as they are cold" in text and "I" in text
               for text in load("I.warm=").warm().remarks)


@pytest.mark.parametrize(("change", "gain_db"), [
    ("H.warm={state: ok}", 36.0), ("H.warm={gain: 12 dB}", 12.0),
    ("H.warm={unpowered_loss: 40 dB}", -40.0), ("H.warm={state: bypassed}", 0.0),
])
def test_warm_amplifiers(load, change, gain_db):
    assert np.allclose(load(change).warm().budget("up").gain_db, -0.7 - 1.0 + gain_db + 27.0)


def test_a_warm_value_takes_the_place_of_another_cold_one(load):
    warm = load("H.warm={noise_figure: 3 dB}").warm()
    assert not warm.elements["H"].settings.given("noise_temperature")
    loss = load("W.warm={loss: 4 dB}").warm().budget("down").gain_db
    assert np.allclose(loss, -24.0)


def test_warm_values_that_cannot_hold_are_refused(load):
    with pytest.raises(LayoutError, match=r"warm: .*noise"):
        load("H.warm={noise_figure: 3 dB, noise_temperature: 100 K}").warm()


def test_a_layout_without_a_room_is_warmed_to_one(write_layout):
    layout = write_layout("""
band: {start: 4 GHz, stop: 8 GHz, points: 2}
stages: {plate: {temperature: 4 K}}
lines:
  line:
    - {id: S, kind: port, stage: plate}
    - {id: R, kind: port, stage: plate}
signals: {through: {from: S, to: R}}
""")
    assert layout.warm().stages["plate"].temperature_k == 295.0


def test_budget_warm_on_the_command_line(run, load):
    status, out, _ = run("budget", load().path, "--warm", "--signal", "up", "--json")
    result = json.loads(out)
    assert status == 0
    assert np.allclose(result["gain_db"], -2.7)
    assert any("everything is at 296 K" in text for text in result["warnings"])


# -- what the analyser shows ------------------------------------------------------------------


def test_pairs_of_connectors_both_ways(load):
    found = traces(opened(load().warm(), ()))
    there = _trace(found, "S", "R")
    assert there.through == ("A", "W", "D", "I", "X", "H", "G")
    # Back through G nothing comes, so that direction is not there.
    assert not any((t.first, t.second) == ("R", "S") for t in found)
    assert not any({"P", "S"} == {t.first, t.second} for t in found)


def test_expected_band_and_direction(load):
    found = traces(opened(load("G.warm={state: bypassed}").warm(), ()), within_db=0.5)
    there, back = _trace(found, "S", "R"), _trace(found, "R", "S")
    # Forward 0.7 dB and backward 13 dB in the isolator: all else is the same both ways.
    assert np.allclose(there.expected_db - back.expected_db, 13 - 0.7, atol=1e-9)
    # 95 of 100: 1.96 standard deviations of A's 0.3 dB; by the 400 draws uncertain by some 3 %.
    assert np.allclose(there.high_db - there.expected_db, 1.96 * 0.3 + 0.5, atol=0.03)
    assert np.allclose(there.expected_db - there.low_db, 1.96 * 0.3 + 0.5, atol=0.03)


def test_opening_a_joint_gives_both_its_ends(load):
    view = opened(load().warm(), ("D.in",))
    assert set(view.ends) == {"D.in", "W.out"}
    found = traces(view, only=tuple(view.ends))
    down, up = _trace(found, "S", "W.out"), _trace(found, "D.in", "R")
    assert down.through == ("A", "W")
    assert up.through == ("D", "I", "X", "H", "G")
    assert np.allclose(up.expected_db, -0.7 - 1 - 28 + 27)
    assert down.opened == ("D.in",)


def test_either_side_names_the_same_joint(load):
    views = [opened(load().warm(), ports) for ports in (("D.in",), ("W.out",), ("D.in", "W.out"))]
    assert [set(view.ends) for view in views] == [{"D.in", "W.out"}] * 3


def test_two_open_joints_leave_what_is_between(load):
    view = opened(load().warm(), ("A.in", "A.out"))
    alone = _trace(traces(view, only=tuple(view.ends)), "A.in", "A.out")
    assert np.allclose(alone.expected_db, -20.0)


def test_reflection_of_known_size(load):
    """A mirror behind the open joint: 3 dB in and out of it, and its own 0.2 dB."""
    found = traces(opened(load("A.return_loss=20 dB").warm(), ()))
    at_s = _trace(found, "S", "S")
    # Nearest the analyser: 1 % in power, and next to nothing back through 20 dB twice.
    assert np.allclose(at_s.expected_db, -20.0, atol=0.02)
    assert np.all(np.isneginf(_trace(traces(opened(load().warm(), ())), "S", "S").expected_db))


def test_two_mismatches_make_a_band_by_their_phases(load):
    found = traces(opened(load("A.return_loss=10 dB", "A.loss=0.1 dB").warm(), ("W.in",)),
                   within_db=0.0)
    through = _trace(found, "S", "A.out")
    # Mismatch limits of two reflections of 0.316 with 0.1 dB between: about +0.8, -0.9 dB.
    spread = through.high_db - through.low_db
    limits = 20 * np.log10((1 + 0.1) / (1 - 0.1))
    assert np.all(spread > 0.9 * limits)
    assert np.all(spread < limits)


def test_equal_copies_are_told_once(write_layout):
    layout = write_layout("""
band: {start: 4 GHz, stop: 8 GHz, points: 2}
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK}}
lines:
  loop:
    copies: 5
    elements:
      - {id: S, kind: port, stage: room}
      - {id: A, kind: attenuator, stage: base, loss: 40 dB}
      - {id: R, kind: port, stage: room}
""")
    found = traces(opened(layout.warm(), ()))
    through = _trace(found, "S-1", "R-1")
    assert through.alike == tuple((f"S-{n}", f"R-{n}") for n in range(2, 6))
    assert sum(t.what == "transmission" for t in found) == 1


# -- the sheet --------------------------------------------------------------------------------


def test_sheet_to_tick_off(run, load):
    status, out, err = run("warm", load().path, "--open", "D.in")
    assert (status, err) == (0, "")
    rows = [line for line in out.splitlines() if line.startswith("[ ]")]
    assert any("S " in row and "W.out" in row for row in rows)
    assert any("D.in" in row and "-2.7 (" in row for row in rows)
    assert "joints open at D.in" in out
    assert "instructions" in out


def test_sheet_json_and_csv(run, load, tmp_path):
    target = tmp_path / "warm.csv"
    status, out, _ = run("warm", load().path, "--open", "D.in", "--json", "--csv", target)
    result = json.loads(out)
    assert status == 0
    trace = next(t for t in result["traces"] if t["from"] == "D.in" and t["to"] == "R")
    assert len(trace["expected_db"]) == len(trace["low_db"]) == 21
    dark = next(t for t in result["traces"] if t["from"] == t["to"] == "S")
    assert dark["expected_db"] == [None] * 21
    rows = list(csv.DictReader(io.StringIO(target.read_text())))
    mine = [row for row in rows if (row["from"], row["to"]) == ("D.in", "R")]
    assert [float(row["expected_db"]) for row in mine] == pytest.approx(trace["expected_db"])


@pytest.mark.parametrize("ending", ["svg", "png", "pdf"])
def test_figure(run, load, tmp_path, ending):
    target = tmp_path / f"warm.{ending}"
    assert run("warm", load().path, "--figure", target)[0] == 0
    assert target.stat().st_size > 5000


@pytest.mark.parametrize(("words", "said"), [
    (("--open", "Q.in"), "there is no element 'Q'"),
    (("--open", "D.inn"), "did you mean 'in'"),
    (("--open", "D"), "has more than one port"),
    (("--draws", "1"), "outside 2"),
    (("--within", "3"), "has no unit"),
    (("--within", "-1 dB"), "below 0"),
    (("--figure", "warm.bmp"), "does not say what"),
])
def test_refused(run, load, words, said):
    status, out, err = run("warm", load().path, *words)
    assert (status, out) == (2, "")
    assert said in err


def test_nothing_is_written_where_it_cannot_be(run, load, tmp_path):
    assert run("warm", load().path, "--csv", tmp_path / "no" / "warm.csv")[0] == 3
