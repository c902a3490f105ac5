"""Drawings: everything there, in its place, legible, the same every time, nothing let through."""

import itertools
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

import chain
from chain.drawing import Drawing, draw
from chain.drawing.family import Branch, forest, series, trees_from
from chain.drawing.svg import text_width, wrap
from chain.layout.equal_lines import equal_lines
from components.declaration import KINDS, Kind

DEMOS = sorted(Path(__file__).parents[3].glob("demo_chains/*.yaml"))
HALOSCOPE = next(path for path in DEMOS if path.stem == "haloscope")
QUBITS = next(path for path in DEMOS if path.stem == "qubit_row")
SVG = "{http://www.w3.org/2000/svg}"

STAGES = """
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages:
  room:   {temperature: 295 K}
  plate:  {temperature: 4 K}
  mixing: {temperature: 20 mK}
"""

ODD = STAGES + """
title: Everything that branches
lines:
  readout:
    - {id: S1, kind: port, stage: room}
    - {id: W1, kind: cable, from: room, to: plate, loss: 3 dB}
    - {id: W2, kind: cable, from: plate, to: mixing, loss: 1 dB}
    - {id: C0, kind: coupler, stage: mixing, coupling: 20 dB, loads: [coupled, isolated]}
    - {id: D1, kind: device, stage: mixing}
    - {id: K1, kind: circulator, stage: mixing, isolation: 20 dB, enter: "1", leave: "3"}
    - {id: K2, kind: circulator, stage: mixing, isolation: 20 dB, loads: ["3"]}
    - {id: SW, kind: switch, throws: 6, position: 1, stage: mixing, loads: ["2", "3", "4", "5"]}
    - {id: F1, kind: filter, shape: low-pass, cutoff: 9 GHz, order: 5, stage: mixing, state: open}
    - {id: W3, kind: cable, from: mixing, to: plate, loss: 0.1 dB}
    - {id: H1, kind: amplifier, stage: plate, gain: 36 dB, noise_temperature: 2 K}
    - {id: P9, kind: splitter, stage: plate}
    - {id: W4, kind: cable, from: plate, to: room, loss: 2 dB}
    - {id: R1, kind: port, stage: room}
  reflecting:
    - {join: K1.2}
    - {id: Z1, kind: bias-tee, stage: mixing, loads: [dc]}
    - {id: X1, kind: paramp, stage: mixing, gain: 15 dB, mixing: three-wave, pump: pump,
       reflects: true}
  thrown:
    - {join: SW.6}
    - {id: W9, kind: cable, from: mixing, to: plate, loss: 1 dB}
    - {id: T9, kind: termination, stage: plate}
  monitor:
    - {join: P9.second}
    - {id: W10, kind: cable, from: plate, to: room, loss: 2 dB}
    - {id: R2, kind: port, stage: room}
  pump:
    - {id: S2, kind: port, stage: room}
    - {id: W5, kind: cable, from: room, to: plate, loss: 2 dB}
    - {id: P1, kind: splitter, stage: plate}
    - {id: W6, kind: cable, from: plate, to: mixing, loss: 2 dB}
    - {id: C7, kind: coupler, stage: mixing, coupling: 10 dB, loads: [isolated]}
    - {id: T7, kind: termination, stage: mixing}
  split:
    - {join: P1.second}
    - {id: B1, kind: dc-block, stage: plate}
    - {id: W7, kind: cable, from: plate, to: mixing, loss: 2 dB}
    - {id: T8, kind: termination, stage: mixing}
  looped:
    - {join: C7.coupled}
    - {id: I9, kind: isolator, stage: mixing, isolation: 20 dB}
    - {id: HY, kind: hybrid, stage: mixing, loads: [coupled, isolated]}
    - {id: T6, kind: termination, stage: mixing}
tones:
  pump: {into: S2, frequency: 11.6 GHz, power: 0 dBm}
"""

