"""Paramps: where their losses lie, how their gain is said, their pump's port, their current."""

import re

import numpy as np
import pytest

from components import response
from components.parameters import ParameterError
from components.settings import Settings
from components.thermal_noise import quanta
from components.touchstone import NamedFile

BASE = {"mixing": "three-wave", "pump": "pump"}


@pytest.fixture
def pumped(conditions):
    """Return a function from Settings to the NPort at 6 GHz with its idler at 5 GHz, 15 mK."""

    def answer(settings, ghz=6.0, idler_ghz=5.0, kelvin=0.015):
        at = conditions(ghz, kelvin=kelvin)
        return response.respond_with_idler(
            settings.kind, settings, at, at.at_frequency(np.array([1e9 * idler_ghz]))
        )

    return answer


def _added(s, c, idler_in):
    """Quanta added at the input of a two-port paramp, `idler_in` arriving at its idler."""
    out, idler = 1, 2
    noise = c[out, out].real + np.abs(s[out, idler]) ** 2 * idler_in
    return noise / np.abs(s[out, 0]) ** 2


def test_without_losses_it_is_the_two_mode_amplifier(element, pumped, matrices):
    s, c, d = matrices(pumped(element("paramp", gain="20 dB", **BASE)), 1)
    assert s[0, 1, 0] == pytest.approx(10)
    assert s[0, 1, 2] == pytest.approx(np.sqrt(99))
    assert s[0, 3, 0] == pytest.approx(np.sqrt(99))
    assert s[0, 0, 1] == pytest.approx(1)
    assert not c.any()
    assert d == pytest.approx(0, abs=1e-12)
    assert _added(s[0], c[0], 0.5) == pytest.approx(0.5 * 0.99)


@pytest.mark.parametrize("kelvin", [0.0, 0.015, 0.3])
def test_losses_before_and_behind_add_what_pads_there_would(kelvin, element, pumped, matrices):
    """Hand formula: loss eta_s, eta_i before (bath N_b), gain G, eta_2 behind, all referred to
    the input; C. M. Caves' amplifier between beam splitters."""
    table = {"4 GHz": "1 dB", "5 GHz": "1.5 dB", "6 GHz": "2 dB"}
    settings = element("paramp", gain="15 dB", loss_before=table, loss_after="0.7 dB", **BASE)
    s, c, _ = matrices(pumped(settings, kelvin=kelvin), 1)
    before_s, before_i, after = 10**-0.2, 10**-0.15, 10**-0.07
    inner = 10**1.5 / (before_s * after)
    bath_s, bath_i = (quanta(frequency_hz=f, temperature_k=kelvin) for f in (6e9, 5e9))
    idler_in = 3.0
    expected = (
        (1 - before_s) * bath_s / before_s
        + (inner - 1) / inner * (before_i * idler_in + (1 - before_i) * bath_i) / before_s
        + (1 - after) * bath_s / (inner * after * before_s)
    )
    assert np.abs(s[0, 1, 0]) ** 2 == pytest.approx(10**1.5, rel=1e-12)  # absolute
    assert _added(s[0], c[0], idler_in) == pytest.approx(expected, rel=1e-12)


def test_both_sidebands_share_what_the_losses_emit(element, pumped, matrices):
    """All of S and C forward: the bare amplifier with a pad at each of its four waves' places."""
    losses = {"loss_before": {"5 GHz": "1.5 dB", "6 GHz": "2 dB"},
              "loss_after": {"5 GHz": "0.4 dB", "6 GHz": "0.7 dB"}}
    inner = pumped(element("paramp", gain="12.7 dB", **BASE), kelvin=0.3)
    for index, (ghz, loss_db) in enumerate(((6, 2.0), (6, 0.7), (5, 1.5), (5, 0.4))):
        emitted = quanta(frequency_hz=ghz * 1e9, temperature_k=0.3)
        inner = response.behind_pad(inner, index, 10 ** (-loss_db / 20), emitted)
    s, c, _ = matrices(pumped(element("paramp", gain="10 dB", **losses, **BASE), kelvin=0.3), 1)
    expected_s, expected_c, _ = matrices(inner, 1)
    forward = np.ix_([0], [1, 3], [0, 2])
    assert s[forward] == pytest.approx(expected_s[forward], rel=1e-12)
    leaving = np.ix_([0], [1, 3], [1, 3])
    assert c[leaving] == pytest.approx(expected_c[leaving], rel=1e-12)
    assert np.abs(c[0, 1, 3]) > 1


