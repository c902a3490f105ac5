"""Service sheets: every joint once, the most fragile first, the way back in reverse, with care."""

import itertools
import json
import re
from html.parser import HTMLParser
from importlib import util
from pathlib import Path

import pytest

import chain
from chain.service import service
from chain.service.levels import Levels
from chain.service.sheet import sheet_file

DEMOS = sorted(Path(__file__).parents[3].glob("demo_chains/*.yaml"))
HALOSCOPE = next(path for path in DEMOS if path.stem == "haloscope")
QUBITS = next(path for path in DEMOS if path.stem == "qubit_row")
PAIRS = [
    (path, pair) for path in DEMOS
    for pair in itertools.combinations(chain.load(str(path)).stages, 2)
]

SHARED = """
title: Lines that share parts on a stage in between
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages:
  room:   {temperature: 295 K}
  plate:  {temperature: 4 K}
  middle: {temperature: 100 mK}
  mixing: {temperature: 20 mK}
materials: {glass: {conductivity: {1 mK: 0.01 W/(m K), 400 K: 1.4 W/(m K)}}}
lines:
  down:
    - {id: S1, kind: port, stage: room}
    - {id: W1, kind: cable, from: room, to: plate, length: 0.5 m, coax: stainless-304-2.19}
    - {id: W2, kind: cable, from: plate, to: middle, length: 0.3 m, coax: stainless-304-2.19}
    - {id: C1, kind: coupler, stage: middle, coupling: 20 dB}
    - {id: W3, kind: cable, from: middle, to: mixing, length: 0.2 m, coax: niobium-titanium-0.86}
    - {id: D1, kind: device, stage: mixing, reflects: true}
  aside:
    - {id: S2, kind: port, stage: room}
    - {id: V1, kind: cable, from: room, to: middle, length: 0.8 m, coax: stainless-304-2.19}
    - {join: C1.coupled}
  end:
    - {join: C1.isolated}
    - {id: I1, kind: isolator, stage: middle, connectors: {in: SMP female, out: SMA female},
       tool: "hex key 2.5 mm, M3"}
    - {id: T1, kind: termination, stage: middle, connectors: {in: SMA male}}
  wires: [{id: L1, kind: loom, from: room, to: mixing, length: 1 m, count: 24, material: manganin,
           gauge: 36}]
  light: [{id: F1, kind: fibre, from: room, to: mixing, length: 1.2 m, material: glass,
           via: {plate: 0.5 m, middle: 0.9 m}}]
"""


def joints_expected(layout, first, second):
    """Return the names of joints at what lies between two stages, found another way.

    By temperature: an element is between where part of its span is, strictly, between theirs.
    """
    kelvin = {name: stage.temperature_k for name, stage in layout.stages.items()}
    cold, warm = sorted((kelvin[first], kelvin[second]))
    inside = set()
    for key, element in layout.elements.items():
        if element.from_stage:
            low, high = sorted((kelvin[element.from_stage], kelvin[element.to_stage]))
            if low < warm and high > cold:
                inside.add(key)
        elif cold < kelvin[element.stage] < warm:
            inside.add(key)
    return {
        " / ".join(".".join(port) for port in (joint.first, joint.second))
        for joint in layout.joints if {joint.first[0], joint.second[0]} & inside
    }


def fragility(layout, step):
    """Return the care that the most fragile element at a joint asks for."""
    elements = [layout.elements[key] for key in step.elements]
    return max(e.kind.fragility(e.settings) for e in elements)


# -- which joints, in which order ---------------------------------------------------------------


@pytest.mark.parametrize(("path", "pair"), PAIRS, ids=lambda value: str(getattr(value, "stem",
                                                                                value)))
def test_every_joint_between_two_stages_of_a_demo_is_opened_once(path, pair):
    layout = chain.load(str(path))
    found = service(layout, between=pair)
    names = [step.joint for step in found.undo]
    assert len(set(names)) == len(names)
    assert set(names) == joints_expected(layout, *pair)
    assert {step.joint for step in service(layout, between=pair[::-1]).undo} == set(names)


@pytest.mark.parametrize(("path", "pair"), PAIRS, ids=lambda value: str(getattr(value, "stem",
                                                                                value)))
def test_the_most_fragile_is_opened_first_and_made_last(path, pair):
    layout = chain.load(str(path))
    found = service(layout, between=pair)
    care = [fragility(layout, step) for step in found.undo]
    assert care == sorted(care, reverse=True)
    assert [step.joint for step in found.redo] == [step.joint for step in found.undo][::-1]


