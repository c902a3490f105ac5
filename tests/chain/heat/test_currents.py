"""Direct currents along lines: flux lines, bias-tees, looms, and what cannot carry them."""

import numpy as np
import pytest

from chain.errors import LayoutError
from chain.heat.currents import line_currents
from chain.heat.heat_text import heat_text
from chain.heat.stages import heat

FLUX = """
stages:
  room: {temperature: 295 K}
  plate: {temperature: 4 K, cooling: {3 K: 0.5 W, 5 K: 1.5 W}}
  base: {temperature: 20 mK, cooling: {10 mK: 2 uW, 30 mK: 30 uW}}
band: {start: 1 GHz, stop: 5 GHz, points: 3}
lines:
  flux:
    current: 1 mA
    elements:
      - {id: S, kind: port, stage: room}
      - {id: A, kind: attenuator, stage: plate, loss: 20 dB}
      - {id: W, kind: cable, from: plate, to: base, length: 0.5 m, coax: stainless-304-0.86}
      - {id: F, kind: filter, stage: base, shape: low-pass, order: 5, cutoff: 1 GHz, dc_resistance: 2 ohm}
      - {id: Q, kind: device, stage: base, reflects: true}
"""


def test_a_flux_line_by_hand(write_layout):
    """Behind the pad 1 mA: F 2 uW at base; the cable I^2 R, half at each end, 304 being 49 uohm cm
    everywhere below 4 K; the pad 1.25 mW and more, for its short is what stands behind it."""
    layout = write_layout(FLUX)
    one = line_currents(layout)["flux"]
    coax = layout.elements["W"].settings["coax"]
    d, big, out = coax.centre.diameter_m, coax.dielectric.diameter_m, coax.outer.diameter_m
    centre = 49e-8 * 0.5 / (np.pi / 4 * d**2)
    outer = 49e-8 * 0.5 / (np.pi / 4 * (out**2 - big**2))
    cable_w = 1e-6 * (centre + outer)
    behind = 1e-3 * (centre + outer + 2.0)
    k = 10.0
    before_a = 1e-3 * (k * k + 1) / (2 * k) + behind / 50 * (k * k - 1) / (2 * k)
    before_v = behind * (k * k + 1) / (2 * k) + 1e-3 * 50 * (k * k - 1) / (2 * k)
    assert one.source_a == pytest.approx(before_a, rel=1e-9)
    assert one.dissipated_w["A"]["plate"] == pytest.approx(
        before_a * before_v - 1e-3 * behind, rel=1e-9)
    assert one.dissipated_w["F"] == {"base": pytest.approx(2e-6, rel=1e-12)}
    assert one.dissipated_w["W"]["plate"] == pytest.approx(cable_w / 2, rel=1e-6)
    assert one.dissipated_w["W"]["base"] == pytest.approx(cable_w / 2, rel=1e-6)
    assert one.hottest_k["W"] == pytest.approx(
        np.sqrt((4.0**2 + 0.02**2) / 2 + (1e-3 * centre) ** 2 / 4 / 2.443e-8
                + (4.0**2 - 0.02**2) ** 2 * 2.443e-8 / 4 / (1e-3 * centre) ** 2), rel=1e-6)


@pytest.mark.parametrize("loss", ["0 dB", "3 dB", "20 dB", "60 dB"])
def test_what_comes_in_is_dissipated(write_layout, loss):
    """Energy: voltage times current at the connector is all heat, where the line ends in a short."""
    one = line_currents(write_layout(FLUX, f"A.loss={loss}"))["flux"]
    assert sum(one.dissipated_by_stage_w.values()) == pytest.approx(
        one.source_a * one.source_v, rel=1e-12)


