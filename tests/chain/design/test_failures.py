"""Which failures are listed: every signal's, of copies that solve alike the first one's."""

import json

import pytest

from chain.design.failures import each_failure

STAGES = """
stages: {room: {temperature: 295 K}, plate: {temperature: 4 K}, base: {temperature: 20 mK}}
band: {start: 5 GHz, stop: 5 GHz, points: 1}
"""


def _line(number, gain):
    return f"""
  line{number}:
    - {{id: S{number}, kind: port, stage: base}}
    - {{id: W{number}, kind: cable, from: base, to: plate, loss: 0 dB}}
    - {{id: H{number}, kind: amplifier, stage: plate, gain: {gain} dB, noise_temperature: 3 K}}
    - {{id: G{number}, kind: amplifier, stage: plate, gain: 20 dB, noise_temperature: 6 K}}
    - {{id: R{number}, kind: port, stage: room}}"""


def _by_hand(*names):
    lines = "".join(_line(number, 10 * number + 10) for number, _ in enumerate(names, 1))
    signals = ", ".join(
        f"{name}: {{from: S{number}, to: R{number}}}" for number, name in enumerate(names, 1)
    )
    return f"{STAGES}lines:{lines}\nsignals: {{{signals}}}\n"


@pytest.mark.parametrize("names", [("out-1", "out-2"), ("cooldown-2", "cooldown-3")])
def test_names_written_by_hand_are_no_copies(write_layout, names):
    found = each_failure(write_layout(_by_hand(*names))).failures
    # Of each line two amplifiers dead and the cable open.
    assert [sum(one.signal == name for one in found) for name in names] == [3, 3]


def test_the_worst_failure_is_listed_whatever_its_signal_is_called(run, tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(_by_hand("out-1", "out-2"))
    _, out, _ = run("compare", path, "--each", "--json")
    dead = [one for one in json.loads(out)["failures"] if one["change"].endswith("state=dead")]
    # More gain in front hides more of what is behind it, so its loss costs more.
    assert max(dead, key=lambda one: one["noise_ratio"])["signal"] == "out-2"


COPIES = f"""{STAGES}
lines:
  main:
    copies: 3
    except: {{2: {{H: {{noise_temperature: 1 K}}}}}}
    elements:
      - {{id: S, kind: port, stage: base}}
      - {{id: H, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 3 K}}
      - {{id: R, kind: port, stage: room}}
signals: {{main: {{from: S, to: R}}}}
"""


def test_equal_copies_are_told_once_and_a_copy_that_differs_by_itself(write_layout):
    found = each_failure(write_layout(COPIES)).failures
    assert {one.signal for one in found} == {"main-1", "main-2"}


PUMPED = f"""{STAGES}
lines:
  main:
    - {{id: S, kind: port, stage: base}}
    - {{id: Y, kind: diplexer, stage: base, crossover: 8 GHz, order: 9, enter: low, leave: common}}
    - {{id: X, kind: paramp, stage: base, gain: 20 dB, mixing: three-wave, pump: p}}
    - {{id: R, kind: port, stage: room}}
  pump:
    - {{id: P, kind: port, stage: room}}
    - {{id: H, kind: amplifier, stage: room, gain: 5 dB, noise_temperature: 300 K,
        unpowered_loss: 0 dB}}
    - {{join: Y.high}}
tones: {{p: {{into: P, frequency: 11 GHz, power: 1 uW}}}}
signals: {{main: {{from: S, to: R}}}}
"""


def test_the_margin_says_when_a_pump_is_lost(write_layout):
    def unpumped(*changes):
        found = each_failure(write_layout(PUMPED, *changes)).failures
        return next(one for one in found if one.change == "H.state=dead").unpumped

    # The dead amplifier takes 5 dB off the pump.
    assert unpumped() == ()
    assert unpumped("margins.pump_lost=4 dB") == ("X",)