@pytest.mark.parametrize(("path", "pair"), PAIRS, ids=lambda value: str(getattr(value, "stem",
                                                                                value)))
def test_a_cable_is_opened_at_its_cold_end_first_and_hangs_until_it_is_held(path, pair):
    layout = chain.load(str(path))
    found = service(layout, between=pair)
    order = list(layout.stages)
    for key in found.removed:
        element = layout.elements[key]
        if element.from_stage is None:
            continue
        own = [step for step in found.undo if key in step.elements]
        stages = [order.index(step.stage) for step in own]
        leads = all(
            element.kind.fragility(element.settings) >= fragility(layout, step) for step in own
        )
        if leads and not _next_to_equals(layout, own, key):
            assert stages == sorted(stages, reverse=True)
        assert own[-1].frees.count(key) == 1
        assert f"{key} is free: hold it" in own[-1].then
        assert not any(key in step.frees for step in own[:-1])


def _next_to_equals(layout, steps, key):
    """Tell whether a cable is joined to another as fragile, which may come first."""
    return any(layout.elements[other].from_stage for step in steps for other in step.elements
               if other != key)


def test_everything_that_comes_out_comes_free_once(write_layout):
    layouts = [chain.load(str(path)) for path in DEMOS] + [write_layout(SHARED)]
    for layout in layouts:
        for pair in itertools.combinations(layout.stages, 2):
            found = service(layout, between=pair)
            freed = [key for step in found.undo for key in step.frees]
            assert sorted(freed) == sorted(found.removed)


def test_shared_parts_come_after_all_that_hangs_on_them(write_layout):
    layout = write_layout(SHARED)
    found = service(layout, between=("plate", "mixing"))
    assert set(found.removed) == {"W2", "C1", "W3", "V1", "I1", "T1", "L1", "F1"}
    names = [step.joint for step in found.undo]
    # Fibre, the push-on connector of I1, the loom and thin superconducting coax, thick coax.
    assert names[:2] == ["F1 at mixing", "F1 at room"]
    assert names[2] == "C1.isolated / I1.in"
    assert set(names[3:7]) == {"W3.out / D1.in", "C1.out / W3.in", "L1 at mixing", "L1 at room"}
    assert names.index("W3.out / D1.in") < names.index("C1.out / W3.in")
    assert set(names[7:11]) == {"W2.out / C1.in", "W1.out / W2.in", "V1.out / C1.coupled",
                                "S2.port / V1.in"}
    assert names[11:] == ["I1.out / T1.in"]
    # The coupler shared by three lines is free with the last of its joints, once.
    last = max(place for place, step in enumerate(found.undo) if "C1" in step.elements)
    assert [place for place, step in enumerate(found.undo) if "C1" in step.frees] == [last]


def test_what_hangs_lowest_comes_first_among_equals():
    found = service(chain.load(str(QUBITS)), between=("plate", "mixing"))
    cables = list(dict.fromkeys(
        key for step in found.undo for key in step.frees if key.startswith("V")
    ))
    assert cables == [f"V3-{n}" for n in range(1, 13)] + [f"V2-{n}" for n in range(1, 13)]


def test_the_same_from_python(tmp_path):
    layout = chain.load(str(HALOSCOPE))
    assert [s.joint for s in layout.service(remove=["I1"]).undo] == ["D1.out / I1.in",
                                                                     "I1.out / C1.out"]
    assert layout.draw().startswith("<svg")
    layout.document(tmp_path / "pages")
    assert (tmp_path / "pages" / "index.html").exists()


def test_removing_an_element_undoes_its_joints_alone(write_layout):
    found = service(write_layout(SHARED), remove=["C1"])
    assert {step.joint for step in found.undo} == {
        "W2.out / C1.in", "C1.out / W3.in", "V1.out / C1.coupled", "C1.isolated / I1.in"
    }
    assert [step.frees for step in found.undo if step.frees] == [("C1",)]


def test_an_id_without_a_number_stands_for_all_copies():
    layout = chain.load(str(QUBITS))
    assert len(service(layout, remove=["P2"]).removed) == 12
    assert service(layout, remove=["P2-7"]).removed == ("P2-7",)


def test_anchors_on_the_way_are_opened_from_below(write_layout):
    found = service(write_layout(SHARED), between=("plate", "mixing"))
    freed = next(step for step in found.undo if "F1" in step.frees)
    assert "open its anchors at middle, plate" in freed.then


# -- cautions, torque, tools --------------------------------------------------------------------