CROSSED = STAGES + """
title: Two lines joined crosswise
lines:
  one:
    - {id: S1, kind: port, stage: room}
    - {id: W1, kind: cable, from: room, to: mixing, loss: 3 dB}
    - {id: C1, kind: coupler, stage: mixing, coupling: 20 dB}
    - {id: T1, kind: termination, stage: mixing}
  two:
    - {id: S2, kind: port, stage: room}
    - {id: W2, kind: cable, from: room, to: mixing, loss: 3 dB}
    - {id: C2, kind: coupler, stage: mixing, coupling: 20 dB}
    - {id: T2, kind: termination, stage: mixing}
  over:
    - {join: C1.coupled}
    - {id: I1, kind: isolator, stage: mixing, isolation: 20 dB}
    - {join: C2.isolated}
  back:
    - {join: C2.coupled}
    - {id: I2, kind: isolator, stage: mixing, isolation: 20 dB}
    - {join: C1.isolated}
"""

WORDED = STAGES + """
title: Lines that end in words at the highest and at the lowest stage
lines:
  receive:
    - {id: S1, kind: port, stage: room}
    - {id: W1, kind: cable, from: room, to: mixing, loss: 3 dB}
    - {id: C1, kind: coupler, stage: mixing, coupling: 20 dB}
    - {id: D1, kind: device, stage: mixing}
    - {id: W2, kind: cable, from: mixing, to: room, loss: 3 dB}
    - {id: C2, kind: coupler, stage: room, coupling: 20 dB}
    - {id: R1, kind: port, stage: room}
  pump-of-the-first-amplifier-in:
    - {id: S2, kind: port, stage: room}
    - {id: W3, kind: cable, from: room, to: mixing, loss: 3 dB}
    - {id: A1, kind: attenuator, stage: mixing, loss: 3 dB}
    - {join: C1.coupled}
  back:
    - {join: C1.isolated}
    - {id: A2, kind: attenuator, stage: mixing, loss: 3 dB}
    - {id: W4, kind: cable, from: mixing, to: room, loss: 3 dB}
    - {id: A3, kind: attenuator, stage: room, loss: 3 dB}
    - {join: C2.isolated}
  monitor:
    - {join: C2.coupled}
    - {id: A4, kind: attenuator, stage: room, loss: 3 dB}
    - {id: W5, kind: cable, from: room, to: plate, loss: 3 dB}
    - {id: T1, kind: termination, stage: plate}
"""


def whole(layout):
    """Return the Drawing of all lines of a layout."""
    groups = equal_lines(layout)
    return Drawing(layout, forest(layout, [g.first for g in groups]), groups)


def texts(svg):
    """Return every text of an SVG as it is read, titles too."""
    return ["".join(node.itertext()) for node in ET.fromstring(svg).iter()
            if node.tag in (f"{SVG}text", f"{SVG}title", f"{SVG}desc")]


def overlap(one, other):
    """Return how far two boxes (left, top, right, bottom) lie on each other, the less of x and y."""
    return min(min(one[2], other[2]) - max(one[0], other[0]),
               min(one[3], other[3]) - max(one[1], other[1]))


def all_layouts(write_layout):
    """Yield the layouts that a drawing has to do well by."""
    yield from (chain.load(str(path)) for path in DEMOS)
    yield from (write_layout(text) for text in (ODD, CROSSED, WORDED))


def all_drawings(write_layout):
    """Yield their Drawings: of all lines, and of each line with what is joined to it."""
    for layout in all_layouts(write_layout):
        yield whole(layout)
        groups, inside = equal_lines(layout), series(layout)
        firsts = [group.first for group in groups]
        for name in firsts:
            trees = trees_from(layout, [name], firsts, inside)
            yield Drawing(layout, trees, groups, grey=True)
        for name in firsts:
            yield Drawing(layout, [Branch(name)], groups)


# -- what is there ------------------------------------------------------------------------------


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_every_element_is_drawn_with_its_id_and_told_in_a_title(path):
    layout = chain.load(str(path))
    said = texts(draw(layout))
    for group in equal_lines(layout):
        for key in layout.lines[group.first].elements:
            shown = group.id_text(layout.elements[key])
            assert shown in said
            assert any(text.startswith(f"{shown}: {layout.elements[key].kind.name}")
                       for text in said)


