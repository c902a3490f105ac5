"""Lines: neighbours, joins, free ports, copies, and copies that differ."""


import pytest

HEAD = """\
band: {start: 4 GHz, stop: 8 GHz, points: 11}
stages:
  room:   {temperature: 295 K}
  mixing: {temperature: 15 mK}
lines:
"""

COUPLED = HEAD + """\
  main:
    - {id: S1, kind: port, stage: room}
    - {id: C1, kind: coupler, stage: mixing, coupling: 20 dB}
    - {id: T1, kind: termination, stage: mixing}
  in:
    - {id: S2, kind: port, stage: room}
    - {join: C1.coupled}
  out:
    - {join: C1.isolated}
    - {id: T2, kind: termination, stage: mixing}
"""


def joints(layout):
    return [(*joint.first, *joint.second) for joint in layout.joints]


def test_neighbours_and_joins(desk):
    assert joints(desk.load(COUPLED)) == [
        ("S1", "port", "C1", "in"),
        ("C1", "out", "T1", "in"),
        ("S2", "port", "C1", "coupled"),
        ("C1", "isolated", "T2", "in"),
    ]


def test_two_joins_and_nothing_between(desk):
    text = HEAD + """\
  one:
    - {id: S1, kind: port, stage: room}
    - {id: A1, kind: attenuator, stage: room, loss: 3 dB}
  two:
    - {id: A2, kind: attenuator, stage: room, loss: 3 dB}
    - {id: T1, kind: termination, stage: room}
  between: [{join: A1.out}, {join: A2.in}]
"""
    assert joints(desk.load(text))[-1] == ("A1", "out", "A2", "in")


def test_a_join_needs_no_port_where_there_is_one(desk):
    text = HEAD + """\
  one: [{id: S1, kind: port, stage: room}, {join: T1}]
  two:
    - {id: D1, kind: device, stage: room, loads: [in]}
    - {id: A1, kind: attenuator, stage: room, loss: 3 dB, loads: [out]}
  free: [{id: T1, kind: termination, stage: room}]
"""
    assert joints(desk.load(text)) == [("S1", "port", "T1", "in"), ("D1", "out", "A1", "in")]


def test_lines_keep_their_order_and_note(desk):
    text = COUPLED.replace(
        "  in:\n    - {id: S2, kind: port, stage: room}\n    - {join: C1.coupled}\n",
        "  in:\n    note: through the top flange\n    elements:\n"
        "    - {id: S2, kind: port, stage: room}\n    - {join: C1.coupled}\n",
    )
    lines = desk.load(text).lines
    assert list(lines) == ["main", "in", "out"]
    assert lines["main"].elements == ("S1", "C1", "T1")
    assert (lines["in"].note, lines["in"].copy_of, lines["in"].number) == (
        "through the top flange", None, None
    )


