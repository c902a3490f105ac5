"""Ideal couplers and hybrids: D. M. Pozar, Microwave Engineering, ch. 7 (from memory).

S21 = S43 = alpha; S31 = S42 = j beta (symmetric), or beta and -beta (antisymmetric);
alpha^2 + beta^2 = 1.  Through losses were computed apart.
"""

import numpy as np
import pytest

from components import response
from components.conditions import Conditions
from components.declaration import KINDS
from components.quantities import parse
from components.settings import Settings
from components.thermal_noise import photons


def _scattering(name, at_k=0.0, **values):
    kind = KINDS[name]
    at = Conditions(frequency_hz=np.array([6e9]), temperature_k=at_k)
    return response.respond(kind, Settings(kind, values), at)


# coupling, loss of the way through, dB
THROUGH = [(6, 1.25628), (10, 0.45757), (20, 0.0436481), (30, 0.0043451)]


@pytest.mark.parametrize(("coupling_db", "through_db"), THROUGH)
def test_loss_through_a_coupler(coupling_db, through_db):
    nport = _scattering("coupler", coupling=parse(f"{coupling_db} dB", "ratio"))
    s = nport.dense(1)[0][0, 0]
    assert -20 * np.log10(np.abs(s[1, 0])) == pytest.approx(through_db, abs=6e-6)
    assert -20 * np.log10(np.abs(s[2, 0])) == pytest.approx(coupling_db, rel=1e-12)
    alpha, beta = 10 ** (-through_db / 20), 10 ** (-coupling_db / 20)
    printed = np.array([
        [0, alpha, 1j * beta, 0], [alpha, 0, 0, 1j * beta],
        [1j * beta, 0, 0, alpha], [0, 1j * beta, alpha, 0],
    ])
    assert s == pytest.approx(printed, abs=1e-6)


@pytest.mark.parametrize(("angle", "first", "second"), [("90 deg", 1j, 1j), ("180 deg", 1, -1)])
def test_hybrids_are_couplers_of_3_01_db(angle, first, second):
    s = _scattering("hybrid", angle=angle).dense(1)[0][0, 0]
    printed = np.array([[0, 1, first, 0], [1, 0, 0, second], [first, 0, 0, 1], [0, second, 1, 0]])
    assert s == pytest.approx(printed / np.sqrt(2), abs=1e-15)
    assert -20 * np.log10(np.abs(s[1, 0])) == pytest.approx(3.0103, abs=1e-5)


def test_splitter_halves():
    s = _scattering("splitter").dense(1)[0][0, 0]
    assert -20 * np.log10(np.abs(s[1:, 0])) == pytest.approx([3.0103, 3.0103], abs=1e-5)


def test_noise_of_the_load_on_the_fourth_port():
    """A 20 dB coupler on an input adds 0.01 n of its load at 4 K: 0.134 photons at 6 GHz."""
    nport = _scattering(
        "coupler", 4.0, coupling=parse("20 dB", "ratio"), loads=("coupled", "isolated")
    )
    added = nport.emission[1, 1] - 0.01 / 2  # less the vacuum of that load
    assert added == pytest.approx(0.01 * 13.3971, rel=1e-5)
    assert photons(frequency_hz=6e9, temperature_k=4.0) == pytest.approx(13.3971, abs=6e-5)
