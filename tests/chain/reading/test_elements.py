"""One element: its kind, keys, anchors and ports, and what is said of each mistake."""

import pytest

from chain.errors import LayoutError
from components.declaration import KINDS
from components.parameters import ParameterError

A1 = "{id: A1, kind: attenuator, stage: plate, loss: 20 dB}"
D1 = "{id: D1, kind: device, stage: mixing}"


def test_values_are_typed_and_know_their_place(desk):
    element = desk.load(desk.good).elements["A1"]
    assert element.kind.name == "attenuator"
    assert element.settings["loss"].value == 20.0
    assert (element.stage, element.line, element.part) == ("plate", "main", None)
    assert (element.ports, element.enter, element.leave) == (("in", "out"), "in", "out")
    assert str(element.place) == "l.yaml:9:12"
    assert str(element.place_of("loss")) == "l.yaml:9:54"
    assert str(element.place_of("note")) == "l.yaml:9:12"


def test_defaults_stay_with_the_kind(desk):
    settings = desk.load(desk.good).elements["A1"].settings
    assert not settings.given("state")
    assert settings["state"] == "ok"


MISTAKES = {
    "{id: A1, kind: attenuator, stage: plate, los: 20 dB}":
        "l.yaml:9:48: A1: unknown key 'los'; did you mean 'loss'?",
    "{id: A1, kind: attenuator, stage: plate, loss: 20}":
        "l.yaml:9:54: A1.loss: '20' has no unit; write it with dB",
    "{id: A1, kind: attenuator, stage: plate, loss: 20 K}":
        "l.yaml:9:54: A1.loss: 'K' is no unit of ratio; use dB",
    "{id: A1, kind: attenuator, stage: plate, loss: -20 dB}":
        "l.yaml:9:54: A1.loss: '-20 dB' is below 0 dB; give 0 dB or more",
    "{id: A1, kind: attenuator, stage: plate, loss: nan dB}":
        "l.yaml:9:54: A1.loss: 'nan dB' is not a ratio with its unit; write it like '20 dB'",
    "{id: A1, kind: attenuator, stage: plate, loss: 20 dB, loss: 10 dB}":
        "l.yaml:9:61: the key 'loss' is given twice; keep one of them; "
        "the first is on line 9, column 48",
    "{id: A1, kind: attenuator, stage: plate}":
        "l.yaml:9:7: A1 has no loss; add `loss: 20 dB` (loss from one port to the other)",
    "{id: A1, kind: attenuator, stage: plat, loss: 20 dB}":
        "l.yaml:9:41: A1.stage: there is no stage 'plat'; "
        "did you mean 'plate'? there are room, plate and mixing",
    "{id: A1, kind: attenuator, loss: 20 dB}":
        "l.yaml:9:7: A1 has no stage; add `stage:`, one of room, plate and mixing",
    "{id: S1, kind: attenuator, stage: plate, loss: 20 dB}":
        "l.yaml:9:12: the id S1 is given twice, first at l.yaml:8:12; "
        "an id names one element: choose another",
    "{id: A-1, kind: attenuator, stage: plate, loss: 20 dB}":
        "l.yaml:9:12: the id 'A-1' cannot be used; "
        "an id is a letter, then letters, digits and _ (a to z; a - marks copies)",
    "{id: 1A, kind: attenuator, stage: plate, loss: 20 dB}":
        "l.yaml:9:12: the id '1A' cannot be used; "
        "an id is a letter, then letters, digits and _ (a to z; a - marks copies)",
    "{id: band, kind: attenuator, stage: plate, loss: 20 dB}":
        "l.yaml:9:12: the id 'band' is the name of a section; choose another id",
    "{kind: attenuator, stage: plate, loss: 20 dB}":
        "l.yaml:9:7: an element of line main has no id; "
        "write it like {id: A1, kind: attenuator, stage: plate, loss: 20 dB}",
    "attenuator":
        "l.yaml:9:7: an element of line main is the text 'attenuator'; "
        "write it like {id: A1, kind: attenuator, stage: plate, loss: 20 dB}",
    "{id: A1, kind: attenuator, stage: plate, loss: 20 dB, state: dead}":
        "l.yaml:9:68: A1.state: 'dead' is not one of its words; "
        "there are ok, bypassed, open and shorted",
    "{id: A1, kind: attenuator, stage: plate, loss: 20 dB, loads: [outt]}":
        "l.yaml:9:69: A1.loads: A1 has no port 'outt'; did you mean 'out'? there are in and out",
    "{id: A1, kind: attenuator, stage: plate, loss: 20 dB, enter: common}":
        "l.yaml:9:68: A1.enter: A1 has no port 'common'; there are in and out",
    "{id: A1, kind: attenuator, stage: plate, loss: 20 dB, connectors: {out: x, up: y}}":
        "l.yaml:9:82: A1.connectors: A1 has no port 'up'; there are in and out",
    "{id: A1, kind: attenuator, stage: plate, loss: 20 dB, enter: out, leave: out}":
        "l.yaml:9:80: A1 is entered and left by the same port 'out'; "
        "name another; there are in and out",
    "{id: A1, part: pad, stage: plate}":
        "l.yaml:9:22: A1: there is no part 'pad'; there are no parts",
    "{id: A1, kind: cable, loss: 3 dB}":
        "l.yaml:9:7: A1 is anchored nowhere; "
        "add `from:` and `to:`, two stages, or `stage:` for a jumper on one",
    "{id: A1, kind: cable, from: room, loss: 3 dB}":
        "l.yaml:9:35: A1 has from, and no to; add `to:`, a stage",
    "{id: A1, kind: cable, from: room, to: plate, stage: room, loss: 3 dB}":
        "l.yaml:9:59: A1 has a stage besides from and to; "
        "keep from and to, or the stage alone for a jumper",
    "{id: A1, kind: cable, from: room, to: room, loss: 3 dB}":
        "l.yaml:9:45: A1 runs from room to room; write `stage: room`",
    "{id: A1, kind: cable, stage: room, via: {plate: 1 m}, loss: 3 dB}":
        "l.yaml:9:47: A1 has via, and no from and to; add `from:` and `to:`",
    "{id: A1, kind: cable, stage: room, coax: cupronickel-0.68, length: 1 m}":
        "l.yaml:9:48: A1.coax: there is no coax 'cupronickel-0.68'; "
        "did you mean 'cupronickel-0.86'?",
    "{id: A1, kind: measured, stage: room, data: none.s2p}":
        "l.yaml:9:51: A1.data: there is no file 'none.s2p'; name a file that exists",
}  # fmt: skip


