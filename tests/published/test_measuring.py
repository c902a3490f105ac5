"""Published and closed-form checks of what is made of powers: noise, its error, fitted lines.

Held: R, read in a source's text (or in an open library's documentation that prints its values); M,
from memory; A, computed apart from this program from the formula named.
"""

import numpy as np
import pytest

from chain.measurement.common_errors import Sizes
from chain.measurement.least_squares import Linear, iterated, least_squares
from chain.measurement.on_off import GainChange
from chain.measurement.readings import Readings
from chain.measurement.reduce import reduce

H, K = 6.62607015e-34, 1.380649e-23


def line(ghz, kelvin, *, before="", loads=("20 mK",)):
    """Return a layout of one frequency: a load, what stands before the plane D.out, an amplifier."""
    return f"""
band: {{start: {ghz} GHz, stop: {ghz} GHz, points: 1}}
stages: {{room: {{temperature: 295 K}}, base: {{temperature: {loads[0]}}}}}
lines:
  main:
    - {{id: L, kind: termination, stage: base}}
    {before}
    - {{id: D, kind: device, stage: base}}
    - {{id: H1, kind: amplifier, stage: base, gain: 40 dB, noise_temperature: {kelvin} K}}
    - {{id: R, kind: port, stage: room}}
signals: {{main: {{from: D.out, to: R}}}}
"""


def powers(ghz, kelvin, watt_hz, sigma=None, kelvin_sigma=None):
    """Return Readings at one frequency: load temperatures and densities."""
    f = np.array([ghz * 1e9])
    column = np.array(kelvin, float)[:, None]
    shape = column.shape
    return Readings(
        f, column, np.zeros(shape) if kelvin_sigma is None else np.reshape(kelvin_sigma, shape),
        np.reshape(watt_hz, shape) / (H * f),
        np.reshape([1e-3] * len(column) if sigma is None else sigma, shape), None, (), (),
    )


# -- 1. System noise from powers ------------------------------------------------------------------
#
# Callen and Welton's loads; with Planck's the same Y gives A + hf/2k: A. R. Kerr, M. J. Feldman and
# S.-K. Pan, ALMA Memo 161 (1996), convention (abstract).  S. Simbierowicz et al., Rev. Sci. Instrum.
# 92, 034708 (2021): a load of 0.1 to 5 K, 680 mK at 5.7 GHz (abstract); the numbers at 1e-6 A.

A_57 = 0.543222
Y_57 = 7.932312


def test_added_noise_of_a_hot_and_cold_load_counts_the_vacuum(write_layout):
    layout = write_layout(line(5.7, A_57))
    r = reduce(layout, source="L", readings=powers(5.7, [0.1, 5.0], [1e-20, Y_57 * 1e-20]))
    assert r.added_noise_k[0] == pytest.approx(A_57, rel=1e-6)
    half = H * 5.7e9 / (2 * K)
    assert r.added_noise_k[0] + half == pytest.approx(0.680000, rel=1e-6)  # Planck loads
    assert r.added_noise_k[0] != pytest.approx(0.606835, rel=0.05)  # loads of kT


def test_a_line_through_kt_errs_by_a_ninth_of_a_quantum():
    """Loads of 0.1, 0.5, 1, 2, 3, 5 K at 5.7 GHz: 0.5745 K in place of 0.5432 (A)."""
    t = np.array([0.1, 0.5, 1.0, 2.0, 3.0, 5.0])
    half = H * 5.7e9 / (2 * K)
    power = half / np.tanh(half / t) + A_57
    fit = _line(t, power, np.ones(6))
    assert fit.unknowns[0, 0] / fit.unknowns[0, 1] == pytest.approx(0.5745, abs=5e-5)


@pytest.mark.parametrize(("believed_db", "kelvin"), [(1.2, 0.51262), (0.8, 0.57527), (1.0, A_57)])
def test_a_loss_before_the_plane_that_is_believed_otherwise(write_layout, believed_db, kelvin):
    """1 dB at 20 mK at 5.7 GHz, loads of 3 and 0.1 K: -5.6 and +5.9 % for 0.2 dB (A)."""
    half = H * 5.7e9 / (2 * K)
    eta = 10**-0.1
    cold = half / np.tanh(half / 0.02)
    watt = [K * (eta * half / np.tanh(half / t) + (1 - eta) * cold + A_57) for t in (0.1, 3.0)]
    before = f"- {{id: W, kind: attenuator, stage: base, loss: {believed_db} dB}}"
    layout = write_layout(line(5.7, A_57, before=before))
    r = reduce(layout, source="L", readings=powers(5.7, [0.1, 3.0], watt))
    assert r.added_noise_k[0] == pytest.approx(kelvin, rel=1e-4)


