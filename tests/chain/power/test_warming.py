"""What tones warm: cables along themselves, films, loads, and what that does to noise."""

import re

import numpy as np
import pytest

from chain.power.self_heating import heating_of, noise_temperature_k
from components.thermal_noise import photons

STAGES = """\
band: {start: 6 GHz, stop: 6 GHz, points: 1}
stages:
  room:   {temperature: 295 K}
  middle: {temperature: 110 mK}
  mixing: {temperature: 15 mK}
"""

# An example of our own: -40 dBm at a device behind 0.15 m of cupronickel.
PUMPED = STAGES + """\
lines:
  in:
    - {id: S, kind: port, stage: room}
    - {id: W, kind: cable, from: middle, to: mixing, length: 0.15 m, coax: cupronickel-0.86}
    - {id: D, kind: device, stage: mixing}
    - {id: R, kind: port, stage: mixing}
tones: {drive: {into: S, frequency: 6 GHz, arriving: {D.in: -40 dBm}}}
signals: {in: {from: S, to: D.in}}
"""

PADS = STAGES + """\
lines:
  in:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: middle, loss: 20 dB}
    - {id: B, kind: attenuator, stage: mixing, loss: 20 dB}
    - {id: D, kind: device, stage: mixing}
    - {id: R, kind: port, stage: mixing}
tones: {drive: {into: S, frequency: 6 GHz, arriving: {D.in: -80 dBm}}}
signals: {in: {from: S, to: D.in}}
"""


def _emission(layout, key):
    """Return the photons that an element brings to the signal's end."""
    found = layout.budget("in")
    return found.shares_quanta[key] - found.vacuum_shares_quanta[key]


def test_a_tone_warms_the_cable_that_it_runs_through(write_layout):
    """Absorbed 79 nW, peak near 0.41 K, some 0.31 photons."""
    layout = write_layout(PUMPED)
    powers = layout.power()
    (one,) = powers.warmed.cables
    assert (one.id, one.first, one.second) == ("W", "middle", "mixing")
    assert powers.absorbed_w["W"] == pytest.approx(79e-9, rel=0.01)
    assert one.peak_k == pytest.approx(0.41, rel=0.03)
    assert 0.05 < one.at_m < 0.1
    warm, cold = (
        float(layout.budget("in").photons_at_to[0] - _from_source(layout))
        for layout in (layout, write_layout(PUMPED, "self_heating=off"))
    )
    assert cold < 0.03
    assert warm == pytest.approx(0.31, rel=0.05)


def _from_source(layout):
    """Return the photons at the end of `in` that come of the load at S alone."""
    found = layout.budget("in")
    return photons(frequency_hz=6e9, temperature_k=295.0) * 10 ** (found.gain_db[0] / 10)


def test_heat_at_the_stages_is_that_without_warming(write_layout):
    """Where the loss hardly depends on temperature, heat goes to the anchors as it did."""
    warm = write_layout(PUMPED).power()
    cold = write_layout(PUMPED, "self_heating=off").power()
    for stage, watt in cold.dissipated_by_stage_w.items():
        assert warm.dissipated_by_stage_w[stage] == pytest.approx(watt, rel=1e-6)
    assert max(tone.closure for tone in warm.tones.values()) < 1e-9
    assert cold.warmed.heated == {}
    assert cold.warmed.cables == ()


def test_a_weak_tone_leaves_everything_as_it_is(write_layout):
    weak = write_layout(PUMPED, "tones.drive.arriving={D.in: -160 dBm}")
    none = write_layout(PUMPED, "tones.drive=")
    assert weak.power().warmed.heated == {}
    assert np.array_equal(
        weak.budget("in").noise_at_to_quanta, none.budget("in").noise_at_to_quanta
    )


@pytest.mark.parametrize("part", [1e-6, 1e-3, 1e-1])
def test_the_bound_on_weak_tones_holds(write_layout, part):
    """A cable that absorbs what it may moves what it emits by no more, and not much less."""
    layout = write_layout(PUMPED)
    element = layout.elements["W"]
    watt = element.kind.unmoved_w(element.settings, layout.anchors(element), 6e9, part)
    dbm = 10 * np.log10(watt / layout.power().absorbed_w["W"]) - 40
    strong, off = (
        write_layout(PUMPED, f"tones.drive.arriving={{D.in: {dbm + 3} dBm}}", *more)
        for more in ((), ("self_heating=off",))
    )
    assert strong.power().absorbed_w["W"] == pytest.approx(2 * watt, rel=0.01)
    emitted = off.budget("in").shares_quanta["W"]
    moved = strong.budget("in").shares_quanta["W"] - emitted
    # Twice the power moves it by at most some four times as much: theta bends T upward.
    assert part / 100 < float(moved[0] / emitted[0]) < 4 * part