MISTAKES = {
    ("    - {join: C1.isolated}\n", ""): [
        "l.yaml:8:12: the port C1.isolated is free; put `loads: [isolated]` on C1, "
        "or write `{join: C1.isolated}` as first or last item of another line",
        "l.yaml:14:12: the port T2.in is free; put T2 at an end of a line with other elements, "
        "or write `{join: T2.in}` as first or last item of another line",
    ],
    ("    - {id: T1, kind: termination, stage: mixing}\n", ""): [
        "l.yaml:8:12: the port C1.out is free; end line main with a port, a termination or a "
        "join, or put `loads: [out]` on C1, or write `{join: C1.out}` as first or last item of "
        "another line",
    ],
    ("    - {id: S1, kind: port, stage: room}\n", ""): [
        "l.yaml:7:12: the port C1.in is free; begin line main with a port, a termination or a "
        "join, or put `loads: [in]` on C1, or write `{join: C1.in}` as first or last item of "
        "another line",
    ],
    ("join: C1.isolated", "join: C1.coupled"): [
        "l.yaml:8:12: the port C1.isolated is free; put `loads: [isolated]` on C1, "
        "or write `{join: C1.isolated}` as first or last item of another line",
        "l.yaml:14:14: the port C1.coupled is used twice, first at l.yaml:12:14; "
        "a port has one joint: join another port, or put a splitter or coupler there",
    ],
    ("join: C1.isolated", "join: C1.out"): [
        "l.yaml:8:12: the port C1.isolated is free; put `loads: [isolated]` on C1, "
        "or write `{join: C1.isolated}` as first or last item of another line",
        "l.yaml:14:14: the port C1.out is used twice, first at l.yaml:8:12; "
        "a port has one joint: join another port, or put a splitter or coupler there",
    ],
    ("join: C1.isolated", "join: C2.isolated"): [
        "l.yaml:14:14: line out: join: there is no element 'C2'; "
        "did you mean 'C1'? there are S1, C1, T1, S2 and T2",
    ],
    ("join: C1.isolated", "join: C1.isolate"): [
        "l.yaml:14:14: line out: join: C1 has no port 'isolate'; "
        "did you mean 'isolated'? there are in, out, coupled and isolated",
    ],
    ("join: C1.isolated", "join: C1"): [
        "l.yaml:14:14: line out: join: C1 has more than one port; "
        "say which: C1.in or C1.out or C1.coupled or C1.isolated",
    ],
    ("join: C1.isolated", "join: C1-2.isolated"): [
        "l.yaml:14:14: line out: join: C1 has no copies; write C1 alone",
    ],
    ("join: C1.isolated", "join: '*'"): [
        "l.yaml:14:14: '*' is not a port; write an element's id and its port, like D1.out",
    ],
    ("join: C1.isolated}", "join: C1.isolated, stage: room}"): [
        "l.yaml:14:27: 'stage' stands beside a join; write it like {join: C1.coupled}",
    ],
    ("{join: C1.isolated}", "{join: }"): [
        "l.yaml:14:14: join has no value; write it like {join: C1.coupled}, or take the key out",
    ],
    ("coupling: 20 dB}", "coupling: 20 dB, loads: [isolated]}"): [
        "l.yaml:14:14: line out: join: C1.isolated carries a load; "
        "take 'isolated' out of the loads of C1, or name another port",
    ],
    ("    - {id: T1, kind: termination, stage: mixing}\n",
     "    - {join: T9}\n    - {id: T1, kind: termination, stage: mixing}\n"): [
        "l.yaml:9:14: a join stands inside of line main; "
        "a join is the first or last item of a line: split the line here",
    ],
    ("    - {id: C1,", "    - {id: T9, kind: termination, stage: mixing}\n    - {id: C1,"): [
        "l.yaml:8:12: T9 has one port and stands inside line main; "
        "a line ends there: begin a new one behind it, or move it to an end",
    ],
}  # fmt: skip


@pytest.mark.parametrize("change", MISTAKES, ids=[str(n) for n in range(len(MISTAKES))])
def test_mistakes(desk, change):
    old, new = change
    assert COUPLED.count(old) == 1
    assert desk.refused(COUPLED.replace(old, new)) == MISTAKES[change]


def test_a_port_joined_to_itself(desk):
    text = COUPLED + "  loop: [{join: C1.out}, {join: C1.out}]\n"
    assert "l.yaml:16:33: the port C1.out is joined to itself; join it to another port" in (
        desk.refused(text)
    )


def test_a_wrong_element_does_not_make_its_neighbours_ports_free(desk):
    assert desk.refused(COUPLED.replace("coupling: 20 dB", "coupling: 20")) == [
        "l.yaml:8:56: C1.coupling: '20' has no unit; write it with dB"
    ]


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ("lines:\n", "l.yaml:5:7: the layout has no lines; "
            "add `lines:`, each a list of elements between two ends"),
        ("lines: {}\n", "l.yaml:5:8: the layout has no lines; "
            "add `lines:`, each a list of elements between two ends"),
        ("lines: [a]\n", "l.yaml:5:8: lines is a list; "
            "write names, each with a mapping behind it"),
        ("lines: {main: }\n", "l.yaml:5:15: line main has no value; "
            "write a list of elements, each behind a '- '"),
        ("lines: {main: []}\n", "l.yaml:5:15: line main is empty; "
            "write a list of elements, each behind a '- '"),
        ("lines: {main: {copies: 2}}\n", "l.yaml:5:15: line main has no elements; "
            "add elements (the line's elements in order)"),
        ("lines: {'ma/in': []}\n", "l.yaml:5:9: the name 'ma/in' in lines cannot be used; "
            "a name has up to 60 letters, digits, spaces and _ . + - (a to z)"),
    ],
)  # fmt: skip
def test_lines_that_are_none(desk, lines, said):
    assert said in desk.refused(HEAD.replace("lines:\n", lines))


