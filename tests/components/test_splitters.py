"""Hybrids, splitters, bias-tees, dc blocks, switches."""

import re

import numpy as np
import pytest

from components import response
from components.parameters import ParameterError
from components.thermal_noise import quanta

HALF = np.sqrt(0.5)


def _matrices(settings, at, matrices):
    return [m[0] for m in matrices(response.respond(settings.kind, settings, at), 1)]


@pytest.mark.parametrize(("angle", "apart_deg"), [("90 deg", 90), ("180 deg", 0)])
def test_hybrid_halves(angle, apart_deg, element, conditions, matrices):
    s, _, _ = _matrices(element("hybrid", angle=angle), conditions(6.0), matrices)
    assert np.abs(s[:, 0]) == pytest.approx([0, HALF, HALF, 0], abs=1e-15)
    assert np.degrees(np.angle(s[2, 0] / s[1, 0])) == pytest.approx(apart_deg)
    assert s @ s.conj().T == pytest.approx(np.eye(4), abs=1e-15)


def test_hybrid_of_180_degrees_gives_sum_and_difference(element, conditions, matrices):
    s, _, _ = _matrices(element("hybrid", angle="180 deg"), conditions(6.0), matrices)
    out = s @ [0, 3.0, 1.0, 0]
    assert np.abs(out) == pytest.approx([4 * HALF, 0, 0, 2 * HALF], abs=1e-15)


def test_two_hybrids_of_90_degrees_make_a_crossing(element, conditions, matrices):
    """`through` and `coupled` joined to those of a second one: all leaves by its `isolated`."""
    s, _, _ = _matrices(element("hybrid"), conditions(6.0), matrices)
    first = s[[1, 2], 0]  # what leaves `through` and `coupled`
    second = s[np.ix_([0, 3], [1, 2])] @ first  # enters the second one by the same pair
    assert np.abs(second) == pytest.approx([0, 1], abs=1e-15)


def test_splitter(element, conditions, matrices):
    settings = element("splitter", insertion_loss="0.3 dB")
    s, c, _ = _matrices(settings, conditions(6.0, kelvin=0.5), matrices)
    through = HALF * 10**-0.015
    expected = np.array([[0, through, through], [through, 0, 0], [through, 0, 0]])
    assert s == pytest.approx(expected, rel=1e-12)
    emitted = quanta(frequency_hz=6e9, temperature_k=0.5)
    # The resistor's noise leaves by the two outputs in opposite phase.
    assert c[1, 2].real == pytest.approx(-(through**2) * emitted, rel=1e-12)
    assert c[1, 1].real == pytest.approx((1 - through**2) * emitted, rel=1e-12)


def test_splitter_in_reverse_passes_equal_waves_and_absorbs_opposite_ones(element, conditions,
                                                                         matrices):
    s, _, _ = _matrices(element("splitter"), conditions(6.0), matrices)
    assert np.abs(s @ [0, HALF, HALF]) == pytest.approx([1, 0, 0], abs=1e-15)
    assert np.abs(s @ [0, HALF, -HALF]) == pytest.approx([0, 0, 0], abs=1e-15)


def test_splitter_with_finite_isolation(element, conditions, matrices):
    s, _, _ = _matrices(element("splitter", isolation="20 dB"), conditions(6.0), matrices)
    assert np.abs(s[1, 2]) == pytest.approx(0.1, rel=1e-12)
    assert np.linalg.norm(s, 2) == pytest.approx(1.0, abs=1e-12)
    with pytest.raises(ParameterError, match=r"less than 6\.02 dB; give at least 6\.03 dB"):
        _matrices(element("splitter", isolation="6 dB"), conditions(6.0), matrices)
    _matrices(element("splitter", isolation="6.03 dB"), conditions(6.0), matrices)


def _node(impedances):
    """S of ports joined in one node by series impedances (ohm), by the nodal voltage."""
    n, s = len(impedances), np.zeros((len(impedances),) * 2, complex)
    for driven in range(n):
        # Unit wave in 50 ohm: a source of 2 sqrt(50) behind 50 ohm and the port's impedance.
        admittance = [1 / (50 + z) for z in impedances]
        node = 2 * np.sqrt(50) * admittance[driven] / sum(admittance)
        for port in range(n):
            source = 2 * np.sqrt(50) if port == driven else 0.0
            current = (source - node) * admittance[port]
            s[port, driven] = (source - 50 * current) / np.sqrt(50) - (port == driven)
    return s


