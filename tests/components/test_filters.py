"""Filters against another route to the same prototype, and what they refuse."""

import numpy as np
import pytest

from components import ladder, response
from components.parameters import ParameterError
from components.thermal_noise import quanta

W = np.concatenate([np.linspace(-4, 4, 161), [-80.0, 37.0]])
ROUNDING = 1e-12
"""Products of up to 21 chain matrices, in doubles."""


def _elements(kind, order, ripple_db):
    if kind == "butterworth":
        return ladder.butterworth_elements(order)
    return ladder.chebyshev_elements(order, ripple_db=ripple_db)


ANY = [("butterworth", n, None) for n in (1, 2, 3, 6, 9)] + [
    ("chebyshev", n, ripple) for n in (1, 2, 3, 4, 7, 8) for ripple in (0.01, 0.5, 3.0)
]


@pytest.mark.parametrize(("kind", "order", "ripple_db"), ANY)
def test_ladder_transmits_as_the_transfer_function_of_its_poles(kind, order, ripple_db):
    """Magnitude and phase: an analogue filter of the same order worked out from its poles."""
    from scipy import signal

    if kind == "butterworth":
        top, bottom = signal.butter(order, 1.0, analog=True)
    else:
        top, bottom = signal.cheby1(order, ripple_db, 1.0, analog=True)
    _, expected = signal.freqs(top, bottom, W)
    _, through, _ = ladder.scattering(_elements(kind, order, ripple_db), W)
    # 1e-10: the coefficients of the polynomial of degree 9 lose a few digits at its roots.
    assert through == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize(("kind", "order", "ripple_db"), [
    *ANY, ("butterworth", 21, None), ("chebyshev", 20, 0.1), ("chebyshev", 21, 3.0)
])
def test_ladder_is_lossless_and_keeps_to_unity(kind, order, ripple_db):
    w = np.concatenate([W, [1e3, 1e9, 1e15, -1e300]])
    s11, s21, s22 = ladder.scattering(_elements(kind, order, ripple_db), w)
    assert np.abs(s11) ** 2 + np.abs(s21) ** 2 == pytest.approx(1.0, abs=ROUNDING)
    assert np.abs(s22) == pytest.approx(np.abs(s11), abs=ROUNDING)
    assert np.abs(s11 * np.conj(s21) + s21 * np.conj(s22)) == pytest.approx(0.0, abs=ROUNDING)


@pytest.mark.parametrize("order", [3, 4])
def test_scattering_is_that_of_its_coils_and_capacitors(order, element, conditions):
    """A band-pass of real parts, 50 ohm: chain matrices of each resonator, then S by hand."""
    f = np.linspace(4.6, 7.7, 41)
    bpf = element("filter", shape="band-pass", response="chebyshev", ripple="0.5 dB", order=order,
                  centre="6 GHz", bandwidth="0.9 GHz")
    *g, load = ladder.chebyshev_elements(order, ripple_db=0.5)
    w, w0, delta = 2 * np.pi * 1e9 * f, 2 * np.pi * 6e9, 0.9 / 6
    chain = np.broadcast_to(np.eye(2, dtype=complex), (f.size, 2, 2))
    for index, value in enumerate(g):
        step = np.zeros((f.size, 2, 2), complex)
        step[:, 0, 0] = step[:, 1, 1] = 1.0
        if index % 2 == 0:
            henry = 50 * value / (w0 * delta)
            step[:, 0, 1] = 1j * w * henry + 1 / (1j * w * delta / (50 * w0 * value))
        else:
            farad = value / (50 * w0 * delta)
            step[:, 1, 0] = 1j * w * farad + 1 / (1j * w * 50 * delta / (w0 * value))
        chain = chain @ step
    a, b, c, d = chain[:, 0, 0], chain[:, 0, 1], chain[:, 1, 0], chain[:, 1, 1]
    end = 50 * load
    down = a * end + b + c * 50 * end + d * 50
    s = bpf.kind.scattering(bpf, conditions(*f))
    # The transfer into the load that ends the ladder; power waves, so it needs no transformer.
    assert s[1, 0] == pytest.approx(2 * np.sqrt(50 * end) / down, rel=1e-10)
    assert s[0, 0] == pytest.approx((a * end + b - c * 50 * end - d * 50) / down, abs=1e-10)
    assert s[1, 1] == pytest.approx((-a * end + b - c * 50 * end + d * 50) / down, abs=1e-10)


