"""Variants of a layout against a full budget of each."""

import itertools

import numpy as np
import pytest

import chain
import components.kinds  # noqa: F401  (registers them)
from chain.errors import LayoutError
from chain.layout.variants import Variant
from chain.network.assembly import pumps_of
from chain.noise.budget import NothingArrives, budget
from chain.noise.variants import variant_budgets
from components.declaration import KINDS
from components.quantities import Quantity

AGREED_DB = 1e-9
"""The same waves by another order of elimination: rounding times gains of 60 dB."""

STAGES = (
    "stages: {room: {temperature: 295 K}, shield: {temperature: 46 K}, plate: {temperature: 4 K}, "
    "mixing: {temperature: 20 mK}}\n"
)
LINE = STAGES + """\
band: {start: 4.2 GHz, stop: 7.1 GHz, points: 4}
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: M1, kind: cavity, stage: mixing, shape: notch, frequency: 5 GHz, coupling_q: 9}
    - ELEMENT
    - {id: M2, kind: cavity, stage: plate, shape: notch, frequency: 6 GHz, coupling_q: 6}
    - {id: I, kind: isolator, stage: mixing, insertion_loss: 0.3 dB, isolation: 25 dB}
    - {id: X, kind: paramp, stage: mixing, gain: 16 dB, mixing: three-wave, pump: pump,
        insertion_loss: 1 dB}
    - {id: J, kind: isolator, stage: mixing, insertion_loss: 0.3 dB, isolation: 21 dB}
    - {id: H, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 2 K}
    - {id: R, kind: port, stage: room}
tones: {pump: {into: S, frequency: 11.6 GHz, power: 1 uW}}
signals: {main: {from: S, to: R}}
"""


def _line(element):
    return LINE.replace("ELEMENT", element)


def _scaled(value, factor):
    return Quantity(value.value * factor, value.dimension, f"{value.value * factor:g}")


def _budget_or_error(layout, frequency_hz):
    try:
        return budget(layout, frequency_hz=frequency_hz)
    except LayoutError as error:
        return error


def _agree(layout, variants, frequency_hz=None):
    """Compare every variant with its own budget; return how many had one."""
    found = variant_budgets(layout, variants, frequency_hz=frequency_hz)
    quick = variant_budgets(layout, variants, frequency_hz=frequency_hz, shares=False)
    assert set(quick.errors) == set(found.errors)
    assert quick.warnings == found.warnings
    alone = 0
    for number, variant in enumerate(variants):
        b = _budget_or_error(variant.apply(layout), frequency_hz)
        if isinstance(b, LayoutError):
            assert type(found.errors[number]) is type(b), variant.name
            assert str(found.errors[number]) == str(b), variant.name
            continue
        alone += 1
        assert number not in found.errors, variant.name
        assert found.gain_db[number] == pytest.approx(
            b.gain_db, abs=AGREED_DB, nan_ok=True), variant.name
        assert quick.gain_db[number] == pytest.approx(
            b.gain_db, abs=AGREED_DB, nan_ok=True), variant.name
        for one in (found, quick):
            off_db = 10 * np.log10(one.system_noise_quanta[number] / b.system_noise_quanta)
            assert (np.isnan(off_db) == np.isnan(b.gain_db)).all(), variant.name
            assert not np.any(np.abs(off_db) >= AGREED_DB), variant.name
        size = b.system_noise_quanta
        for mine, theirs in ((found.shares_quanta, b.shares_quanta),
                             (found.idler_shares_quanta, b.idler_shares_quanta)):
            assert set(theirs) <= set(mine) or not np.any(list(theirs.values()))
            for key, share in mine.items():
                left = share[number] - theirs.get(key, 0.0)
                assert not np.any(np.abs(left / size) >= 1e-10), (variant.name, key)
        said = {text for text in b.warnings if "oscillate" in text}
        assert set(found.warnings.get(number, ())) == said, variant.name
    return alone


def _values_and_states(layout, key):
    """Return variants of one element: every state, every number it has at several sizes."""
    element = layout.elements[key]
    variants = [Variant(f"{key} {state}", {key: {"state": state}})
                for state in element.kind.states]
    numbers = {name: value for name, value in element.settings.values.items()
               if isinstance(value, Quantity)}
    for (name, value), factor in itertools.product(numbers.items(), (0.8, 0.9, 1.1, 1.2, 1.3)):
        variants.append(Variant(f"{name} x {factor}", {key: {name: _scaled(value, factor)}}))
    return variants


@pytest.mark.long
@pytest.mark.parametrize("name", sorted(
    name for name, kind in KINDS.items() if kind.port_names and not kind.outside
    and name != "termination"))
