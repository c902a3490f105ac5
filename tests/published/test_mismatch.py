"""Reflection, return loss and mismatch loss of standing wave ratios, and limits of two mismatches.

|G| = (S - 1)/(S + 1), loss = -10 log(1 - |G|^2), limits 20 log(1 +- |G1 G2|): standard formulas,
values computed apart from this program; those of ratio 2 (100 ohm on 50 ohm) also in a public
library's test.
"""

import numpy as np
import pytest

from components import response
from components.conditions import Conditions
from components.declaration import KINDS
from components.quantities import parse
from components.settings import Settings

# ratio, |G|, return loss dB, mismatch loss dB
RATIOS = [
    (1.05, 0.02439, 32.256, 0.00258), (1.10, 0.04762, 26.444, 0.00986),
    (1.20, 0.09091, 20.828, 0.03604), (1.25, 0.11111, 19.085, 0.05395),
    (1.5, 0.20000, 13.979, 0.17729), (2.0, 0.33333, 9.542, 0.51153),
    (3.0, 0.50000, 6.021, 1.24939),
]


def _answer(name, phase, return_loss_db):
    kind = KINDS[name]
    settings = Settings(kind, {"return_loss": parse(f"{return_loss_db} dB", "ratio")})
    at = Conditions(frequency_hz=np.array([6e9]), temperature_k=0.0, phase=phase)
    return response.respond(kind, settings, at)


@pytest.mark.parametrize(("ratio", "reflection", "return_loss_db", "mismatch_db"), RATIOS)
def test_a_mismatched_load(ratio, reflection, return_loss_db, mismatch_db):
    nport = _answer("termination", lambda port: np.exp(0.7j), return_loss_db)
    size = np.abs(nport.scattering[0, 0])
    # The return loss is printed to 0.5 mdB: 6e-5 of the reflection, and it is printed to 5e-6.
    assert size == pytest.approx(reflection, rel=6e-5, abs=5e-6)
    assert (1 + size) / (1 - size) == pytest.approx(ratio, rel=1e-4)
    # What gets out of the load is what gets in: the mismatch loss, to 5e-6 dB and 2 x 6e-5.
    passed_db = -10 * np.log10(nport.emission[0, 0] / 0.5)
    assert passed_db == pytest.approx(mismatch_db, rel=1.5e-4, abs=5e-6)


# |G1|, |G2|, limits in dB
LIMITS = [(1 / 3, 1 / 3, 0.9151, -1.0231), (0.2, 0.1, 0.1720, -0.1755), (0.1, 0.1, 0.0864, -0.0873)]


@pytest.mark.parametrize(("first", "second", "more_db", "less_db"), LIMITS)
def test_limits_of_two_mismatches(first, second, more_db, less_db):
    """Two reflecting parts face to face: what passes, against each alone, over their phases."""
    turns = np.exp(2j * np.pi * np.arange(720)[:, None] / 720)
    source = _answer("termination", lambda port: turns, -20 * np.log10(first))
    load = _answer("termination", lambda port: 1.0, -20 * np.log10(second))
    bounce = 1 - source.scattering[0, 0] * load.scattering[0, 0]
    error_db = 20 * np.log10(np.abs(bounce))
    assert error_db.max() == pytest.approx(more_db, abs=6e-5)
    assert error_db.min() == pytest.approx(less_db, abs=6e-5)


def test_limits_of_a_joint_between_two_mismatched_ends():
    """A through with ratio 2 at both ends ripples between the same limits about both losses."""
    turns = np.exp(2j * np.pi * np.arange(720)[:, None] / 720)
    nport = _answer("device", lambda port: turns if port == "in" else 1.0, -20 * np.log10(1 / 3))
    through_db = 20 * np.log10(np.abs(nport.scattering[1, 0])) + 2 * 0.51153
    # Twice the printed mismatch loss, to 5e-6 each.
    assert through_db.max() == pytest.approx(1.0231, abs=7e-5)
    assert through_db.min() == pytest.approx(-0.9151, abs=7e-5)