@pytest.mark.parametrize("row", MISTAKES)
def test_mistakes(desk, row):
    assert MISTAKES[row] in desk.broken(A1, row)


@pytest.mark.parametrize("row", [row for row in MISTAKES if row.startswith("{id: A1,")])
def test_a_mistake_in_an_element_brings_no_others(desk, row):
    assert desk.broken(A1, row) == [MISTAKES[row]]


def test_what_the_kind_refuses_is_told_at_its_parameter(desk, monkeypatch):
    def check(self, settings):
        yield ParameterError("loss", "the loss is odd", "make it even")
        yield ParameterError("tag", "the tag is missing", "add it")

    monkeypatch.setattr(type(KINDS["attenuator"]), "check", check)
    assert desk.refused(desk.good) == [
        "l.yaml:9:7: A1: the tag is missing; add it",
        "l.yaml:9:54: A1: the loss is odd; make it even",
    ]


def test_unknown_kind(desk):
    [problem] = desk.broken("kind: attenuator", "kind: atenuator")
    assert problem.startswith(
        "l.yaml:9:22: A1: there is no kind 'atenuator'; did you mean 'attenuator'?"
    )


def test_no_kind(desk):
    [problem] = desk.broken("kind: attenuator, ", "")
    assert problem.startswith("l.yaml:9:7: A1 has no kind; add `kind:`, one of ")
    assert "attenuator" in problem