def test_every_kind_in_every_state_and_at_other_values(name, tmp_path):
    (tmp_path / "filter.s2p").write_text(
        "# GHz S MA R 50\n1 0.3 20 0.8 -40 0.8 -40 0.2 99\n12 0.2 80 0.7 40 0.7 40 0.3 -9\n")
    example = KINDS[name].example
    path = tmp_path / "layout.yaml"
    path.write_text(_line("{id: E" + example[example.index(", kind"):]))
    layout = chain.load(str(path))
    assert _agree(layout, _values_and_states(layout, "E")) > 1


def test_what_ends_a_line_in_every_state(write_layout):
    layout = write_layout(_line(
        "{id: E, kind: coupler, stage: plate, coupling: 6 dB, insertion_loss: 0.2 dB, "
        "loads: [isolated]}").replace("tones:", """\
  side:
    - {join: E.coupled}
    - {id: T, kind: termination, stage: room, return_loss: 20 dB}
tones:"""))
    for key in ("T", "R", "S"):
        variants = _values_and_states(layout, key)
        assert _agree(layout, variants) >= 1


def test_several_elements_at_once_with_paramps_on_and_off(write_layout):
    """Idler rows and columns count, also of parts that the signal passes twice."""
    layout = write_layout(_line(
        "{id: E, kind: attenuator, stage: plate, loss: 2 dB}"))
    variants = [
        Variant(f"{off} {dead} {loss}", {
            "X": {"state": off}, "H": {"state": dead},
            "E": {"loss": Quantity(loss, "ratio", f"{loss} dB")},
            "I": {"isolation": Quantity(20.0 + loss, "ratio", "")},
        })
        for off, dead, loss in itertools.product(
            ("ok", "off", "bypassed"), ("ok", "dead"), (0.0, 0.5, 2.0, 6.0, 20.0))
    ]
    assert _agree(layout, variants) == len(variants)


def test_temperatures_of_stages_and_of_elements(write_layout):
    layout = write_layout(_line(
        "{id: E, kind: cable, from: room, to: mixing, via: {plate: 0.3 m}, length: 0.6 m, "
        "coax: cupronickel-0.86}"))
    variants = [
        Variant(f"{stage} {kelvin}", {}, {stage: kelvin})
        for stage, kelvin in itertools.product(("plate", "mixing"), (0.03, 0.1, 1.0, 3.5, 6.0))
    ]
    variants += [
        Variant(f"I at {kelvin}", {"I": {"temperature": Quantity(kelvin, "temperature", "")}},
                {"plate": kelvin}) for kelvin in (0.01, 0.5, 2.0, 4.5, 9.0)
    ]
    assert _agree(layout, variants) == len(variants)


@pytest.mark.long
def test_unknown_phases(write_layout):
    """Powers are averaged over phases before noise is divided by gain."""
    layout = write_layout(_line(
        "{id: E, kind: cable, stage: plate, loss: 1 dB, length: 0.2 m, "
        "return_loss: 12 dB}").replace("gain: 30 dB", "gain: 30 dB, return_loss: 13 dB"))
    variants = _values_and_states(layout, "E") + _values_and_states(layout, "X")
    variants += [Variant("M2 reflects", {"M2": {"coupling_q": Quantity(30.0, "number", "")}})]
    broken = [variant for variant in variants if variant.name.endswith(("open", "shorted"))]
    assert _agree(layout, variants) == len(variants) - len(broken)


def test_a_return_loss_that_only_some_variants_have(write_layout):
    layout = write_layout(_line(
        "{id: E, kind: attenuator, stage: plate, loss: 2 dB}"))
    variants = [
        Variant(f"{value}", {"E": {"return_loss": Quantity(value, "ratio", "")}, "X": values})
        for value in (6.0, 9.0, 12.0, 20.0, 30.0) for values in ({}, {"state": "off"})
    ]
    assert _agree(layout, [Variant("as it is"), *variants]) == 1 + len(variants)


@pytest.mark.long
def test_two_paramps_in_series(write_layout):
    layout = write_layout(_line(
        "{id: E, kind: paramp, stage: mixing, gain: 9 dB, mixing: three-wave, pump: pump, "
        "loss_before: 0.5 dB}"))
    variants = [
        Variant(f"{one} {other}", {"E": {"state": one}, "X": {"state": other}})
        for one, other in itertools.product(("ok", "off", "dead", "bypassed"), repeat=2)
    ]
    variants += _values_and_states(layout, "E")
    assert _agree(layout, variants) == len(variants) - 2  # E open, E shorted


