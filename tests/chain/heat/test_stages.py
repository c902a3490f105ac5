"""Heat worked out by hand, from formulas and not from the tool."""

import json
import math
from pathlib import Path

import numpy as np
import pytest

from chain.power.self_heating import noise_temperature_k
from components import catalogue

BAND = "band: {start: 5 GHz, stop: 5 GHz, points: 1}\n"
STAGES = """
stages:
  room:  {temperature: 300 K}
  plate: {temperature: 4 K, cooling: {3 K: 0.5 W, 5 K: 1.5 W}, other: {radiation: 50 mW, supports: 20 mW}}
  base:  {temperature: 20 mK, cooling: {10 mK: 2 uW, 20 mK: 15 uW, 100 mK: 450 uW}}
"""
OWN = """
materials:
  metal: {conductivity: {coefficient: 0.5 W/(m K), exponent: 1, from: 0 K, to: 400 K}}
  plastic: {conductivity: {coefficient: 0.02 W/(m K), exponent: 0.5, from: 0 K, to: 400 K}, permittivity: 2.1, loss_tangent: 0.0002}
coax:
  own: {centre: {material: metal, diameter: 0.5 mm}, dielectric: {material: plastic, diameter: 1.7 mm}, outer: {material: metal, diameter: 2.2 mm}}
"""
LINE = """
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: W, kind: cable, from: room, to: base, via: {plate: 0.6 m}, length: 1.1 m, coax: own}
    - {id: T, kind: termination, stage: base}
"""


def by_hand_w(warm_k, cold_k, length_m):
    """k A dT of the coax `own`, its two laws integrated: 0.5 T and 0.02 sqrt(T)."""
    metal = math.pi / 4 * (0.5**2 + 2.2**2 - 1.7**2) * 1e-6
    plastic = math.pi / 4 * (1.7**2 - 0.5**2) * 1e-6
    integral = metal * 0.25 * (warm_k**2 - cold_k**2)
    integral += plastic * 0.02 / 1.5 * (warm_k**1.5 - cold_k**1.5)
    return integral / length_m


# Conduction integrals are good to 1e-6 (components.conductivity).
CLOSE = {"rel": 2e-6}


def test_every_stage_by_hand(write_layout):
    heat = write_layout(BAND + STAGES + OWN + LINE).heat()
    down, on = by_hand_w(300, 4, 0.6), by_hand_w(4, 0.02, 0.5)
    assert heat.stages["room"].conduction_w == pytest.approx(-down, **CLOSE)
    assert heat.stages["room"].conduction_in_w == 0
    assert heat.stages["plate"].conduction_w == pytest.approx(down - on, **CLOSE)
    assert heat.stages["plate"].conduction_in_w == pytest.approx(down, **CLOSE)
    assert heat.stages["base"].conduction_w == pytest.approx(on, **CLOSE)
    plate = heat.stages["plate"]
    assert plate.other_w == pytest.approx(0.07)
    assert plate.total_w == pytest.approx(down - on + 0.07, **CLOSE)
    # Linear in T between 3 K and 5 K.
    assert plate.cooling_w == pytest.approx(1.0)
    assert plate.margin_w == pytest.approx(1.0 - (down - on + 0.07), **CLOSE)
    # The point at 20 mK itself.
    assert heat.stages["base"].cooling_w == pytest.approx(15e-6)
    assert heat.stages["room"].cooling_w is None
    assert heat.stages["room"].margin_w is None


def test_a_cable_may_begin_at_either_end(write_layout):
    there = write_layout(BAND + STAGES + OWN + LINE).heat()
    back = write_layout(BAND + STAGES + OWN + """
lines:
  main:
    - {id: T, kind: termination, stage: base}
    - {id: W, kind: cable, from: base, to: room, via: {plate: 0.5 m}, length: 1.1 m, coax: own}
    - {id: S, kind: port, stage: room}
""").heat()
    for name, stage in there.stages.items():
        assert back.stages[name].conduction_w == pytest.approx(stage.conduction_w, rel=1e-12)


