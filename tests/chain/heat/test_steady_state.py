"""Steady state of stages: closed forms, the balance itself, and what is not known."""

import json
from dataclasses import replace

import pytest

from chain import LayoutError
from chain.heat import steady_state
from chain.layout.cooling import cooling_w

BAND = "band: {start: 5 GHz, stop: 5 GHz, points: 1}\n"


def lone(temperature, cooling, load):
    """A stage that gets one load that the layout names, and nothing else."""
    return f"""{BAND}
stages:
  room: {{temperature: 300 K}}
  base: {{temperature: {temperature}, cooling: {cooling}, other: {{load: {load}}}}}
lines:
  main:
    - {{id: S, kind: port, stage: room}}
    - {{id: T, kind: termination, stage: base}}
"""


# A root is sought to 1e-12 of the temperature; rounding in T^2 costs some of that.
ROOT = {"rel": 1e-9}


def test_a_fixed_load_has_its_steady_state_on_the_dilution_curve(write_layout):
    stage = write_layout(lone("15 mK", "{10 mK: 2 uW, 20 mK: 15 uW, 100 mK: 450 uW}", "8 uW"))
    # Linear in T^2: 10^2 + 6/13 (20^2 - 10^2) mK^2.
    expected = 1e-3 * (100 + 6 / 13 * 300) ** 0.5
    assert stage.heat().stages["base"].settled_k == pytest.approx(expected, **ROOT)
    warm = write_layout(lone("15 mK", "{10 mK: 2 uW, 20 mK: 15 uW, 100 mK: 450 uW}", "200 uW"))
    expected = 1e-3 * (400 + 185 / 435 * 9600) ** 0.5
    assert warm.heat().stages["base"].settled_k == pytest.approx(expected, **ROOT)


def test_above_one_kelvin_the_curve_is_linear_in_t(write_layout):
    stage = write_layout(lone("4 K", "{3 K: 0.5 W, 4.2 K: 1.5 W}", "0.9 W"))
    assert stage.heat().stages["base"].settled_k == pytest.approx(3 + 0.4 * 1.2, **ROOT)
    # A stretch that reaches above 1 K counts as above.
    still = write_layout(lone("1 K", "{0.8 K: 10 mW, 1.2 K: 40 mW}", "25 mW"))
    assert still.heat().stages["base"].settled_k == pytest.approx(1.0, **ROOT)


def test_the_points_themselves(write_layout):
    for load, kelvin in (("2 uW", 0.01), ("15 uW", 0.02), ("450 uW", 0.1)):
        stage = write_layout(lone("15 mK", "{10 mK: 2 uW, 20 mK: 15 uW, 100 mK: 450 uW}", load))
        assert stage.heat().stages["base"].settled_k == pytest.approx(kelvin, rel=1e-12)


def test_a_single_point_holds_at_itself_only(write_layout):
    for load, kelvin, state in (("15 uW", 0.02, "settled"), ("14 uW", None, "colder"),
                                ("16 uW", None, "hotter")):
        base = write_layout(lone("20 mK", "{20 mK: 15 uW}", load)).heat().stages["base"]
        assert base.settled_k == kelvin
        assert base.state == state


CHAIN = BAND + """
stages:
  room:   {temperature: 295 K}
  shield: {temperature: 46 K,   cooling: {30 K: 0.1 W, 60 K: 20 W}, other: {radiation: 10 W}}
  plate:  {temperature: 3.8 K,  cooling: {2.5 K: 1 mW, 4.5 K: 1.5 W}, other: {radiation: 0.2 W}}
  still:  {temperature: 0.9 K,  cooling: {0.5 K: 0 W, 1.3 K: 30 mW}, other: {heater: 5 mW}}
  middle: {temperature: 110 mK, cooling: {50 mK: 0 W, 200 mK: 600 uW}, other: {load: 30 uW}}
  mixing: {temperature: 15 mK,  cooling: {5 mK: 0 W, 100 mK: 450 uW}}
lines:
  drive:
    copies: 60
    elements:
      - {id: S, kind: port, stage: room}
      - {id: W, kind: cable, from: room, to: plate, length: 0.5 m, via: {shield: 0.2 m}, coax: stainless-304-2.19}
      - {id: A, kind: attenuator, stage: plate, loss: 20 dB}
      - {id: V, kind: cable, from: plate, to: mixing, length: 0.5 m, via: {still: 0.2 m, middle: 0.3 m}, coax: stainless-304-2.19}
      - {id: B, kind: attenuator, stage: mixing, loss: 20 dB}
      - {id: T, kind: termination, stage: mixing}
  straps:
    - {id: L, kind: loom, from: plate, to: still, length: 0.1 m, count: 1, material: stainless-304, diameter: 3 mm}
    - {id: M, kind: loom, from: middle, to: mixing, length: 0.2 m, count: 100, material: cupronickel, diameter: 1 mm}
"""
TONES = """
tones:
  tone: {into: S, frequency: 5 GHz, power: -25 dBm}
"""
COLD = ("shield", "plate", "still", "middle", "mixing")


