"""What a replacement has to be: the worst value is the one beyond which a margin is left."""

import json
from pathlib import Path

import numpy as np
import pytest

from chain.advice.inspection import photons_at
from chain.advice.replacement import replacement
from chain.errors import LayoutError
from chain.heat.stages import heat
from chain.noise.budget import budget
from chain.power.self_heating import noise_network
from chain.power.tones import power
from components.quantities import parse

HALOSCOPE = Path(__file__).parents[3] / "demo_chains" / "haloscope.yaml"

RECEIVER = """
band: {start: 5.9 GHz, stop: 6.1 GHz, points: 3}
stages:
  room: {temperature: 295 K}
  plate: {temperature: 4 K, cooling: {3.5 K: 10 mW, 4.5 K: 30 mW}, other: {rest: 8 mW}}
  mixing: {temperature: 20 mK}
lines:
  in:
    - {id: S1, kind: port, stage: room}
    - {id: A1, kind: attenuator, stage: plate, loss: 40 dB, connectors: {in: SMA female,
       out: SMA male}}
    - {id: A2, kind: attenuator, stage: mixing, loss: 30 dB, connectors: {in: SMA female},
       cost: 90 EUR, spares: 2}
    - {id: D1, kind: device, stage: mixing}
    - {id: I1, kind: isolator, stage: mixing, insertion_loss: 0.3 dB, isolation: 40 dB}
    - {id: H1, kind: amplifier, stage: plate, gain: 40 dB, noise_temperature: 4 K, bias: 5 mW,
       p1db_out: -20 dBm}
    - {id: H2, kind: amplifier, stage: room, gain: 30 dB, noise_temperature: 100 K}
    - {id: R1, kind: port, stage: room}
tones: {probe: {into: S1, frequency: 6 GHz, power: 0 dBm}}
signals: {receive: {from: D1.out, to: R1}}
"""


def bound(found, name):
    return next(one for one in found.bounds if one.parameter == name)


@pytest.fixture(scope="module")
def receiver(write_layout):
    return write_layout(RECEIVER)


@pytest.fixture(scope="module")
def amplifier(receiver):
    return replacement(receiver, "H1")


def test_the_noise_temperature_may_rise_by_a_twentieth_of_the_system_noise(amplifier):
    most = parse(bound(amplifier, "noise_temperature").most, "temperature").value
    # By hand: 4 K of H1 and 100 K / 10^4 of H2, through 0.3 dB; the pad's 0.5 quanta at 20 mK and
    # the half quantum of R1's wave: 5 % of the whole, all of it from H1.
    h_over_k = 0.0479924e-9 * 6e9
    loss = 10 ** 0.03
    whole_k = loss * (4 + 100 / 1e4 + 295 / 1e7) + loss * h_over_k / 2
    assert most == pytest.approx(4 + 0.05 * whole_k / loss, rel=0.004)
    assert bound(amplifier, "noise_temperature").most_why == "noise of receive"


def test_the_bias_may_rise_until_a_fifth_of_the_cooling_is_left(receiver, amplifier):
    most = parse(bound(amplifier, "bias").most, "power").value
    # 80 % of the cooling power at 4 K, less 8 mW; what the probe leaves at the plate is 1 mW of it.
    room_w = 0.8 * heat(receiver).stages["plate"].cooling_w
    probe_w = heat(receiver).stages["plate"].tones_w
    assert most == pytest.approx(room_w - 8e-3 - probe_w, rel=0.01)
    assert bound(amplifier, "bias").most_why == "heat at plate"


def test_the_gain_may_rise_until_the_probe_is_ten_decibels_below_compression(receiver, amplifier):
    # -70.3 dBm arrive at H1; -20 dBm less 10 dB at its output leave 40.3 dB of gain, told as 40.2:
    # three digits, rounded to the side that does.
    most = parse(bound(amplifier, "gain").most, "ratio").value
    arrives_dbm = power(receiver).tones["probe"].arriving_dbm["H1.in"]
    assert arrives_dbm == pytest.approx(-70.3, abs=0.01)
    assert most == pytest.approx(-30 - arrives_dbm, abs=0.11)
    assert bound(amplifier, "gain").most_why == "headroom of H1"


