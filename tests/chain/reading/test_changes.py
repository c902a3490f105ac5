"""Changes for one run: what they reach, and what is said of those that reach nothing."""

import pytest

TONE = "tones:\n  pump: {into: S1, frequency: 12 GHz, arriving: {D1.in: -30 dBm}}\n"
PARTS = "parts:\n  amp: {kind: amplifier, gain: 36 dB, noise_temperature: 2 K, bias: 9 mW, " \
    "warm: {gain: 30 dB}}\n"


def full(desk):
    return TONE + PARTS + desk.changed(
        "kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 2 K",
        "part: amp, stage: plate",
    )


def test_changes_are_kept_as_written(desk):
    assert desk.load(desk.good, "A1.loss=10 dB").changes == ("A1.loss=10 dB",)


@pytest.mark.parametrize(
    ("change", "get", "expected"),
    [
        ("H1.state=dead", lambda x: x.elements["H1"].settings["state"], "dead"),
        ("A1.loss=10 dB", lambda x: x.elements["A1"].settings["loss"].value, 10.0),
        ("A1.loss = 10 dB", lambda x: x.elements["A1"].settings["loss"].value, 10.0),
        ('A1.loss="10 dB"', lambda x: x.elements["A1"].settings["loss"].value, 10.0),
        ("A1.loss={4 GHz: 1 dB, 8 GHz: 2 dB}",
            lambda x: x.elements["A1"].settings["loss"].values, (1.0, 2.0)),
        ("H1.gain=20 dB", lambda x: x.elements["H1"].settings["gain"].value, 20.0),
        ("H1.bias=", lambda x: x.elements["H1"].settings.given("bias"), False),
        ("H1.warm.gain=10 dB", lambda x: x.elements["H1"].settings["warm"]["gain"].value, 10.0),
        ("A1.warm.loss=1 dB", lambda x: x.elements["A1"].settings["warm"]["loss"].value, 1.0),
        ("parts.amp.gain=12 dB", lambda x: x.elements["H1"].settings["gain"].value, 12.0),
        ("stages.mixing.temperature=20 mK", lambda x: x.stages["mixing"].temperature_k, 0.02),
        ("stages.plate.other.wires=20 mW", lambda x: x.stages["plate"].other_w["wires"], 0.02),
        ("stages.mixing.cooling.20 mK=30 uW",
            lambda x: x.stages["mixing"].cooling[1][1], pytest.approx(3e-5)),
        ("stages.mixing.cooling=", lambda x: x.stages["mixing"].cooling, ()),
        ("tones.pump.frequency=11 GHz", lambda x: x.tones["pump"].frequency_hz, 11e9),
        ("tones.pump.arriving.D1.in=1 mW",
            lambda x: x.tones["pump"].arriving[1], pytest.approx(1e-3)),
        ("tones.pump=", lambda x: x.tones, {}),
        ("lines.main.copies=2", lambda x: list(x.lines), ["main-1", "main-2"]),
        ("lines.main.note=x", lambda x: x.lines["main"].note, "x"),
        ("band.points=5", lambda x: x.band.points, 5),
        ("band.points=", lambda x: x.band.points, 201),
        ("signals.main.from=A1.out", lambda x: x.signals["main"].from_port, ("A1", "out")),
        ("signals.main.from=", lambda x: x.signals["main"].from_port, None),
        ("signals.main=", lambda x: x.signals, {}),
        ("title=another", lambda x: x.title, "another"),
        ("accept.no-isolation=a test", lambda x: x.accepted, {"no-isolation": "a test"}),
        ("coax.copper-0.86.loss_temperature=4 K",
            lambda x: x.coax["copper-0.86"].loss_temperature_k, 4.0),
        ("materials.ptfe.permittivity=1.7", lambda x: x.materials["ptfe"].permittivity, 1.7),
    ],
)  # fmt: skip
def test_changes(desk, change, get, expected):
    assert get(desk.load(full(desk), change)) == expected
    try:
        before = get(desk.load(full(desk)))
    except (AttributeError, KeyError, TypeError):
        before = ...  # Without the change there is nothing of the kind.
    assert before != expected


def test_a_change_knows_its_place(desk):
    element = desk.load(desk.good, "A1.loss=10 dB").elements["A1"]
    assert str(element.place_of("loss")) == "--set A1.loss=10 dB:1:9"


def test_several_changes(desk):
    layout = desk.load(full(desk), "lines.main.copies=3", "A1-2.loss=1 dB", "A1.loss=2 dB")
    losses = [layout.elements[f"A1-{n}"].settings["loss"].value for n in (1, 2, 3)]
    assert losses == [2.0, 1.0, 2.0]


def test_one_copy_of_a_part(desk):
    layout = desk.load(full(desk), "lines.main.copies=2", "H1-2.bias=", "H1-1.state=dead")
    assert layout.elements["H1-1"].settings["state"] == "dead"
    assert layout.elements["H1-1"].settings.given("bias")
    assert not layout.elements["H1-2"].settings.given("bias")


def test_a_change_beside_what_is_excepted_already(desk):
    text = desk.good.replace("  main:\n", "  main:\n    copies: 2\n"
        "    except: {2: {A1: {loss: 3 dB}}}\n    elements:\n", 1)  # fmt: skip
    layout = desk.load(text, "A1-2.note=x", "lines.main.except.2.A1.loss=4 dB")
    assert layout.elements["A1-2"].settings["note"] == "x"
    assert layout.elements["A1-2"].settings["loss"].value == 4.0