PLACES = {"low-pass": {"cutoff": "6 GHz"}, "high-pass": {"cutoff": "6 GHz"},
          "band-pass": {"centre": "6 GHz", "bandwidth": "1 GHz"},
          "band-stop": {"centre": "6 GHz", "bandwidth": "1 GHz"}}

BAND = 6e9 * (np.sqrt(1 + (1 / 12) ** 2) - 1 / 12)
"""Lower edge of a 1 GHz band whose geometric mean is 6 GHz, Hz."""


@pytest.mark.parametrize(("shape", "edges_ghz", "inside_ghz", "outside_ghz"), [
    ("low-pass", (6.0,), 0.1, 60.0),
    ("high-pass", (6.0,), 60.0, 0.1),
    ("band-pass", (BAND / 1e9, BAND / 1e9 + 1), 6.0, 0.1),
    ("band-stop", (BAND / 1e9, BAND / 1e9 + 1), 0.1, 6.0),
])
def test_shapes(shape, edges_ghz, inside_ghz, outside_ghz, element, conditions):
    """Half the power at the edges of a Butterworth, the ripple's loss at a Chebyshev's."""
    at = conditions(*edges_ghz, inside_ghz, outside_ghz)
    flat = element("filter", shape=shape, order=5, **PLACES[shape])
    rippled = element("filter", shape=shape, order=5, response="chebyshev", ripple="0.2 dB",
                      **PLACES[shape])
    for settings, edge in ((flat, 0.5), (rippled, 10 ** -0.02)):
        power = np.abs(settings.kind.scattering(settings, at)[1, 0]) ** 2
        assert power[: len(edges_ghz)] == pytest.approx(edge, rel=1e-9)
        assert power[-2] > 0.95
        assert power[-1] < 1e-8


def test_the_middle_of_a_stop_band_passes_nothing(element, conditions):
    stop = element("filter", shape="band-stop", order=21, centre="6 GHz", bandwidth="1 GHz")
    nport = response.respond(stop.kind, stop, conditions(6.0, kelvin=1.0))
    assert np.abs(nport.scattering[1, 0]) < 1e-200
    assert np.abs(nport.scattering[0, 0]) == pytest.approx(1.0)


def test_insertion_loss_is_dissipated_at_every_frequency(element, conditions, matrices):
    f = np.linspace(1, 12, 23)
    lossy = element("filter", shape="low-pass", order=5, cutoff="6 GHz", insertion_loss="0.5 dB")
    bare = element("filter", shape="low-pass", order=5, cutoff="6 GHz")
    at = conditions(*f, kelvin=0.5)
    s, c, _ = matrices(response.respond(lossy.kind, lossy, at), f.size)
    plain, silent, _ = matrices(response.respond(bare.kind, bare, at), f.size)
    assert s == pytest.approx(10 ** (-0.5 / 20) * plain, rel=1e-12)
    assert not silent.any()
    taken = (1 - 10**-0.05) * quanta(frequency_hz=1e9 * f, temperature_k=0.5)
    assert c == pytest.approx(taken[:, None, None] * np.eye(2), rel=1e-12, abs=1e-15)


