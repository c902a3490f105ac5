"""Laws of conduction and of settling, over random cables, stages and loads."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from components import catalogue

LINES = ("stainless-304-2.19", "cupronickel-0.86", "niobium-titanium-0.86", "copper-1.19",
         "beryllium-copper-2.19")

temperatures = st.lists(
    st.floats(math.log(0.01), math.log(299.0)).map(math.exp), min_size=3, max_size=6, unique=True
).map(lambda found: sorted(found, reverse=True))
lengths = st.floats(0.05, 2.0)


def stages_of(kelvins):
    rows = (f"  s{i}: {{temperature: {kelvin!r} K}}\n" for i, kelvin in enumerate(kelvins))
    return "band: {start: 5 GHz, stop: 5 GHz, points: 1}\nstages:\n" + "".join(rows)


def cable(coax, length, start, end, anchors=()):
    via = ", ".join(f"s{stage}: {metres!r} m" for stage, metres in anchors)
    via = f", via: {{{via}}}" if via else ""
    return (f"    - {{id: W, kind: cable, from: s{start}, to: s{end}, length: {length!r} m{via}, "
            f"coax: {coax}}}\n")


def one_line(item, start, end):
    return ("lines:\n  main:\n"
            f"    - {{id: S, kind: port, stage: s{start}}}\n{item}"
            f"    - {{id: T, kind: termination, stage: s{end}}}\n")


def brought(heat, name):
    return heat.elements["W"].get(name).conduction_w


@given(coax=st.sampled_from(LINES), kelvins=temperatures, length=lengths)
def test_what_enters_at_the_top_all_stages_receive(write_layout, coax, kelvins, length):
    last = len(kelvins) - 1
    anchors = [(i, length * i / last) for i in range(1, last)]
    layout = write_layout(stages_of(kelvins) + one_line(
        cable(coax, length, 0, last, anchors), 0, last))
    heat = layout.heat()
    enters = -heat.stages["s0"].conduction_w
    receive = sum(heat.stages[f"s{i}"].conduction_w for i in range(1, last + 1))
    # Taken from one stage and given to another: the rounding of what flows is left.
    flowing = sum(stage.conduction_in_w for stage in heat.stages.values())
    assert receive == pytest.approx(enters, rel=1e-12, abs=1e-13 * flowing)
    assert heat.laws["conduction"] < 1e-12
    for stage in heat.stages.values():
        assert stage.conduction_in_w >= 0
        assert stage.conduction_in_w >= stage.conduction_w


@given(coax=st.sampled_from(LINES), kelvin=st.floats(0.01, 299.0), length=lengths)
def test_nothing_flows_between_equal_temperatures(write_layout, coax, kelvin, length):
    layout = write_layout(stages_of([kelvin, kelvin]) + one_line(cable(coax, length, 0, 1), 0, 1))
    heat = layout.heat()
    assert heat.stages["s0"].conduction_w == heat.stages["s1"].conduction_w == 0.0
    # Nor does an anchor at that temperature change anything.
    three = write_layout(stages_of([kelvin] * 3) + one_line(
        cable(coax, length, 0, 2, [(1, length / 3)]), 0, 2)).heat()
    assert all(stage.conduction_w == 0.0 for stage in three.stages.values())


@given(coax=st.sampled_from(LINES), kelvins=temperatures, length=lengths,
       part=st.floats(0.05, 0.95))
def test_series_adds_up_at_the_right_mid_temperature(write_layout, coax, kelvins, length, part):
    warm, cold = kelvins[0], kelvins[-1]
    line = catalogue.coax()[coax]
    top, bottom = line.theta(temperature_k=np.array([warm, cold]))
    middle = float(line.temperature_at(theta_w_m=top + (bottom - top) * part))
    whole = write_layout(
        stages_of([warm, middle, cold]) + one_line(cable(coax, length, 0, 2), 0, 2)
    ).heat()
    split = write_layout(stages_of([warm, middle, cold]) + one_line(
        cable(coax, length, 0, 2, [(1, part * length)]), 0, 2)).heat()
    # An anchor at the temperature that the cable has there anyway takes nothing.  The inverse of
    # the integral is good to 1e-9 of all that conducts up to the warm end.
    slack = 1e-8 * float(top) / (length * min(part, 1 - part))
    assert brought(split, "s2") == pytest.approx(brought(whole, "s2"), abs=slack)
    assert brought(split, "s0") == pytest.approx(brought(whole, "s0"), abs=slack)
    assert abs(brought(split, "s1")) < slack


@given(kelvins=temperatures, length=lengths, factor=st.floats(1.1, 10))
def test_a_longer_cable_conducts_in_proportion_less(write_layout, kelvins, length, factor):
    last = len(kelvins) - 1
    short, long = (
        write_layout(stages_of(kelvins) + one_line(
            cable("cupronickel-2.19", metres, 0, last), 0, last)).heat()
        for metres in (length, factor * length)
    )
    assert brought(short, f"s{last}") == pytest.approx(
        factor * brought(long, f"s{last}"), rel=1e-12
    )


@given(warm=st.floats(20, 290), step=st.floats(1, 9), coax=st.sampled_from(LINES))
def test_a_warmer_top_sends_more_down(write_layout, warm, step, coax):
    sent = [
        write_layout(stages_of([kelvin, 4.0]) + one_line(cable(coax, 0.5, 0, 1), 0, 1))
        .heat().stages["s1"].conduction_w
        for kelvin in (warm, warm + step)
    ]
    assert sent[1] > sent[0] > 0


# -- settling -----------------------------------------------------------------------------------

STEADY = """band: {{start: 5 GHz, stop: 5 GHz, points: 1}}
stages:
  room:  {{temperature: 300 K}}
  plate: {{temperature: 4 K, cooling: {{0.5 K: 0 W, 5 K: 1 W, 30 K: 30 W}}, other: {{load: {plate!r} W}}}}
  base:  {{temperature: 0.1 K, cooling: {{1 mK: 0 W, 1 K: 40 mW, 20 K: 20 W}}, other: {{load: {base!r} W}}}}