def test_a_film_warms_by_its_electrons(write_layout):
    """B absorbs 99 times 10 pW: (0.99 nW / 2e-4 W/K^5 + (15 mK)^5)^(1/5), by hand 86.9 mK."""
    layout = write_layout(PADS)
    kelvin = (0.99e-9 / 2e-4 + 0.015**5) ** 0.2
    assert kelvin == pytest.approx(0.0869, abs=5e-5)
    assert noise_temperature_k(layout, layout.elements["B"]) == pytest.approx(kelvin, rel=1e-9)
    rows = {row.id: row for row in layout.power().warmed.films}
    assert rows["B"].assumed
    assert rows["B"].high_k == pytest.approx((0.99e-8 / 2e-4 + 0.015**5) ** 0.2, rel=1e-9)
    assert rows["B"].low_k == pytest.approx((0.99e-10 / 2e-4 + 0.015**5) ** 0.2, rel=1e-9)
    photons_of_b = 0.99 * photons(frequency_hz=6e9, temperature_k=kelvin)
    own = layout.budget("in")
    share = (own.shares_quanta["B"] - own.vacuum_shares_quanta["B"]) * 10 ** (own.gain_db / 10)
    assert share[0] == pytest.approx(photons_of_b, rel=1e-9)


def test_a_measured_pair_takes_the_place_of_the_guess(write_layout):
    layout = write_layout(PADS, "B.hot_power=30 nW", "B.hot_temperature=120 mK",
                          "B.hot_exponent=5.4")
    rows = {row.id: row for row in layout.power().warmed.films}
    assert not rows["B"].assumed
    assert rows["B"].low_k == rows["B"].kelvin == rows["B"].high_k
    assert rows["B"].kelvin == pytest.approx(
        (0.015**5.4 + 0.99e-9 / 30e-9 * 0.12**5.4) ** (1 / 5.4), rel=1e-9
    )


def test_half_the_coupling_is_a_seventh_more_where_power_decides(write_layout):
    """2^(1/5) = 1.149: the rule that films are told by to a factor of ten, 58 % either way."""
    base = write_layout(PADS, "B.hot_power=2e-4 W", "B.hot_temperature=1 K").power()
    half = write_layout(PADS, "B.hot_power=1e-4 W", "B.hot_temperature=1 K").power()
    one, two = (
        {row.id: row for row in powers.warmed.films}["B"].kelvin for powers in (base, half)
    )
    assert two / one == pytest.approx(1.149, rel=1e-3)


LOADED = STAGES + """\
lines:
  in:
    - {id: S, kind: port, stage: room}
    - {id: C, kind: coupler, stage: mixing, coupling: 20 dB, insertion_loss: 0.1 dB, loads: [isolated, coupled]}
    - {id: D, kind: device, stage: mixing}
    - {id: R, kind: port, stage: mixing}
tones: {drive: {into: S, frequency: 6 GHz, arriving: {D.in: -70 dBm}}}
signals: {in: {from: S, to: D.in}}
"""


def test_the_load_on_a_port_warms_and_its_body_is_not_counted(write_layout):
    layout = write_layout(LOADED)
    (tone,) = layout.power().tones.values()
    # 1 % of 100 pW and what the coupler itself loses less goes to the load at `coupled`.
    assert tone.loads_w["C.coupled"] == pytest.approx(1e-12, rel=0.05)
    assert sum(tone.loads_w.values()) < tone.absorbed_w["C"]
    (row,) = layout.power().warmed.films
    assert (row.id, row.port) == ("C", "coupled")
    kelvin = (tone.loads_w["C.coupled"] / 2e-4 + 0.015**5) ** 0.2
    assert row.kelvin == pytest.approx(kelvin, rel=1e-9)
    assert layout.power().warmed.not_counted["C"] == pytest.approx(
        tone.absorbed_w["C"] - sum(tone.loads_w.values()), rel=1e-9
    )