def test_absorptive_takes_what_a_reflective_one_sends_back(element, conditions, matrices):
    f = np.array([2.0, 5.9, 30.0])
    values = {"shape": "low-pass", "order": 5, "cutoff": "6 GHz"}
    at = conditions(*f, kelvin=0.5)
    soaking = element("filter", absorptive="true", **values)
    mirror = element("filter", **values)
    s, c, _ = matrices(response.respond(soaking.kind, soaking, at), 3)
    reflective, _, _ = matrices(response.respond(mirror.kind, mirror, at), 3)
    assert s[:, 1, 0] == pytest.approx(reflective[:, 1, 0], rel=1e-12)
    assert not s[:, 0, 0].any()
    assert not s[:, 1, 1].any()
    emitted = quanta(frequency_hz=1e9 * f, temperature_k=0.5)
    assert c[:, 0, 0] == pytest.approx(np.abs(reflective[:, 0, 0]) ** 2 * emitted, rel=1e-9)
    # 70 dB down, each side sees a load.
    assert c[2] == pytest.approx(emitted[2] * np.eye(2), rel=1e-6)


SAID = [
    ({}, "the filter has no shape; give shape, or data"),
    ({"shape": "low-pass", "cutoff": "6 GHz"}, "the filter has no order; give order, or data"),
    ({"shape": "low-pass", "order": "3"}, "a low-pass filter needs its cutoff; give cutoff"),
    ({"shape": "band-pass", "order": "3", "centre": "6 GHz"},
     "a band-pass filter needs its bandwidth; give bandwidth"),
    ({"shape": "high-pass", "order": "3", "cutoff": "6 GHz", "centre": "6 GHz"},
     "a high-pass filter has no centre; give cutoff alone"),
    ({"shape": "low-pass", "order": "3", "cutoff": "6 GHz", "response": "chebyshev"},
     "a Chebyshev filter needs its ripple; give ripple"),
    ({"shape": "low-pass", "order": "3", "cutoff": "6 GHz", "ripple": "0.1 dB"},
     "a Butterworth filter has no ripple; take it out, or write `response: chebyshev`"),
]


@pytest.mark.parametrize(("values", "said"), SAID)
def test_what_is_missing_or_does_not_go_together(values, said, element, problems):
    assert said in problems(element("filter", **values))


def test_a_whole_filter_has_nothing_wrong(element, problems):
    for shape, place in PLACES.items():
        assert not problems(element("filter", shape=shape, order=3, **place))


# Infrared filters ---------------------------------------------------------------------------------


def test_infrared_loss_grows_as_a_power_of_frequency(element, conditions):
    f = np.array([3.0, 6.0, 60.0])
    for exponent, expected_db in ((None, [0.3, 0.6, 6.0]), ("2", [0.15, 0.6, 60.0])):
        power = {} if exponent is None else {"exponent": exponent}
        black = element("infrared-filter", loss="0.6 dB", reference="6 GHz", **power)
        s = black.kind.scattering(black, conditions(*f))
        assert -20 * np.log10(s[1, 0]) == pytest.approx(expected_db, rel=1e-12)


def test_infrared_loss_by_a_table(element, conditions):
    black = element("infrared-filter", loss={"4 GHz": "0.4 dB", "8 GHz": "1 dB"})
    s = black.kind.scattering(black, conditions(5.0))
    assert -20 * np.log10(s[1, 0]) == pytest.approx([0.55], rel=1e-12)
    with pytest.raises(ParameterError, match="reaches from 4 GHz to 8 GHz"):
        black.kind.scattering(black, conditions(9.0))


@pytest.mark.parametrize(("values", "said"), [
    ({"loss": "0.6 dB"}, "give reference, the frequency of that loss, or a table of the loss"),
    ({"loss": {"4 GHz": "0.4 dB"}, "exponent": "1"},
     "the loss is a table, and exponent belongs to a power law"),
    ({"loss": {"4 GHz": "0.4 dB"}, "reference": "6 GHz"},
     "the loss is a table, and reference belongs to a power law"),
])
def test_infrared_says_what_is_missing(values, said, element, problems):
    assert said in " ".join(problems(element("infrared-filter", **values)))