def test_a_drawing_is_well_formed_and_tells_those_who_do_not_see_it(write_layout):
    for layout in all_layouts(write_layout):
        root = ET.fromstring(draw(layout))
        assert root.get("role") == "img"
        assert root[0].tag == f"{SVG}title"
        assert root[0].text == layout.title
        assert root[1].tag == f"{SVG}desc"
        assert all(f"Line {group.name}" in root[1].text for group in equal_lines(layout))


def test_stages_stand_from_warm_to_cold_and_elements_in_their_stage():
    layout = chain.load(str(HALOSCOPE))
    sheet = whole(layout).placing.sheet
    assert [band.name for band in sheet.bands] == list(layout.stages)
    for upper, lower in itertools.pairwise(sheet.bands):
        assert upper.bottom <= lower.top
    bands = {band.name: band for band in sheet.bands}
    for key, spot in sheet.spots.items():
        band = bands[layout.elements[key].stage]
        assert band.top <= spot.box[1]
        assert spot.box[3] <= band.bottom


def test_both_routes_of_coupler_and_diplexer_are_wires_that_go_up_to_the_plate():
    layout = chain.load(str(HALOSCOPE))
    drawing = whole(layout)
    assert not drawing.stubs
    plate = next(band for band in drawing.placing.sheet.bands if band.name == "plate")
    for key, port, beyond in (("C1", "coupled", "A3"), ("C1", "isolated", "T1"),
                              ("Y1", "high", "T2")):
        start = drawing.placing.sheet.spots[key].at(port)
        goal = drawing.placing.sheet.spots[beyond]
        assert plate.top < goal.y < plate.bottom
        reached, front = set(), {start}
        while front:  # along wires that share ends
            reached |= front
            ends = [w.points for w in drawing.wiring.wires]
            front = {
                p for points in ends for p in (points[0], points[-1])
                if {points[0], points[-1]} & reached
            } - reached
        assert any(abs(x - goal.x) < 1 and abs(y - goal.y) <= 21 for x, y in reached)


def test_every_joint_is_a_wire_or_words_at_both_its_ends(write_layout):
    for layout in all_layouts(write_layout):
        drawing = whole(layout)
        shown = {key for group in equal_lines(layout)
                 for key in layout.lines[group.first].elements}
        for joint in layout.joints:
            if {joint.first[0], joint.second[0]} <= shown:
                told = joint.first in drawing.stubs, joint.second in drawing.stubs
                assert told[0] == told[1]


def test_lines_that_are_not_drawn_are_named_at_the_port_that_leads_to_them():
    layout = chain.load(str(HALOSCOPE))
    said = texts(draw(layout, ["pump-in"]))
    assert any("C1.coupled" in text and "receive" in text for text in said)


def test_equal_lines_are_drawn_once_with_their_count():
    svg = draw(chain.load(str(QUBITS)))
    assert "× 12" in svg
    assert svg.count(">P1-n<") == 1
    assert "P1-3" not in svg


def test_a_copy_that_differs_is_drawn_by_itself_and_one_with_another_serial_is_not(tmp_path):
    text = QUBITS.read_text().replace(
        "copies: 12", "copies: 12\n    except: {7: {P2: {loss: 3 dB}}, 9: {P1: {serial: '17'}}}"
    ).replace("band_filter.s2p", str(QUBITS.with_name("band_filter.s2p")))
    path = tmp_path / "row.yaml"
    path.write_text(text)
    layout = chain.load(str(path), allow=[QUBITS.parent])
    groups = equal_lines(layout)
    assert [(g.name, g.count) for g in groups] == [
        ("drive 1 to 6, 8 to 12", 11), ("drive-7", 1), ("readout", 1)
    ]
    assert "P2-7" in texts(draw(layout))