def test_the_isolation_may_fall_until_the_photons_reach_their_margin(receiver):
    found = replacement(receiver, "I1")
    least = parse(bound(found, "isolation").least, "ratio").value
    # H1 emits N(4 K) toward the device: (N - 1/2) 10^(-(isolation)/10) above what I1 emits.
    at_least = receiver.changed(f"I1.isolation={least} dB")
    below = receiver.changed(f"I1.isolation={least - 0.2} dB")

    def photons(layout):
        network = noise_network(layout, "D1", np.array([5.9e9, 6.1e9]))
        return photons_at(network, ("D1", "out"))[1].max()

    assert photons(at_least) <= 0.01 * (1 + 1e-6) < photons(below)
    by_hand = 10 * np.log10((1 / np.expm1(0.0479924e-9 * 5.9e9 / 4)) / 0.01)
    assert least == pytest.approx(by_hand, abs=0.15)


@pytest.mark.parametrize("key", ["A2", "I1", "H1"])
def test_every_worst_value_holds_and_a_little_more_does_not(receiver, key):
    found = replacement(receiver, key)
    assert found.bounds
    f = np.array([5.9e9, 6.0e9, 6.1e9])
    before = budget(receiver, "receive", frequency_hz=f).system_noise_quanta
    for one in found.bounds:
        for value, why in ((one.least, one.least_why), (one.most, one.most_why)):
            if why == "noise of receive":
                at_it = budget(receiver.changed(f"{key}.{one.parameter}={value}"), "receive",
                               frequency_hz=f).system_noise_quanta
                assert np.all(at_it <= 1.05 * before + 0.1)
                assert np.any(at_it >= 1.045 * before)


def test_what_is_outside_a_margin_already_may_stay_and_hardly_get_worse(write_layout):
    warm = write_layout(RECEIVER.replace("A2, kind: attenuator, stage: mixing, loss: 30 dB",
                                         "A2, kind: attenuator, stage: mixing, loss: 10 dB"))
    least = bound(replacement(warm, "A2"), "loss").least
    # H1 is over its margin of compression already: no more of the probe may come through A2.
    assert parse(least, "ratio").value == pytest.approx(10.0, abs=0.02)
    weak = warm.changed("tones.probe.power=-60 dBm")
    least = bound(replacement(weak, "A2"), "loss").least
    # What comes through A2 may be 5 % more: 10 log 1.05 = 0.21 dB.
    assert parse(least, "ratio").value == pytest.approx(9.79, abs=0.03)


def test_connectors_direction_band_and_temperature_are_told(receiver):
    found = replacement(receiver, "A2")
    need = {one.port: one for one in found.ports}
    assert (need["in"].connector, need["in"].mates_with, need["in"].fits) == (
        "SMA female", "SMA male", True)
    assert need["out"].fits is None
    assert found.direction == "the line enters by in (A1.out), leaves by out (D1.in)"
    assert found.frequency_hz == (5.9e9, 6.1e9)
    assert found.temperature_k == (0.02, 295.0)
    assert found.tones_dbm["probe"] == pytest.approx(-40.0, abs=0.01)
    assert found.owned == {"cost": "90 EUR", "spares": "2"}
    text = str(found)
    assert "stands 295 K" in text
    assert "SMA male" in text


def test_connectors_that_do_not_mate_are_told(write_layout):
    layout = write_layout(RECEIVER.replace("out: SMA male", "out: SMA female"))
    found = replacement(layout, "A2")
    assert found.ports[0].fits is False
    assert "do not mate" in str(found)


def test_a_margin_moves_the_bound(receiver, amplifier):
    wide = replacement(receiver, "H1", {"replaced": parse("20 %", "fraction")})
    most = [parse(bound(one, "noise_temperature").most, "temperature").value
            for one in (amplifier, wide)]
    # Four times the rise, as far as three digits tell it.
    assert most[1] - 4 == pytest.approx(4 * (most[0] - 4), rel=0.06)


def test_an_element_that_is_not_there_is_refused_with_the_nearest(receiver):
    with pytest.raises(LayoutError, match="no element 'H3'"):
        replacement(receiver, "H3")


def test_json_from_the_command_line(run, tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(RECEIVER)
    status, out, _ = run("check", path, "--replace", "I1", "--json")
    found = json.loads(out)
    assert status == 0
    assert {"replace", "bounds", "ports", "direction", "frequency_hz", "temperature_k"} <= set(found)
    assert {one["parameter"] for one in found["bounds"]} >= {"insertion_loss", "isolation"}


def test_the_parts_list_has_connectors_costs_and_spares(run, tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(RECEIVER)
    run("document", path, "--out", tmp_path / "pages")
    head, *rows = (tmp_path / "pages" / "data" / "parts.csv").read_text().splitlines()
    assert head.startswith("count,spares,part,kind,values,connectors,cost each,cost")
    own = next(row for row in rows if ",A2," in row)
    assert own.startswith("1,2,,attenuator,")
    assert "in SMA female" in own
    assert "90.00 EUR" in own
