"""The page of the cryostat: its drawing first, then what is wrong; pictures on white paper."""

import csv
import io
import re
from pathlib import Path

import pytest

import chain
from chain.document import document

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