def test_each_kind_has_its_own_caution_with_a_source(write_layout):
    found = service(write_layout(SHARED), between=("room", "mixing"))
    said = {step.joint: step.caution for step in found.undo}
    assert "no kink" in said["F1 at room"]
    assert "pull at the plug" in said["L1 at room"]
    assert "work-hardens" in said["C1.out / W3.in"]
    assert "push-on" in said["C1.isolated / I1.in"]
    assert "magnet" in said["C1.isolated / I1.in"]
    for step in found.undo:
        assert step.cautions
        assert all("no source" in text for text in step.cautions)


def test_a_bundle_is_supported_before_its_last_cable_lets_go():
    found = service(chain.load(str(QUBITS)), between=("plate", "mixing"))
    told = [step for step in found.undo if "a bundle of coax is a spring" in step.caution]
    assert len(told) == 24  # twelve cables on each of two stretches, each where it comes free
    assert all(step.frees for step in told)
    assert not any("bundle" in step.caution for step in found.redo)


def test_cold_pressure_lifting_and_rf_power_are_cautioned_of_and_others_come_first(run):
    status, out, _ = run("service", HALOSCOPE, "--between", "plate", "mixing", "--json")
    assert status == 0
    general = {row["about"]: row["says"] for row in json.loads(out)["cautions"]}
    assert {"cold", "pressure", "lifting", "RF power"} <= set(general)
    assert "maker's instructions" in general["authority"]
    assert "local rules" in general["authority"]
    assert "qualified staff" in general["authority"]
    text = run("service", HALOSCOPE, "--between", "plate", "mixing")[1]
    assert text.index("qualified staff") < text.index("DISASSEMBLY")


def test_torque_and_tool_are_told_where_they_are_known(write_layout):
    found = service(write_layout(SHARED), between=("plate", "mixing"))
    by_name = {step.joint: step for step in found.undo}
    assert by_name["I1.out / T1.in"].torque.startswith("0.8 to 1.1 N m (IEC 61169-15")
    assert by_name["I1.out / T1.in"].tool == "hex key 2.5 mm, M3"
    assert by_name["W2.out / C1.in"].torque == "as specified by the connector's maker"
    assert by_name["L1 at room"].torque == ""


# -- the way back -------------------------------------------------------------------------------


def test_each_step_back_has_its_check(write_layout):
    layout = write_layout(SHARED)
    for step in service(layout, between=("plate", "mixing")).redo:
        assert step.checks
        assert ("meter on a centre" in step.check or "continuity" in step.check) == (
            "/" in step.joint)


def test_the_last_joint_back_shows_what_the_closed_line_shows(run):
    layout = chain.load(str(HALOSCOPE))
    found = service(layout, between=("plate", "mixing"), levels=Levels(layout))
    out = run("warm", HALOSCOPE, "--json")[1]
    trace = next(t for t in json.loads(out)["traces"] if (t["from"], t["to"]) == ("S1", "R1"))
    middle = len(trace["frequency_hz"]) // 2
    told = re.search(r"warm transmission S1 to R1 at (\S+) GHz: (\S+) dB", found.redo[-1].check)
    assert float(told[1]) * 1e9 == pytest.approx(trace["frequency_hz"][middle])
    assert float(told[2]) == pytest.approx(trace["expected_db"][middle], abs=0.05)  # one decimal


def test_a_line_half_made_is_checked_as_far_as_it_reaches():
    layout = chain.load(str(HALOSCOPE))
    found = service(layout, between=("plate", "mixing"), levels=Levels(layout))
    step = next(step for step in found.redo if step.joint == "A1.out / W2.in")
    assert "warm transmission S1 to W2.out" in step.check
    level = float(re.search(r"GHz: (\S+) dB", step.check)[1])
    # 20 dB of A1 and the two cables, warm, must be in it; A2 behind the open joint must not.
    assert -45 < level < -20


def test_copies_are_worked_out_once_and_told_for_all():
    layout = chain.load(str(QUBITS))
    found = service(layout, between=("plate", "mixing"), levels=Levels(layout))
    told = [step.check for step in found.redo if step.elements == ("P1-5", "V2-5")]
    # The level of the one that was worked out (copy 12, the first back), in this copy's names.
    first = next(step.check for step in found.redo if step.elements == ("P1-12", "V2-12"))
    assert told == [re.sub("-12(?=[., )])", "-5", first)]
    assert "warm transmission E-5 to V2-5.out" in told[0]


# -- what cannot harm ---------------------------------------------------------------------------