def test_a_paramp_switched_on(write_layout):
    """T_off 7 K, 20 dB more gain, 10.564 dB more noise: 0.797 K; Slichter (2011) about 0.8 (R)."""
    ghz = 5.932
    half = H * ghz * 1e9 / (2 * K)
    layout = write_layout("""
band: {start: 5.932 GHz, stop: 5.932 GHz, points: 1}
stages: {room: {temperature: 295 K}, base: {temperature: 5 mK}}
lines:
  main:
    - {id: L, kind: termination, stage: base}
    - {id: D, kind: device, stage: base}
    - {id: X, kind: paramp, stage: base, gain: 20 dB, mixing: four-wave, pump: pump}
    - {id: H1, kind: amplifier, stage: base, gain: 40 dB, noise_temperature: 6.9 K}
    - {id: R, kind: port, stage: room}
tones: {pump: {into: R, frequency: 6 GHz, power: -60 dBm}}
signals: {main: {from: D.out, to: R}}
""")
    off = [K * (half / np.tanh(half / t) + 7.0 - half) for t in (0.005, 4.0)]
    on = powers(ghz, [0.005], [off[0] * 10**1.0564])
    change = GainChange(np.array([5e9, 7e9]), np.full(2, 20.0), np.zeros(2), "")
    r = reduce(layout, source="L", readings=powers(ghz, [0.005, 4.0], off), on=on,
               gain_change=change)
    assert r.off.added_noise_k[0] + half == pytest.approx(7.0, rel=1e-6)
    assert r.added_noise_k[0] + half == pytest.approx(0.7970, abs=1e-3)


def test_the_textbook_y_factor(write_layout):
    """Pozar, Microwave Engineering 2nd ed. (1998) Ex. 10.1: 290 K, 77 K, Y 2.7 dB: 170 K.

    Its error from 0.1 dB in Y: 12.288 K; from 1 K hot 1.160, from 1 K cold 2.160 K (A).
    """
    layout = write_layout(line(0.001, 170))  # low, where a load is its kT
    watt = [1e-20, 1e-20 * 10**0.27]

    def sigma(**errors):
        read = powers(0.001, [77.0, 290.0], watt, **errors)
        return reduce(layout, source="L", readings=read).added_sigma_k[0]

    tiny = [1e-7, 1e-7]
    r = reduce(layout, source="L", readings=powers(0.001, [77.0, 290.0], watt))
    assert r.added_noise_k[0] == pytest.approx(170.075, abs=5e-3)
    tenth = 0.1 * np.log(10) / 10
    assert sigma(sigma=[1e-7, tenth]) == pytest.approx(12.288, rel=2e-3)
    assert sigma(sigma=tiny, kelvin_sigma=[0.0, 1.0]) == pytest.approx(1.160, abs=2e-3)
    assert sigma(sigma=tiny, kelvin_sigma=[1.0, 0.0]) == pytest.approx(2.160, abs=2e-3)


# -- 2. Uncertainty of Y ---------------------------------------------------------------------------

@pytest.mark.parametrize(("hot", "by_hot", "by_cold", "by_y", "total"), [
    (1.0, 8.17, 5.06, 12.73, 15.95), (3.0, 7.36, 3.46, 8.71, 11.91), (5.0, 7.21, 3.18, 8.00, 11.23),
])
def test_the_error_of_added_noise_from_those_of_load_and_power(
    write_layout, hot, by_hot, by_cold, by_y, total
):
    """5.7 GHz, cold 0.1 K +/- 5 mK, hot +/- 1 %, Y +/- 1 %, in mK (A, partial derivatives)."""
    layout = write_layout(line(5.7, A_57))
    half = H * 5.7e9 / (2 * K)
    watt = [K * (half / np.tanh(half / t) + A_57) for t in (0.1, hot)]

    def millikelvin(y, cold, warm):
        read = powers(5.7, [0.1, hot], watt, [1e-7, max(y, 1e-7)], [cold, warm])
        return 1e3 * reduce(layout, source="L", readings=read).added_sigma_k[0]

    assert millikelvin(0, 0, 0.01 * hot) == pytest.approx(by_hot, abs=0.01)
    assert millikelvin(0, 0.005, 0) == pytest.approx(by_cold, abs=0.01)
    assert millikelvin(0.01, 0, 0) == pytest.approx(by_y, abs=0.01)
    assert millikelvin(0.01, 0.005, 0.01 * hot) == pytest.approx(total, rel=0.01)


