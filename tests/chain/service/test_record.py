"""Somebody else puts it back: a line at a time, copies once, what was typed comes back."""

import csv
import json
import re
from pathlib import Path

import pytest

import chain
from chain.errors import LayoutError
from chain.service import service
from chain.service.equal_steps import numbers_text, shown_steps
from chain.service.levels import Levels
from chain.service.record import resumed
from chain.service.record_export import record_csv
from chain.service.sheet import service_pages

DEMOS = Path(__file__).parents[3] / "demo_chains"
QUBITS, HALOSCOPE = DEMOS / "qubit_row.yaml", DEMOS / "haloscope.yaml"


@pytest.fixture(scope="module")
def row():
    layout = chain.load(str(QUBITS))
    return service(layout, between=("plate", "mixing"), levels=Levels(layout))


@pytest.fixture(scope="module")
def haloscope():
    layout = chain.load(str(HALOSCOPE))
    return service(layout, between=("plate", "mixing"), levels=Levels(layout))


# -- equal copies once ---------------------------------------------------------------------------


def test_equal_copies_stand_once_and_every_step_stands_somewhere(row):
    for steps in (row.undo, row.redo):
        shown = shown_steps(row.layout, steps)
        assert sorted(one.joint for part in shown for one in part.steps) == sorted(
            one.joint for one in steps)
        assert [one.number for one in shown] == list(range(1, len(shown) + 1))
        assert len(shown) == 8  # four at the cables of a drive line, four at those of the readout
    text = str(row)
    assert len(text.splitlines()) < 200  # it was 388 lines for twelve lines that are equal
    assert text.count("V3-n.out / P3-n.in") == 2  # opened, made again
    assert "n = 1 .. 12" in text
    assert "V3-7" not in text


def test_a_copy_that_differs_has_steps_of_its_own():
    layout = chain.load(str(QUBITS), ["V3-7.tool=hex key 3 mm"])
    found = service(layout, between=("middle", "mixing"))
    shown = shown_steps(layout, found.undo)
    assert [one.copies for one in shown if one.copies] == [
        (1, 2, 3, 4, 5, 6), (1, 2, 3, 4, 5, 6), (8, 9, 10, 11, 12), (8, 9, 10, 11, 12)]
    alone = [one.step.joint for one in shown if any("-7" in key for key in one.step.elements)]
    assert alone == ["V3-7.out / P3-7.in", "P2-7.out / V3-7.in"]


def test_numbers_are_told_in_runs_of_either_direction():
    assert numbers_text([1, 2, 3, 5]) == "1 .. 3, 5"
    assert numbers_text([12, 11, 10]) == "12 .. 10"
    assert numbers_text([4]) == "4"


# -- a line, a stage -----------------------------------------------------------------------------


def test_a_line_alone_or_what_of_it_stands_between():
    layout = chain.load(str(HALOSCOPE))
    whole = service(layout, line="pump-in")
    assert whole.removed == ("S2", "F1", "W5", "A3", "W6")
    part = service(layout, line="pump-in", between=("plate", "mixing"))
    assert part.removed == ("W6",)
    assert {step.joint for step in part.undo} == {"A3.out / W6.in", "W6.out / C1.coupled"}
    assert len(service(chain.load(str(QUBITS)), line="drive").removed) == 12 * 8
    with pytest.raises(LayoutError, match="no line 'pump'"):
        service(layout, line="pump")


def test_every_step_stands_on_the_page_of_its_line_and_of_its_stage(row):
    pages = {page.name: page for page in service_pages(row)}
    assert set(pages) == {"index", "line-drive-1", "line-readout", "stage-2", "stage-4", "stage-5"}
    for name, page in pages.items():
        text = str(page.blocks)
        assert ("W2.out / A2.in" in text) == (name in ("index", "line-readout", "stage-5"))
        assert ("V3-n.out / P3-n.in" in text) == (name in ("index", "line-drive-1", "stage-5"))
        assert "qualified staff" in text
        assert "as found" in text
        assert "as left" in text
        assert "initials" in text
        # Steps have the numbers of the whole sheet, so that they can be told on the telephone.
        assert re.search(r"'3', 'W2.out / A2.in'", text) or name not in (
            "index", "line-readout", "stage-5")


def test_pages_and_record_are_written_as_one_folder(run, tmp_path):
    status, _out, _ = run("service", HALOSCOPE, "--line", "pump-in", "--out", tmp_path / "back")
    assert status == 0
    names = {path.name for path in (tmp_path / "back").iterdir()}
    assert {"index.html", "index.md", "line-pump-in.html", "stage-5.html", "record.csv"} <= names


# -- hold points ---------------------------------------------------------------------------------


def test_a_hold_point_before_each_can_from_the_inside_out(row):
    assert [hold.stage for hold in row.holds] == ["mixing", "middle", "still", "plate", "shield"]
    assert all("leak check by the maker's procedure" in hold.checks[-1] for hold in row.holds)
    made = [joint for hold in row.holds for joint in hold.joints]
    assert sorted(made) == sorted(step.joint for step in row.redo)
    text = str(row)
    assert text.index("REASSEMBLY") < text.index("HOLD before the can or shield round mixing")