# -- copies ---------------------------------------------------------------------------------

QUBITS = """\
band: {start: 4 GHz, stop: 8 GHz, points: 11}
stages:
  room:   {temperature: 295 K}
  mixing: {temperature: 15 mK}
lines:
  drive:
    copies: 3
    elements:
      - {id: S1, kind: port, stage: room}
      - {id: A1, kind: attenuator, stage: mixing, loss: 20 dB}
      - {id: C1, kind: coupler, stage: mixing, coupling: 20 dB, loads: [isolated]}
      - {id: X1, kind: paramp, stage: mixing, gain: 20 dB, mixing: three-wave, pump: pump}
      - {id: R1, kind: port, stage: room}
    except: {2: {A1: {loss: 30 dB}}}
  pump:
    - {id: S2, kind: port, stage: room}
    - {join: C1.coupled}
tones:
  pump: {into: S2, frequency: 12 GHz, arriving: {X1.in: -30 dBm}}
signals:
  drive: {from: S1, to: R1}
"""


def test_copies_have_numbered_ids_and_lines(desk):
    layout = desk.load(QUBITS)
    assert list(layout.lines) == ["drive-1", "drive-2", "drive-3", "pump-1", "pump-2", "pump-3"]
    assert layout.lines["drive-2"].elements == ("S1-2", "A1-2", "C1-2", "X1-2", "R1-2")
    line = layout.lines["drive-2"]
    assert (line.copy_of, line.number) == ("drive", 2)
    assert len(layout.elements) == 3 * 6
    assert layout.elements["A1-2"].id == "A1-2"
    assert layout.elements["A1-2"].line == "drive-2"


def test_joins_reach_the_same_copy(desk):
    found = joints(desk.load(QUBITS))
    assert ("S2-2", "port", "C1-2", "coupled") in found
    assert ("A1-3", "out", "C1-3", "in") in found
    assert len(found) == 3 * 5


def test_signals_and_tones_are_copied_with_what_they_name(desk):
    layout = desk.load(QUBITS)
    assert list(layout.signals) == ["drive-1", "drive-2", "drive-3"]
    signal = layout.signals["drive-2"]
    assert (signal.name, signal.from_port, signal.to_port) == (
        "drive-2", ("S1-2", "port"), ("R1-2", "port")
    )
    assert list(layout.tones) == ["pump-1", "pump-2", "pump-3"]
    tone = layout.tones["pump-3"]
    assert (tone.name, tone.into, tone.arriving[0]) == ("pump-3", "S2-3", ("X1-3", "in"))
    assert [layout.elements[f"X1-{n}"].settings["pump"] for n in (1, 2, 3)] == [
        "pump-1", "pump-2", "pump-3"
    ]


def test_a_copy_that_differs(desk):
    elements = desk.load(QUBITS).elements
    assert [elements[f"A1-{n}"].settings["loss"].value for n in (1, 2, 3)] == [20.0, 30.0, 20.0]
    assert str(elements["A1-2"].place_of("loss")) == "l.yaml:14:29"


def test_equal_copies_share_their_values(desk):
    elements = desk.load(QUBITS).elements
    assert elements["A1-1"].settings is elements["A1-3"].settings
    assert elements["A1-1"].settings is not elements["A1-2"].settings