def test_stages_carry_it_beside_conduction(write_layout):
    without, with_it = heat(write_layout(FLUX, "lines.flux.current=")), heat(write_layout(FLUX))
    own = with_it.currents["flux"].dissipated_by_stage_w
    for stage in ("plate", "base"):
        more = with_it.stages[stage].total_w - without.stages[stage].total_w
        assert more == pytest.approx(own[stage], rel=1e-6)
    found = with_it.as_dict()
    assert found["stages"]["base"]["currents_w"] == own["base"]
    assert found["currents"]["flux"]["by_stage_w"] == own
    assert without.as_dict()["currents"] == {}
    # 2 uW and more at base move its steady state: 10 to 30 mK carry 2 to 30 uW.
    assert with_it.stages["base"].settled_k > 0.01


def test_text_shows_a_column_and_the_line_only_where_there_is_a_current(write_layout):
    text = heat_text(heat(write_layout(FLUX)))
    assert "direct currents, all of it back by the outer conductors" in text
    assert "its centre conductor reaches up to" in " ".join(text.split())
    assert "direct" not in heat_text(heat(write_layout(FLUX, "lines.flux.current=")))


TEE = """
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK, cooling: {10 mK: 2 uW, 30 mK: 30 uW}}}
band: {start: 1 GHz, stop: 5 GHz, points: 3}
lines:
  drive:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: base, loss: 20 dB}
    - {id: Z, kind: bias-tee, stage: base, dc_resistance: 1 ohm}
    - {id: Q, kind: device, stage: base, reflects: true, dc_resistance: 3 ohm}
  bias:
    current: 1 mA
    elements:
      - {id: B, kind: port, stage: room}
      - {id: W, kind: cable, from: room, to: base, loss: 1 dB, dc_resistance: 10 ohm}
      - {join: Z.dc}
"""


def test_a_bias_tee_brings_it_in_behind_the_pads(write_layout):
    one = line_currents(write_layout(TEE))["bias"]
    assert one.ids == ("W", "Z", "Q")
    assert one.source_v == pytest.approx(14e-3)
    assert one.dissipated_w == {
        "W": {"room": pytest.approx(5e-6), "base": pytest.approx(5e-6)},
        "Z": {"base": pytest.approx(1e-6)}, "Q": {"base": pytest.approx(3e-6)},
    }


def test_the_other_side_of_a_bias_tee_is_blocked(write_layout):
    text = TEE.replace("  drive:\n    - ", "  drive:\n    current: 1 mA\n    elements:\n    - ")
    one = line_currents(write_layout(text))["drive"]
    assert (one.blocked_by, one.source_a, one.dissipated_w) == ("Z", 0.0, {})


@pytest.mark.parametrize(("part", "blocked", "unknown"), [
    ("{id: F, kind: dc-block, stage: base}", "F", None),
    ("{id: F, kind: filter, stage: base, shape: high-pass, order: 3, cutoff: 1 GHz}", "F", None),
    ("{id: F, kind: isolator, stage: base}", None, "F"),
    ("{id: F, kind: isolator, stage: base, dc_resistance: 0.1 ohm}", None, None),
    ("{id: F, kind: attenuator, stage: base, loss: 3 dB, state: open}", "F", None),
])
def test_what_blocks_and_what_nobody_knows(write_layout, part, blocked, unknown):
    start = FLUX.index("      - {id: F,")
    end = FLUX.index("      - {id: Q,")
    layout = write_layout(f"{FLUX[:start]}      - {part}\n{FLUX[end:]}")
    one = line_currents(layout)["flux"]
    assert (one.blocked_by, one.unknown) == (blocked, unknown)
    said = " ".join(heat(layout).warnings)
    assert ("does not flow" in said) == (blocked is not None)
    assert ("is not known" in said and "dc_resistance" in said) == (unknown is not None)
    codes = [finding.code for finding in layout.check().findings]
    assert ("blocked-current" in codes) == (blocked is not None)