def test_only_cans_that_were_opened_are_held_and_a_bench_has_none():
    layout = chain.load(str(HALOSCOPE))
    found = service(layout, between=("room", "plate"))
    assert [hold.stage for hold in found.holds] == ["plate", "shield"]
    warm = layout.changed(*(f"stages.{name}.temperature=295 K" for name in layout.stages))
    assert service(warm, remove=["A1"]).holds == ()


# -- the record ----------------------------------------------------------------------------------


def typed(found, path, change):
    """Write a record, its rows changed as somebody types: `change(place, row)` edits a row."""
    rows = list(csv.DictReader(record_csv(found).splitlines()))
    for place, row in enumerate(rows):
        change(place, row)
    with open(path, "w", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return str(path)


def test_the_record_has_a_row_for_each_joint_and_hold_with_what_to_read(haloscope):
    rows = list(csv.DictReader(record_csv(haloscope).splitlines()))
    assert [row["joint"] for row in rows] == [
        *(step.joint for step in haloscope.undo), *(step.joint for step in haloscope.redo),
        *(hold.name for hold in haloscope.holds)]
    assert {"as_found", "as_left", "initials", "time", "serial", "measured_db"} <= set(rows[0])
    for row, step in zip(rows[len(haloscope.undo):], haloscope.redo, strict=False):
        assert bool(row["from"]) == (step.reading is not None)
        if step.reading is not None and not step.reading.is_reflection:
            assert float(row["expected_db"]) == pytest.approx(step.reading.expected_db, rel=1e-8)


def test_the_sheet_goes_on_where_it_stopped(haloscope, tmp_path):
    def half(place, row):
        if place < 10 or place in (10, 11):
            row.update(initials="AB", time="10:20", as_found="tight")
            if row["high_db"]:
                row["measured_db"] = str(float(row["high_db"]) - 0.1)

    found = resumed(haloscope, typed(haloscope, tmp_path / "r.csv", half))
    assert len(found.entries) == 12
    assert not found.remarks
    assert [one[2].joint for one in found.next_steps] == [
        step.joint for step in haloscope.redo[2:]]
    assert f"next: close step 3, {haloscope.redo[2].joint}" in str(found)
    assert "AB" in str(found)

    def all_of_it(place, row):
        row.update(initials="AB", time="10:20")
        if row["high_db"]:
            row["measured_db"] = str(float(row["high_db"]) - 0.1)

    found = resumed(haloscope, typed(haloscope, tmp_path / "a.csv", all_of_it))
    assert found.next_steps == ()
    assert found.next_holds == ()
    assert "everything is initialled" in str(found)


def test_what_stands_out_in_a_record_is_told_with_its_place(tmp_path):
    layout = chain.load(str(HALOSCOPE), ["H1.serial=A-17"])
    found = service(layout, between=("plate", "mixing"), levels=Levels(layout))

    def odd(place, row):
        if row["way"] == "close" and row["joint"] == "W3.out / H1.in":
            row.update(initials="AB", serial="A-18", measured_db="-40")
        if row["way"] == "hold" and "mixing" in row["joint"]:
            row.update(initials="AB")

    result, said = resumed(found, typed(found, tmp_path / "o.csv", odd)), {}
    for remark in result.remarks:
        said.setdefault(remark.entry.joint, []).append(remark.says)
    joint = " ".join(said["W3.out / H1.in"])
    assert "-40.0 dB, expected -12.5 .. -11.5" in joint
    assert "serial A-18, and the layout says H1 A-17" in joint
    assert "nobody has initialled that it was opened" in joint
    hold = " ".join(said["before the can or shield round mixing is closed"])
    assert "not yet made again" in hold
    assert "W2.out / A2.in" in hold
    assert re.search(r"o\.csv:\d+:\d+", str(result))


@pytest.mark.parametrize(("column", "value", "message"), [
    ("joint", "W2.out / A9.in", "no joint to open"),
    ("measured_db", "minus 3", "no level in decibels"),
    ("initials", "", "nobody has initialled it"),
])
def test_mistakes_in_a_record_are_told_by_line(haloscope, tmp_path, run, column, value, message):
    def wrong(place, row):
        if place == 0:
            row.update(initials="AB", as_found="loose", measured_db="-3")
            row[column] = value

    path = typed(haloscope, tmp_path / "w.csv", wrong)
    status, out, err = run("service", HALOSCOPE, "--between", "plate", "mixing", "--record", path)
    assert status == 2
    assert message in err
    assert "w.csv:2:" in err
    assert out == ""


def test_the_same_from_the_command_line(run, tmp_path):
    record = tmp_path / "r.csv"
    words = ("service", HALOSCOPE, "--line", "pump-in", "--between", "plate", "mixing")
    assert run(*words, "--csv", record)[0] == 0
    first, *_ = rows = list(csv.DictReader(record.read_text().splitlines()))
    first.update(initials="AB", time="11:00")
    with open(record, "w", newline="") as file:
        writer = csv.DictWriter(file, list(first))
        writer.writeheader()
        writer.writerows(rows)
    status, out, _ = run(*words, "--record", record, "--json")
    found = json.loads(out)
    assert status == 0
    assert [row["joint"] for row in found["log"]] == ["W6.out / C1.coupled"]
    assert found["next"][0] == {"way": "open", "step": 2, "joint": "A3.out / W6.in"}