def balance_is_kept(layout, settled):
    """In steady state every load equals its cooling power, by a fresh sum."""
    there = layout.with_temperatures({name: settled[name] for name in COLD})
    heat = there.heat()
    for name in COLD:
        stage = heat.stages[name]
        # Tones are worked out again until temperatures move by less than 1e-7.
        assert stage.total_w == pytest.approx(stage.cooling_w, rel=3e-6)


@pytest.mark.parametrize("tones", ["", TONES])
def test_every_load_equals_its_cooling_power(write_layout, tones):
    layout = write_layout(CHAIN + tones)
    heat = layout.heat()
    settled = {name: stage.settled_k for name, stage in heat.stages.items()}
    assert settled["room"] is None
    assert all(settled[name] is not None for name in COLD)
    balance_is_kept(layout, settled)


def test_neighbours_matter(write_layout):
    """With the straps' conduction the mixing stage follows the one above it."""
    loose = write_layout(CHAIN, "M.count=1").heat().stages["mixing"].settled_k
    tied = write_layout(CHAIN, "M.count=20000").heat().stages["mixing"].settled_k
    assert tied > 1.1 * loose
    warm = write_layout(CHAIN, "M.count=20000", "stages.middle.other={load: 200 uW}").heat()
    assert warm.stages["mixing"].settled_k > 1.1 * tied


def test_where_it_begins_and_the_order_of_stages_do_not_matter(write_layout):
    layout = write_layout(CHAIN + TONES)
    first = layout.heat().steady_state
    begun = layout.with_temperatures(
        {"shield": 59, "plate": 2.6, "still": 1.2, "middle": 0.06, "mixing": 0.099}
    ).heat().steady_state
    turned = replace(layout, stages=dict(reversed(layout.stages.items()))).heat().steady_state
    for name in COLD:
        assert begun.settled_k(name) == pytest.approx(first.settled_k(name), rel=3e-7)
        assert turned.settled_k(name) == pytest.approx(first.settled_k(name), rel=3e-7)


@pytest.mark.parametrize("stage", COLD)
def test_more_load_makes_no_stage_colder(write_layout, stage):
    layout = write_layout(CHAIN)
    before = layout.heat().steady_state
    more = dict(layout.stages)
    own = more[stage]
    extra = 0.02 * own.cooling[-1][1]
    more[stage] = replace(own, other_w={**own.other_w, "more": extra})
    after = replace(layout, stages=more).heat().steady_state
    assert after.settled_k(stage) > before.settled_k(stage)
    for name in COLD:
        assert after.settled_k(name) >= before.settled_k(name) * (1 - 1e-9)


# -- what is not known --------------------------------------------------------------------------


