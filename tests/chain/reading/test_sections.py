"""The band, the stages, tones, signals and words of a layout."""

import pytest

BAND = "band: {start: 4 GHz, stop: 8 GHz, points: 11}"
PLATE = "plate:  {temperature: 3.8 K}"
SIGNAL = "main: {from: D1.out, to: R1}"


def test_band(desk):
    band = desk.load(desk.good).band
    assert (band.start_hz, band.stop_hz, band.points) == (4e9, 8e9, 11)
    assert band.frequency_hz.shape == (11,)


def test_points_have_a_default(desk):
    assert desk.load(desk.changed(", points: 11", "")).band.points == 201


def test_a_band_of_one_frequency(desk):
    text = desk.changed(BAND, "band: {start: 5 GHz, stop: 5 GHz, points: 1}")
    assert list(desk.load(text).band.frequency_hz) == [5e9]


BANDS = {
    "band: {start: 4 GHz, stop: 8 GHz, points: 10000000}":
        "l.yaml:1:43: band.points: 10000000 is outside 1 to 200000; give 1 to 200000",
    "band: {start: 4 GHz, stop: 8 GHz, points: 0}":
        "l.yaml:1:43: band.points: 0 is outside 1 to 200000; give 1 to 200000",
    "band: {start: 8 GHz, stop: 4 GHz}":
        "l.yaml:1:28: band: it stops at 4 GHz, below its start at 8 GHz; exchange start and stop",
    "band: {start: 0 GHz, stop: 4 GHz}":
        "l.yaml:1:15: band.start: '0 GHz' is below 1 Hz; give 1 Hz or more",
    "band: {start: 4, stop: 8 GHz}":
        "l.yaml:1:15: band.start: '4' has no unit; write it with one of Hz, kHz, MHz, GHz",
    "band: {start: 4 GHz}":
        "l.yaml:1:7: band has no stop; add `stop: 6 GHz` (highest frequency)",
    "band: {start: 4 GHz, stp: 8 GHz}":
        "l.yaml:1:22: band: unknown key 'stp'; "
        "did you mean 'stop'? there are start, stop and points",
    "band: 4 GHz":
        "l.yaml:1:7: band is the text '4 GHz'; write a mapping like {start: 4 GHz, stop: 8 GHz}",
    "band:":
        "l.yaml:1:6: the layout has no band; "
        "add `band: {start: 4 GHz, stop: 8 GHz, points: 201}`",
    "":
        "l.yaml:2:1: the layout has no band; "
        "add `band: {start: 4 GHz, stop: 8 GHz, points: 201}`",
}  # fmt: skip


@pytest.mark.parametrize("band", BANDS)
def test_bands_that_are_none(desk, band, memory):
    problems, held = memory(lambda: desk.broken(BAND, band))
    assert problems == [BANDS[band]]
    # Ten million points are refused by their number, not made: they would take 80 MB.
    assert held < 16 << 20


# -- stages ---------------------------------------------------------------------------------


def test_stages(desk):
    text = desk.changed(PLATE, "plate: {temperature: 3.8 K, other: {wires: 20 mW, pulse: 1 mW}}")
    stages = desk.load(text).stages
    assert list(stages) == ["room", "plate", "mixing"]
    assert stages["plate"].other_w == {"wires": pytest.approx(0.02), "pulse": pytest.approx(1e-3)}
    assert stages["plate"].cooling == ()
    # Kelvin and watt: only the rounding of one product each.
    assert stages["mixing"].cooling == (
        (pytest.approx(0.01), pytest.approx(2e-6)), (pytest.approx(0.02), pytest.approx(15e-6))
    )
    assert str(stages["plate"].place) == "l.yaml:4:3"


def test_stages_of_one_temperature(desk):
    assert desk.load(desk.changed("temperature: 3.8 K", "temperature: 295 K"))


STAGES = {
    "plate:  {temp: 3.8 K}":
        "l.yaml:4:12: stage plate: unknown key 'temp'; "
        "did you mean 'temperature'? there are temperature, cooling, other and note",
    "plate:  {cooling: {4 K: 1 W}}":
        "l.yaml:4:11: stage plate has no temperature; "
        "add `temperature: 15 mK` (the stage's temperature)",
    "plate:  {temperature: 380 K}":
        "l.yaml:4:25: stage plate at 380 K stands below stage room at 295 K and is warmer; "
        "list stages from warm to cold: put plate before room, or correct a temperature",
    "plate:  {temperature: -3 K}":
        "l.yaml:4:25: stages.plate.temperature: '-3 K' is below 0 K; give 0, or 1 uK or more",
    "plate:  {temperature: 4 K, cooling: {4 K: 1 W, 3 K: 2 W}}":
        "l.yaml:4:50: stages.plate.cooling: '3 K' does not lie above the point before it; "
        "write the points rising",
    "plate:  {temperature: 4 K, cooling: {4 K: -1 W}}":
        "l.yaml:4:45: stages.plate.cooling: '-1 W' is below 0 W; "
        "give 0, or 1e-30 W or more",
    "plate:  {temperature: 4 K, cooling: {}}":
        "l.yaml:4:39: stages.plate.cooling has 0 points; give 1 or more, like {15 mK: -30 dBm}",
    "plate:  {temperature: 4 K, other: {wires: 3}}":
        "l.yaml:4:45: stages.plate.other.wires: '3' has no unit; "
        "write it with one of pW, nW, uW, mW, W, kW, dBm",
    "plate:  4 K":
        "l.yaml:4:11: stage plate is the text '4 K'; write a mapping like {temperature: 15 mK}",
}  # fmt: skip