def test_a_temperature_stands_for_a_stage(desk):
    element = desk.load(desk.changed("stage: plate, loss", "temperature: 5 K, loss")).elements["A1"]
    assert element.stage is None
    assert element.settings["temperature"].value == 5.0


# -- ports ----------------------------------------------------------------------------------


COUPLER = "kind: coupler, coupling: 20 dB"


@pytest.mark.parametrize(
    ("keys", "enter", "leave"),
    [
        ("kind: device, reversed: true", "out", "in"),
        ("kind: device, enter: out", "out", "in"),
        ("kind: device, leave: in", "out", "in"),
        (f"{COUPLER}, loads: [coupled, isolated]", "in", "out"),
        (f"{COUPLER}, loads: [coupled, isolated], reversed: true", "out", "in"),
        (f"{COUPLER}, loads: [out, isolated], leave: coupled", "in", "coupled"),
        ("kind: circulator, loads: ['3']", "1", "2"),
        ("kind: circulator, loads: ['1'], enter: 2, leave: 3", "2", "3"),
        ("kind: circulator, loads: ['1'], enter: 2, leave: 3, reversed: true", "3", "2"),
        ("kind: diplexer, crossover: 9 GHz, loads: [low], leave: high", "common", "high"),
    ],
)
def test_routes(desk, keys, enter, leave):
    text = desk.changed(D1, f"{{id: D1, stage: mixing, {keys}}}")
    layout = desk.load(text.replace("from: D1.out", "from: A1.out"))
    element = layout.elements["D1"]
    assert (element.enter, element.leave) == (enter, leave)
    assert set(element.ports) == {enter, leave}


def test_an_entrance_that_leaves_the_way_on_open(desk):
    row = "{id: D1, kind: circulator, stage: mixing, enter: 2, loads: ['3']}"
    assert desk.refused(desk.changed(D1, row).replace("D1.out", "A1.out")) == [
        "l.yaml:10:56: D1 is entered by '2', which is where it is left unless the layout "
        "states otherwise; add `leave:`, one of 1 and 3"
    ]


def test_reversed_with_one_port_named_is_not_guessed(desk):
    row = "{id: D1, kind: device, stage: mixing, enter: out, reversed: true}"
    assert desk.refused(desk.changed(D1, row)) == [
        "l.yaml:10:52: D1 is reversed, and enter names one of its ports alone; give enter and "
        "leave as they are without `reversed`, or leave `reversed` out"
    ]


def test_an_entrance_that_carries_a_load(desk):
    row = f"{{id: D1, {COUPLER}, stage: mixing, enter: coupled, loads: [coupled, isolated]}}"
    assert "l.yaml:10:70: D1.enter: the port 'coupled' carries a load; " \
        "take it out of loads, or name another port" in desk.broken(D1, row)


def test_an_element_whose_way_on_carries_a_load(desk):
    row = f"{{id: D1, {COUPLER}, stage: mixing, loads: [out]}}"
    problems = desk.refused(desk.changed(D1, row).replace("D1.out", "A1.out"))
    assert problems == [
        "l.yaml:10:12: D1 carries a load where line main goes on; "
        "take that port out of `loads`, or name other ports in `enter` and `leave`"
    ]


def test_a_measured_two_port_is_also_numbered(desk):
    desk.write("# GHz S RI R 50\n4 0 0 0.9 0 0.9 0 0 0\n8 0 0 0.9 0 0.9 0 0 0\n", "f.s2p")
    row = "{id: D1, kind: measured, stage: mixing, data: f.s2p, enter: 2, connectors: {1: SMA}}"
    layout = desk.load(desk.changed(D1, row).replace("D1.out", "D1.1"))
    element = layout.elements["D1"]
    assert (element.enter, element.leave) == ("out", "in")
    assert element.settings["connectors"] == {"in": "SMA"}
    assert layout.signals["main"].from_port == ("D1", "in")