def test_a_superconductor_that_cannot_carry_it_is_an_error_in_words(write_layout, run, tmp_path):
    warm = FLUX.replace("{id: W, kind: cable, from: plate", "{id: W, kind: cable, from: room")
    layout = write_layout(warm, "W.coax=niobium-titanium-0.86")
    with pytest.raises(LayoutError, match=r"superconducts below 9\.2 K only, and is up to 295 K warm"):
        heat(layout)
    assert "current-not-carried" in [finding.code for finding in layout.check().every]
    cold = ("W.coax=niobium-titanium-0.86", "W.critical_current=0.5 mA")
    with pytest.raises(LayoutError, match=r"above its critical current of 0\.5 mA"):
        heat(write_layout(FLUX, *cold))
    fine = write_layout(FLUX, cold[0])
    assert "W" not in line_currents(fine)["flux"].dissipated_w
    assert line_currents(fine)["flux"].unrated == ("W",)
    assert line_currents(write_layout(FLUX, cold[0], "W.critical_current=5 mA"))["flux"].unrated == ()
    path = tmp_path / "l.yaml"
    path.write_text(warm)
    status, _, err = run("heat", path, "--set", "W.coax=niobium-titanium-0.86")
    assert status == 2
    assert "W carries 1 mA of direct current" in err


def test_a_line_has_to_begin_at_a_connector(write_layout):
    text = FLUX.replace("- {id: S, kind: port", "- {id: S, kind: termination")
    with pytest.raises(LayoutError, match="begins with S, no outside connector; state the current"):
        heat(write_layout(text))


LOOM = """
stages: {room: {temperature: 295 K}, plate: {temperature: 4 K, cooling: {3 K: 0.5 W, 5 K: 1.5 W}}}
band: {start: 1 GHz, stop: 5 GHz, points: 3}
lines:
  wires:
    current: 10 mA
    elements:
      - {id: L, kind: loom, from: room, to: plate, length: 1 m, count: 24, material: manganin,
         diameter: 0.1 mm}
"""


def test_all_wires_of_a_loom_carry_it(write_layout):
    """24 wires of 43 to 48 uohm cm and 0.1 mm have 54.7 to 61.1 ohm each."""
    one = line_currents(write_layout(LOOM))["wires"]
    area = np.pi / 4 * (0.1e-3) ** 2
    low, high = (24 * 1e-4 * rho / area for rho in (43e-8, 48e-8))
    total = sum(one.dissipated_by_stage_w.values())
    assert low < total < high
    assert one.dissipated_w["L"]["room"] > one.dissipated_w["L"]["plate"] * 0.9
    assert one.source_v == pytest.approx(total / 24 * 2 / 10e-3, rel=1e-9)
    doubled = line_currents(write_layout(LOOM, "L.count=48"))["wires"]
    assert sum(doubled.dissipated_by_stage_w.values()) == pytest.approx(2 * total, rel=1e-9)


def test_copies_carry_the_same_and_stand_together(write_layout):
    text = FLUX.replace("    current: 1 mA\n", "    current: 1 mA\n    copies: 3\n")
    layout = write_layout(text)
    assert list(line_currents(layout)) == ["flux-1", "flux-2", "flux-3"]
    assert "flux-1 .. flux-3" in heat_text(heat(layout))
    single = heat(write_layout(FLUX)).stages["base"].currents_w
    assert heat(layout).stages["base"].currents_w == pytest.approx(3 * single, rel=1e-12)


def test_a_cold_pad_is_warmer_than_its_stage_and_said_to_be(write_layout):
    """1 mA behind 20 dB burns 1.25 mW: over Sigma V = 2e-4 W/K^5 the fifth root is 1.44 K."""
    text = FLUX.replace("kind: attenuator, stage: plate", "kind: attenuator, stage: base")
    text = text.replace("from: plate, to: base", "from: base, to: plate").replace(
        "kind: filter, stage: base", "kind: filter, stage: plate").replace(
        "kind: device, stage: base", "kind: device, stage: plate")
    layout = write_layout(text, "W.coax=niobium-titanium-0.86", "F.dc_resistance=0 ohm")
    one = line_currents(layout)["flux"]
    assert one.films_k["A"] == pytest.approx((1.25e-3 / 2e-4) ** 0.2, rel=1e-3)
    found = heat(layout)
    assert any("warms its film to about 1.4 K" in text for text in found.warnings)
