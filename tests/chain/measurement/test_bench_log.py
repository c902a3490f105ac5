"""Levels that were typed in: read back, each beside what the layout should show."""

import csv
import json
from pathlib import Path

import pytest

import chain
from chain.measurement.bench_log import bench_log
from chain.measurement.typed_readings import typed_readings
from chain.measurement.warm import warmed

HALOSCOPE = Path(__file__).parents[3] / "demo_chains" / "haloscope.yaml"

LINE = """
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages: {room: {temperature: 295 K}}
lines:
  up:
    - {id: S1, kind: port, stage: room}
    - {id: A1, kind: attenuator, stage: room, loss: 10 dB}
    - {id: A2, kind: attenuator, stage: room, loss: 6 dB, return_loss: 20 dB}
    - {id: R1, kind: port, stage: room}
"""


def write(path, *rows, head="from,to,opened,frequency_hz,measured_db,initials,time"):
    path.write_text("\n".join((head, *rows)) + "\n")
    return str(path)


def test_each_level_stands_beside_its_interval(write_layout, tmp_path):
    path = write(
        tmp_path / "r.csv", "S1,R1,,5e9,-16.2,AB,10:00", "S1,A1.out,A1.out,5e9,-10.7,,",
        "A2.in,R1,A1.out,6e9,-6.4,,", "S1,S1,,5e9,-40,,", "R1,S1,,7e9,,,", "R1,S1,,7e9,-15.9,,",
    )
    found = bench_log(warmed(write_layout(LINE)), typed_readings(path, "--readings"), path)
    # 16, 10, 6 dB of pads, half a decibel for connections; behind 10 dB twice the reflections of
    # A2's two ports in any phase, -20 dB and behind its 6 dB twice -32 dB: -19.73 dB together.
    assert [one.verdict for one in found.readings] == [
        "inside", "outside", "inside", "inside", "inside"]
    assert [one.expected_db for one in found.readings] == pytest.approx(
        [-16, -10, -6, -39.73, -16], abs=0.1)
    assert not found.inside
    assert "1 of 5 outside" in str(found)
    assert found.readings[0].reading.initials == "AB"


def test_a_reflection_of_which_the_layout_states_nothing_is_not_known(write_layout, tmp_path):
    path = write(tmp_path / "r.csv", "S1,S1,,5e9,-30,,")
    bare = write_layout(LINE.replace(", return_loss: 20 dB", ""))
    found = bench_log(bare, typed_readings(path, "--readings"), path)
    assert [one.verdict for one in found.readings] == ["not known"]
    assert found.inside


def test_the_record_of_a_service_comes_back(run, tmp_path):
    record, log = tmp_path / "record.csv", tmp_path / "log.csv"
    run("service", HALOSCOPE, "--line", "pump-in", "--between", "plate", "mixing", "--csv", record)
    rows = list(csv.DictReader(record.read_text().splitlines()))
    asked = [row for row in rows if row["expected_db"]]
    assert asked
    for row in asked:
        row.update(measured_db=row["expected_db"], initials="AB", time="11:40")
    with open(record, "w", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    status, out, _ = run("warm", HALOSCOPE, "--readings", record, "--csv", log, "--json")
    found = json.loads(out)
    assert status == 0
    assert found["inside"]
    assert [(one["from"], one["to"]) for one in found["log"]] == [
        (row["from"], row["to"]) for row in asked]
    # What the sheet said is what the warm layout shows: the same numbers by another road.
    for one, row in zip(found["log"], asked, strict=True):
        assert one["expected_db"] == pytest.approx(float(row["expected_db"]), abs=1e-6)
    logged = list(csv.DictReader(log.read_text().splitlines()))
    assert [row["verdict"] for row in logged] == ["inside"] * len(asked)
    assert logged[0]["initials"] == "AB"


@pytest.mark.parametrize(("row", "message"), [
    ("S1,R9,,5e9,-3,,", "no connector 'R9'"),
    ("S1,R1,A9.out,5e9,-3,,", "opened: there is no element 'A9'"),
    ("S1,R1,,five,-3,,", "frequency_hz is 'five'"),
    ("S1,R1,,5e9,loud,,", "measured_db is 'loud'"),
    ("S1,R1,,-5e9,-3,,", "no frequency above 0"),
    (",R1,,5e9,-3,,", "from is empty"),
    ("S1,R1,,5e9,,,", "no level was typed in"),
])
def test_mistakes_are_told_by_line(run, tmp_path, row, message):
    layout, path = tmp_path / "l.yaml", write(tmp_path / "r.csv", row)
    layout.write_text(LINE)
    status, out, err = run("warm", layout, "--readings", path)
    assert status == 2
    assert message in err
    assert "r.csv" in err
    assert out == ""


def test_a_file_without_the_columns_is_refused(run, tmp_path):
    path = write(tmp_path / "r.csv", "S1,-3", head="from,measured_db")
    status, _, err = run("warm", HALOSCOPE, "--readings", path)
    assert status == 2
    assert "no column 'to'" in err


def test_copies_are_found_by_their_own_names(tmp_path):
    qubits = HALOSCOPE.with_name("qubit_row.yaml")
    path = write(tmp_path / "r.csv", "E-7,V1-7.out,V1-7.out,6e9,-10,,",
                 "E-8,V1-8.out,V1-8.out,6e9,-10,,")
    found = bench_log(warmed(chain.load(str(qubits))), typed_readings(path, "--readings"), path)
    assert found.readings[0].expected_db == pytest.approx(found.readings[1].expected_db, abs=1e-9)
