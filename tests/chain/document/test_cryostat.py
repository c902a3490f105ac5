"""The page of the cryostat: its drawing first, then what is wrong; pictures on white paper."""

import csv
import io
import re
from pathlib import Path

import pytest

import chain
from chain.document import document
from chain.heat.by_line import heat_by_line
from chain.noise.along_path import path_noise
from chain.noise.arrivals import arrivals

DEMOS = sorted((Path(__file__).parents[3] / "demo_chains").glob("*.yaml"))

ALIKE = """
title: Two amplifiers alike
band: {start: 4 GHz, stop: 8 GHz, points: 3}
stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}}
lines:
  one:
    - {id: D1, kind: device, stage: plate, loads: [in]}
    - {id: H1, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 2 K}
    - {id: R1, kind: port, stage: room}
  two:
    - {id: D2, kind: device, stage: plate, loads: [in]}
    - {id: H2, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 2 K}
    - {id: R2, kind: port, stage: room}
signals: {one: {from: D1.out, to: R1}, two: {from: D2.out, to: R2}}
"""


@pytest.fixture(scope="module")
def pages():
    """{demo: its files}."""
    return {path.stem: document(chain.load(str(path))) for path in DEMOS}


@pytest.mark.parametrize("stem", [path.stem for path in DEMOS])
def test_the_cryostats_page_begins_with_its_drawing_and_then_what_is_wrong(pages, stem):
    headings = re.findall(r"<h2>([^<]*)</h2>", pages[stem]["index.html"])
    assert headings[:2] == ["Drawing", "Findings"]


@pytest.mark.parametrize("stem", [path.stem for path in DEMOS])
def test_every_picture_lies_on_white_paper(pages, stem):
    pictures = {name: text for name, text in pages[stem].items() if name.endswith(".svg")}
    assert pictures
    for name, text in pictures.items():
        width, height = re.search(r'width="([\d.]+)" height="([\d.]+)"', text).groups()
        paper = re.search(r'<(?:rect|path|circle|line|text)[ /][^>]*>', text)[0]
        assert paper == f'<rect width="{width}" height="{height}" fill="#fff"/>', name


def test_why_is_said_once_for_all_that_a_rule_finds(write_layout):
    layout = write_layout(ALIKE)
    files = document(layout)
    told = {}
    for finding in layout.check().findings:
        told.setdefault((finding.code, finding.why), []).append(finding)
    assert any(len(found) > 1 for found in told.values())
    for (code, why), found in told.items():
        # In Markdown nothing is wrapped, so a sentence is found whole.
        plain = files["index.md"].replace("\\", "")
        assert plain.count(f"{code}. Why: {why}") == 1
        assert all(finding.says in plain for finding in found)
    rows = list(csv.DictReader(io.StringIO(files["data/findings.csv"])))
    assert [row["code"] for row in rows] == [f.code for f in layout.check().findings]
    assert all(row["why"] for row in rows)


# -- new pictures -------------------------------------------------------------------------------


def sheet(files, name):
    return list(csv.DictReader(io.StringIO(files[f"data/{name}.csv"])))


def test_photons_at_every_device_are_told_with_their_emitters(pages):
    layout = chain.load(str(DEMOS[0]))
    assert DEMOS[0].stem == "haloscope"
    rows = sheet(pages["haloscope"], "photons")
    for one in arrivals(layout):
        own = {row["from"]: float(row["photons"]) for row in rows if row["port"] == one.port}
        assert own == pytest.approx({key: float(v[0]) for key, v in one.photons.items()}, rel=1e-6)
    page = pages["haloscope"]["line-receive.html"]
    assert "Photons at the device" in page
    assert "Photons arriving at D1.in, by what emits them" in page
    assert "Photons arriving at D1.out, by what emits them" in page


def test_equal_copies_of_a_device_are_told_once(pages):
    html = pages["qubit_row"]["index.html"]
    assert "Q-n.in" in html
    assert "Q-2.in" not in html


def test_a_path_that_amplifies_has_its_picture_with_every_place(pages):
    files = pages["haloscope"]
    budget = chain.load(str(DEMOS[0])).budget("receive")
    picture = files["figures/line-receive--receive-path.svg"]
    path = path_noise(budget, len(budget.frequency_hz) // 2)
    for station in path.stations:
        assert f">{station.name} {station.kind}".rstrip() in picture
    assert "figures/line-receive--drive-path.svg" not in files


def test_the_map_of_heat_tells_every_line_at_every_stage(pages):
    layout = chain.load(str(DEMOS[0]))
    picture = pages["haloscope"]["figures/heat-lines.svg"]
    found = heat_by_line(layout.heat())
    for row in found.rows:
        for stage in found.stages:
            assert f"<title>{row} at {stage}: {', '.join(found.words(row, stage))}</title>" in picture


LOOP = """
title: A loop that oscillates
band: {start: 4 GHz, stop: 8 GHz, points: 3}
stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}}
lines:
  one:
    - {id: D1, kind: device, stage: plate, loads: [in]}
    - {id: A0, kind: attenuator, stage: plate, loss: 0.5 dB, return_loss: 12 dB}
    - {id: H1, kind: amplifier, stage: plate, gain: 40 dB, noise_temperature: 2 K,
       reverse_isolation: 5 dB}
    - {id: A1, kind: attenuator, stage: room, loss: 1 dB, return_loss: 12 dB}
    - {id: R1, kind: port, stage: room}
signals: {one: {from: D1.out, to: R1}}
"""


def test_pages_of_a_loop_that_may_oscillate_are_whole(write_layout):
    files = document(write_layout(LOOP))
    assert "H1 may oscillate" in files["line-one.html"]
    assert "not known anywhere in the band" in files["line-one.html"]
    drawn = {name for name in files if name.startswith("figures/")}
    assert not any("--one" in name for name in drawn)  # no empty picture
    for name, text in files.items():
        if isinstance(text, str):
            assert not re.search(r"(?<![a-z])nan(?![a-z])", text), name
