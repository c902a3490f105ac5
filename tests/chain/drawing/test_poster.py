"""Many lines on one picture: rows that wrap, sheets of A3 on which every letter can be read."""

import itertools
import re
import xml.etree.ElementTree as ET

import pytest

from chain.drawing import draw, legend, posters
from chain.drawing.poster import EDGE_MM, LONG_MM, SHORT_MM, Row, on_sheets, scale_of
from chain.layout.equal_lines import equal_lines

SVG = "{http://www.w3.org/2000/svg}"
LEAST_MM = 1.7
"""Height of a letter that is read from half a metre (common practice, no source)."""


def many(lines):
    """Return a layout of so many lines, no two alike."""
    rows = "".join(
        f"  l{n}:\n    - {{id: S{n}, kind: port, stage: room}}\n"
        f"    - {{id: W{n}, kind: cable, from: room, to: mixing, loss: {n} dB}}\n"
        f"    - {{id: A{n}, kind: attenuator, stage: mixing, loss: 20 dB}}\n"
        f"    - {{id: T{n}, kind: termination, stage: mixing}}\n" for n in range(1, lines + 1)
    )
    return ("title: Many lines\nband: {start: 4 GHz, stop: 8 GHz, points: 3}\n"
            "stages: {room: {temperature: 295 K}, mixing: {temperature: 20 mK}}\n"
            f"lines:\n{rows}")


@pytest.mark.parametrize("lines", [1, 8, 30, 150])
def test_every_line_is_on_a_sheet_of_a3_inside_its_edges_and_legible(write_layout, lines):
    layout = write_layout(many(lines))
    sheets = posters(layout, equal_lines(layout), "which file")
    said = ""
    for svg, lying in sheets:
        root = ET.fromstring(svg)
        width, height = ((LONG_MM, SHORT_MM) if lying else (SHORT_MM, LONG_MM))
        assert (root.get("width"), root.get("height")) == (f"{width:g}mm", f"{height:g}mm")
        assert root.get("viewBox") == f"0 0 {width:g} {height:g}"
        for inner in root.findall(f"{SVG}svg"):
            left, top, across, down = (float(inner.get(k)) for k in ("x", "y", "width", "height"))
            assert left >= EDGE_MM - 0.01
            assert left + across <= width - EDGE_MM + 0.01
            assert EDGE_MM <= top < top + down <= height - EDGE_MM
            scale = across / float(inner.get("viewBox").split()[2])
            sizes = [float(t.get("font-size")) for t in inner.iter(f"{SVG}text")]
            assert min(sizes) * scale >= LEAST_MM
        said += svg
    drawn = re.findall(r">(S\d+)</text>", said)
    assert sorted(drawn) == sorted(f"S{n}" for n in range(1, lines + 1))
    assert len(sheets) == 1 or lines > 30


def test_rows_of_a_sheet_do_not_lie_on_each_other(write_layout):
    layout = write_layout(many(40))
    for svg, _ in posters(layout, equal_lines(layout), ""):
        boxes = [(float(s.get("y")), float(s.get("height")))
                 for s in ET.fromstring(svg).findall(f"{SVG}svg")]
        for (top, height), (below, _) in itertools.pairwise(boxes):
            assert top + height < below


def test_a_sheet_takes_the_arrangement_that_it_shows_largest():
    legend_row = Row("", 100, 10)
    wide, square = [Row("", 4000, 200)], [Row("", 1000, 200)] * 4
    assert on_sheets([wide, square], legend_row) == [square]
    assert scale_of(square, legend_row)[0] > scale_of(wide, legend_row)[0]


def test_a_drawing_of_many_lines_wraps_and_says_every_line_once(write_layout):
    svg = draw(write_layout(many(30)))
    root = ET.fromstring(svg)
    rows = root.findall(f"{SVG}svg")
    assert len(rows) == 3  # twelve in a row
    assert float(root.get("width")) == max(float(row.get("width")) for row in rows)
    assert all(svg.count(f">A{n}</text>") == 1 for n in range(1, 31))


def test_a_legend_is_as_wide_as_it_is_told(write_layout):
    layout = write_layout(many(2))
    assert 'width="472"' in legend(layout, 12)  # four kinds
    assert 'width="236"' in legend(layout, 2)


def test_chosen_lines_wrap_too(write_layout):
    svg = draw(write_layout(many(30)), [f"l{n}" for n in range(1, 26)])
    assert len(ET.fromstring(svg).findall(f"{SVG}svg")) == 3
    assert all(svg.count(f">A{n}</text>") == 1 for n in range(1, 26))


def test_joined_lines_stay_joined_on_a_sheet(write_layout):
    joined = "".join(
        f"  j{n}:\n    - {{join: C{n}.coupled}}\n    - {{id: X{n}, kind: cable, from: mixing, "
        f"to: room, loss: 1 dB}}\n    - {{id: Y{n}, kind: port, stage: room}}\n" for n in range(9)
    )
    couplers = "".join(
        f"    - {{id: C{n}, kind: coupler, stage: mixing, coupling: 20 dB, loads: [isolated]}}\n"
        for n in range(9)
    )
    layout = write_layout(many(4).replace("  l1:\n", (
        "  host:\n    - {id: S, kind: port, stage: room}\n"
        "    - {id: W, kind: cable, from: room, to: mixing, loss: 1 dB}\n"
        f"{couplers}    - {{id: T, kind: termination, stage: mixing}}\n{joined}  l1:\n"
    ), 1))
    told = "C0.coupled (host)"  # what stands where a joint is no wire
    for svg in (draw(layout), *(svg for svg, _ in posters(layout, equal_lines(layout), ""))):
        assert told not in svg
        assert ">Y8</text>" in svg