def test_the_same_error_is_what_simulation_spreads(write_layout):
    """The 3 K row by 4,000 draws: 11.92 mK within 2 % (A)."""
    layout = write_layout(line(5.7, A_57))
    rng = np.random.default_rng(3)
    half = H * 5.7e9 / (2 * K)

    def n(t):
        return half / np.tanh(half / t)

    count = 4000
    hot, cold = 3.0 * (1 + 0.01 * rng.standard_normal(count)), 0.1 + 0.005 * rng.standard_normal(count)
    y = (n(3.0) + A_57) / (n(0.1) + A_57) * (1 + 0.01 * rng.standard_normal(count))
    spread = np.std((n(hot) - y * n(cold)) / (y - 1))
    watt = [K * (n(t) + A_57) for t in (0.1, 3.0)]
    read = powers(5.7, [0.1, 3.0], watt, [1e-7, 0.01], [0.005, 0.03])
    stated = reduce(layout, source="L", readings=read).added_sigma_k[0]
    assert stated == pytest.approx(spread, rel=0.03)
    assert stated == pytest.approx(0.01192, rel=0.02)


def test_one_thermometer_for_hot_and_cold_errs_less_than_two(write_layout):
    """A scale common to both loads: dA = (Th N'h - Y Tc N'c) u / (Y - 1) (A)."""
    layout = write_layout(line(5.7, A_57))
    half = H * 5.7e9 / (2 * K)
    loads = np.array([0.1, 3.0])
    n = half / np.tanh(half / loads)
    slope = (half / loads / np.sinh(half / loads)) ** 2
    y = (n[1] + A_57) / (n[0] + A_57)
    expected = 0.01 * (loads[1] * slope[1] - y * loads[0] * slope[0]) / (y - 1)
    read = powers(5.7, loads, K * (n + A_57), [1e-7, 1e-7])
    r = reduce(layout, source="L", readings=read, sizes=Sizes(load_scale=0.01))
    assert r.added_sigma_k[0] == pytest.approx(expected, rel=1e-5)


# -- 3. Least squares with common errors ----------------------------------------------------------

def _line(x, y, sigma, *, offset=0.0):
    """Fit y = a + b x at one "frequency", with an offset common to all readings."""
    x = np.asarray(x, float)
    own = np.stack([np.ones_like(x), x], axis=1)[:, None, :]
    common = np.full((len(x), 1, 1), offset) if offset else np.zeros((len(x), 1, 0))
    return least_squares(Linear(np.reshape(y, (-1, 1)), own, common), np.reshape(sigma, (-1, 1)))


T_H3 = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010,
                 26.511])
B_H3 = -np.array([.171, .169, .166, .159, .164, .165, .156, .157, .159, .161, .160])


def test_calibration_of_a_thermometer_in_the_guide():
    """JCGM 100:2008, H.3: -0.1712(29), 0.00218(67), r -0.93, at 30: -0.1494(41) (R)."""
    s = 0.0034976
    fit = _line(T_H3 - 20, B_H3, np.full(11, s))
    v = fit.covariance[0]
    assert fit.unknowns[0] == pytest.approx([-0.171204, 0.0021827], rel=1e-5)
    assert np.sqrt(np.diag(v)) == pytest.approx([0.002878, 0.0006679], rel=1e-3)
    assert v[0, 1] / np.sqrt(v[0, 0] * v[1, 1]) == pytest.approx(-0.93, abs=5e-3)
    assert np.sqrt(fit.chi2 / fit.freedom) * s == pytest.approx(0.0035, abs=5e-6)
    ten = np.array([1.0, 10.0])
    assert ten @ fit.unknowns[0] == pytest.approx(-0.1494, abs=5e-5)
    assert np.sqrt(ten @ v @ ten) == pytest.approx(0.0041, abs=5e-5)


