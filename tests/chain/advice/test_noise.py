"""Photons to the device, side-port noise, warm loads."""

import numpy as np

from chain.advice.inspection import Inspection
from chain.advice.noise import STEP_DB, attenuation_would_leave


def test_photons(found):
    assert "thermal-photons" not in found()
    finding = found("A2.loss=10 dB")["thermal-photons"]
    assert finding.elements[0] == "D1"
    assert "D1.in" in finding.says
    assert "10 dB more at base" in finding.remedy


def test_photons_margin(fires):
    assert fires("thermal-photons", "margins.photons=1e-4")
    assert fires("thermal-photons", "A2.loss=10 dB", "margins.photons=3") is None


def test_advised_attenuation_does_what_it_says(receiver):
    """The estimate equals a budget of the line with the attenuator in place."""
    layout = receiver("A2.loss=10 dB")
    inspection = Inspection(layout)
    tried = {stage: left for stage, _, left in attenuation_would_leave(inspection, ("D1", "in"), 0)}
    f = inspection.frequency_hz[:1]
    attenuated = receiver(f"A2.loss={10 + STEP_DB} dB").budget("drive", frequency_hz=f)
    # Everything is matched here, so there is nothing that the estimate leaves out.
    assert np.isclose(tried["base"], attenuated.noise_at_to_quanta[0] - 0.5, rtol=1e-9)


def test_photons_at_the_output_ask_for_isolation(found):
    finding = found("I1.state=bypassed", "I2.state=bypassed")["thermal-photons"]
    assert "D1.out" in finding.says
    assert "isolation" in finding.remedy


def test_photons_of_a_stage_that_is_too_warm(found):
    finding = found("stages.base.temperature=0.3 K", "stages.base.cooling=")["thermal-photons"]
    assert "lower its temperature" in finding.remedy


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
    assert "put it on base" in finding.remedy


def test_warm_load_goes_where_its_tones_are_carried(found):
    # 40 dB below 10 mW at C1.coupled, 1 uW, reach I1 backward: 13 % of what the base carries.
    remedies = {
        level: found("I1.temperature=4 K", f"tones.pump.arriving={{X1.in: {level} dBm}}",
                     edits=CIRCULATOR).get("warm-load")
        for level in (-10, 10, 50)
    }
    assert "base" in remedies[-10].remedy
    assert "still" in remedies[10].remedy
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
    assert "attenuate line pump-in" in quiet.remedy