def test_a_part_out_of_order_is_marked(write_layout):
    svg = draw(write_layout(ODD))
    assert any(text.startswith("OPEN") for text in texts(svg))
    assert "stroke-dasharray" in svg


def test_a_kind_without_a_symbol_is_a_box_with_its_letters(write_layout, monkeypatch):
    class Wobbler(Kind):
        name = "wobbler"
        summary = "A kind that no drawing has heard of."

        def scattering(self, settings, at):
            return {(0, 1): 1.0, (1, 0): 1.0}

    monkeypatch.setitem(KINDS, "wobbler", Wobbler())
    layout = write_layout(ODD.replace(
        "kind: isolator, stage: mixing, isolation: 20 dB", "kind: wobbler, stage: mixing"
    ))
    said = texts(draw(layout))
    assert "wob" in said
    assert any(text.startswith("I9: wobbler") for text in said)


def test_circulators_turn_the_way_their_ports_are_counted(write_layout):
    # K1 goes in by 1 and out by 3, K2 in by 1 and out by 2, third ports on the same side: the
    # arrows turn opposite ways.
    svg = draw(write_layout(ODD))
    arcs = re.findall(r"A7 7 0 0 ([01])", svg)
    assert sorted(arcs) == ["0", "1"]


# -- legible ------------------------------------------------------------------------------------


def test_no_words_lie_on_words_or_symbols_and_none_is_cut(write_layout):
    for drawing in all_drawings(write_layout):
        sheet = drawing.placing.sheet
        spots = list(sheet.spots.values())
        labels = [label.box for label in sheet.labels if label.lines]
        labels += [box for spot in spots for _, box in spot.name_boxes()]
        labels += words_of_stubs(drawing)
        symbols = [spot.box for spot in spots]
        symbols += [box for spot in spots for box in spot.load_boxes()]
        for one, other in itertools.combinations(labels, 2):
            assert overlap(one, other) <= 1
        for label, symbol in itertools.product(labels, symbols):
            assert overlap(label, symbol) <= 1
        for left, top, right, bottom in labels + symbols:
            assert left >= 0
            assert top >= 0
            assert right <= sheet.width
            assert bottom <= sheet.height


def words_of_stubs(drawing):
    """Return the boxes of the words at joints that are not drawn."""
    return [drawing.wiring.stub(port, words).boxes[1] for port, words in drawing.stubs.items()]


def test_no_wire_runs_through_words_or_through_symbols_that_are_not_its_own(write_layout):
    for drawing in all_drawings(write_layout):
        sheet = drawing.placing.sheet
        boxes = [(label.box, 1.5) for label in sheet.labels if label.lines]
        boxes += [(box, 1.5) for box in words_of_stubs(drawing)]
        boxes += [(box, 1.5) for spot in sheet.spots.values() for _, box in spot.name_boxes()]
        # Wires end at the leads of symbols, 20 px from the middle: inside lies the body.
        boxes += [(spot.box, 3.0) for spot in sheet.spots.values()]
        for wire in drawing.wiring.wires:
            for ((x1, y1), (x2, y2)), (box, slack) in itertools.product(wire.segments(), boxes):
                run = (min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2))
                inside = (min(run[2], box[2]) - max(run[0], box[0]),
                          min(run[3], box[3]) - max(run[1], box[1]))
                assert min(inside) <= 0 or max(inside) <= slack or _on_the_rim(run, box)


def _on_the_rim(run, box):
    """Tell whether a wire only touches the rim of a box."""
    left, top, right, bottom = box
    return run[2] <= left + 1.5 or run[0] >= right - 1.5 or run[3] <= top + 1.5 \
        or run[1] >= bottom - 1.5


def test_wires_that_cross_hop():
    layout_wires = [_wire((0, 50), (100, 50)), _wire((40, 0), (40, 100)), _wire((70, 60), (70, 90))]
    from chain.drawing.wires import crossings

    assert crossings(layout_wires) == {(0, 0): [40]}


def _wire(*points):
    from chain.drawing.wires import Wire

    return Wire(list(points))