ACTIVE = """
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: W, kind: cable, from: room, to: base, via: {plate: 0.6 m}, length: 1.1 m, coax: cupronickel-2.19}
    - {id: A, kind: attenuator, stage: base, loss: 20 dB}
    - {id: B, kind: cable, from: base, to: plate, length: 0.5 m, coax: niobium-titanium-0.86}
    - {id: H, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 3 K, bias: 7 mW}
    - {id: C, kind: cable, from: plate, to: room, length: 0.6 m, coax: cupronickel-2.19}
    - {id: R, kind: port, stage: room}
tones: {tone: {into: S, frequency: 5 GHz, power: -20 dBm}}
signals: {main: {from: S, to: R}}
"""


def test_bias_and_tones_are_in_the_sum(write_layout):
    layout = write_layout(BAND + STAGES + ACTIVE)
    heat = layout.heat()
    tones = layout.power().dissipated_by_stage_w
    for name, stage in heat.stages.items():
        assert stage.tones_w == pytest.approx(tones[name], rel=1e-12)
        parts = stage.conduction_w + stage.bias_w + stage.tones_w + stage.other_w
        assert stage.total_w == pytest.approx(parts, rel=1e-12)
    assert heat.stages["plate"].bias_w == pytest.approx(7e-3)
    assert heat.stages["base"].bias_w == 0
    assert heat.elements["A"]["base"].tones_w > 0
    assert sum(heat.elements["W"][s].tones_w for s in heat.elements["W"]) == pytest.approx(
        layout.power().absorbed_w["W"], rel=1e-12
    )