@pytest.mark.parametrize("row", STAGES)
def test_stages_that_are_none(desk, row):
    assert desk.broken(PLATE, row) == [STAGES[row]]


def test_a_stage_with_a_strange_name(desk):
    text = desk.good.replace("plate", "'4 K/plate'")
    assert desk.refused(text) == [
        "l.yaml:4:3: the name '4 K/plate' in stages cannot be used; "
        "a name has up to 60 letters, digits, spaces and _ . + - (a to z)"
    ]


def test_no_stages_at_all(desk):
    text = desk.good[: desk.good.index("stages:")] + desk.good[desk.good.index("lines:") :]
    problems = desk.refused(text)
    assert problems[0] == "l.yaml:4:35: S1.stage: there is no stage 'room'; add it to `stages:`"
    assert len(problems) == 5


# -- signals --------------------------------------------------------------------------------


def test_signals(desk):
    signal = desk.load(desk.good).signals["main"]
    assert (signal.from_port, signal.to_port) == (("D1", "out"), ("R1", "port"))


def test_a_signal_without_a_start(desk):
    assert desk.load(desk.changed(SIGNAL, "main: {to: R1}")).signals["main"].from_port is None


SIGNALS = {
    "main: {from: D1, to: R1}":
        "l.yaml:14:16: signals.main.from: D1 has more than one port; say which: D1.in or D1.out",
    "main: {from: D1.up, to: R1}":
        "l.yaml:14:16: signals.main.from: D1 has no port 'up'; there are in and out",
    "main: {from: D1.out, to: R2}":
        "l.yaml:14:28: signals.main.to: there is no element 'R2'; "
        "did you mean 'R1'? there are S1, A1, D1, H1 and R1",
    "main: {from: D1.out}":
        "l.yaml:14:9: signal main has no to; add to (the port at which the wave arrives)",
    "main: {from: D1.out, too: R1}":
        "l.yaml:14:24: signal main: unknown key 'too'; "
        "did you mean 'to'? there are from, to, band and note",
    "main: {from: [D1], to: R1}":
        "l.yaml:14:16: signals.main.from is a list; "
        "name an element and its port, like D1.out",
    "main: {from: '', to: R1}":
        "l.yaml:14:16: '' is not a port; write an element's id and its port, like D1.out",
}  # fmt: skip


@pytest.mark.parametrize("row", SIGNALS)
def test_signals_that_are_none(desk, row):
    assert desk.broken(SIGNAL, row) == [SIGNALS[row]]


APART = """\
  apart:
    - {id: S2, kind: port, stage: room}
    - {id: T2, kind: termination, stage: room}
"""


def test_ends_that_are_not_connected(desk):
    text = desk.good.replace("signals:\n", APART + "signals:\n").replace("to: R1", "to: T2")
    assert desk.refused(text) == [
        "l.yaml:17:3: signal main: D1.out and T2 are not connected; "
        "name two ports that joints connect, or join their lines"
    ]


# -- tones ----------------------------------------------------------------------------------


def with_tone(desk, row):
    return desk.good.replace("signals:\n", f"tones:\n  pump: {row}\n{APART}signals:\n").replace(
        APART, ""
    ).replace("tones:", APART + "tones:")


def test_tones(desk):
    layout = desk.load(with_tone(desk, "{into: S1, frequency: 12 GHz, power: 3 dBm}"))
    tone = layout.tones["pump"]
    assert (tone.into, tone.frequency_hz, tone.arriving) == ("S1", 12e9, None)
    # dBm to watt and back again: rounding of a power of ten.
    assert tone.power_w == pytest.approx(1.9952623e-3, rel=1e-7)
    assert (tone.count, tone.spacing_hz) == (1, None)
    assert str(tone.value_places["power"]) == "l.yaml:17:46"


def test_a_tone_by_what_arrives(desk):
    row = "{into: S1.port, frequency: 12 GHz, arriving: {D1.in: -30 dBm}}"
    tone = desk.load(with_tone(desk, row)).tones["pump"]
    assert tone.power_w is None
    assert tone.arriving == (("D1", "in"), pytest.approx(1e-6))


def test_a_comb(desk):
    row = "{into: S1, frequency: 5 GHz, power: 1 nW, count: 100, spacing: 10 MHz}"
    tone = desk.load(with_tone(desk, row)).tones["pump"]
    assert (tone.count, tone.spacing_hz) == (100, 1e7)