lines:
  ties:
    - {{id: L, kind: loom, from: room, to: plate, length: 0.5 m, count: 300, material: manganin, gauge: 30}}
    - {{id: M, kind: loom, from: plate, to: base, length: 0.2 m, count: 2, material: copper-rrr50, diameter: {tie!r} mm}}
  main:
    - {{id: S, kind: port, stage: room}}
    - {{id: T, kind: termination, stage: base}}
"""
loads = st.fixed_dictionaries({
    "plate": st.floats(0.01, 5), "base": st.floats(1e-6, 0.01), "tie": st.floats(0.05, 1.5),
})


@given(loads=loads, begin=st.tuples(st.floats(0.6, 29), st.floats(0.002, 19)))
def test_settling_does_not_depend_on_where_it_begins(write_layout, loads, begin):
    layout = write_layout(STEADY.format(**loads))
    plate, base = begin
    other = layout.with_temperatures({"plate": plate, "base": base}).heat().steady_state
    found = layout.heat()
    for name in ("plate", "base"):
        kelvin = found.stages[name].settled_k
        assert kelvin is not None
        assert other.settled_k(name) == pytest.approx(kelvin, rel=1e-7)
    there = layout.with_temperatures(
        {name: found.stages[name].settled_k for name in ("plate", "base")}
    ).heat()
    for name in ("plate", "base"):
        stage = there.stages[name]
        # The balance holds to the root's 1e-9 in temperature times the steepest curve.
        assert stage.margin_w == pytest.approx(0, abs=1e-6 * stage.conduction_in_w + 1e-12)


@given(loads=loads, more=st.floats(1.01, 3), which=st.sampled_from(["plate", "base"]))
def test_settling_rises_with_load(write_layout, loads, more, which):
    before = write_layout(STEADY.format(**loads)).heat().steady_state
    heavier = {**loads, which: more * loads[which]}
    after = write_layout(STEADY.format(**heavier)).heat().steady_state
    for name in ("plate", "base"):
        assert after.settled_k(name) >= before.settled_k(name) * (1 - 1e-8)
    assert after.settled_k(which) > before.settled_k(which)
