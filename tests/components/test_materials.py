"""Laws that every material keeps, the traps of its sources, and what it refuses."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from components import catalogue
from components.conductivity import LogPolynomial, PowerLaw
from components.materials import Material, MissingProperty, OutsideRange, Piece, Resistivity

MATERIALS = catalogue.materials()
NAMES = sorted(MATERIALS)


def _inside(material, count):
    """Temperatures over the whole known range, 5 mK the coldest, seams between them."""
    low, high = material.range_k
    return np.geomspace(max(low, 0.005), high, count)


@pytest.mark.parametrize("name", NAMES)
def test_integral_is_that_of_the_law(name):
    """A second method: adaptive quadrature of k, piece by piece."""
    material = MATERIALS[name]
    low, high = max(material.range_k[0], 0.005), material.range_k[1]
    seams = [piece.high_k for piece in material.pieces[:-1] if piece.high_k > low]
    total = 0.0
    for start, end in zip([low, *seams], [*seams, high], strict=True):
        piece = material.piece_at(temperature_k=(start + end) / 2)
        kinks = [t for t in _kinks(material, piece) if start < t < end]
        for a, b in zip([start, *kinks], [*kinks, end], strict=True):
            total += quad(
                lambda t, law=piece: float(law.conductivity(temperature_k=np.float64(t))),
                a, b, epsrel=1e-10, epsabs=0, limit=200,
            )[0]  # fmt: skip
    got = material.conduction_integral(cold_k=low, warm_k=high)
    # 1e-6: power laws between 2000 knots a decade (components/conductivity.py).
    assert got == pytest.approx(total, rel=1e-6)


def _kinks(material, piece):
    points = getattr(piece.law, "temperature_k", ())
    return [t for t in points if piece.low_k < t < piece.high_k]


@pytest.mark.parametrize("name", NAMES)
def test_integral_laws(name):
    material = MATERIALS[name]
    t = _inside(material, 301)
    a, b, c = t[:-2], t[1:-1], t[2:]
    parts = material.conduction_integral(cold_k=a, warm_k=b) + material.conduction_integral(
        cold_k=b, warm_k=c
    )
    whole = material.conduction_integral(cold_k=a, warm_k=c)
    scale = material.theta(temperature_k=t[-1])
    # Differences of one function of T: nothing but rounding of its largest value.
    assert np.all(np.abs(parts - whole) <= 1e-14 * scale)
    assert np.all(material.conduction_integral(cold_k=t, warm_k=t) == 0)
    assert np.all(whole > 0)
    assert np.all(whole == -material.conduction_integral(cold_k=c, warm_k=a))


@pytest.mark.parametrize("name", NAMES)
def test_temperature_is_the_inverse_of_theta(name):
    material = MATERIALS[name]
    t = _inside(material, 501)
    back = material.temperature_at(theta_w_per_m=material.theta(temperature_k=t))
    # 1e-9: theta has a part in 1e15, and near a range's cold end that is all of it.
    assert back == pytest.approx(t, rel=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_conductivity_is_positive_and_no_seam_jumps_far(name):
    material = MATERIALS[name]
    assert np.all(material.conductivity(temperature_k=_inside(material, 2001)) > 0)
    for below, above in pairwise(material.pieces):
        t = np.float64(above.low_k)
        ratio = above.conductivity(temperature_k=t) / below.conductivity(temperature_k=t)
        # 3 %: what two good sources differ by; more must be bridged.
        assert ratio == pytest.approx(1, abs=0.03), (name, above.low_k)


def test_ordering_of_metals_and_insulators():
    t = np.geomspace(0.01, 300, 400)
    order = ["ptfe", "stainless-304", "brass", "copper-rrr50"]
    k = [MATERIALS[name].conductivity(temperature_k=t) for name in order]
    for worse, better in pairwise(k):
        assert np.all(worse < better)


def test_superconducting_niobium_titanium_conducts_less_than_any_normal_alloy_below_1_k():
    t = np.geomspace(0.01, 1, 50)
    cold = MATERIALS["niobium-titanium"].conductivity(temperature_k=t)
    for name in ("stainless-304", "cupronickel", "beryllium-copper"):
        assert np.all(cold < MATERIALS[name].conductivity(temperature_k=t))


# -- traps of the sources ---------------------------------------------------------------------


def _fit(name):
    return next(p for p in MATERIALS[name].pieces if isinstance(p.law, LogPolynomial))


# material, temperature at which its fit is nonsense, what the fit says there, W/(m K)
EXPLODING = [("beryllium-copper", 300, 8.9), ("brass", 300, 172)]


@pytest.mark.parametrize(("name", "temperature_k", "nonsense"), EXPLODING)
def test_no_fit_is_used_where_it_explodes(name, temperature_k, nonsense):
    fit = _fit(name)
    assert fit.conductivity(temperature_k=np.float64(temperature_k)) == pytest.approx(
        nonsense, rel=0.01
    )
    assert fit.high_k < 120
    k = MATERIALS[name].conductivity(temperature_k=np.linspace(4, 300, 300))
    assert np.all(np.diff(k) > 0)
    assert 100 < k[-1] < 126


def test_polyimide_fit_is_not_continued_below_4_k():
    """Its slope at 4 K is negative; at 1 K it would conduct like a thousand coppers."""
    assert _fit("polyimide").conductivity(temperature_k=np.float64(1.0)) > 1e5
    k = MATERIALS["polyimide"].conductivity(temperature_k=np.array([0.5, 1, 2, 3, 3.999]))
    assert np.all((k > 0.003) & (k < 0.011))
    assert np.all(np.diff(k) > 0)


def test_ptfe_falls_steeply_below_4_k():
    t = np.array([0.1, 1.0])
    k = MATERIALS["ptfe"].conductivity(temperature_k=t)
    assert np.log10(k[1] / k[0]) == pytest.approx(1.9)


def test_cupronickel_has_no_jump_at_300_mk():
    k = MATERIALS["cupronickel"].conductivity(temperature_k=np.array([0.29999, 0.30001]))
    assert k[1] / k[0] == pytest.approx(1, abs=1e-3)
    # The two printed laws give 0.0192 and 0.0212 there.
    assert 0.0192 < k[0] < 0.0212


def test_cupronickel_conducts_more_than_its_electrons_alone():
    """Wiedemann and Franz give a lower bound where impurities scatter most."""
    material, t = MATERIALS["cupronickel"], np.geomspace(4, 300, 60)
    electrons = 2.443e-8 * t / material.resistivity_ohm_m(temperature_k=t)
    assert np.all(material.conductivity(temperature_k=t) > electrons)


# -- refusals ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "temperature_k"),
    [("ptfe", 301), ("aluminium-6061", 0.5), ("alloy-718", 3.9), ("ptfe", -1), ("ptfe", np.nan)],
)
def test_outside_its_range_a_material_refuses(name, temperature_k):
    material = MATERIALS[name]
    for call in (material.conductivity, material.theta):
        with pytest.raises(OutsideRange) as caught:
            call(temperature_k=np.array([100.0, temperature_k]))
        error = caught.value
        assert (error.material, error.range_k) == (name, material.range_k)
        assert error.temperature_k == pytest.approx(temperature_k, nan_ok=True)
        low, high = material.range_k
        assert f"{name} is known from {low:g} K to {high:g} K only" in str(error)
        assert f"{temperature_k:g} K is asked" in str(error)


def test_resistivity_refuses_outside_its_table_and_where_there_is_none():
    with pytest.raises(OutsideRange, match="resistivity of stainless-304 is known from 0 K to 300"):
        MATERIALS["stainless-304"].resistivity_ohm_m(temperature_k=350)
    with pytest.raises(MissingProperty, match="ptfe has no resistivity"):
        MATERIALS["ptfe"].resistivity_ohm_m(temperature_k=4)


def test_theta_beyond_the_range_has_no_temperature():
    material = MATERIALS["ptfe"]
    with pytest.raises(ValueError, match="conduction integral of ptfe runs from 0 to"):
        material.temperature_at(theta_w_per_m=1.01 * material.theta(temperature_k=300))


def test_pieces_must_meet():
    law = PowerLaw(1.0, 1.0)
    with pytest.raises(ValueError, match=r"gap or an overlap between 1 K and 2 K"):
        Material(name="odd", pieces=(Piece(law, 0, 1), Piece(law, 2, 4)))
    with pytest.raises(ValueError, match="only a power law"):
        Piece(LogPolynomial((1.0, 1.0)), 0, 4)
    with pytest.raises(ValueError, match="rising temperatures"):
        Resistivity((4.0, 4.0), (1e-8, 1e-8))


# -- materials of one's own -------------------------------------------------------------------


def test_own_power_law():
    material = Material.from_power_law(name="ours", coefficient=2.0, exponent=3, range_k=(0, 10))
    # Integral of 2 T^3: T^4 / 2.
    assert material.conduction_integral(cold_k=1, warm_k=3) == pytest.approx(40)
    assert material.conduction_integral(cold_k=0, warm_k=2) == pytest.approx(8)
    assert material.temperature_at(theta_w_per_m=np.array([0, 8.0])) == pytest.approx([0, 2])


def test_own_table_is_a_power_law_between_points():
    material = Material.from_table(
        name="ours", temperature_k=[1, 4, 16], conductivity=[1, 2, 2], sources=("our bench",)
    )
    assert material.range_k == (1, 16)
    assert material.conductivity(temperature_k=2) == pytest.approx(2**0.5)
    # 1-4 K: integral of sqrt(T), 2/3 (8 - 1); 4-16 K: 2 times 12.
    assert material.conduction_integral(cold_k=1, warm_k=16) == pytest.approx(14 / 3 + 24)
    assert material.sources == ("our bench",)


def test_conductivity_that_falls_as_one_over_t_integrates_to_a_logarithm():
    material = Material.from_power_law(name="ours", coefficient=3, exponent=-1, range_k=(1, 100))
    assert material.conduction_integral(cold_k=2, warm_k=20) == pytest.approx(3 * np.log(10))
    assert material.temperature_at(theta_w_per_m=3 * np.log(5)) == pytest.approx(5)


@pytest.mark.parametrize(
    ("temperature_k", "conductivity"),
    [([4], [1]), ([4, 1], [1, 1]), ([1, 4], [0, 1]), ([1, 4], [1])],
)
def test_bad_tables_are_refused(temperature_k, conductivity):
    with pytest.raises(ValueError, match="a conductivity table needs"):
        Material.from_table(name="bad", temperature_k=temperature_k, conductivity=conductivity)
