"""The whole form at once: a receiver with a paramp, its pump lines, everything by name."""

import re

import pytest

import chain
from chain.errors import LayoutError, Place

RECEIVER = """\
format: 1
title: Haloscope receiver
band: {start: 4 GHz, stop: 8 GHz, points: 801}
include: []
stages:
  room:   {temperature: 295 K}
  shield: {temperature: 46 K,   cooling: {40 K: 20 W, 50 K: 35 W}}
  plate:  {temperature: 3.8 K,  cooling: {3.5 K: 0.8 W, 4.2 K: 1.5 W}}
  still:  {temperature: 0.9 K,  cooling: {0.8 K: 15 mW, 1.0 K: 30 mW}}
  middle: {temperature: 110 mK, cooling: {100 mK: 250 uW, 150 mK: 600 uW}}
  mixing: {temperature: 15 mK,  cooling: {10 mK: 2 uW, 20 mK: 15 uW, 100 mK: 450 uW}}
parts:
  low-noise-amplifier: {kind: amplifier, gain: 36 dB, noise_temperature: 2.2 K, bias: 9 mW}
lines:
  receive:
    - {id: S1, kind: port,       stage: room}
    - {id: W1, kind: cable,      from: room, to: plate, length: 0.6 m, coax: cupronickel-2.19}
    - {id: A1, kind: attenuator, stage: plate,  loss: 20 dB}
    - {id: W2, kind: cable,      from: plate, to: mixing, length: 0.5 m, coax: cupronickel-0.86, via: {still: 0.2 m, middle: 0.35 m}}
    - {id: A2, kind: attenuator, stage: mixing, loss: 30 dB}
    - {id: D1, kind: device,     stage: mixing}
    - {id: I1, kind: isolator,   stage: mixing, insertion_loss: 0.3 dB, isolation: 20 dB}
    - {id: C1, kind: coupler,    stage: mixing, coupling: 20 dB, insertion_loss: 0.2 dB, directivity: 20 dB, reversed: true}
    - {id: X1, kind: paramp,     stage: mixing, gain: 18 dB, mixing: three-wave, pump: pump, pump_loss: 0.5 dB}
    - {id: Y1, kind: diplexer,   stage: mixing, crossover: 9.5 GHz, order: 11, enter: common, leave: low}
    - {id: I2, kind: isolator,   stage: mixing, insertion_loss: 0.3 dB, isolation: 20 dB}
    - {id: W3, kind: cable,      from: mixing, to: plate, length: 0.5 m, coax: niobium-titanium-0.86}
    - {id: H1, part: low-noise-amplifier, stage: plate}
    - {id: W4, kind: cable,      from: plate, to: room, length: 0.8 m, coax: cupronickel-2.19}
    - {id: H2, kind: amplifier,  stage: room, gain: 30 dB, noise_figure: 1.5 dB}
    - {id: R1, kind: port,       stage: room}
  pump-in:
    - {id: S2, kind: port,       stage: room}
    - {id: W5, kind: cable,      from: room, to: plate, length: 0.6 m, coax: cupronickel-2.19}
    - {id: A3, kind: attenuator, stage: plate,  loss: 20 dB}
    - {id: W6, kind: cable,      from: plate, to: mixing, length: 0.5 m, coax: niobium-titanium-0.86}
    - {join: C1.coupled}
  pump-back:
    - {join: C1.isolated}
    - {id: W7, kind: cable,      from: mixing, to: plate, length: 0.5 m, coax: niobium-titanium-0.86}
    - {id: T1, kind: termination, stage: plate}
  pump-out:
    - {join: Y1.high}
    - {id: W8, kind: cable,      from: mixing, to: plate, length: 0.5 m, coax: niobium-titanium-0.86}
    - {id: T2, kind: termination, stage: plate}
tones:
  pump: {into: S2, frequency: 11.6 GHz, arriving: {X1.in: -30 dBm}}
signals:
  receive: {from: D1.out, to: R1}
  drive:   {from: S1, to: D1.in}
"""


@pytest.fixture
def receiver(desk):
    return desk.load(RECEIVER)


def test_every_element_is_there(receiver):
    assert list(receiver.elements) == (
        ["S1", "W1", "A1", "W2", "A2", "D1", "I1", "C1", "X1", "Y1", "I2", "W3", "H1", "W4", "H2", "R1", "S2", "W5", "A3", "W6", "W7", "T1", "W8", "T2"]
    )
    assert all(id == element.id for id, element in receiver.elements.items())
    assert list(receiver.lines) == ["receive", "pump-in", "pump-back", "pump-out"]


def test_every_joint_is_there(receiver):
    found = {frozenset((joint.first, joint.second)) for joint in receiver.joints}
    # 16 + 5 + 3 + 3 items in four lines, one joint between neighbours.
    assert len(receiver.joints) == len(found) == 15 + 4 + 2 + 2
    for pair in (
        (("S1", "port"), ("W1", "in")),
        (("I1", "out"), ("C1", "out")),
        (("C1", "in"), ("X1", "in")),
        (("X1", "out"), ("Y1", "common")),
        (("Y1", "low"), ("I2", "in")),
        (("H2", "out"), ("R1", "port")),
        (("W6", "out"), ("C1", "coupled")),
        (("C1", "isolated"), ("W7", "in")),
        (("Y1", "high"), ("W8", "in")),
        (("W8", "out"), ("T2", "in")),
    ):
        assert frozenset(pair) in found


def test_every_port_is_joined_once(receiver):
    used = [port for joint in receiver.joints for port in (joint.first, joint.second)]
    assert len(used) == len(set(used))
    assert set(used) == {
        (element.id, port) for element in receiver.elements.values() for port in element.ports
    }


