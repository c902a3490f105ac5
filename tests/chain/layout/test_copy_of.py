"""What is a copy of what is declared: told by reading, never by a name with a dash and a number."""

import pytest

from chain.document.facts import Facts
from chain.layout.equal_lines import equal_lines
from chain.layout.naming import called
from chain.noise.budget import budgets
from chain.noise.budget_text import signals_text
from chain.service import service
from chain.service.levels import Levels

TEXT = """\
band: {start: 5 GHz, stop: 5 GHz, points: 1}
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK}}
lines:
  drive:
    copies: 3
    elements:
      - {id: E, kind: port, stage: room}
      - {id: P, kind: attenuator, stage: base, loss: 10 dB}
      - {id: A, kind: attenuator, stage: base, loss: 6 dB}
      - {id: R, kind: port, stage: room}
  left-1: [{id: S1, kind: port, stage: room}, {id: T1, kind: port, stage: base}]
  left-2: [{id: S2, kind: port, stage: room}, {id: T2, kind: port, stage: base}]
tones:
  drive: {into: E, frequency: 5 GHz, power: 1 nW}
  lo-1: {into: S1, frequency: 5 GHz, power: 1 nW}
signals:
  drive: {from: E, to: R}
  out-1: {from: S1, to: T1}
  out-2: {from: S2, to: T2}
"""


@pytest.fixture
def layout(write_layout):
    return write_layout(TEXT)


@pytest.mark.parametrize("rows", ["lines", "tones", "signals"])
def test_reading_says_what_is_a_copy(layout, rows):
    found = getattr(layout, rows)
    assert [(found[f"drive-{n}"].copy_of, found[f"drive-{n}"].number) for n in (1, 2, 3)] == [
        ("drive", 1), ("drive", 2), ("drive", 3)]
    for name, one in found.items():
        if not name.startswith("drive"):
            assert (one.copy_of, one.number, one.declared_name) == (None, None, name)


def test_elements_say_what_they_are_copies_of(layout):
    assert (layout.elements["P-2"].copy_of, layout.elements["P-2"].number) == ("P", 2)
    assert layout.elements["P-2"].declared_id == "P"
    assert (layout.elements["S1"].copy_of, layout.elements["S1"].declared_id) == (None, "S1")


def test_a_row_for_each_signal_named_by_hand_and_one_for_copies(layout):
    rows = [line.split("  ")[0] for line in signals_text(budgets(layout)).splitlines()[3:]]
    assert rows == ["drive-1 .. drive-3", "out-1", "out-2"]


def test_pages_count_copies_and_no_names_that_look_like_them(layout):
    facts = Facts(layout)
    assert facts.signal_text("drive-1") == "drive-1 (and 2 alike)"
    assert facts.signal_text("out-1") == "out-1"
    assert facts.id_text("P-2") == "P-n"


def test_a_signal_named_by_hand_into_a_copied_line_is_none_of_its_copies(write_layout):
    text = TEXT.replace("  drive: {from: E, to: R}", "  out-7: {from: E-1, to: R-1}\n"
                        "  out-8: {from: E-2, to: R-2}")
    assert Facts(write_layout(text)).signal_text("out-7") == "out-7"


def test_elements_are_called_together_where_they_are_copies(layout):
    assert called(layout, ["P-1", "P-2", "S1", "S2"]) == "P-1 .. P-2 (2 copies), S1, S2"


def test_a_tone_named_by_hand_keeps_its_name_on_the_drawing(write_layout):
    text = TEXT.replace("  drive: {into: E,", "  lo-2: {into: E-1,")
    layout = write_layout(text)
    group = next(one for one in equal_lines(layout) if "drive-2" in one.lines)
    assert group.tone_text(layout.tones["lo-2"]) == "lo-2"
    assert group.tone_text(write_layout(TEXT).tones["drive-2"]) == "drive-n"


def test_only_copies_that_are_equal_have_the_same_warm_transmission(write_layout):
    changed = TEXT.replace("copies: 3\n", "copies: 3\n    except: {2: {P: {loss: 13 dB}}}\n")
    layout = write_layout(changed)
    found = service(layout, remove=["P"], levels=Levels(layout))
    said = {step.joint: step.checks[-1] for step in found.redo}
    assert said["P-1.out / A-1.in"] == said["P-3.out / A-3.in"].replace("-3 ", "-1 ")
    assert "E-2 to R-2 at 5 GHz: -19.0 dB" in said["P-2.out / A-2.in"]
    assert "E-3 to R-3 at 5 GHz: -16.0 dB" in said["P-3.out / A-3.in"]