def test_a_tone_in_one_line_serves_all_copies(desk):
    text = QUBITS.replace("    - {join: C1.coupled}\n", "    - {id: T2, kind: termination, "
                          "stage: room}\n").replace(", loads: [isolated]",
                          ", loads: [isolated, coupled]").replace("arriving: {X1.in: -30 dBm}",
                          "power: 1 uW")
    layout = desk.load(text)
    assert list(layout.tones) == ["pump"]
    assert layout.elements["X1-2"].settings["pump"] == "pump"
    assert layout.elements["X1-1"].settings is layout.elements["X1-3"].settings


def test_one_copy_can_be_named(desk):
    layout = desk.load(QUBITS + "  second: {from: S1-2, to: R1-2.port}\n")
    assert layout.signals["second"].from_port == ("S1-2", "port")


def test_a_copy_that_is_not_there(desk):
    assert "l.yaml:17:14: line pump: join: C1 has no copy 4; give a number from 1 to 3" in (
        desk.refused(QUBITS.replace("join: C1.coupled", "join: C1-4.coupled"))
    )


def test_a_signal_in_a_copy_with_other_ports(desk):
    text = QUBITS.replace("{A1: {loss: 30 dB}}", "{X1: {reflects: true}}").replace(
        "from: S1, to: R1", "from: X1.out, to: R1"
    )
    assert "l.yaml:21:17: the port X1-2.out carries a load or is not there in this copy; change " \
        "what `except` gives for X1, or except this copy here too" in desk.refused(text)


def test_an_element_can_name_the_tone_of_one_copy(desk):
    layout = desk.load(QUBITS.replace("pump: pump}", "pump: pump-2}"))
    assert layout.elements["X1-1"].settings["pump"] == "pump-2"


def test_an_element_without_copies_names_one_of_a_copied_tone(desk):
    text = QUBITS.replace("tones:\n", """\
  other:
    - {id: S3, kind: port, stage: room}
    - {id: X3, kind: paramp, stage: mixing, gain: 20 dB, mixing: three-wave, pump: pump}
    - {id: R3, kind: port, stage: room}
tones:
""")
    assert desk.refused(text) == [
        "l.yaml:20:84: X3.pump: the tone pump has 3 copies; name one of them, like pump-1"
    ]


COPY_MISTAKES = {
    ("pump: pump}", "pump: pump-4}"): ["l.yaml:12:86: X1.pump: there is no tone 'pump-4'; "
        "pump has copies from 1 to 3"],
    ("copies: 3", "copies: 0"): ["l.yaml:7:13: lines.drive.copies: 0 is outside 1 to 10000; "
        "give 1 to 10000"],
    ("copies: 3", "copies: 10001"): ["l.yaml:7:13: lines.drive.copies: 10001 is outside "
        "1 to 10000; give 1 to 10000"],
    ("{2: {A1", "{4: {A1"): ["l.yaml:14:14: line drive has no copy '4'; "
        "give a number from 1 to 3"],
    ("{2: {A1", "{two: {A1"): ["l.yaml:14:14: line drive has no copy 'two'; "
        "give a number from 1 to 3"],
    ("{2: {A1", "{2: {A2"): ["l.yaml:14:18: copy 2 of line drive has no element 'A2'; "
        "did you mean 'A1'? there are S1, A1, C1, X1 and R1"],
    ("{A1: {loss: 30 dB}}", "{A1: {loss: 30}}"): ["l.yaml:14:29: A1.loss: '30' has no unit; "
        "write it with dB"],
    ("{A1: {loss: 30 dB}}", "{A1: {kind: device}}"): ["l.yaml:14:23: copy 2 of line drive cannot "
        "change the kind of A1; change other keys, or write a line of its own"],
    ("{A1: {loss: 30 dB}}", "{A1: dead}"): ["l.yaml:14:22: A1 in copy 2 of line drive is the "
        "text 'dead'; write it like {7: {H1: {state: dead}}}"],
    ("{A1: {loss: 30 dB}}", "{C1: {loads: [coupled, isolated]}}"): ["l.yaml:17:14: the port "
        "C1-2.coupled carries a load or is not there in this copy; "
        "change what `except` gives for C1, or except this copy here too"],
    ("from: S1, to: R1", "from: S1, to: C1"): ["l.yaml:21:25: signals.drive.to: C1 has more than "
        "one port; say which: C1.in or C1.out or C1.coupled or C1.isolated"],
}  # fmt: skip