def test_bias_tee_is_a_choke_on_a_line(element, conditions, matrices):
    s, c, _ = _matrices(element("bias-tee", isolation="30 dB"), conditions(6.0), matrices)
    assert np.abs(s[2, :2]) == pytest.approx(10**-1.5, rel=1e-12)
    ohm = 50 * np.sqrt((4 * 10**3 - 9) / 4)  # |S|^2 = 4 / (9 + 4 x^2)
    assert s == pytest.approx(_node([0, 0, 1j * ohm]), abs=1e-12)
    assert not c.any()


def test_bias_tee_without_isolation_given_keeps_microwaves_from_dc(element, conditions, matrices):
    s, _, _ = _matrices(element("bias-tee"), conditions(6.0), matrices)
    assert s == pytest.approx(np.array([[0, 1, 0], [1, 0, 0], [0, 0, 1]]))


def test_bias_tee_says_how_much_isolation_a_node_has(element, conditions, matrices):
    lossy = {"insertion_loss": "0.5 dB"}
    with pytest.raises(ParameterError) as caught:
        _matrices(element("bias-tee", isolation="3 dB", **lossy), conditions(6.0), matrices)
    least = re.search(r"give at least ([\d.]+ dB)", str(caught.value))[1]
    s, _, _ = _matrices(element("bias-tee", isolation=least, **lossy), conditions(6.0), matrices)
    assert np.linalg.norm(s, 2) == pytest.approx(10 ** (-0.5 / 20), rel=1e-9)


def test_dc_block(element, conditions, matrices):
    s, _, _ = _matrices(element("dc-block", insertion_loss="0.2 dB"), conditions(6.0), matrices)
    assert s == pytest.approx(10**-0.01 * np.array([[0, 1], [1, 0]]))


@pytest.mark.parametrize("unselected", ["open", "matched"])
def test_switch_joins_common_to_its_position(unselected, element, conditions, matrices):
    switch = element("switch", throws=3, position="2", unselected=unselected)
    assert switch.kind.ports(switch) == ("common", "1", "2", "3")
    assert switch.kind.default_route(switch) == ("common", "2")
    s, c, _ = _matrices(switch, conditions(6.0, kelvin=0.5), matrices)
    assert s[2, 0] == s[0, 2] == 1
    reflected = 1.0 if unselected == "open" else 0.0
    assert np.diag(s) == pytest.approx([0, reflected, 0, reflected])
    emitted = quanta(frequency_hz=6e9, temperature_k=0.5) * (1 - reflected)
    assert np.diag(c) == pytest.approx([0, emitted, 0, emitted])


def test_open_throws_leak_through_their_gap(element, conditions, matrices):
    switch = element("switch", throws=3, position="2", isolation="40 dB")
    s, c, _ = _matrices(switch, conditions(6.0), matrices)
    assert np.abs(s[1, 0]) == pytest.approx(0.01, rel=1e-12)
    assert np.abs(s[3, 2]) == pytest.approx(0.01, rel=1e-12)
    gap = -50j * np.sqrt(1e4 - 4)  # |S| = 2 / |4 + 2 j x|, two gaps on the node
    assert s == pytest.approx(_node([0, gap, 0, gap]), abs=1e-12)
    assert not c.any()


def test_matched_throws_need_loss_for_what_leaks(element, conditions, matrices):
    values = {"throws": 4, "position": "1", "unselected": "matched", "isolation": "30 dB"}
    with pytest.raises(ParameterError, match="no passive switch has this isolation") as caught:
        _matrices(element("switch", **values), conditions(6.0), matrices)
    least = re.search(r"insertion_loss of at least ([\d.]+ dB)", str(caught.value))[1]
    s, _, _ = _matrices(element("switch", insertion_loss=least, **values), conditions(6.0),
                        matrices)
    # At the least loss, rounded up to 0.1 mdB, the largest singular value is one but for that.
    assert 1 - 3e-5 < np.linalg.norm(s, 2) <= 1 + 1e-12
    values["isolation"] = "5 dB"
    with pytest.raises(ParameterError, match="no passive switch leaks this much"):
        _matrices(element("switch", **values), conditions(6.0), matrices)


@pytest.mark.parametrize("position", ["common", "3"])
def test_position_has_to_be_a_throw(position, element, problems):
    said = f"the switch has no throw {position!r}; name one of 1, 2"
    assert problems(element("switch", position=position)) == [said]
    assert not problems(element("switch", position="2"))
