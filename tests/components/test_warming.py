"""Cables that tones warm, against closed forms of a rod with a source.

theta'' = -q, theta = A int k dT: H. S. Carslaw, J. C. Jaeger, Conduction of Heat in Solids, 2nd ed.
1959, from memory; each solution below follows by integrating twice.
"""

import numpy as np
import pytest
from scipy.integrate import quad

from components.coax import Coax, Conductor, Dielectric
from components.constants import H, K
from components.declaration import KINDS
from components.heating import Heating
from components.materials import Material
from components.profile import Warming

CABLE = KINDS["cable"]
LENGTH_M = 0.3
AREA_M2 = np.pi / 4 * 0.86e-3**2


def _coax(coefficient, exponent, range_k=(0.0, 500.0)):
    """Return a coax all of one material, k = coefficient T^exponent W/(m K)."""
    solid = Material.from_power_law(
        name="solid", coefficient=coefficient, exponent=exponent, range_k=range_k, permittivity=2.0
    )
    return Coax("ours", Conductor(solid, 0.2e-3), Dielectric(solid, 0.66e-3),
                Conductor(solid, 0.86e-3))


def _warmed(
    element, conditions, coax, loss_db, sent_w, anchors, from_end=False
):
    """Return (position over length, kelvin, settings, conditions) along a cable with a tone."""
    settings = element("cable", loss=f"{loss_db!r} dB", length=f"{LENGTH_M!r} m", coax=coax)
    at = conditions(5, anchors=anchors, heating=Heating(along=Warming.none(len(anchors) - 1)))
    absorbed_w = sent_w * (1 - 10 ** (-loss_db / 10))
    slices = CABLE.absorbed_slices(settings, at)[1 if from_end else 0][:, 0]
    lengths_m = LENGTH_M * np.diff([part for part, _ in anchors])
    warming = Warming.of(absorbed_w * slices, lengths_m)
    at = conditions(5, anchors=anchors, heating=Heating(along=warming))
    return *CABLE.temperatures(settings, at), settings, at


def _rise(part, loss_db, sent_w):
    """Return theta's rise over A, W/m, of a wave that dies out along the rod, ends held.

    q = P a e^(-a x) gives theta = P/a (1 - e^(-a x) - x/L (1 - e^(-a L))).
    """
    a = loss_db * np.log(10) / 10 / LENGTH_M
    x = part * LENGTH_M
    return sent_w / a * (-np.expm1(-a * x) + part * np.expm1(-a * LENGTH_M)) / AREA_M2


def test_constant_conductivity_is_a_parabola(element, conditions):
    loss_db, sent_w = 1e-6, 1.0  # so little that the wave is as strong everywhere
    part, kelvin, *_ = _warmed(
        element, conditions, _coax(0.05, 0.0), loss_db, sent_w, ((0.0, 1.0), (1.0, 1.0))
    )
    q_w_m3 = sent_w * loss_db * np.log(10) / 10 / LENGTH_M / AREA_M2
    x = part * LENGTH_M
    assert kelvin == pytest.approx(1.0 + q_w_m3 * x * (LENGTH_M - x) / (2 * 0.05), rel=1e-6)
    assert kelvin.max() > 1.05


@pytest.mark.parametrize("from_end", [False, True])
@pytest.mark.parametrize("loss_db", [0.1, 3.0, 30.0])
def test_conductivity_as_temperature_and_a_wave_that_dies_out(
    element, conditions, loss_db, from_end
):
    """k = c T: T^2 is theta, so that T^2 = T0^2 + (T1^2 - T0^2) x/L + 2 rise / c."""
    sent_w = 1e-6
    part, kelvin, *_ = _warmed(
        element, conditions, _coax(0.1, 1.0), loss_db, sent_w, ((0.0, 0.11), (1.0, 0.015)), from_end
    )
    rise = _rise(1 - part if from_end else part, loss_db, sent_w)
    squared = 0.11**2 + (0.015**2 - 0.11**2) * part + 2 * rise / 0.1
    assert kelvin == pytest.approx(np.sqrt(squared), rel=1e-6)
    assert kelvin.max() > 0.18