@pytest.mark.parametrize("change", COPY_MISTAKES, ids=[str(n) for n in range(len(COPY_MISTAKES))])
def test_mistakes_with_copies(desk, change):
    old, new = change
    assert QUBITS.count(old) == 1
    assert desk.refused(QUBITS.replace(old, new)) == COPY_MISTAKES[change]


def test_copies_that_would_share_a_port(desk):
    text = COUPLED.replace(
        "  in:\n    - {id: S2, kind: port, stage: room}\n    - {join: C1.coupled}\n",
        "  in:\n    copies: 2\n    elements:\n"
        "    - {id: S2, kind: port, stage: room}\n    - {join: C1.coupled}\n",
    )
    assert desk.refused(text) == [
        "l.yaml:14:14: the 2 copies of line in would all join C1.coupled; "
        "give line main as many copies"
    ]


def test_lines_with_different_numbers_of_copies(desk):
    text = QUBITS.replace(
        "  pump:\n    - {id: S2, kind: port, stage: room}\n    - {join: C1.coupled}\n",
        "  pump:\n    copies: 2\n    elements:\n"
        "    - {id: S2, kind: port, stage: room}\n    - {join: C1.coupled}\n",
    )
    assert "l.yaml:19:14: line pump has 2 copies, and C1 has 3; give both lines as many copies" in (
        desk.refused(text)
    )


def test_a_free_port_of_every_copy_is_one_mistake(desk):
    [problem] = desk.refused(QUBITS.replace(", loads: [isolated]", ""))
    assert problem.startswith("l.yaml:11:14: the port C1.isolated is free; ")


def test_free_ports_of_some_copies_are_named(desk):
    text = QUBITS.replace("    - {join: C1.coupled}", "    - {join: C1-2.coupled}").replace(
        "arriving: {X1.in: -30 dBm}", "power: 1 uW"
    )
    problems = desk.refused(text)
    assert [problem.split(";")[0] for problem in problems] == [
        "l.yaml:11:14: the port C1-1.coupled is free",
        "l.yaml:11:14: the port C1-3.coupled is free",
    ]


def test_a_line_of_another_name_than_a_copy(desk):
    assert "l.yaml:22:3: the name drive-2 in signals is that of a copy of drive; " \
        "choose another name" in desk.refused(QUBITS + "  drive-2: {from: S1-2, to: R1-2}\n")


MANY = """\
band: {start: 4 GHz, stop: 8 GHz}
stages: {room: {temperature: 295 K}}
lines:
  drive:
    copies: COPIES
    elements:
      - {id: S1, kind: port, stage: room}
ROWS      - {id: R1, kind: port, stage: room}
signals: {drive: {from: S1, to: R1}}
"""


def many(copies, rows):
    pads = "".join(
        f"      - {{id: A{n}, kind: attenuator, stage: room, loss: 3 dB}}\n" for n in range(rows)
    )
    return MANY.replace("COPIES", str(copies)).replace("ROWS", pads)


def test_the_work_of_copies_grows_as_their_number(desk, work):
    _, few = work(lambda: desk.load(many(100, 10)))
    layout, calls = work(lambda: desk.load(many(1000, 10)))
    assert calls < 10 * few
    assert len(layout.elements) == 12_000
    assert len({id(element.settings) for element in layout.elements.values()}) == 12
    assert len(layout.signals) == 1000


def test_too_many_elements(desk, work):
    problems, calls = work(lambda: desk.refused(many(10_000, 20)))
    assert problems == [
        "l.yaml:5:13: the layout has more than 200,000 elements, copies counted; "
        "take fewer copies, or part the layout"
    ]
    # None of the 220,000 is made.
    assert calls < 22_000