def test_no_steady_state_is_stated_and_is_a_no(run, tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(lone("15 mK", "{10 mK: 2 uW, 20 mK: 15 uW, 100 mK: 450 uW}", "500 uW"))
    status, out, _ = run("heat", path, "--json")
    found = json.loads(out)
    assert status == 1
    assert found["stages"]["base"]["settled_k"] is None
    assert found["no_steady_state"] == ["base"]
    assert any("base has no steady state within its cooling table: at 100 mK, its last point, the "
               "load is 500 uW and the cooling power 450 uW" in text for text in found["warnings"])


def test_less_than_the_first_point_is_unknown_and_said(run, tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(lone("15 mK", "{10 mK: 2 uW, 20 mK: 15 uW}", "1 uW"))
    status, out, _ = run("heat", path, "--json")
    found = json.loads(out)
    assert status == 0
    assert found["stages"]["base"]["settled_k"] is None
    assert found["stages"]["base"]["state"] == "colder"
    assert any("base has a load of 1 uW and a cooling power of 2 uW at 10 mK: below the first" in text
               for text in found["warnings"])


def test_a_stage_without_cooling_is_held(write_layout):
    heat = write_layout(CHAIN, "stages.still.cooling=").heat()
    assert heat.stages["still"].settled_k is None
    assert heat.steady_state.stages["still"].state == "held"
    assert heat.steady_state.stages["still"].temperature_k == 0.9
    assert heat.stages["plate"].settled_k is not None


def test_an_unknown_load_has_no_steady_state(write_layout):
    heat = write_layout(
        CHAIN.replace("length: 0.5 m, via: {still: 0.2 m, middle: 0.3 m}, coax: stainless-304-2.19",
                      "loss: 3 dB")
    ).heat()
    for name in ("plate", "mixing"):
        assert heat.stages[name].settled_k is None
        assert heat.steady_state.stages[name].state == "held"
    assert any("the load of mixing is unknown, so it is held at 15 mK" in t for t in heat.warnings)
    assert heat.stages["shield"].settled_k is not None


def test_a_material_that_ends_is_said_and_not_continued(write_layout):
    """6061 has no data below 1 K: a curve that reaches lower does not make any."""
    text = CHAIN.replace("material: stainless-304, diameter: 3 mm",
                         "material: aluminium-6061, diameter: 0.1 mm")
    text = text.replace("still:  {temperature: 0.9 K", "still:  {temperature: 1.1 K")
    heat = write_layout(text, "stages.still.other={heater: 1 mW}").heat()
    assert heat.stages["still"].settled_k is None
    assert heat.steady_state.stages["still"].state == "no data"
    assert any("steady state of still lies where materials that touch it have no data: they end at 1 K"
               in warning for warning in heat.warnings)


def test_temperatures_that_still_move_are_not_given(write_layout, monkeypatch):
    monkeypatch.setattr(steady_state, "MAX_ROUNDS", 1)
    layout = write_layout(CHAIN + TONES)
    heat = layout.heat()
    assert heat.steady_state.swings
    assert all(stage.settled_k is None for stage in heat.stages.values())
    assert any("temperatures still move after 1 rounds" in text for text in heat.warnings)
    with pytest.raises(LayoutError, match="temperatures still move"):
        layout.settled()


# -- budgets in steady state ------------------------------------------------------------

SIGNAL = """
signals: {main: {from: S, to: T}}
"""


def test_budget_and_power_use_steady_state_temperatures(run, tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(CHAIN + TONES + SIGNAL)
    _, out, _ = run("heat", path, "--json")
    settled = {name: json.loads(out)["stages"][name]["settled_k"] for name in COLD}
    changes = [word for name in COLD
               for word in ("--set", f"stages.{name}.temperature={settled[name]!r} K")]
    for verb, key in (("budget", "noise_at_to_quanta"), ("power", "by_stage_w")):
        options = ["--signal", "main-1"] if verb == "budget" else []
        _, out, _ = run(verb, path, "--json", "--settled", *options)
        there = json.loads(out)
        _, out, _ = run(verb, path, "--json", *options, *changes)
        given = json.loads(out)
        assert any("at their steady-state temperatures: shield" in text for text in there["warnings"])
        if verb == "budget":
            assert there[key] == pytest.approx(given[key], rel=1e-6)
        else:
            assert there[key] == pytest.approx(given[key], rel=1e-6)


def test_a_pump_that_warms_the_stage_adds_noise(write_layout):
    """More tone: the mixing stage ends warmer, so its pad emits more."""
    weak = write_layout(CHAIN + TONES + SIGNAL, "tones.tone.power=-60 dBm").settled()
    strong = write_layout(CHAIN + TONES + SIGNAL, "tones.tone.power=-10 dBm").settled()
    assert strong.stages["mixing"].temperature_k > weak.stages["mixing"].temperature_k
    quiet, loud = (one.budget("main-1").noise_at_to_quanta[0] for one in (weak, strong))
    assert loud > quiet > 0.5


def test_settled_refuses_a_stage_without_steady_state(run, tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(CHAIN + SIGNAL)
    status, out, err = run("budget", path, "--settled", "--set",
                           "stages.mixing.other={heater: 1 mW}")
    assert status == 2
    assert out == ""
    assert f"{path}:9:3: mixing has no steady state within its cooling table: at 100 mK" in err


def test_settled_says_which_stages_it_had_to_guess(write_layout):
    layout = write_layout(CHAIN + SIGNAL, "stages.mixing.cooling={5 mK: 300 uW, 100 mK: 450 uW}")
    there = layout.settled()
    assert there.stages["mixing"].temperature_k == 0.005
    budget = there.budget("main-1")
    assert any("steady state below their tables are taken at the first point: mixing 5 mK" in text
               for text in budget.warnings)


# -- the curve ----------------------------------------------------------------------------------


def test_cooling_between_its_points(write_layout):
    stage = write_layout(lone("15 mK", "{10 mK: 2 uW, 20 mK: 14 uW, 2 K: 30 mW}", "5 uW")).stages
    base = stage["base"]
    assert cooling_w(base, 0.01) == pytest.approx(2e-6)
    # Halfway in T^2 between 10 and 20 mK.
    assert cooling_w(base, (250e-6) ** 0.5) == pytest.approx(8e-6)
    # In T where the stretch ends above 1 K.
    assert cooling_w(base, 1.01) == pytest.approx((14e-6 + 30e-3) / 2)
    assert cooling_w(base, 0.0099) is None
    assert cooling_w(base, 2.01) is None