def test_errors_are_of_the_variant_that_has_them(write_layout):
    """A gain below the losses, no way through: the others are answered all the same."""
    layout = write_layout(_line(
        "{id: E, kind: attenuator, stage: plate, loss: 2 dB}").replace(
        "insertion_loss: 1 dB", "loss_before: 3 dB"))
    gains = (16.0, -7.0, 12.0, 10.0, 20.0, 18.0)
    variants = [Variant(f"{g}", {"X": {"gain": Quantity(g, "ratio", "")}}) for g in gains]
    variants += [Variant("reversed", {"H": {"state": "open"}, "X": {"state": "open"}}),
                 Variant("as it is")]
    found = variant_budgets(layout, variants)
    assert set(found.errors) == {1, 6}
    assert isinstance(found.errors[6], NothingArrives)
    assert "attenuates by more" in str(found.errors[1])
    assert np.isfinite(found.noise_at_to_quanta[6]).all()
    assert np.isnan(found.gain_db[[1, 6]]).all()
    assert _agree(layout, variants) == len(variants) - 2


def test_a_loop_of_gain_one_is_told_of_its_variant(write_layout):
    layout = write_layout(STAGES + """\
band: {start: 4 GHz, stop: 8 GHz, points: 5}
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: cavity, stage: room, shape: notch, frequency: 6.2 GHz, coupling_q: 2}
    - {id: H, kind: amplifier, stage: room, gain: 12 dB, noise_figure: 2 dB,
       reverse_isolation: 20 dB}
    - {id: B, kind: cavity, stage: room, shape: notch, frequency: 6.2 GHz, coupling_q: 2}
    - {id: R, kind: port, stage: room}
signals: {main: {from: S, to: R}}
""")
    variants = [
        Variant(f"{gain}", {"H": {"gain": Quantity(gain, "ratio", "")}})
        for gain in (6.0, 12.0, 19.0, 26.0, 33.0)
    ] + [Variant("dead", {"H": {"state": "dead"}})]
    found = variant_budgets(layout, variants)
    assert set(found.warnings) == {3, 4}
    assert "H may oscillate" in found.warnings[3][0]
    _agree(layout, variants)


def test_a_signal_without_a_start_and_a_receiver_that_adds(write_layout):
    layout = write_layout(_line(
        "{id: E, kind: attenuator, stage: plate, loss: 2 dB}").replace(
        "from: S, to: R", "to: R").replace(
        "{id: R, kind: port, stage: room}", "{id: R, kind: port, stage: room, adds: 30 K}"))
    variants = [Variant(f"{k}", {"R": {"adds": Quantity(k * 1.38e-23, "noise power density", "")}})
                for k in (1.0, 10.0, 100.0, 1000.0)] + [Variant("dead", {"H": {"state": "dead"}})]
    found = variant_budgets(layout, variants)
    assert found.gain_db is None
    assert found.system_noise_quanta is None
    for number, variant in enumerate(variants):
        b = budget(variant.apply(layout))
        assert found.noise_at_to_quanta[number] == pytest.approx(b.noise_at_to_quanta, rel=1e-10)
        for key, share in b.shares_quanta.items():
            assert found.shares_quanta[key][number] == pytest.approx(share, rel=1e-9, abs=1e-12)


def test_hot_resistors_are_as_warm_as_the_variant_makes_them(write_layout):
    layout = write_layout(_line(
        "{id: E, kind: attenuator, stage: mixing, loss: 10 dB, hot_power: 10 nW, "
        "hot_temperature: 100 mK}"))
    variants = [Variant("as it is"), Variant("less", {"M1": {"state": "bypassed"}}),
                Variant("more", {"E": {"loss": Quantity(20.0, "ratio", "20 dB")}})]
    found = variant_budgets(layout, variants)
    assert _agree(layout, variants) == 3
    assert found.shares_quanta["E"][0] != pytest.approx(found.shares_quanta["E"][1], rel=1e-3)


def test_what_lies_in_another_network_changes_nothing(write_layout):
    layout = write_layout(_line(
        "{id: E, kind: attenuator, stage: plate, loss: 2 dB}").replace("tones:", """\
  other:
    - {id: Q, kind: port, stage: room}
    - {id: Z, kind: attenuator, stage: room, loss: 3 dB}
    - {id: Y, kind: port, stage: room}
tones:"""))
    found = variant_budgets(
        layout, [Variant("as it is"), Variant("Z open", {"Z": {"state": "open"}})])
    assert np.array_equal(found.gain_db[0], found.gain_db[1])


def test_without_shares_only_gain_and_noise_are_worked_out(write_layout):
    layout = write_layout(_line("{id: E, kind: attenuator, stage: plate, loss: 2 dB}"))
    quick = variant_budgets(layout, _values_and_states(layout, "X"), shares=False)
    assert quick.shares_quanta == quick.idler_shares_quanta == {}