def test_a_joint_without_a_clear_way_is_told_in_words(write_layout):
    drawing = whole(write_layout(CROSSED))
    assert drawing.stubs
    svg = draw(write_layout(CROSSED))
    for port, words in drawing.stubs.items():
        assert words.split(" ")[0] in svg
        assert not any(wire.points[0] == drawing.placing.sheet.spots[port[0]].at(port[1])
                       for wire in drawing.wiring.wires if port[0] in ("C1", "C2"))


@pytest.mark.parametrize("text", ["x" * 300, "a b " * 90, "-" * 200, "W" * 90, "שלום " * 40])
def test_wrapped_text_stays_inside_its_width_and_says_that_some_is_missing(text):
    lines = wrap(text, 96, 10)
    assert len(lines) <= 3
    assert lines[-1].endswith("…")
    assert all(text_width(line, 10) <= 96 for line in lines)


def test_wrapped_text_keeps_every_word_where_there_is_room():
    assert "".join(wrap("niobium-titanium-0.86, 0.5 m", 96, 10)).replace(" ", "") == \
        "niobium-titanium-0.86,0.5m"


def test_wrapped_text_keeps_a_number_and_its_unit_together():
    assert wrap("low-pass, 10 GHz", 90, 10) == ["low-pass,", "10 GHz"]


# -- the same, and safe -------------------------------------------------------------------------


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_same_layout_gives_the_same_bytes(path):
    assert draw(chain.load(str(path))) == draw(chain.load(str(path)))


def test_unkind_text_is_told_and_does_nothing(tmp_path):
    from importlib import util

    spec = util.spec_from_file_location("hostile", Path(__file__).parents[1] / "hostile.py")
    hostile = util.module_from_spec(spec)
    spec.loader.exec_module(hostile)
    for text in hostile.ALL:
        path = tmp_path / "layout.yaml"
        path.write_text(hostile.hostile_layout(text))
        svg = draw(chain.load(str(path)))
        root = ET.fromstring(svg)
        tags = {node.tag.removeprefix(SVG) for node in root.iter()}
        assert tags <= {"svg", "title", "desc", "g", "path", "rect", "circle", "ellipse", "text"}
        assert not any(name.startswith("on") or "href" in name
                       for node in root.iter() for name in node.attrib)
        assert not re.search("[\u202a-\u202e\u2066-\u2069]", svg)


def test_a_layout_without_stages_and_one_of_a_single_part_are_drawn(write_layout):
    layout = write_layout("""
band: {start: 4 GHz, stop: 8 GHz, points: 5}
lines:
  short: [{id: S1, kind: port, temperature: 4 K}, {id: R1, kind: port, temperature: 300 K}]
""")
    assert {"S1", "R1"} <= set(texts(draw(layout)))


# -- the command --------------------------------------------------------------------------------


def test_draw_prints_or_writes(run, tmp_path):
    status, out, _ = run("draw", HALOSCOPE)
    assert status == 0
    ET.fromstring(out)
    file = tmp_path / "a.svg"
    assert run("draw", HALOSCOPE, "--out", file)[0] == 0
    assert file.read_text() == out


def test_draw_takes_single_lines_and_copies(run):
    status, out, _ = run("draw", QUBITS, "--line", "drive")
    assert status == 0
    assert "× 12" in out
    assert ">S1<" not in out
    assert run("draw", QUBITS, "--line", "drive-7")[1] == out


def test_draw_refuses_what_it_cannot_do(run, tmp_path):
    status, _, err = run("draw", HALOSCOPE, "--line", "recieve")
    assert status == 2
    assert "there is no line 'recieve'" in err
    assert "receive" in err
    status, _, err = run("draw", HALOSCOPE, "--out", tmp_path / "a.png")
    assert status == 2
    assert "ends in .svg" in err
    status, _, err = run("draw", HALOSCOPE, "--out", tmp_path / "none" / "a.svg")
    assert status == 3
    assert "Traceback" not in err
