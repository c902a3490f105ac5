"""Photons to the device, side-port noise, warm loads."""

import pytest

from components.thermal_noise import photons


def test_photons(found):
    assert "thermal-photons" not in found()
    finding = found("A2.loss=10 dB")["thermal-photons"]
    assert finding.elements[0] == "D1"
    assert "D1.in" in finding.says
    assert finding.tried[0].solves


def test_photons_margin(fires):
    assert fires("thermal-photons", "margins.photons=1e-4")
    assert fires("thermal-photons", "A2.loss=10 dB", "margins.photons=3") is None


def test_advised_attenuation_does_what_it_says(receiver, found):
    """What a remedy is said to leave is what the file gives with the attenuator written in."""
    finding = found("A2.loss=10 dB")["thermal-photons"]
    ten = next(t for t in finding.tried if t.remedy.says == "10 dB more on base, behind A2")
    budget = receiver("A2.loss=20 dB").budget("drive")
    f, own = budget.frequency_hz, photons(frequency_hz=budget.frequency_hz, temperature_k=0.015)
    left = (budget.noise_at_to_quanta - 0.5 - own).max()
    assert f[0] == 5e9
    assert ten.effects[0].after == pytest.approx(left, rel=1e-9)


def test_photons_at_the_output_ask_for_isolation(found):
    finding = found("I1.state=bypassed", "I2.state=bypassed")["thermal-photons"]
    assert "D1.out" in finding.says
    assert any("isolator" in t.remedy.says for t in finding.tried if t.helps)


def test_photons_of_a_warm_stage_are_its_own_affair(found, fires):
    # 1 K gives 3.7 photons at 5 GHz; the 20 dB at 4 K and 40 dB at the base add next to nothing.
    warm = "stages.base.temperature=1 K", "stages.still.temperature=1.5 K"
    cooling = "stages.base.cooling=", "stages.still.cooling="
    assert fires("thermal-photons", *warm, *cooling) is None
    finding = found(*warm, *cooling, "A2.loss=3 dB")["thermal-photons"]
    assert "as its own stage gives" in finding.says


def test_nobody_counts_the_photons_of_a_flux_line(write_layout):
    from chain.advice.check import check

    text = """
band: {{start: {low}, stop: {high}, points: 5}}
stages: {{room: {{temperature: 295 K}}, plate: {{temperature: 4 K}}, base: {{temperature: 15 mK}}}}
lines:
  flux:
    - {{id: S, kind: port, stage: room}}
    - {{id: W, kind: cable, from: room, to: plate, loss: 2 dB}}
    - {{id: A, kind: attenuator, stage: plate, loss: 20 dB}}
    - {{id: V, kind: cable, from: plate, to: base, loss: 0.5 dB}}
    - {{id: Q, kind: device, stage: base, reflects: true}}
signals: {{flux: {{from: S, to: Q.in}}}}
"""
    slow = check(write_layout(text.format(low="10 MHz", high="500 MHz")))
    assert "thermal-photons" not in {f.code for f in slow.every}
    fast = check(write_layout(text.format(low="4 GHz", high="6 GHz")))
    assert "thermal-photons" in {f.code for f in fast.every}


def test_side_port_noise(found):
    assert "side-port-noise" not in found()
    finding = found("A4.state=bypassed")["side-port-noise"]
    assert "line pump-in" in finding.says
    assert finding.elements == ("A3",)


def test_incoming_noise_is_not_side_port_noise(fires):
    assert fires("side-port-noise", "A2.loss=0 dB") is None


CIRCULATOR = (
    ("kind: isolator, stage: base, insertion_loss: 0.3 dB, isolation: 20 dB, tag: I-1}",
     "kind: circulator, stage: base, insertion_loss: 0.3 dB, isolation: 20 dB, loads: ['3'], "
     "tag: I-1}"),
    ("reversed: true, loads: [isolated]",
     "reversed: true, directivity: 20 dB, insertion_loss: 0.1 dB, loads: [isolated]"),
)


def test_warm_load(found):
    assert "warm-load" not in found(edits=CIRCULATOR)
    finding = found("I1.temperature=4 K", edits=CIRCULATOR)["warm-load"]
    assert finding.elements == ("I1",)
    assert finding.remedy.startswith("I1 on base: ")


def test_warm_load_goes_where_its_tones_are_carried(found):
    # 40 dB below 10 mW at C1.coupled, 1 uW, reach I1 backward: 13 % of what the base carries.
    remedies = {
        level: found("I1.temperature=4 K", f"tones.pump.arriving={{X1.in: {level} dBm}}",
                     edits=CIRCULATOR).get("warm-load")
        for level in (-10, 10, 50)
    }
    assert "at base it would be" in remedies[-10].says
    assert "at still it would be" in remedies[10].says
    assert remedies[50] is None


def test_a_load_that_is_cold_enough_is_let_be(fires):
    # 50 mK: 0.005 photons at 5.5 GHz, below the margin of 0.05.
    assert fires("warm-load", "I1.temperature=50 mK", edits=CIRCULATOR) is None


def test_noise_of_a_generator_is_filtered_and_not_attenuated(found):
    """A pad weakens the tone as much: the level at X1 is given, so what comes beside it stays."""
    noisy = "tones.pump={into: S2, frequency: 11.2 GHz, arriving: {X1.in: -70 dBm}, noise: -100 dBc/Hz}"
    finding = found(noisy)["side-port-noise"]
    assert finding.elements == ("S2",)
    assert finding.remedy.startswith("filter what the generator of pump sends beside it, behind S2")
    quiet = found("A3.loss=0 dB", "A4.loss=0 dB").get("side-port-noise")
    assert quiet is not None
    assert "10 dB more on" in quiet.remedy