def test_no_meter_where_its_current_reaches_a_transistor_a_junction_or_a_device():
    layout = chain.load(str(HALOSCOPE))
    for pair in itertools.combinations(layout.stages, 2):
        found = service(layout, between=pair, levels=Levels(layout))
        still_open = {step.joint for step in found.redo}
        for step in found.redo:
            still_open.remove(step.joint)
            # Found another way: everything joined to either side through joints that are made.
            ids = _joined(layout, step.elements[0], still_open)
            harmed = {"D1", "X1", "H1", "H2"} & ids
            check = step.checks[0]
            assert check.startswith("continuity: ") == (not harmed)
            if harmed:
                assert "before the joint is made, at the end" in check or check.startswith(
                    "no meter")
            if "before the joint is made" in check:
                end = check.rpartition("(")[2].rstrip(")")
                one = _joined(layout, end.partition(".")[0], still_open | {step.joint})
                assert not {"D1", "X1", "H1", "H2"} & one


def _joined(layout, start, still_open):
    """Return the ids joined to one, by going round over joints that are not open."""
    ids, before = {start}, None
    while ids != before:
        before = set(ids)
        for joint in layout.joints:
            ends = {joint.first[0], joint.second[0]}
            if ends & ids and " / ".join(map(".".join, (joint.first, joint.second))) \
                    not in still_open:
                ids |= ends
    return ids


def test_the_analysers_power_is_cautioned_of_where_it_is_connected():
    layout = chain.load(str(HALOSCOPE))
    found = service(layout, between=("plate", "mixing"), levels=Levels(layout))
    still_open = {step.joint for step in found.redo}
    for step in found.redo:
        still_open.remove(step.joint)
        harmed = {"D1", "X1", "H1", "H2"} & _joined(layout, step.elements[0], still_open)
        if step.reading is not None:
            assert ("lowest power" in step.check) == bool(harmed)
            assert all(key in step.check for key in harmed)


DEEP = """
title: A drive line with more loss than an analyser sees through
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}, mixing: {temperature: 20 mK}}
lines:
  drive:
    - {id: S1, kind: port, stage: room}
    - {id: W1, kind: cable, from: room, to: plate, loss: 3 dB}
    - {id: A1, kind: attenuator, stage: plate, loss: 60 dB}
    - {id: W2, kind: cable, from: plate, to: mixing, loss: 2 dB}
    - {id: A2, kind: attenuator, stage: mixing, loss: 50 dB}
    - {id: W3, kind: cable, from: mixing, to: plate, loss: 2 dB}
    - {id: R1, kind: port, stage: plate}
"""


def test_below_the_analysers_floor_the_reflection_is_asked_where_it_tells(write_layout):
    layout = write_layout(DEEP)
    found = service(layout, remove=["A1", "W1"], levels=Levels(layout))
    seen = {step.joint: step.reading for step in found.redo}
    # S1 to R1 would be -117 dB: nobody is asked for that.
    assert all(r is None or r.is_reflection or r.expected_db > -100 for r in seen.values())
    # The joint of W1 and A1 left open sends everything back through W1 twice: 2 x 3 dB.
    end = seen["W1.out / A1.in"]
    assert (end.first, end.second) == ("S1", "S1")
    assert end.open_db == pytest.approx(-6.0, abs=1e-6)
    assert end.high_db == -40.0
    assert "below -40.0 dB (a joint left open shows -6.0 dB)" in \
        next(step.check for step in found.redo if step.joint == "W1.out / A1.in")
    # At A1.out, made first while W1 is out: 60 dB twice from A1.in, so it is seen through R1's end.
    assert seen["A1.out / W2.in"] is None or seen["A1.out / W2.in"].open_db > -40


BENCH = """
title: On a bench
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages: {room: {temperature: 295 K}}
lines:
  up:
    - {id: S1, kind: port, stage: room}
    - {id: A1, kind: attenuator, stage: room, loss: 3 dB}
    - {id: R1, kind: port, stage: room}
"""


def test_cautions_are_of_what_the_layout_has(write_layout):
    def about(layout):
        return [name for name, _ in service(layout, remove=["A1"]).cautions]

    assert about(write_layout(BENCH)) == ["not listed"]
    assert about(write_layout(DEEP)) == ["mixture", "cold", "pressure", "lifting", "not listed"]
    # 4 K without a mixture; an amplifier; a fibre.
    warm = DEEP.replace("20 mK", "3 K").replace("A2, kind: attenuator, stage: mixing, loss: 50 dB",
        "A2, kind: amplifier, stage: mixing, gain: 30 dB, noise_temperature: 4 K")
    assert about(write_layout(warm)) == ["cold", "pressure", "lifting", "RF power", "not listed"]
    assert "light" in about(write_layout(SHARED.replace("C1", "A1")))


