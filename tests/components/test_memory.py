"""Responses that are kept: right after every change, and bounded."""

import numpy as np
import pytest

from components import response
from components.conditions import Conditions
from components.declaration import KINDS
from components.memory import Memory
from components.nport import NPort
from components.quantities import parse
from components.settings import Settings
from components.touchstone import NamedFile

F = np.linspace(4e9, 8e9, 5)
PAD = KINDS["attenuator"]


def settings_of(**values):
    """Return settings of a pad, 3 dB where nothing else is said."""
    return Settings(PAD, {"loss": parse("3 dB", "ratio"), **values})


def nport_of(size):
    """Return an n-port with so many numbers."""
    return NPort.plain(("in",), {(0, 0): np.zeros(size)}, {})


class Asked:
    """Counts how often a response is worked out."""

    def __init__(self, size=3):
        self.times, self.size = 0, size

    def __call__(self):
        self.times += 1
        return nport_of(self.size)


def test_the_same_is_worked_out_once():
    memory, asked, settings = Memory(), Asked(), settings_of()
    first = memory.recall(PAD, settings, (Conditions(F, 4.0),), asked)
    again = memory.recall(PAD, settings, (Conditions(F.copy(), 4.0),), asked)
    assert again is first
    assert asked.times == 1
    memory.clear()
    memory.recall(PAD, settings, (Conditions(F, 4.0),), asked)
    assert asked.times == 2


@pytest.mark.parametrize("other", [
    Conditions(F + 1.0, 4.0), Conditions(F, 4.1), Conditions(F, 4.0, ((0.0, 4.0), (1.0, 300.0))),
    Conditions(F, 4.0, pump_hz=11e9), Conditions(F, 4.0, uniform_k=4.0),
])
def test_other_conditions_are_worked_out(other):
    memory, asked, settings = Memory(), Asked(), settings_of()
    memory.recall(PAD, settings, (Conditions(F, 4.0),), asked)
    memory.recall(PAD, settings, (other,), asked)
    assert asked.times == 2


def test_other_settings_are_worked_out_though_they_are_equal():
    memory, asked = Memory(), Asked()
    memory.recall(PAD, settings_of(), (Conditions(F, 4.0),), asked)
    memory.recall(PAD, settings_of(), (Conditions(F, 4.0),), asked)
    assert asked.times == 2


@pytest.mark.parametrize(("settings", "at"), [
    (settings_of(return_loss=parse("20 dB", "ratio")),
     Conditions(F, 4.0, phase=lambda port: np.array([[1.0], [1j]]))),
    (settings_of(), Conditions(F, 4.0, vary={"loss": np.zeros((3, 1))})),
    (settings_of(), Conditions(F, np.array([[4.0], [5.0]]))),
])
def test_answers_that_are_one_of_many_are_not_kept(settings, at):
    memory, asked = Memory(), Asked()
    for _ in range(2):
        memory.recall(PAD, settings, (at,), asked)
    assert asked.times == 2


def test_a_file_that_has_changed_is_read_again_by_who_names_it_anew(tmp_path):
    path = tmp_path / "pad.s2p"
    measured = KINDS["measured"]
    found = []
    for size in ("0.5", "0.25"):
        path.write_text(f"# GHz S MA R 50\n4 0 0 {size} 0 {size} 0 0 0\n8 0 0 {size} 0 {size} 0 0 0")
        settings = Settings(measured, {"data": NamedFile(str(path))})
        nport = response.respond(measured, settings, Conditions(F, 4.0))
        found.append(float(np.abs(nport.scattering[1, 0][0])))
        # Another length, so that a clock of coarse steps cannot hide the change.
        path.write_text(path.read_text() + "\n! later\n")
    assert found == pytest.approx([0.5, 0.25])


def test_the_oldest_go_when_there_is_too_much():
    memory = Memory(most_values=100)
    rows = [settings_of() for _ in range(5)]
    asked = [Asked(size=30) for _ in rows]
    for settings, each in zip(rows, asked, strict=True):
        memory.recall(PAD, settings, (Conditions(F, 4.0),), each)
    memory.recall(PAD, rows[-1], (Conditions(F, 4.0),), asked[-1])
    memory.recall(PAD, rows[0], (Conditions(F, 4.0),), asked[0])
    assert asked[-1].times == 1
    assert asked[0].times == 2