PUMPED = STAGES + """\
band: {start: 4.2 GHz, stop: 7.1 GHz, points: 4}
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: plate, loss: 20 dB}
    - {id: M, kind: cavity, stage: mixing, shape: notch, frequency: 5 GHz, coupling_q: 9}
    - {id: B, kind: attenuator, stage: mixing, loss: 1 dB}
    - {id: I, kind: isolator, stage: mixing, insertion_loss: 0.3 dB, isolation: 18 dB}
    - {id: C, kind: coupler, stage: mixing, coupling: 20 dB, reversed: true, loads: [isolated]}
    - {id: X, kind: paramp, stage: mixing, gain: 16 dB, mixing: three-wave, pump: pump}
    - {id: N, kind: cavity, stage: mixing, shape: notch, frequency: 6 GHz, coupling_q: 9}
    - {id: J, kind: isolator, stage: mixing, insertion_loss: 0.3 dB, isolation: 21 dB}
    - {id: E, kind: attenuator, stage: mixing, loss: 0.5 dB}
    - {id: H, kind: amplifier, stage: plate, gain: 30 dB, noise_temperature: 2 K}
    - {id: R, kind: port, stage: room}
  pump:
    - {id: P, kind: port, stage: room}
    - {id: L, kind: attenuator, stage: plate, loss: 10 dB}
    - {join: C.coupled}
tones: {pump: {into: P, frequency: 11.6 GHz, power: 1 uW}}
signals: {main: {from: S, to: R}}
"""


def _loss(key, *losses):
    return [Variant(f"{key} {loss}", {key: {"loss": Quantity(loss, "ratio", "")}})
            for loss in losses]


@pytest.fixture
def none_alone(monkeypatch):
    """Refuse variants that are solved alone."""
    def refuse(*args, **kwargs):
        raise AssertionError("a variant was not solved with the others")

    monkeypatch.setattr("chain.network.variants.solved_alone", refuse)


@pytest.mark.parametrize("heating", ["on", "off"])
def test_unknown_phases_and_a_pump_that_the_layout_brings(heating, write_layout):
    """Pads before and behind the loops, in a loop, and in the pump's line, where the pump is lost;
    states that open other loops."""
    layout = write_layout(f"self_heating: {heating}\n{PUMPED}")
    assert pumps_of(layout)["X"].state == "holds"
    variants = [
        *_loss("A", 5.0, 15.0, 25.0, 30.0), *_loss("E", 0.1, 1.0, 3.0), *_loss("B", 0.5, 2.0, 2.0),
        *_loss("L", 9.8, 12.0, 30.0, 40.0), Variant("H dead", {"H": {"state": "dead"}}),
        Variant("X off", {"X": {"state": "off"}}), Variant("L open", {"L": {"state": "open"}}),
        Variant("as it is"), Variant("warmer", temperature_k={"mixing": 0.1}),
        Variant("both", {"A": {"loss": Quantity(3.0, "ratio", "")},
                         "E": {"loss": Quantity(3.0, "ratio", "")}}),
    ]
    assert _agree(layout, variants) == len(variants)


def test_variants_that_draw_phases_alike_are_solved_together(write_layout, none_alone):
    layout = write_layout("self_heating: off\n" + PUMPED)
    variants = [*_loss("A", *range(1, 30)), *_loss("E", *range(1, 9)), *_loss("L", 40, 45, 50)]
    found = variant_budgets(layout, variants)
    assert np.isfinite(found.gain_db).all()
    assert (found.gain_db[-1] < found.gain_db[0] - 10).any()  # the pump is lost


def test_the_gain_of_a_pump_that_is_a_table_over_its_level(write_layout):
    layout = write_layout(PUMPED.replace(
        "gain: 16 dB, mixing", "gain: {-75 dBm: 4 dB, -60 dBm: 12 dB, -50 dBm: 20 dB}, mixing"))
    variants = [*_loss("L", 1.0, 3.0, 8.0, 10.0, 12.0, 40.0), *_loss("A", 1.0, 2.0, 3.0)]
    assert _agree(layout, variants) == len(variants)


def test_what_has_to_arrive_of_a_pump_and_a_break_on_its_way(write_layout):
    layout = write_layout(PUMPED.replace("power: 1 uW", "arriving: {X.in: -60 dBm}"))
    variants = [*_loss("L", 5.0, 12.0, 25.0, 40.0), *_loss("A", 1.0, 2.0, 3.0),
                Variant("L open", {"L": {"state": "open"}})]
    assert _agree(layout, variants) == len(variants)


def test_a_variant_that_cannot_be_among_those_that_draw_phases(write_layout):
    layout = write_layout(PUMPED.replace("gain: 16 dB", "gain: 16 dB, loss_before: 3 dB"))
    variants = [Variant(f"{g}", {"X": {"gain": Quantity(g, "ratio", "")}})
                for g in (-7.0, 12.0, 18.0, 12.0, 12.0)] + _loss("A", 1.0, 2.0, 3.0)
    assert _agree(layout, variants) == len(variants) - 1
