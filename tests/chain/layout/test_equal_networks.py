"""Equal copies share one solution, and get what each would get by itself."""

import numpy as np
import pytest

import chain.noise.budget as module
from chain.noise.budget import budgets

TEXT = """\
band: {start: 4 GHz, stop: 8 GHz, points: 7}
stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}, base: {temperature: 20 mK}}
lines:
  drive:
    copies: 6
    except: {4: {P: {loss: 13 dB}}}
    elements:
      - {id: E, kind: port, stage: room}
      - {id: W, kind: cable, from: room, to: base, loss: 3 dB}
      - {id: P, kind: attenuator, stage: base, loss: 10 dB, return_loss: 12 dB}
      - {id: H, kind: amplifier, stage: plate, gain: 20 dB, noise_temperature: 3 K}
      - {id: R, kind: port, stage: room, return_loss: 15 dB}
signals:
  drive: {from: E, to: R}
  back: {from: P.out, to: R}
"""


@pytest.fixture
def layout(write_layout):
    return write_layout(TEXT)


def _solved(monkeypatch):
    """Count the networks that are solved."""
    solved = []
    own = module._of_network

    def counted(layout, signals, f):
        solved.append([signal.name for signal in signals])
        return own(layout, signals, f)

    monkeypatch.setattr(module, "_of_network", counted)
    return solved


def test_copies_share_one_solution(layout, monkeypatch):
    solved = _solved(monkeypatch)
    assert len(budgets(layout)) == 12
    # Five equal copies, and the one that differs.
    assert solved == [["drive-1", "back-1"], ["drive-4", "back-4"]]


@pytest.mark.parametrize("number", [1, 2, 4, 6])
def test_each_copy_gets_what_it_would_get_by_itself(layout, number):
    name = f"drive-{number}"
    alone, shared = layout.budget(name), budgets(layout)[name]
    assert (shared.signal, shared.from_port, shared.to_port) == (
        name, f"E-{number}.port", f"R-{number}.port")
    assert set(shared.shares_quanta) == {f"{key}-{number}" for key in "EWPHR"}
    for key, share in alone.shares_quanta.items():
        # Another copy has its reflections' phases in the same order: the same sums.
        assert shared.shares_quanta[key] == pytest.approx(share, rel=1e-12)
    assert shared.gain_db == pytest.approx(alone.gain_db, abs=1e-12)
    assert [row.id for row in shared.rows] == [row.id for row in alone.rows]
    assert shared.warnings == alone.warnings
    assert shared.laws.equilibrium < 1e-9


def test_a_copy_at_another_temperature_is_solved_by_itself(write_layout, monkeypatch):
    layout = write_layout(TEXT.replace("{P: {loss: 13 dB}}", "{P: {temperature: 1 K}}"))
    solved = _solved(monkeypatch)
    found = budgets(layout)
    assert len(solved) == 2
    assert np.all(found["drive-4"].shares_quanta["P-4"] > found["drive-3"].shares_quanta["P-3"])


def test_lines_that_are_joined_otherwise_are_not_alike(write_layout, monkeypatch):
    text = TEXT.replace("copies: 6", "copies: 2").replace("    except: {4: {P: {loss: 13 dB}}}\n", "")
    text = text.replace(
        "{id: P, kind: attenuator, stage: base, loss: 10 dB, return_loss: 12 dB}",
        "{id: P, kind: coupler, stage: base, coupling: 10 dB}",
    ).replace("signals:", "  one: [{join: P-1.coupled}, {id: T1, kind: termination, stage: base}]\n"
              "  two: [{join: P-1.isolated}, {id: T2, kind: termination, stage: room}]\n"
              "  three: [{join: P-2.isolated}, {id: T3, kind: termination, stage: base}]\n"
              "  four: [{join: P-2.coupled}, {id: T4, kind: termination, stage: room}]\nsignals:")
    solved = _solved(monkeypatch)
    found = budgets(write_layout(text))
    assert len(solved) == 2
    one, two = (found[f"back-{n}"].system_noise_quanta for n in (1, 2))
    assert np.all(np.abs(one / two - 1) > 1e-3)