def test_anchors_in_between_stay_cold(element, conditions):
    """Each stretch is a rod of its own: here both are parabolas in T^2."""
    loss_db, sent_w = 1e-6, 1.0
    part, kelvin, *_ = _warmed(
        element, conditions, _coax(0.1, 1.0), loss_db, sent_w,
        ((0.0, 0.02), (0.25, 0.02), (1.0, 0.02)),
    )
    q_w_m3 = sent_w * loss_db * np.log(10) / 10 / LENGTH_M / AREA_M2
    ends = np.where(part < 0.25, 0.25 - part, 1.0 - part)
    starts = np.where(part < 0.25, part, part - 0.25)
    squared = 0.02**2 + q_w_m3 * starts * ends * LENGTH_M**2 / 0.1
    assert kelvin == pytest.approx(np.sqrt(squared), rel=1e-6)


def test_heat_at_the_anchors_is_the_slope_of_theta(element, conditions):
    """theta' at both ends by the closed form against what goes to the anchors by position."""
    loss_db, sent_w = 6.0, 1e-7
    a = loss_db * np.log(10) / 10
    absorbed_w = sent_w * -np.expm1(-a)
    settings = element("cable", loss="6 dB", length="0.3 m", coax=_coax(0.1, 1.0))
    at = conditions(5, anchors=((0.0, 0.1), (1.0, 0.1)),
                    heating=Heating(along=Warming.none(1)))
    first, _ = CABLE.absorbed_at_anchors(settings, at)
    start_w = sent_w * (1 + np.expm1(-a) / a)
    assert absorbed_w * first[:, 0] == pytest.approx([start_w, absorbed_w - start_w], rel=1e-9)


@pytest.mark.parametrize(("loss_db", "sent_w"), [(0.5, 1e-6), (10.0, 1e-7)])
def test_what_it_emits_is_the_integral_over_its_temperature(
    element, conditions, loss_db, sent_w
):
    """Toward each end: photons at T(x), weighted by what gets there, by adaptive quadrature."""
    *_, settings, at = _warmed(
        element, conditions, _coax(0.1, 1.0), loss_db, sent_w, ((0.0, 0.11), (1.0, 0.015))
    )
    nport = CABLE.respond(settings, at)
    a = loss_db * np.log(10) / 10

    def quanta(part):
        squared = 0.11**2 + (0.015**2 - 0.11**2) * part + 20 * _rise(part, loss_db, sent_w)
        return 0.5 / np.tanh(H * 5e9 / (2 * K * np.sqrt(squared)))

    edges = [1e-4, 1e-2, 0.1, 0.9, 0.99, 1 - 1e-4]
    start, _ = quad(lambda x: a * np.exp(-a * x) * quanta(x), 0, 1, points=edges, epsrel=1e-10)
    end, _ = quad(lambda x: a * np.exp(a * (x - 1)) * quanta(x), 0, 1, points=edges, epsrel=1e-10)
    assert nport.emission[0, 0][0] == pytest.approx(start, rel=1e-6)
    assert nport.emission[1, 1][0] == pytest.approx(end, rel=1e-6)


def test_without_a_tone_it_is_the_cable_of_before(element, conditions):
    """Another quadrature, the same answer to 1e-6; and the same object without any warming."""
    coax = _coax(0.1, 1.0)
    settings = element("cable", loss="1 dB", length="0.3 m", coax=coax)
    anchors = ((0.0, 0.11), (1.0, 0.015))
    plain = CABLE.respond(settings, conditions(5, anchors=anchors))
    none = CABLE.respond(
        settings, conditions(5, anchors=anchors, heating=Heating(along=Warming.none(1)))
    )
    for key, entry in plain.emission.items():
        assert none.emission[key] == pytest.approx(entry, rel=1e-6)


def test_beyond_its_data_a_material_is_taken_at_the_end(element, conditions):
    _, kelvin, *_ = _warmed(
        element, conditions, _coax(0.1, 1.0, (0.0, 2.0)), 3.0, 1e-3, ((0.0, 1.0), (1.0, 0.5))
    )
    assert kelvin.max() == pytest.approx(2.0, rel=1e-9)