# -- how it looks -------------------------------------------------------------------------------


def test_json_has_what_programs_lean_on(run):
    status, out, _ = run("service", QUBITS, "--remove", "H1", "--json")
    found = json.loads(out)
    assert status == 0
    assert found["format"] == 1
    for way in ("undo", "redo"):
        for step in found[way]:
            assert {"joint", "elements", "why_here", "caution"} <= set(step)
            assert all(step[key] for key in ("joint", "elements", "why_here", "caution"))
    assert [s["joint"] for s in found["redo"]] == [s["joint"] for s in found["undo"]][::-1]
    assert found["warnings"] == []


def test_text_has_a_box_for_each_step_in_order(run):
    out = run("service", HALOSCOPE, "--between", "plate", "mixing")[1]
    found = service(chain.load(str(HALOSCOPE)), between=("plate", "mixing"))
    boxes = re.findall(r"^\[ \] +\d+\. (\S+ / \S+)", out, re.MULTILINE)
    assert boxes == [step.joint for step in (*found.undo, *found.redo)]
    assert "signature" in out
    assert max(map(len, out.splitlines())) <= 110


class Words(HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.words, self.tags = [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))

    def handle_data(self, data):
        self.words.append(data)


@pytest.mark.parametrize("ending", ["html", "md"])
def test_a_sheet_to_tick_and_sign(run, tmp_path, ending):
    file = tmp_path / f"sheet.{ending}"
    status, out, _ = run("service", HALOSCOPE, "--between", "plate", "mixing", "--out", file)
    assert status == 0
    assert str(file) in out
    text = file.read_text()
    boxes = text.count('class="box"') if ending == "html" else text.count("☐")
    # Opened; made again and checked; four checks at each of the five cans round mixing.
    assert boxes == 10 + 2 * 10 + 5 * 4
    assert "signature" in text
    again = tmp_path / f"again.{ending}"
    run("service", HALOSCOPE, "--between", "plate", "mixing", "--out", again)
    assert again.read_bytes() == file.read_bytes()


def test_unkind_text_does_nothing_on_a_sheet(tmp_path):
    spec = util.spec_from_file_location("hostile", Path(__file__).parents[1] / "hostile.py")
    hostile = util.module_from_spec(spec)
    spec.loader.exec_module(hostile)
    for text in hostile.ALL:
        path = tmp_path / "layout.yaml"
        path.write_text(hostile.hostile_layout(text))
        found = service(chain.load(str(path)), between=("room", "mixing"))
        page = Words(sheet_file(found, "a.html"))
        assert not {"script", "a", "img"} & {tag for tag, _ in page.tags}
        assert not any(key.startswith("on") for _, attributes in page.tags for key in attributes)
        assert "<" not in sheet_file(found, "a.md")
        for written in (str(found), sheet_file(found, "a.html"), sheet_file(found, "a.md")):
            assert not re.search("[\u202a-\u202e\u2066-\u2069\u2028]", written)


# -- what cannot be -----------------------------------------------------------------------------


@pytest.mark.parametrize(("words", "message"), [
    (["--between", "plate", "mixin"], "there is no stage 'mixin'"),
    (["--between", "plate", "plate"], "are one stage"),
    (["--remove", "H9"], "there is no element 'H9'"),
    (["--between", "plate", "mixing", "--out", "a.pdf"], "ends in"),
    ([], "--between"),
    (["--between", "plate", "mixing", "--remove", "H1"], "not allowed"),
])
def test_what_cannot_be_is_refused_with_what_could(run, words, message):
    status, out, err = run("service", HALOSCOPE, *words)
    assert status == 2
    assert message in err
    assert out == ""
    assert "Traceback" not in err


def test_a_sheet_that_cannot_be_written_is_exit_3(run, tmp_path):
    status, _, err = run("service", HALOSCOPE, "--remove", "H1", "--out", tmp_path / "no" / "a.md")
    assert status == 3
    assert "Traceback" not in err


def test_nothing_to_undo_is_said(write_layout):
    bare = write_layout("""
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}}
lines: {up: [{id: S1, kind: port, stage: room}, {id: R1, kind: port, stage: room}]}
""")
    found = service(bare, between=("room", "plate"))
    assert found.undo == ()
    assert "Nothing in this layout" in str(found)