TONES = {
    "{into: A1, frequency: 12 GHz, power: 1 W}":
        "l.yaml:17:16: tone pump goes into A1, an attenuator and no outside connector; "
        "send it into a port",
    "{into: S9, frequency: 12 GHz, power: 1 W}":
        "l.yaml:17:16: tones.pump.into: there is no element 'S9'; "
        "did you mean 'S1'? there are S1, A1, D1, H1, R1, S2 and T2",
    "{into: S1, frequency: 12 GHz}":
        "l.yaml:17:16: tone pump has no power; "
        "add `power: 3 dBm`, or what has to arrive, like `arriving: {X1.in: -30 dBm}`",
    "{into: S1, frequency: 12 GHz, power: 1 W, arriving: {D1.in: 1 W}}":
        "l.yaml:17:61: tone pump has a power and what arrives of it; keep one",
    "{into: S1, frequency: 12 GHz, arriving: {D9.in: 1 W}}":
        "l.yaml:17:50: tones.pump.arriving: there is no element 'D9'; "
        "did you mean 'D1'? there are S1, A1, D1, H1, R1, S2 and T2",
    "{into: S1, frequency: 12 GHz, arriving: {D1.in: 1 W, D1.out: 1 W}}":
        "l.yaml:17:49: tones.pump.arriving names 2 ports; "
        "write one port and its power, like {X1.in: -30 dBm}",
    "{into: S1, frequency: 12 GHz, arriving: {D1.in: 0 W}}":
        "l.yaml:17:57: tones.pump.arriving: '0 W' is below 1e-30 W; give 1e-30 W or more",
    "{into: S2, frequency: 12 GHz, arriving: {D1.in: 1 W}}":
        "l.yaml:17:50: tone pump: S2 and D1.in are not connected; "
        "name two ports that joints connect, or join their lines",
    "{into: S1, power: 1 W}":
        "l.yaml:17:16: tone pump has no frequency; add `frequency: 6 GHz`, or of a comb "
        "`band: {start: 5 GHz, stop: 6 GHz}`",
    "{into: S1, frequency: 12, power: 1 W}":
        "l.yaml:17:31: tones.pump.frequency: '12' has no unit; "
        "write it with one of Hz, kHz, MHz, GHz",
    "{into: S1, frequency: 12 GHz, power: 1 W, count: 3}":
        "l.yaml:17:58: tone pump is a comb without a spacing; add `spacing: 10 MHz`, or give a `band` in place of the frequency",
    "{into: S1, frequency: 12 GHz, power: 1 W, spacing: 10 MHz}":
        "l.yaml:17:60: tone pump has a spacing, and is a single one; add `count:`",
}  # fmt: skip


@pytest.mark.parametrize("row", TONES)
def test_tones_that_are_none(desk, row):
    assert desk.refused(with_tone(desk, row)) == [TONES[row]]


PARAMP = "{id: D1, kind: paramp, stage: mixing, gain: 20 dB, mixing: four-wave, pump: pmp}"


def test_a_pump_that_is_not_defined(desk):
    text = with_tone(desk, "{into: S1, frequency: 12 GHz, power: 1 W}").replace(
        "{id: D1, kind: device, stage: mixing}", PARAMP
    )
    assert desk.refused(text) == [
        "l.yaml:10:83: D1.pump: there is no tone 'pmp'; did you mean 'pump'? there is pump"
    ]


# -- words ----------------------------------------------------------------------------------


def test_words(desk):
    text = "format: 1\ntitle: A line\nnote: of ours\naccept: {no-isolation: it is a test}\n"
    layout = desk.load(text + desk.good)
    assert layout.title == "A line"
    assert layout.accepted == {"no-isolation": "it is a test"}


def test_a_layout_without_a_title_has_its_files_name(desk):
    assert desk.load(desk.good).title == "l"


def test_sections_without_anything_in_them(desk):
    layout = desk.load("tones:\nparts:\ncoax:\nmaterials:\ninclude:\naccept:\n" + desk.good)
    assert layout.tones == {}


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("format: 2", "l.yaml:1:9: format 2 is not known; write 1"),
        ("title: [a]", "l.yaml:1:8: title is a list; write a text"),
        ("accept: {x: }", "l.yaml:1:13: accept.x has no value; say why, or take the key out"),
        ("tones: [a]", "l.yaml:1:8: tones is a list; write names, each with a mapping behind it"),
    ],
)  # fmt: skip
def test_words_that_are_wrong(desk, line, said):
    assert desk.refused(f"{line}\n{desk.good}") == [said]


def test_an_unknown_section(desk):
    [problem] = desk.refused("tons: {}\n" + desk.good)
    assert problem.startswith(
        "l.yaml:1:1: unknown key 'tons'; did you mean 'tones'? there are format, title, band, "
    )


def test_a_section_that_is_only_misspelt_is_one_mistake(desk):
    [problem] = desk.refused(desk.good.replace("band:", "bnd:"))
    assert problem.startswith("l.yaml:1:1: unknown key 'bnd'; did you mean 'band'?")