def test_json_has_every_stage_and_field(run, tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(BAND + STAGES + ACTIVE)
    status, out, _ = run("heat", path, "--json")
    found = json.loads(out)
    assert status == 0
    assert found["format"] == 1
    assert list(found["stages"]) == ["room", "plate", "base"]
    fields = {"conduction_w", "conduction_in_w", "bias_w", "tones_w", "other_w", "total_w",
              "cooling_w", "margin_w", "settled_k"}
    for stage in found["stages"].values():
        assert fields <= stage.keys()
    assert found["stages"]["room"]["cooling_w"] is None
    assert found["stages"]["room"]["settled_k"] is None
    flowing = sum(stage["conduction_w"] for stage in found["stages"].values())
    assert abs(flowing) < 1e-15
    assert found["laws"]["conduction"] < 1e-12
    assert found["laws"]["energy"] < 1e-9


def test_status_says_whether_a_stage_is_over(run, tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(BAND + STAGES + ACTIVE)
    assert run("heat", path)[0] == 0
    status, out, _ = run("heat", path, "--set", "stages.base.other={heater: 16 uW}")
    assert status == 1
    assert "<<< too much" in out
    status, out, _ = run("heat", path, "--set", "stages.base.other={heater: 16 uW}", "--json")
    assert status == 1
    assert json.loads(out)["over"] == ["base"]


def test_no_cooling_is_unknown_and_not_zero(run, tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(BAND + STAGES + ACTIVE)
    status, out, _ = run("heat", path, "--json", "--set", "stages.plate.cooling=")
    plate = json.loads(out)["stages"]["plate"]
    assert status == 0
    assert plate["cooling_w"] is plate["margin_w"] is plate["settled_k"] is None
    assert plate["total_w"] > 0.07
    assert any("plate has no cooling" in text for text in json.loads(out)["warnings"])


def test_cooling_outside_its_points_is_unknown_and_said(run, tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(BAND + STAGES + ACTIVE)
    _, out, _ = run("heat", path, "--json", "--set", "stages.base.temperature=5 mK")
    found = json.loads(out)
    assert found["stages"]["base"]["cooling_w"] is None
    assert any(
        "power of base at 5 mK is unknown: its table covers 10 mK to 100 mK" in text
        for text in found["warnings"]
    )


def test_a_cable_given_by_its_loss_conducts_an_unknown_amount(run, tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(BAND + STAGES + """
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: W, kind: cable, from: room, to: plate, loss: 3 dB}
    - {id: T, kind: termination, stage: plate}
""")
    status, out, _ = run("heat", path, "--json")
    found = json.loads(out)
    plate, base = found["stages"]["plate"], found["stages"]["base"]
    assert status == 0
    assert plate["conduction_w"] is plate["total_w"] is plate["settled_k"] is None
    assert plate["known_w"] == pytest.approx(0.07)
    assert plate["unknown"] == ["W"]
    assert base["total_w"] == 0
    assert any("W conduct heat that is not known" in text for text in found["warnings"])
    # What is known is too much already: no unknown heat would take it away again.
    assert run("heat", path, "--set", "stages.plate.other={radiation: 2 W}")[0] == 1


def test_skipped_stages_are_allowed_and_said(write_layout):
    heat = write_layout(BAND + STAGES + OWN + LINE, "W.via=").heat()
    on = by_hand_w(300, 0.02, 1.1)
    assert heat.stages["base"].conduction_w == pytest.approx(on, **CLOSE)
    assert heat.stages["plate"].conduction_w == 0
    assert any(
        "W: from room to base without an anchor at plate" in text for text in heat.warnings
    )


def test_a_missing_bias_is_said(write_layout):
    heat = write_layout(BAND + STAGES + ACTIVE, "H.bias=").heat()
    assert any("H: no bias is given, counted as 0 W" in text for text in heat.warnings)


# -- dc looms -----------------------------------------------------------------------------------

LOOM = """
  wires:
    - {id: L, kind: loom, from: room, to: plate, length: 0.8 m, count: 24, material: metal, diameter: 0.1 mm}
    - {id: M, kind: loom, from: plate, to: base, length: 0.5 m, count: 24, material: metal, gauge: 36}
"""


def test_looms_by_hand(write_layout):
    bare = write_layout(BAND + STAGES + OWN + LINE).heat()
    heat = write_layout(BAND + STAGES + OWN + LINE + LOOM).heat()
    thick = 24 * math.pi / 4 * 0.1e-3**2 * 0.25 * (300**2 - 4**2) / 0.8
    # Gauge 36 is 5 mil (ASTM B258, from memory), which is 0.127 mm.
    thin = 24 * math.pi / 4 * 0.127e-3**2 * 0.25 * (4**2 - 0.02**2) / 0.5
    assert heat.elements["L"]["plate"].conduction_w == pytest.approx(thick, **CLOSE)
    assert heat.elements["M"]["base"].conduction_w == pytest.approx(thin, **CLOSE)
    more = heat.stages["plate"].conduction_w - bare.stages["plate"].conduction_w
    assert more == pytest.approx(thick - thin, **CLOSE)


def test_a_loom_takes_no_part_in_the_microwave_network(write_layout):
    bare = write_layout(BAND + STAGES + OWN + ACTIVE)
    wires = LOOM.strip("\n") + "\ntones:"
    wired = write_layout(BAND + STAGES + OWN + ACTIVE.replace("tones:", wires))
    assert {"L", "M"} <= wired.elements.keys()
    assert [(j.first, j.second) for j in wired.joints] == [(j.first, j.second) for j in bare.joints]
    a, b = bare.budget("main"), wired.budget("main")
    assert b.system_noise_quanta == pytest.approx(a.system_noise_quanta, rel=1e-15)
    assert "L" not in b.shares_quanta
    assert wired.power().dissipated_by_stage_w == bare.power().dissipated_by_stage_w


@pytest.mark.parametrize(("gauge", "mm"), [(24, 0.511), (30, 0.255), (36, 0.127), (40, 0.0799)])
def test_wire_gauges_from_memory(gauge, mm):
    """Handbook diameters, from memory, three digits."""
    from components.kinds.looms import gauge_diameter_m

    assert gauge_diameter_m(gauge) * 1e3 == pytest.approx(mm, rel=2e-3)


# -- what an element warns of -------------------------------------------------------------------

WARM = """
stages: {room: {temperature: 295 K}, shield: {temperature: 12 K}, plate: {temperature: 4 K}}
lines:
  main:
    - {id: S, kind: port, stage: shield}
    - {id: W, kind: cable, from: shield, to: plate, length: 0.5 m, coax: niobium-titanium-0.86}
    - {id: R, kind: port, stage: plate}
signals: {main: {from: S, to: R}}
"""


def test_a_superconductor_above_its_critical_temperature_is_normal_and_said(write_layout):
    layout = write_layout(BAND + WARM)
    budget = layout.budget("main")
    [said] = [text for text in budget.warnings if "superconducts" in text]
    assert "W (shield to plate)" in said
    assert "below 9.2 K" in said
    assert said in layout.heat().warnings
    cold = write_layout(BAND + WARM, "stages.shield.temperature=5 K").budget("main")
    assert not [text for text in cold.warnings if "superconducts" in text]
    # 0.5 m of the flat 0.1 dB/m below, and between that and all normal at 12 K above.
    assert cold.gain_db[0] == pytest.approx(-0.05, abs=1e-9)
    line = catalogue.coax()["niobium-titanium-0.86"]
    normal_db = 0.5 * float(line.loss_db_per_m(frequency_hz=5e9, temperature_k=12.0))
    assert -normal_db < budget.gain_db[0] < -0.05


def test_a_stated_loss_needs_no_caution(write_layout):
    stated = write_layout(BAND + WARM, "W.loss=1 dB").budget("main")
    assert not [text for text in stated.warnings if "superconducts" in text]


def test_copies_warn_together(write_layout):
    text = BAND + WARM.replace("main:\n", "main:\n    copies: 3\n    elements:\n", 1).replace(
        "    - {id", "      - {id")
    said = [t for t in write_layout(text).heat().warnings if "superconducts" in t]
    assert len(said) == 1
    assert "W-1 .. W-3 (3 copies)" in said[0]


# -- hot resistors ------------------------------------------------------------------------------

H, K = 6.62607015e-34, 1.380649e-23


def test_a_hot_resistor_emits_at_the_temperature_of_the_law(write_layout):
    hot = ("A.hot_power=1 uW", "A.hot_temperature=300 mK", "A.hot_exponent=4.5")
    layout = write_layout(BAND + STAGES + ACTIVE, *hot)
    absorbed = layout.power().absorbed_w["A"]
    kelvin = (0.02**4.5 + absorbed / 1e-6 * 0.3**4.5) ** (1 / 4.5)
    assert kelvin > 0.05
    assert noise_temperature_k(layout, layout.elements["A"]) == pytest.approx(kelvin, rel=1e-12)
    share = layout.budget("main").shares_quanta["A"][0]
    # 20 dB at `kelvin`, referred back to S through the cable alone.
    through = 10 ** (-write_layout(BAND + STAGES + ACTIVE, "A.loss=0 dB", "B.loss=0 dB",
                                   "H.gain=0 dB", "C.loss=0 dB").budget("main").gain_db[0] / 10)
    emitted = 0.99 / 2 / math.tanh(H * 5e9 / (2 * K * kelvin))
    assert share == pytest.approx(emitted * 100 * through, rel=1e-9)


def test_nothing_is_warm_without_tones_or_with_the_key(write_layout):
    plain = write_layout(BAND + STAGES + ACTIVE, "self_heating=off")
    assert noise_temperature_k(plain, plain.elements["A"]) == 0.02
    quiet = write_layout(BAND + STAGES + ACTIVE, "A.hot_power=1 uW", "A.hot_temperature=1 K",
                         "tones.tone=")
    assert noise_temperature_k(quiet, quiet.elements["A"]) == 0.02


def test_a_hot_resistor_leaves_the_law_of_equilibrium_alone(write_layout):
    layout = write_layout(BAND + STAGES + ACTIVE, "A.hot_power=1 nW", "A.hot_temperature=1 K")
    assert layout.budget("main").laws.equilibrium < 1e-12


# -- largest contributions, and how many more ---------------------------------------------------------

ROW = """
lines:
  drive:
    copies: 4
    elements:
      - {id: E, kind: port, stage: room}
      - {id: V, kind: cable, from: room, to: base, via: {plate: 0.6 m}, length: 1.1 m, coax: own}
      - {id: Q, kind: termination, stage: base}
"""


def test_copies_stand_together_in_what_gives_most(write_layout):
    heat = write_layout(BAND + STAGES + OWN + ROW).heat()
    [(ids, line, one, watt)] = heat.contributions("base")
    assert ids == ("V-1", "V-2", "V-3", "V-4")
    assert line == "drive"
    assert watt == pytest.approx(4 * one.total_w)
    assert watt == pytest.approx(4 * by_hand_w(4, 0.02, 0.5), **CLOSE)


def test_how_many_more_lines_fit(run, tmp_path):
    path = tmp_path / "layout.yaml"
    strong = STAGES.replace("1.5 W", "90 W").replace("15 uW", "150 uW")
    path.write_text(BAND + strong + OWN + ROW)
    each = by_hand_w(4, 0.02, 0.5)
    held = math.floor((150e-6 - 4 * each) / each)
    assert held > 3
    status, out, _ = run("heat", path, "--more", "drive", "--json")
    more = json.loads(out)["more"]
    assert status == 0
    assert more["fit"]["base"] == more["fits"] == held
    assert more["first_out"] == "base"
    assert more["fit"]["room"] is None
    assert more["per_line_w"]["base"] == pytest.approx(each, **CLOSE)
    # So many copies are carried, one more is not.
    assert run("heat", path, "--set", f"lines.drive.copies={4 + held}")[0] == 0
    assert run("heat", path, "--set", f"lines.drive.copies={5 + held}")[0] == 1


def test_lines_that_are_joined_come_along(run):
    demo = "demo_chains/haloscope.yaml"
    _, out, _ = run("heat", demo, "--more", "receive", "--json")
    more = json.loads(out)["more"]
    assert set(more["lines"]) == {"receive", "pump-in", "pump-back", "pump-out"}
    _, one, _ = run("heat", demo, "--json")
    _, two, _ = run("heat", demo, "--json", "--set", "lines.receive.copies=2")
    for name, watt in more["per_line_w"].items():
        grown = json.loads(two)["stages"][name]["total_w"]
        grown -= json.loads(one)["stages"][name]["total_w"]
        assert watt == pytest.approx(grown, rel=1e-9)


def test_copies_of_a_tone_are_what_each_would_be_alone(write_layout):
    """A copy with values of its own, though equal ones, is solved by itself."""
    text = BAND + STAGES + OWN + ROW + """
tones: {tone: {into: E, frequency: 5 GHz, power: -20 dBm}}
"""
    text = text.replace("    copies: 4\n", "    copies: 4\n    except: {3: {V: {length: 1.1 m}}}\n")
    text = text.replace("coax: own}", "coax: cupronickel-2.19}")
    tones = write_layout(text).power().tones
    assert tones["tone-1"].absorbed_at_w["V-1"]["plate"] > 0
    for field in ("arriving_w", "outgoing_w", "absorbed_w", "exiting_w", "absorbed_at_w"):
        shared, own = getattr(tones["tone-2"], field), getattr(tones["tone-3"], field)
        assert {key.replace("-2", "-3") for key in shared} == set(own)
        for key, value in shared.items():
            assert own[key.replace("-2", "-3")] == pytest.approx(value, rel=1e-12)
    assert tones["tone-2"].dissipated_by_stage_w == pytest.approx(tones["tone-3"].dissipated_by_stage_w, rel=1e-12)


def test_text_says_the_same(run):
    status, out, _ = run("heat", "demo_chains/haloscope.yaml", "--more", "receive", "--most", "2")
    assert status == 0
    for word in ("largest contributions", "one more line like receive", "Stages are taken as independent",
                 "laws (residuals)", "mixing"):
        assert word in out
    assert max(map(len, out.splitlines())) <= 130


# -- figure -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("ending", "begins"), [
    ("png", b"\x89PNG"), ("svg", b"<?xml"), ("pdf", b"%PDF"),
])
def test_a_figure_is_written_whole(run, tmp_path, ending, begins):
    path = tmp_path / f"heat.{ending}"
    assert run("heat", "demo_chains/haloscope.yaml", "--figure", path)[0] == 0
    assert path.read_bytes().startswith(begins)
    assert [item.name for item in tmp_path.iterdir()] == [path.name]


def test_the_figure_shows_what_the_table_says(write_layout):
    from chain.figures.heat import heat_figure

    heat = write_layout(BAND + STAGES + OWN + LINE).heat()
    axes = heat_figure(heat).axes[0]
    assert axes.get_xlabel() == "heat (W)"
    widths = sorted(bar.get_width() for bar in axes.patches)
    shown = [heat.stages["base"].conduction_in_w, heat.stages["plate"].other_w,
             heat.stages["plate"].conduction_in_w]
    assert widths == pytest.approx(sorted(shown))
    carried = sorted(line.get_xdata()[0] for line in axes.lines if len(line.get_xdata()) == 2
                     and line.get_xdata()[0] == line.get_xdata()[1])
    assert carried == pytest.approx([15e-6, 1.0])


def test_a_figure_that_cannot_be_written(run, tmp_path):
    status, _, err = run("heat", "demo_chains/haloscope.yaml", "--figure", tmp_path / "x.bmp")
    assert status == 2
    assert ".png" in err
    status, _, err = run("heat", "demo_chains/haloscope.yaml", "--figure", tmp_path / "no" / "x.png")
    assert status == 3


# -- bad input ----------------------------------------------------------------------------------

BAD = [
    # change, what the message holds
    (["stages.plate.temperature=400 K"], "stage plate at 400 K stands below stage room at 300 K"),
    (["W.via={plate: 1.2 m}"], "its anchor at plate, 1.2 m from its start, does not lie between"),
    (["W.via={plate: 1.1 m}"], "does not lie between its ends, 1.1 m apart"),
    (["W.length=0 m", "W.via="], "cannot reach from one stage to another"),
    (["W.from=plate", "W.to=base", "W.via={room: 0.5 m}"],
     "W meets its stages out of order: plate, room, base; let it meet room, plate, base"),
    (["W.via={base: 0.3 m, plate: 0.2 m}"], "does not lie above the point before it"),
    (["stages.plate.cooling={3 K: 1 W, 5 K: 0.5 W}"], "its cooling does not rise"),
    (["stages.plate.cooling={3 K: 1}"], "has no unit"),
    (["stages.plate.other={radiation: 5 K}"], "'K' is no unit of power"),
    (["W.coax=alloy"], "there is no coax 'alloy'"),
]


@pytest.mark.parametrize(("changes", "message"), BAD)
def test_bad_input_is_refused_in_words(run, tmp_path, changes, message):
    path = tmp_path / "layout.yaml"
    path.write_text(BAND + STAGES + OWN + LINE)
    words = [word for change in changes for word in ("--set", change)]
    status, out, err = run("heat", path, *words)
    assert status == 2
    assert out == ""
    assert message in err
    assert "Traceback" not in err
    assert "; " in err


LOOM_BAD = [
    ("L", "L.count=0", "0 is outside 1 to"),
    ("L", "L.material=", "L has no material"),
    ("L", "L.material=tin", "there is no material 'tin'"),
    ("L", "L.diameter=", "the thickness of its wires is not given; give diameter or gauge"),
    ("L", "L.gauge=30", "diameter and gauge are both given; keep one"),
    ("L", "L.via={base: 0.2 m}", "L meets its stages out of order"),
    ("L", "L.length=", "L has no length"),
    ("L", "L.loss=3 dB", "unknown key 'loss'"),
    ("M", "M.gauge=99", "99 is outside 0 to 56"),
]


@pytest.mark.parametrize(("name", "change", "message"), LOOM_BAD)
def test_bad_looms(run, tmp_path, name, change, message):
    path = tmp_path / "layout.yaml"
    path.write_text(BAND + STAGES + OWN + LINE + LOOM)
    status, _, err = run("heat", path, "--set", change)
    assert status == 2
    assert message in err


def test_a_loom_beside_what_has_ports(run, tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(BAND + STAGES + OWN + LINE + """    - {id: L, kind: loom, from: room, to: plate, length: 0.8 m, count: 2, material: metal, gauge: 30}
""")
    status, _, err = run("heat", path)
    assert status == 2
    assert "L has no microwave ports and stands in line main beside what has" in err


@pytest.mark.parametrize(("words", "message"), [
    (["--more", "drove"], "there is no line 'drove'"),
    (["--most", "-1"], "'-1' is no number of rows"),
    (["--most", "many"], "'many' is no number of rows"),
])
def test_bad_options(run, words, message):
    status, _, err = run("heat", "demo_chains/qubit_row.yaml", *words)
    assert status == 2
    assert message in err


@pytest.mark.parametrize(("changes", "message"), [
    (["A.hot_power=1 uW"], "hot_power is given, and hot_temperature is not"),
    (["A.hot_temperature=1 K"], "hot_temperature is given, and hot_power is not"),
    (["A.hot_exponent=4"], "hot_exponent is given, and hot_power is not"),
])
def test_bad_hot_resistors(run, tmp_path, changes, message):
    path = tmp_path / "layout.yaml"
    path.write_text(BAND + STAGES + ACTIVE)
    status, _, err = run("heat", path, *[w for c in changes for w in ("--set", c)])
    assert status == 2
    assert message in err


def test_a_layout_without_stages(run, tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(BAND + """
lines:
  main:
    - {id: S, kind: port, temperature: 300 K}
    - {id: T, kind: termination, temperature: 4 K}
""")
    status, out, err = run("heat", path, "--figure", tmp_path / "x.png")
    assert (status, out) == (2, "")
    assert "the layout has no stages to take heat" in err
    assert not (tmp_path / "x.png").exists()


def test_beyond_a_material_s_data_its_heat_is_unknown_and_the_rest_is_answered(run, tmp_path):
    """The catalogue's 6061 has no data below 1 K, where it superconducts."""
    path = tmp_path / "layout.yaml"
    path.write_text(BAND + STAGES + OWN + LINE + LOOM)
    words = "heat", path, "--set", "M.material=aluminium-6061"
    status, out, err = run(*words, "--json")
    assert (status, err) == (0, "")
    found, whole = json.loads(out), json.loads(run("heat", path, "--json")[1])
    for name in ("plate", "base"):
        stage = found["stages"][name]
        assert stage["unknown"] == ["M"]
        for part in ("conduction_w", "conduction_in_w", "total_w", "margin_w", "settled_k"):
            assert stage[part] is None
    assert found["stages"]["room"] == whole["stages"]["room"]
    assert found["elements"]["W"] == whole["elements"]["W"]
    assert found["elements"]["L"] == whole["elements"]["L"]
    assert found["elements"]["M"]["base"]["conduction_w"] is None
    assert any(
        "M, between plate and base: thermal conductivity of aluminium-6061 is known from 1 K to "
        "300 K only, and 0.02 K is asked; nothing is extrapolated" in text
        for text in found["warnings"]
    )
    said = " ".join(run(*words)[1].split())
    assert "unknown" in said
    assert "the load of base is unknown, so it is held at 20 mK" in said


TONE = "\ntones: {pump: {into: S, frequency: 5 GHz, power: 1 uW}}\n"


def test_tones_through_a_cable_beyond_its_data_are_unknown_and_the_rest_is_answered(write_layout):
    """How a cable's loss lies along it follows from its conductivity."""
    short = "materials.metal.conductivity={0.1 K: 0.05 W/(m K), 300 K: 150 W/(m K)}"
    side = """
  side:
    - {id: P, kind: port, stage: room}
    - {id: H, kind: amplifier, stage: plate, gain: 20 dB, noise_temperature: 2 K, bias: 9 mW}
    - {id: Q, kind: port, stage: room}
"""
    text = BAND + STAGES + OWN + LINE + side
    heat = write_layout(text + TONE, short).heat()
    assert heat.stages["room"].conduction_w == pytest.approx(-by_hand_w(300, 4, 0.6), **CLOSE)
    plate = heat.stages["plate"]
    assert plate.tones_w is plate.total_w is plate.margin_w is plate.settled_k is None
    assert (plate.bias_w, plate.other_w) == pytest.approx((0.009, 0.07))
    assert not plate.over
    assert heat.elements["H"]["plate"].tones_w == 0  # no tone reaches its network
    assert heat.elements["T"]["base"].tones_w is None
    assert any("what tones dissipate is unknown" in said for said in heat.warnings)
    assert "unknown" in str(heat)
    # Too much already: what tones add would not take it away again.
    heat = write_layout(text + TONE, short, "stages.base.other={wires: 1 mW}").heat()
    assert heat.stages["base"].over
    assert not heat.stages["plate"].over  # from it the cable goes on, and may cool it


def test_a_material_without_what_tones_need_is_still_refused(run, tmp_path):
    """Nothing at all is a gap of the layout, and not a range that ends."""
    path = tmp_path / "layout.yaml"
    path.write_text(BAND + STAGES + OWN + LINE + TONE)
    status, out, err = run("heat", path)
    assert (status, out) == (2, "")
    assert "W: metal has no resistivity; give a material that states it" in err


def test_a_table_that_ends_at_the_stage_itself_is_known(write_layout):
    """An own material over 0.02 K to 300 K reaches both ends; one that ends at 0.1 K does not."""
    table = "materials.metal.conductivity={{{} K: {} W/(m K), 300 K: 150 W/(m K)}}"
    heat = write_layout(BAND + STAGES + OWN + LINE, table.format(0.02, 0.01)).heat()
    assert heat.stages["base"].unknown == ()
    # k is 0.5 T between the points.
    assert heat.stages["base"].conduction_w == pytest.approx(by_hand_w(4, 0.02, 0.5), **CLOSE)
    short = write_layout(BAND + STAGES + OWN + LINE, table.format(0.1, 0.05)).heat()
    assert short.stages["base"].unknown == short.stages["plate"].unknown == ("W",)
    assert short.stages["room"].conduction_w == pytest.approx(-by_hand_w(300, 4, 0.6), **CLOSE)
    # What is known at one end of a cable alone is not held against the law.
    assert short.laws["conduction"] is None


def test_arrays_are_plain_numbers(write_layout):
    heat = write_layout(BAND + STAGES + ACTIVE).heat()
    for stage in heat.stages.values():
        assert all(np.isfinite(w) for w in (stage.conduction_w, stage.tones_w, stage.total_w))


def test_a_pumped_line_in_which_a_cable_has_no_data_is_answered_too(run):
    demo = Path(__file__).parents[3] / "demo_chains" / "paramp_line.yaml"
    status, out, _ = run("heat", demo, "--set", "stages.room.temperature=2020 K", "--json")
    assert status == 0
    stages = json.loads(out)["stages"]
    assert stages["room"]["tones_w"] is None
    assert stages["room"]["total_w"] is None