def test_cables_are_anchored(receiver):
    cable = receiver.elements["W2"]
    assert (cable.stage, cable.from_stage, cable.to_stage) == (None, "plate", "mixing")
    assert cable.via == (("still", 0.2), ("middle", 0.35))
    assert cable.settings["coax"].name == "cupronickel-0.86"


def test_a_part_is_taken(receiver):
    amplifier = receiver.elements["H1"]
    assert (amplifier.part, amplifier.kind.name) == ("low-noise-amplifier", "amplifier")
    # 9 mW: the rounding of one product.
    assert amplifier.settings["bias"].value == pytest.approx(9e-3)


def test_stages_tones_signals_and_band(receiver):
    assert [stage.temperature_k for stage in receiver.stages.values()] == [
        295.0, 46.0, 3.8, 0.9, pytest.approx(0.11), pytest.approx(0.015)
    ]
    assert receiver.stages["mixing"].cooling[-1] == (pytest.approx(0.1), pytest.approx(450e-6))
    tone = receiver.tones["pump"]
    assert (tone.into, tone.frequency_hz, tone.power_w) == ("S2", 11.6e9, None)
    assert tone.arriving == (("X1", "in"), pytest.approx(1e-6))
    signals = {name: (s.from_port, s.to_port) for name, s in receiver.signals.items()}
    assert signals == {
        "receive": (("D1", "out"), ("R1", "port")), "drive": (("S1", "port"), ("D1", "in"))
    }
    assert (receiver.band.start_hz, receiver.band.stop_hz, receiver.band.points) == (4e9, 8e9, 801)
    assert receiver.title == "Haloscope receiver"


def test_sources_are_what_was_read(receiver):
    assert receiver.sources == {"l.yaml": RECEIVER.encode()}
    assert receiver.path == "l.yaml"


def test_loading_by_a_path_object(desk):
    desk.write(RECEIVER)
    assert chain.load(desk.folder / "l.yaml").path == str(desk.folder / "l.yaml")


def test_pump_back_replaced_by_a_load(desk):
    text = RECEIVER.replace("reversed: true", "reversed: true, loads: [isolated]")
    start = text.index("  pump-back:")
    text = text[:start] + text[text.index("  pump-out:"):]
    assert desk.load(text).elements["C1"].ports == ("in", "out", "coupled")


# -- what is said of mistakes -----------------------------------------------------------------


def test_all_mistakes_at_once_in_the_order_of_the_file(desk):
    text = desk.good
    for old, new in (
        ("stop: 8 GHz", "stop: 8"), ("3.8 K", "3.8 dB"), ("20 dB", "-20 dB"),
        ("kind: device", "kind: devise"), ("stage: plate, gain", "stage: plat, gain"),
        ("to: R1", "to: R2"),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    assert [problem.split(": ")[0] for problem in desk.refused(text)] == [
        "l.yaml:1:28", "l.yaml:4:25", "l.yaml:9:54", "l.yaml:10:22", "l.yaml:11:40", "l.yaml:14:28"
    ]


def test_twenty_mistakes_are_told_and_the_rest_counted(desk):
    rows = "".join(
        f"    - {{id: B{n}, kind: attenuator, stage: plate, loss: 3}}\n" for n in range(30)
    )
    with pytest.raises(LayoutError) as caught:
        desk.load(desk.good.replace("    - {id: D1,", rows + "    - {id: D1,"))
    assert len(caught.value.problems) == 20
    assert caught.value.left_out == 10
    assert str(caught.value).splitlines()[-1] == "and 10 more of them"
    assert caught.value.problems[0].place == Place("l.yaml", 10, 54)


def test_no_more_mistakes_are_looked_for_than_anyone_reads(desk, work):
    def refused(lines):
        rows = "".join(
            f"  x{n}: [{{join: Q{n}}}, {{id: B{n}, kind: attenuator}}]\n" for n in range(lines)
        )
        with pytest.raises(LayoutError) as caught:
            desk.load(desk.good.replace("signals:\n", rows + "signals:\n"))
        return caught.value

    # Reading stops at two hundred; without the bound every word is compared with all others.
    _, few = work(lambda: refused(1000))
    error, many = work(lambda: refused(2000))
    assert many < 2.2 * few
    assert len(error.problems) == 20


def test_the_work_of_elements_written_out_grows_as_their_number(desk, work):
    def line(n):
        pads = "".join(
            f"    - {{id: A{n}_{k}, kind: attenuator, stage: room, loss: {k + 3} dB}}\n"
            for k in range(10)
        )
        return (
            f"  l{n}:\n    - {{id: S{n}, kind: port, stage: room}}\n{pads}"
            f"    - {{id: R{n}, kind: port, stage: room}}\n"
        )

    def load(lines):
        return desk.load(
            "band: {start: 4 GHz, stop: 8 GHz}\nstages: {room: {temperature: 295 K}}\nlines:\n"
            + "".join(line(n) for n in range(lines))
        )

    _, few = work(lambda: load(50))
    layout, calls = work(lambda: load(100))
    assert calls < 2.1 * few
    assert len(layout.elements) == 1_200
    assert len(layout.joints) == 1_100




WORDS = ["", "20 dB", "~", "{}", "[x]", "{in: x}", "D1", "main", "-1", "'", "id", "5000 dBm"]


@pytest.mark.parametrize("word", WORDS)
def test_any_word_in_any_place_is_read_or_refused_and_nothing_else(desk, word):
    spans = [found.span() for found in re.finditer(r"[\w.]+", desk.good)]
    refusals = []
    for start, end in spans:
        try:
            desk.load(desk.good[:start] + word + desk.good[end:])
        except LayoutError as error:
            refusals.append(error.problems)
    # Nearly every word of a layout means something, so most changes cannot be read.
    assert len(refusals) > len(spans) * 3 / 4
    assert all(refusals)