def test_a_file_stands_in_place_of_what_a_passive_kind_requires(desk):
    desk.write("# GHz S RI R 50\n4 0 0 0.9 0 0.9 0 0 0\n", "f.s2p")
    row = "{id: A1, kind: attenuator, stage: plate, data: f.s2p}"
    assert desk.load(desk.changed(A1, row)).elements["A1"].settings["data"].path == "f.s2p"


@pytest.mark.parametrize("content", ["nonsense", "# GHz S RI R 50\n4 0 0 0.9\n"])
def test_a_file_whose_ports_cannot_be_made_out(desk, content):
    desk.write(content, "f.s2p")
    problems = desk.broken(A1, "{id: A1, kind: measured, stage: plate, data: f.s2p}")
    assert len(problems) == 1
    assert problems[0].startswith("l.yaml:9:52: A1: ")


# -- parts ----------------------------------------------------------------------------------

PARTS = """\
parts:
  pad: {kind: attenuator, loss: 20 dB, tag: pad, warm: {loss: 21 dB}}
"""


def test_keys_beside_a_part_replace_its_own(desk):
    text = PARTS + desk.changed(A1, "{id: A1, part: pad, stage: plate, loss: 10 dB}")
    element = desk.load(text).elements["A1"]
    assert element.part == "pad"
    assert element.settings["loss"].value == 10.0
    assert element.settings["tag"] == "pad"
    assert element.settings["warm"]["loss"].value == 21.0
    assert str(element.place_of("tag")) == "l.yaml:2:45"


def test_a_mistake_in_a_part_is_told_once_and_where_it_is(desk):
    text = PARTS.replace("20 dB", "20") + desk.good.replace(
        A1, "{id: A1, part: pad, stage: plate}"
    ).replace(D1, "{id: D1, part: pad, stage: plate}")
    assert desk.refused(text) == [
        "l.yaml:2:33: part pad: loss: '20' has no unit; write it with dB"
    ]


def test_a_part_that_nothing_uses_is_checked(desk):
    assert desk.refused(PARTS.replace("loss: 20 dB", "los: 20 dB") + desk.good) == [
        "l.yaml:2:27: part pad: unknown key 'los'; did you mean 'loss'?"
    ]


def test_a_part_without_its_kind(desk):
    [problem] = desk.refused("parts: {pad: {loss: 20 dB}}\n" + desk.good)
    assert problem.startswith("l.yaml:1:14: part pad has no kind; add `kind:`, one of ")


def test_an_unknown_part_offers_the_nearest(desk):
    assert desk.refused(PARTS + desk.changed(A1, "{id: A1, part: pat, stage: plate}")) == [
        "l.yaml:11:22: A1: there is no part 'pat'; did you mean 'pad'? there is pad"
    ]


def test_a_part_and_a_kind(desk):
    row = "{id: A1, part: pad, kind: attenuator, stage: plate}"
    assert desk.refused(PARTS + desk.changed(A1, row)) == [
        "l.yaml:11:33: A1: both a part and a kind; leave kind out: the part has it"
    ]


@pytest.mark.parametrize(("word", "name"), [
    ("connector", "port"), ("LNA", "amplifier"), ("qubit", "device"), ("pad", "attenuator"),
])
def test_another_word_of_the_field_is_told_the_name_here(write_layout, word, name):
    with pytest.raises(LayoutError) as caught:
        write_layout(f"lines: {{main: [{{id: A1, kind: {word}, stage: room}}]}}")
    assert f"there is no kind '{word}'; it is called '{name}' here" in str(caught.value)


def test_no_other_word_for_a_kind_is_a_kind_or_stands_for_two():
    words = [word for kind in KINDS.values() for word in kind.also_called]
    assert len(words) == len(set(words))
    assert not set(words) & set(KINDS)
    assert all(word == word.lower() for word in words)
