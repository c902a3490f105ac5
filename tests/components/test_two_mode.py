"""Gain and loss spread along a length: against slices, the commutators, and a worked figure."""

import numpy as np
import pytest

from components.two_mode import two_mode


def sliced(rate, kept, kept_idler, emitted, slices=40_000):
    """Return (matrix, noise) of so many slices, each a little gain between two little losses."""
    half = np.array([kept, kept_idler]) ** (0.5 / slices)
    cosh, sinh = np.cosh(rate / slices), np.sinh(rate / slices)
    step = half[:, None] * np.array([[cosh, sinh], [sinh, cosh]]) * half
    noise = np.diag((1 - half**2) * emitted)
    own = (half[:, None] * np.array([[cosh, sinh], [sinh, cosh]])) @ noise
    own = own @ (half[:, None] * np.array([[cosh, sinh], [sinh, cosh]])).T + noise
    whole, made = np.eye(2), np.zeros((2, 2))
    for _ in range(slices):
        whole, made = step @ whole, step @ made @ step.T + own
    return whole, made


@pytest.mark.parametrize(("rate", "loss_db", "idler_db"), [
    (3.3, 3.0, 3.0), (2.0, 1.0, 4.0), (2.0, 4.0, 0.0), (0.5, 0.0, 3.0), (0.05, 2.0, 2.0),
])
def test_as_ten_thousands_of_slices(rate, loss_db, idler_db):
    kept, kept_idler = 10 ** (-loss_db / 20), 10 ** (-idler_db / 20)
    emitted = np.array([0.7, 2.0])
    matrix, noise = sliced(rate, kept, kept_idler, emitted)
    found = two_mode(gain=matrix[0, 0] ** 2, signal_left=kept, idler_left=kept_idler)
    made = [[found.signal, found.to_signal], [found.to_idler, found.idler]]
    assert np.array(made, float) == pytest.approx(matrix, rel=1e-7)
    assert found.emitted(*emitted) == pytest.approx(
        [noise[0, 0], noise[0, 1], noise[1, 1]], rel=1e-7
    )


@pytest.mark.parametrize("apart", [0.0, 2.5, -2.5])
def test_commutators_and_no_gain(apart):
    gain = np.array([0.5012, 1.0, 3.0, 100.0, 1e5])
    kept, kept_idler = 10 ** (-3 / 20), 10 ** (-(3 + apart) / 20)
    found = two_mode(gain=gain, signal_left=kept, idler_left=kept_idler)
    made = found.emitted(1.0, -1.0)
    assert found.signal**2 - found.to_signal**2 + made[0] == pytest.approx(np.ones(5), rel=1e-9)
    assert found.idler**2 - found.to_idler**2 - made[2] == pytest.approx(np.ones(5), rel=1e-9)
    assert found.signal * found.to_idler - found.to_signal * found.idler + made[1] == pytest.approx(
        np.zeros(5), abs=1e-9 * gain[-1]
    )
    still = two_mode(gain=kept**2, signal_left=kept, idler_left=kept_idler)
    assert still.to_signal == pytest.approx(0.0, abs=1e-7)
    assert still.emitted(1.0, 1.0)[0] == pytest.approx(1 - kept**2, rel=1e-9)


def test_three_decibels_along_twenty_add_sixty_one_hundredths():
    # Issue's figure, and by hand: half of 199/200 by the idler, (k/2) int exp(-k u) cosh(2 g u) du
    # / 100 = 0.115 by the loss, k = ln 2, cosh(g)^2 = 200; vacuum only (15 mK at some GHz).
    found = two_mode(gain=100.0, signal_left=10 ** (-0.30103 / 2), idler_left=10 ** (-0.30103 / 2))
    added = 0.5 * found.to_signal**2 + found.emitted(0.5, 0.5)[0]
    assert added / 100 == pytest.approx(0.613, abs=0.001)
