"""Adapters, feedthroughs, connectors' loss, straps, filters on wires: by their laws."""

import math

import numpy as np
import pytest

import chain
from chain.heat.stages import heat
from chain.service import service

HEAD = """
band: {start: 5 GHz, stop: 6 GHz, points: 3}
stages:
  room: {temperature: 295 K}
  plate: {temperature: 4 K, cooling: {3.5 K: 0.5 W, 4.5 K: 1.5 W}}
  still: {temperature: 0.9 K, cooling: {0.8 K: 10 mW, 1.0 K: 30 mW}}
"""
LINE = HEAD + """
lines:
  main:
    - {id: S, kind: port, stage: plate}
    - {id: A, kind: attenuator, stage: still, loss: 3 dB}
    - {id: R, kind: port, stage: room}
signals: {main: {from: S, to: R}}
"""
H_OVER_K = 0.0479924307e-9


def n(f_hz, kelvin):
    return 0.5 / np.tanh(H_OVER_K * f_hz / (2 * kelvin))


def test_the_loss_of_connectors_comes_at_each_port(write_layout):
    found = write_layout(LINE, "A.connector_loss=0.2 dB").budget("main")
    assert found.gain_db == pytest.approx(np.full(3, -3.4))
    # A pad of 3.4 dB at one temperature, wherever in it the loss lies.
    whole = write_layout(LINE, "A.loss=3.4 dB").budget("main")
    assert found.noise_at_to_quanta == pytest.approx(whole.noise_at_to_quanta, rel=1e-12)


def test_connectors_before_an_amplifier_cost_what_a_pad_there_costs(write_layout):
    text = LINE.replace("{id: A, kind: attenuator, stage: still, loss: 3 dB}",
                        "{id: A, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: "
                        "4 K, connector_loss: 0.5 dB}")
    found = write_layout(text).budget("main")
    f, loss = found.frequency_hz, 10 ** 0.05
    # Referred to S: 4 K of loads, the connector's loss at 4 K, added noise behind it; then the
    # connector behind the amplifier, and R's plane does not add.
    gain = 1e3 / loss
    by_hand = (n(f, 4) + (loss - 1) * n(f, 4) + loss * 4 / (H_OVER_K * f)
               + (1 - 1 / loss) * n(f, 4) / (gain / loss))
    assert found.gain_db == pytest.approx(np.full(3, 29.0))
    assert found.system_noise_quanta == pytest.approx(by_hand, rel=1e-6)


@pytest.mark.parametrize("kind", ["adapter", "feedthrough"])
def test_an_adapter_is_a_pad_of_its_loss_and_its_connectors_are_checked(write_layout, kind):
    text = LINE.replace("kind: attenuator, stage: still, loss: 3 dB",
                        f"kind: {kind}, stage: still, insertion_loss: 0.3 dB, "
                        "connectors: {in: SMA female, out: SMP male}")
    layout = write_layout(text)
    pad = write_layout(LINE, "A.loss=0.3 dB")
    assert layout.budget("main").system_noise_quanta == pytest.approx(
        pad.budget("main").system_noise_quanta, rel=1e-12)
    caution = " ".join(step.caution for step in service(layout, remove=["A"]).undo)
    assert ("leak checked" in caution) == (kind == "feedthrough")
    assert "push-on" in caution


def test_a_strap_conducts_area_over_length_times_the_integral(write_layout):
    text = HEAD + """
materials: {braid: {conductivity: {0.1 K: 100 W/(m K), 10 K: 100 W/(m K)}}}
lines: {links: [{id: B, kind: strap, from: plate, to: still, length: 0.1 m, area: 2 mm^2,
                 material: braid}]}
"""
    watt = 2e-6 / 0.1 * 100 * (4 - 0.9)
    found = heat(write_layout(text))
    assert found.stages["still"].conduction_w == pytest.approx(watt, rel=1e-6)
    assert found.stages["plate"].conduction_w == pytest.approx(-watt, rel=1e-6)
    many = heat(write_layout(text, "B.count=3"))
    assert many.stages["still"].conduction_w == pytest.approx(3 * watt, rel=1e-6)
    round_one = heat(write_layout(text, "B.area=", "B.diameter=1 mm"))
    assert round_one.stages["still"].conduction_w == pytest.approx(
        math.pi / 4 * 1e-6 / 0.1 * 100 * 3.1, rel=1e-6)


def test_what_is_wrong_with_a_strap_is_told(write_layout):
    text = HEAD + """
lines: {links: [{id: B, kind: strap, from: plate, to: still, length: 0.1 m, area: 2 mm^2,
                 material: copper-rrr50}]}
"""
    with pytest.raises(chain.LayoutError, match="cross-section is not given"):
        write_layout(text, "B.area=")
    with pytest.raises(chain.LayoutError, match="area and diameter are both given"):
        write_layout(text, "B.diameter=1 mm")


WIRES = HEAD + """
lines:
  wires:
    - {id: L, kind: loom, from: plate, to: still, length: 0.3 m, count: 24, material: manganin,
       gauge: 36}
    - {id: N, kind: wire-filter, stage: still, count: 24, resistance: 1 kohm, capacitance: 10 nF,
       current: 1 uA}
"""


def test_filters_on_wires_dissipate_what_a_current_leaves(write_layout):
    layout = write_layout(WIRES)
    assert heat(layout).stages["still"].bias_w == pytest.approx(24 * 1e-12 * 1e3, rel=1e-9)
    element = layout.elements["N"]
    # 1/(2 pi 1 kohm 10 nF) = 15.9 kHz.
    assert element.kind.cutoff_hz(element.settings) == pytest.approx(15915.5, rel=1e-5)


def test_a_filter_that_does_not_say_where_it_cuts_or_cuts_too_high_is_cautioned_of(write_layout):
    from chain.layout.cautions import cautions

    assert cautions(write_layout(WIRES)) == []
    assert "nothing says where it cuts" in cautions(write_layout(WIRES, "N.capacitance="))[0]
    high = cautions(write_layout(WIRES, "N.capacitance=", "N.cutoff=10 GHz"))
    assert "inside the band or above it" in high[0]


def test_what_is_wrong_with_a_filter_on_wires_is_told(write_layout):
    with pytest.raises(chain.LayoutError, match="what it warms is not given"):
        write_layout(WIRES, "N.resistance=")
    with pytest.raises(chain.LayoutError, match="both say where it cuts"):
        write_layout(WIRES, "N.cutoff=1 MHz")


def test_a_layout_with_all_of_them_is_drawn_documented_and_taken_apart(write_layout, tmp_path):
    text = WIRES + """
  links: [{id: B, kind: strap, from: plate, to: still, length: 0.1 m, area: 2 mm^2,
           material: copper-rrr50}]
  main:
    - {id: S, kind: port, stage: room}
    - {id: K, kind: feedthrough, stage: room}
    - {id: T, kind: termination, stage: room}
"""
    layout = write_layout(text)
    assert layout.draw().startswith("<svg")
    layout.document(tmp_path / "pages")
    found = service(layout, between=("plate", "still"))
    assert set(found.removed) == {"L", "B"}
    assert "support both sides first" in " ".join(step.caution for step in found.undo)
    checks = {step.joint: step.check for step in found.redo}
    assert "clean bare faces" in checks["B at plate"]
    assert "wires with a meter" in checks["L at plate"]
    assert [step.joint for step in service(layout, remove=["N"]).undo] == ["N at still"]