def test_a_cable_without_materials_is_named(write_layout):
    layout = write_layout(PUMPED.replace(
        "length: 0.15 m, coax: cupronickel-0.86", "loss: 2 dB"
    ))
    assert layout.power().warmed.unknown_cables["W"] == pytest.approx(58.5e-9, rel=0.01)


def test_copies_are_warmed_alike(write_layout):
    text = PADS.replace("  in:\n", "  in:\n    copies: 3\n    elements:\n", 1).replace(
        "    - {id", "      - {id")
    layout = write_layout(text)
    found = layout.power().warmed
    assert [row.id for row in found.films] == ["A-1", "B-1", "A-2", "B-2", "A-3", "B-3"]
    heated = heating_of(layout)
    assert heated["B-1"] == heated["B-3"]
    assert heating_of(layout, layout.connected("S-2")).keys() == {"A-2", "B-2"}


def test_a_loss_that_rises_with_temperature_comes_to_rest(write_layout):
    """A superconductor driven normal in its middle loses more: levels are worked out again."""
    text = PUMPED.replace("cupronickel-0.86", "niobium-titanium-0.86")
    layout = write_layout(text, "tones.drive.arriving={D.in: 12 dBm}")
    powers, off = layout.power(), write_layout(
        text, "tones.drive.arriving={D.in: 12 dBm}", "self_heating=off").power()
    assert powers.warmed.steady
    (one,) = powers.warmed.cables
    assert one.peak_k > 9.2
    assert powers.absorbed_w["W"] > 1.5 * off.absorbed_w["W"]
    assert max(tone.closure for tone in powers.tones.values()) < 1e-9
    assert powers.warmed.moved < 1e-9


def test_power_heat_and_budget_state_the_peak(write_layout):
    layout = write_layout(PUMPED)
    for answer in (layout.power(), layout.heat(), layout.budget("in")):
        text = str(answer)
        assert "cables that tones warm" in text
        assert re.search(r"W +middle > mixing +110 mK > 15 mK +40\d mK +\d\d.\d mm +x", text), text
        (cable,) = answer.as_dict()["self_heating"]["cables"]
        assert (cable["id"], cable["from"], cable["to"]) == ("W", "middle", "mixing")
        assert cable["peak_k"] == pytest.approx(0.4, rel=0.03)
        assert not cable["lower_bound"]


def test_a_budget_states_by_how_much_it_moves(write_layout):
    """The same as taking the answer with the key off from that with it on: loss stays."""
    warm, off = (write_layout(PADS, *more).budget("in") for more in ((), ("self_heating=off",)))
    added = warm.system_noise_quanta - off.system_noise_quanta
    assert warm.heating_quanta["as_it_is"] == pytest.approx(added, rel=1e-9)
    for name, guess in (("least", "2e-3 W"), ("most", "2e-5 W")):
        changed = write_layout(PADS, *(f"{key}.{what}" for key in "AB" for what in (
            f"hot_power={guess}", "hot_temperature=1 K"))).budget("in")
        added = changed.system_noise_quanta - off.system_noise_quanta
        assert warm.heating_quanta[name] == pytest.approx(added, rel=1e-9)
    assert "of it by what tones warm" in str(warm)
    assert "if assumed films are cooled ten times better" in str(warm)
    said = warm.as_dict()["self_heating"]["quanta"]
    assert said == list(warm.heating_quanta["as_it_is"])
    assert "what tones warm" not in str(off)
    assert off.heating_quanta == {}


def test_what_is_not_counted_is_listed(write_layout):
    text = PADS.replace("- {id: B, kind: attenuator, stage: mixing, loss: 20 dB}",
                        "- {id: B, kind: infrared-filter, stage: mixing, loss: 20 dB, "
                        "reference: 6 GHz}")
    said = write_layout(text).power().as_dict()["warnings"]
    assert any("B (990 pW)" in one and "hot_power" in one for one in said)
    told = write_layout(text, "B.hot_power=30 nW", "B.hot_temperature=120 mK").power()
    assert "B" not in told.warmed.not_counted
    assert {row.id for row in told.warmed.films} == {"A", "B"}


def test_a_tone_that_cannot_be_is_said_in_the_budget(write_layout):
    """Nothing arrives behind a broken cable; noise that does not come from there is known."""
    layout = write_layout(PUMPED.replace("signals: {", "signals: {end: {to: R}, "), "W.state=open")
    assert heating_of(layout) == {}
    said = layout.budget("end").warnings
    assert any("what tones warm is not known and not counted" in text for text in said)