def test_much_gain_behind_a_loss_adds_its_vacuum_twice(element, pumped, matrices):
    """Vacuum everywhere: 1/eta - 1/2 quanta; one half without loss, 1.5 with half lost."""
    for loss_db, expected in ((0.0, 0.5), (10 * np.log10(2), 1.5)):
        settings = element("paramp", gain="90 dB", loss_before=f"{loss_db} dB", **BASE)
        s, c, _ = matrices(pumped(settings, kelvin=0.0), 1)
        assert _added(s[0], c[0], 0.5) == pytest.approx(expected, rel=1e-8)  # 1/gain is 1e-9


def test_excess_noise_is_at_the_input_of_the_whole(element, pumped, matrices):
    settings = element("paramp", gain="20 dB", loss_before="1 dB", loss_after="1 dB", **BASE)
    with_excess = Settings(settings.kind, {**settings.values,
                                           **element("paramp", excess_noise="0.7").values})
    added = [_added(*(m[0] for m in matrices(pumped(one), 1)[:2]), 0.5)
             for one in (settings, with_excess)]
    assert added[1] - added[0] == pytest.approx(0.7, rel=1e-9)


def test_gain_over_off_loses_the_insertion_loss(element, pumped, conditions):
    settings = element("paramp", gain_over_off="20 dB", insertion_loss="3 dB", **BASE)
    assert np.abs(pumped(settings).scattering[1, 0]) ** 2 == pytest.approx(10**1.7)
    off = settings.with_values(state="off")
    through = response.respond(off.kind, off, conditions(6.0)).scattering[1, 0]
    assert np.abs(pumped(settings).scattering[1, 0] / through) ** 2 == pytest.approx(100)
    # Where the insertion loss is not said, it is that of the losses.
    settings = element("paramp", gain_over_off="20 dB", loss_before="1 dB", loss_after="2 dB",
                       **BASE)
    assert np.abs(pumped(settings).scattering[1, 0]) ** 2 == pytest.approx(10**1.7)


def test_backward_it_is_its_insertion_loss_or_isolates(element, pumped):
    settings = element("paramp", gain="20 dB", loss_before="1 dB", loss_after="2 dB", **BASE)
    assert np.abs(pumped(settings).scattering[0, 1]) ** 2 == pytest.approx(10**-0.3)
    settings = element("paramp", gain="20 dB", insertion_loss="1 dB", reverse_isolation="30 dB",
                       **BASE)
    nport = pumped(settings)
    assert np.abs(nport.scattering[0, 1]) ** 2 == pytest.approx(1e-3)
    assert np.abs(nport.scattering[2, 3]) ** 2 == pytest.approx(1e-3)


def test_a_whole_that_is_less_than_its_parts_is_refused(element, pumped):
    values = {"gain": "20 dB", "loss_before": "1 dB", "loss_after": "2 dB", **BASE}
    for name in ("insertion_loss", "reverse_isolation"):
        with pytest.raises(ParameterError) as caught:
            pumped(element("paramp", **values, **{name: "2.9 dB"}))
        assert str(caught.value) == (
            f"{name} is less than the losses it is made of; "
            "give at least 3 dB, or leave it out"
        )
        pumped(element("paramp", **values, **{name: "3 dB"}))


def test_a_gain_that_does_not_make_up_for_the_losses_is_refused(element, pumped):
    with pytest.raises(ParameterError) as caught:
        pumped(element("paramp", gain_over_off="1 dB", insertion_loss="2.5 dB", **BASE))
    assert str(caught.value) == (
        "the paramp attenuates by more than the losses that it is given; give at least 1.5 dB "
        "more gain, or say where the insertion loss lies: loss_before, loss_after"
    )
    pumped(element("paramp", gain_over_off="2.5 dB", insertion_loss="2.5 dB", **BASE))
    # Said where it lies, an absolute gain below 0 dB has gain inside.
    inside = pumped(element("paramp", gain="-1 dB", loss_before="2 dB", **BASE))
    assert np.abs(inside.scattering[1, 0]) ** 2 == pytest.approx(10**-0.1)