def test_the_same_with_an_offset_common_to_all_readings():
    """JCGM 100:2008, H.3.6: the intercept's u becomes 0.0057689, the slope's stays (R); r A."""
    s = 0.0034976
    own, both = _line(T_H3 - 20, B_H3, np.full(11, s)), _line(T_H3 - 20, B_H3, np.full(11, s),
                                                             offset=0.005)
    v = both.covariance[0]
    assert both.unknowns[0] == pytest.approx(own.unknowns[0], rel=1e-9)
    assert np.sqrt(v[0, 0]) == pytest.approx(0.0057689, rel=2e-4)
    assert v[1, 1] == pytest.approx(own.covariance[0, 1, 1], rel=1e-9)
    assert v[0, 1] / np.sqrt(v[0, 0] * v[1, 1]) == pytest.approx(-0.46411, abs=2e-4)
    assert np.sqrt(both.common_part(both.response)[0, 0, 0]) == pytest.approx(0.005, rel=1e-9)


@pytest.mark.parametrize(("y", "u", "a", "b", "ua", "ub", "cov", "chi2"), [
    ([3.3, 5.6, 7.1, 9.3, 10.7, 12.1], [.5] * 6, 1.867, 1.757, .465, .120, -.050, 1.665),
    ([3.2, 4.3, 7.6, 8.6, 11.7, 12.8], [.5] * 3 + [1.0] * 3, .885, 2.057, .530, .178, -.082, 4.131),
])
def test_lines_of_the_standard(y, u, a, b, ua, ub, cov, chi2):
    """ISO/TS 28037:2010, 6.3, equal and unequal weights (R)."""
    fit = _line(np.arange(1.0, 7.0), y, u)
    v = fit.covariance[0]
    assert fit.unknowns[0] == pytest.approx([a, b], abs=6e-4)
    assert np.sqrt(np.diag(v)) == pytest.approx([ua, ub], abs=6e-4)
    assert v[0, 1] == pytest.approx(cov, abs=6e-4)
    assert fit.chi2 == pytest.approx(chi2, abs=6e-4)


def test_the_line_of_the_standard_with_errors_of_both_axes():
    """ISO/TS 28037:2010, 7.4: .5788(.4764), 2.159(.1355), -.0577, 2.743 (R).

    An error of each abscissa is an error common to the "frequencies" of its step.
    """
    x = np.array([1.2, 1.9, 2.9, 4.0, 4.7, 5.9])
    y = np.array([3.4, 4.4, 7.2, 8.5, 10.8, 13.5])
    u = np.array([.2] * 3 + [.4] * 3)[:, None]

    def linearise(unknowns, common):
        a, b = unknowns[0]
        here = x + 0.2 * common
        own = np.stack([np.ones(6), here], axis=1)[:, None, :]
        return Linear((y - a - b * here)[:, None], own, (0.2 * b * np.eye(6))[:, None, :])

    fit = iterated(linearise, u, np.array([[0.6, 2.1]]), 6)
    v = fit.covariance[0]
    assert fit.unknowns[0] == pytest.approx([.5788, 2.159], abs=7e-4)
    assert np.sqrt(np.diag(v)) == pytest.approx([.4764, .1355], abs=1e-3)
    assert v[0, 1] == pytest.approx(-.0577, abs=3e-4)
    assert fit.chi2 == pytest.approx(2.743, abs=1e-3)


def test_two_readings_with_a_common_scale_do_not_fall_below_both():
    """Peelle: 1.5 and 1.0, 10 % each and 20 % common (M): 1.25(26517), and never 0.88.

    R. Fruehwirth, D. Neudecker and H. Leeb, EPJ Web Conf. 27, 00008 (2012): the fault is a
    covariance built from the readings (abstract); here own and common part follow the model (A).
    """
    y = np.array([1.5, 1.0])[:, None]

    def linearise(unknowns, common):
        m = unknowns[0, 0]
        value = m * (1 + 0.2 * common[0])
        shape = (2, 1, 1)
        return Linear((y - value) / m, np.full(shape, value / m / m), np.full(shape, 0.2))

    fit = iterated(linearise, np.full((2, 1), 0.1), np.array([[1.0]]), 1)
    assert fit.unknowns[0, 0] == pytest.approx(1.25, rel=1e-9)
    assert np.sqrt(fit.covariance[0, 0, 0]) == pytest.approx(0.26517, rel=1e-4)