def test_what_an_alias_shows_elsewhere_stays(desk):
    text = desk.good.replace("loss: 20 dB}", "loss: 20 dB, warm: &w {loss: 1 dB}}").replace(
        "stage: mixing}", "stage: mixing, warm: *w}"
    )
    layout = desk.load(text, "A1.warm.loss=2 dB")
    assert layout.elements["A1"].settings["warm"]["loss"].value == 2.0
    assert layout.elements["D1"].settings["warm"]["loss"].value == 1.0


def test_a_change_reaches_included_files(desk):
    start, end = desk.good.index("stages:"), desk.good.index("lines:")
    desk.write(desk.good[start:end], "stages.yaml")
    text = "include: stages.yaml\n" + desk.good[:start] + desk.good[end:]
    assert desk.load(text, "stages.mixing.temperature=20 mK").stages["mixing"].temperature_k == 0.02


MISTAKES = {
    "H1.stat=dead": "--set H1.stat=dead:1:1: H1: unknown key 'stat'; did you mean 'state'?",
    "H1.state=ded": "--set H1.state=ded:1:10: H1.state: 'ded' is not one of its words; "
        "did you mean 'dead'? there are ok, off, dead, bypassed, open and shorted",
    "H9.state=dead": "--set H9.state=dead:1:1: there is no element or section 'H9'; "
        "did you mean 'H1'?",
    "A1.loss=20": "--set A1.loss=20:1:9: A1.loss: '20' has no unit; write it with dB",
    "A1.loss=": "--set A1.loss=:1:9: A1 has no loss; "
        "add `loss: 20 dB` (loss from one port to the other)",
    "A1.tag=": "--set A1.tag=:1:1: A1 has no 'tag' to take away; "
        "did you mean 'stage'? there are kind, stage and loss",
    "A1=": "--set A1=:1:1: A1 is an element, and no key of it is named; "
        "write A1.KEY=VALUE, like A1.state=bypassed to take it out",
    "A1.id=A2": "--set A1.id=A2:1:1: an id cannot be changed for one run; edit the file",
    "A1-2.loss=1 dB": "--set A1-2.loss=1 dB:1:1: line main has no copies to be excepted; "
        "add `copies:`",
    "lines.man.copies=2": "--set lines.man.copies=2:1:1: there is no 'man' in lines; "
        "did you mean 'main'? there is main",
    "lines.main.copies=two": "--set lines.main.copies=two:1:19: lines.main.copies: 'two' is not a "
        "whole number; write a whole number from 1 to 10000, without a unit",
    "lines.main.copy=2": "--set lines.main.copy=2:1:1: line main: unknown key 'copy'; "
        "did you mean 'copies'? there are elements, copies, except, current and note",
    "stages.mixin.temperature=1 K": "--set stages.mixin.temperature=1 K:1:1: there is no 'mixin' "
        "in stages; did you mean 'mixing'? there are room, plate and mixing",
    "stages.mixing.temperature=5 K": "--set stages.mixing.temperature=5 K:1:27: stage mixing at "
        "5 K stands below stage plate at 3.8 K and is warmer; list stages from warm to cold: "
        "put mixing before plate, or correct a temperature",
    "stages.mixing=": "l.yaml:10:37: D1.stage: there is no stage 'mixing'; there are room and plate",
    "tones.pump.power=1 W": "--set tones.pump.power=1 W:1:1: there is no 'pump' in tones; "
        "there are no tones",
    "coax.cuprnickel-0.86.loss=3": "--set coax.cuprnickel-0.86.loss=3:1:1: there is no coax "
        "'cuprnickel-0.86.loss'; did you mean 'cupronickel-0.86'?",
    "band.pints=3": "--set band.pints=3:1:1: band: unknown key 'pints'; "
        "did you mean 'points'? there are start, stop and points",
    "band.start.x=3": "--set band.start.x=3:1:1: band: unknown key 'start.x'; "
        "did you mean 'start'? there are start, stop and points",
    "band.pints=": "--set band.pints=:1:1: band has no 'pints' to take away; "
        "did you mean 'points'? there are start, stop and points",
    "lines=": "--set lines=:1:1: lines is a whole section; name one of its keys: "
        "write KEY=VALUE, like H1.state=dead or stages.mixing.temperature=20 mK",
    "include=x": "--set include=x:1:1: include cannot be changed for one run; edit the file",
    "nonsense": "--set nonsense:1:1: 'nonsense' is no change; "
        "write KEY=VALUE, like H1.state=dead or stages.mixing.temperature=20 mK",
    "=3": "--set =3:1:1: '=3' is no change; "
        "write KEY=VALUE, like H1.state=dead or stages.mixing.temperature=20 mK",
    "": "--set :1:1: '' is no change; "
        "write KEY=VALUE, like H1.state=dead or stages.mixing.temperature=20 mK",
    "A1.loss=[": "--set A1.loss=[:2:1: a value is missing here; "
        "write one, or close the bracket before it",
    "A1.loss={4 GHz: 1 dB, 8 GHz: 2}": "--set A1.loss={4 GHz: 1 dB, 8 GHz: 2}:1:30: A1.loss: '2' "
        "has no unit; write it with dB",
}  # fmt: skip


@pytest.mark.parametrize("change", MISTAKES)
def test_mistakes(desk, change):
    assert desk.refused(desk.good, change) == [MISTAKES[change]]


def test_mistakes_in_changes_come_after_those_of_the_file(desk):
    problems = desk.refused(desk.good.replace("3.8 K", "3.8"), "A1.loss=20", "A1.x=1")
    assert [problem.split(": ")[0] for problem in problems] == [
        "l.yaml:4:25", "--set A1.loss=20:1:9", "--set A1.x=1:1:1"
    ]


@pytest.mark.parametrize("change", ["A1.loss=" + "[" * 5000, "A1." * 3000 + "x=1", "x" * 100_000])
def test_hostile_changes(desk, change):
    assert len("\n".join(desk.refused(desk.good, change))) < 1000