@pytest.mark.parametrize(("values", "said"), [
    ({}, ["the paramp has no gain; give gain, or gain_over_off, or data"]),
    ({"gain": "20 dB", "gain_over_off": "20 dB"},
     ["gain and gain_over_off are both given; keep one"]),
    ({"gain": "20 dB", "dc_current": "1 mA"}, ["dc_current stands alone; give dc_resistance too"]),
    ({"gain": "20 dB", "dc_resistance": "1 ohm"},
     ["dc_resistance stands alone; give dc_current too"]),
    ({"gain": "20 dB", "dc_current": "1 mA", "dc_resistance": "1 ohm"}, []),
    ({"gain_over_off": "20 dB"}, []),
])
def test_what_is_said_twice_or_by_half(values, said, element, problems):
    assert problems(element("paramp", **values, **BASE)) == said


def test_direct_current_heats(element):
    settings = element("paramp", gain="20 dB", dc_current="1.5 mA", dc_resistance="2 ohm", **BASE)
    assert settings.kind.dissipates(settings) == pytest.approx(4.5e-6)
    for state, watt in (("off", 4.5e-6), ("dead", 0.0), ("open", 0.0)):
        settings = settings.with_values(state=state)
        assert settings.kind.dissipates(settings) == pytest.approx(watt)


# The pump's own port --------------------------------------------------------------------------


@pytest.mark.parametrize("reflects", ["false", "true"])
def test_a_flux_line_takes_part_of_the_pump_and_nothing_else(reflects, element, pumped, conditions,
                                                             matrices):
    settings = element("paramp", gain="20 dB", flux_pumped="true", pump_loss="3 dB",
                       insertion_loss="1 dB", reflects=reflects, **BASE)
    kind = settings.kind
    ports = kind.ports(settings)
    assert ports == (("in", "pump") if reflects == "true" else ("in", "out", "pump"))
    last, n = len(ports) - 1, len(ports)
    at_pump = response.respond_to_pump(kind, settings, conditions(11.0))
    assert at_pump.scattering[last, last] == pytest.approx(-(10**-0.15))
    assert np.abs(at_pump.scattering[last - 1, 0]) ** 2 == pytest.approx(10**-0.1)
    s, c, _ = matrices(pumped(settings, kelvin=0.3), 1)
    for row in (last, n + last):
        mixed = [column for column in range(2 * n) if column != row]
        assert not s[0, row, mixed].any()
        assert not s[0, mixed, row].any()
    half = 1 - 10**-0.3
    assert c[0, last, last] == pytest.approx(half * quanta(frequency_hz=6e9, temperature_k=0.3))
    assert c[0, n + last, n + last] == pytest.approx(
        half * quanta(frequency_hz=5e9, temperature_k=0.3)
    )


def test_a_load_on_the_pump_port_takes_both_its_waves(element, pumped, matrices):
    settings = element("paramp", gain="20 dB", flux_pumped="true", **BASE)
    whole = matrices(pumped(settings), 1)
    nport = pumped(settings.with_values(loads=("pump",)))
    assert nport.ports == ("in", "out", "in", "out")
    assert nport.sidebands == (1, 1, -1, -1)
    keep = np.ix_([0], [0, 1, 3, 4], [0, 1, 3, 4])
    for ours, theirs in zip(matrices(nport, 1), whole, strict=True):
        assert ours == pytest.approx(theirs[keep])


# Gain from a file -----------------------------------------------------------------------------


def test_gain_from_a_file(element, pumped, tmp_path):
    path = tmp_path / "gain.s2p"
    path.write_text("# GHz S DB R 50\n5 -20 0 18 0 -3 0 -20 0\n6 -20 0 20 90 -3 0 -20 0\n")
    settings = Settings(element("paramp").kind, {"data": NamedFile(str(path)), **BASE})
    nport = pumped(settings)
    assert np.abs(nport.scattering[1, 0]) ** 2 == pytest.approx(100)
    assert np.abs(nport.scattering[3, 2]) ** 2 == pytest.approx(100)
    with pytest.raises(ParameterError, match=r"gain\.s2p reaches from 5 GHz to 6 GHz, and 7 GHz"):
        pumped(settings, ghz=7.0)
    alone = settings.with_values(reflects=True)
    with pytest.raises(ParameterError) as caught:
        pumped(alone)
    assert re.search(r"gain\.s2p has 2 ports and the gain is from `in` to `in`", str(caught.value))
