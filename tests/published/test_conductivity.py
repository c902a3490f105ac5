"""Conductivities and their integrals against handbooks, printed laws and separate calculations.

How a number is held stands beside it. "Handbook, from memory": Ekin, Experimental Techniques for
Low-Temperature Measurements, 2006, appendix, after White and Meeson and WADD TR 60-56; the series
is remembered, the table's number is not. "Fit, computed apart": evaluated once from the same
coefficients by another program, which guards the transcription and the integration, not the data.
"""

import numpy as np
import pytest
from scipy.integrate import trapezoid

from components import catalogue
from components.conductivity import LORENZ, HustLankford

MATERIALS = catalogue.materials()

# upper temperature K, handbook kW/m from 4 K, allowed deviation of the fit (relative)
STAINLESS_HANDBOOK = [
    # Below 40 K the handbook's sample conducts 5-20 % less than the fit: samples differ so much.
    (10, 0.00293, 0.20),
    (20, 0.0163, 0.20),
    (40, 0.0824, 0.10),
    # Fit error 2 % (Marquardt 2000) and three digits of the handbook.
    (60, 0.198, 0.025),
    (76, 0.317, 0.025),
    (100, 0.528, 0.025),
    (200, 1.66, 0.025),
    (300, 3.06, 0.025),
]

# upper temperature K, handbook W/m from 4 K; the fit's error is 1.5 or 5 % (copies differ)
PTFE_HANDBOOK = [
    (10, 0.44),
    (20, 1.64),
    (40, 5.23),
    (60, 9.36),
    (76, 13.0),
    (100, 18.7),
    (300, 70.2),
]

# upper temperature K, handbook kW/m from 4 K for electrolytic tough pitch copper
COPPER_HANDBOOK = [
    (20, 14.0),
    (40, 40.6),
    (60, 58.7),
    (76, 68.6),
    (100, 80.2),
    (200, 122),
    (300, 162),
]


@pytest.mark.parametrize(("warm_k", "kw_per_m", "tolerance"), STAINLESS_HANDBOOK)
def test_stainless_304_handbook_from_memory(warm_k, kw_per_m, tolerance):
    got = MATERIALS["stainless-304"].conduction_integral(cold_k=4, warm_k=warm_k)
    assert got == pytest.approx(1e3 * kw_per_m, rel=tolerance)


@pytest.mark.parametrize(("warm_k", "w_per_m"), PTFE_HANDBOOK)
def test_ptfe_handbook_from_memory(warm_k, w_per_m):
    got = MATERIALS["ptfe"].conduction_integral(cold_k=4, warm_k=warm_k)
    # 3 %: two or three digits in the handbook, 1.5 to 5 % in the fit.
    assert got == pytest.approx(w_per_m, rel=0.03)


@pytest.mark.parametrize(("warm_k", "kw_per_m"), COPPER_HANDBOOK)
def test_ordinary_copper_handbook_from_memory(warm_k, kw_per_m):
    got = MATERIALS["copper-rrr50"].conduction_integral(cold_k=4, warm_k=warm_k)
    # 4 %: "ordinary copper" has no stated residual ratio; 50 fits, and 45 would shift 20 K by 5 %.
    assert got == pytest.approx(1e3 * kw_per_m, rel=0.04)


# material: k at 4, 20, 77, 300 K in W/(m K); integrals 4-77, 77-300, 4-300 K in W/m; fit, computed
# apart to four digits. The tolerance is their rounding: it catches the two digits swapped in one
# circulating copy of the 6061 fit, which shift k by 0.15 %.
FITS = {
    "stainless-304": (0.2724, 2.169, 7.921, 15.31, 326.1, 2704.7, 3030.8),
    "stainless-316": (0.2724, 2.169, 7.921, 15.31, 326.1, 2704.7, 3030.8),
    "aluminium-6061": (5.347, 28.43, 83.53, 155.3, 3642, 28684, 32325),
    "ptfe": (0.04599, 0.1422, 0.2324, 0.2728, 13.13, 58.30, 71.43),
    "polyimide": (0.01079, 0.04782, 0.1255, 0.1919, 5.722, 37.60, 43.33),
    "alloy-718": (0.4624, 2.956, 6.432, 9.793, 317.8, 1883, 2201),
    "copper-rrr50": (320.4, 1368, 515.1, 392.4, 69535, 91689, 161220),
    "copper-rrr100": (642.3, 2423, 547.2, 396.3, 100540, 93791, 194330),
    "copper-rrr150": (961.8, 3245, 555.8, 397.6, 122510, 94392, 216900),
    "copper-rrr300": (1888, 5052, 572.1, 397.9, 171570, 95381, 266950),
    "copper-rrr500": (3182, 6575, 579.0, 401.2, 219020, 95942, 314960),
}


@pytest.mark.parametrize("name", FITS)
def test_fit_computed_apart(name):
    material = MATERIALS[name]
    k = material.conductivity(temperature_k=np.array([4.0, 20, 77, 300]))
    integrals = material.conduction_integral(
        cold_k=np.array([4.0, 77, 4]), warm_k=np.array([77.0, 300, 300])
    )
    assert [*k, *integrals] == pytest.approx(FITS[name], rel=3e-4)


def test_beryllium_copper_and_brass_inside_their_fits_computed_apart():
    bronze, brass = MATERIALS["beryllium-copper"], MATERIALS["brass"]
    k = bronze.conductivity(temperature_k=np.array([4.0, 20, 77]))
    assert k == pytest.approx([1.879, 10.66, 36.29], rel=3e-4)
    assert bronze.conduction_integral(cold_k=4, warm_k=77) == pytest.approx(1514, rel=4e-4)
    assert brass.conductivity(temperature_k=np.array([20.0, 77])) == pytest.approx(
        [12.33, 39.80], rel=4e-4
    )
    # At 110 K itself the piece above begins, which does not touch the integral up to there.
    assert brass.conduction_integral(cold_k=5, warm_k=110) == pytest.approx(3176.5, rel=3e-5)


# upper K, kW/m from 4 K of the 304 fit and W/m of the PTFE fit, computed apart
FIT_INTEGRALS = [
    (10, 0.00345, 0.440),
    (20, 0.01869, 1.645),
    (40, 0.0877, 5.088),
    (60, 0.2019, 9.272),
    (76, 0.3182, 12.90),
    (100, 0.5240, 18.61),
    (200, 1.633, 44.36),
]


@pytest.mark.parametrize(("warm_k", "stainless_kw_per_m", "ptfe_w_per_m"), FIT_INTEGRALS)
def test_partial_integrals_computed_apart(warm_k, stainless_kw_per_m, ptfe_w_per_m):
    steel = MATERIALS["stainless-304"].conduction_integral(cold_k=4, warm_k=warm_k)
    ptfe = MATERIALS["ptfe"].conduction_integral(cold_k=4, warm_k=warm_k)
    # Rounding of three or four digits.
    assert steel == pytest.approx(1e3 * stainless_kw_per_m, rel=1.5e-3)
    assert ptfe == pytest.approx(ptfe_w_per_m, rel=1.2e-3)


# material, T in K, k printed or from the printed law by hand, source
SUB_KELVIN = [
    # 0.0556 T^1.15: Barucci et al., Cryogenics 48 (2008) 166, abstract, 316LN; transcription.
    ("stainless-304", 1.0, 0.0556),
    ("stainless-304", 0.1, 0.0556 * 0.070795),  # 10^-1.15
    # 0.015 T^2: Olson, Cryogenics 33 (1993) 729, in Pobell 2007; transcription.
    ("niobium-titanium", 0.5, 0.00375),
    ("niobium-titanium", 0.1, 1.5e-4),
    # 0.0075 T^1.85: Schmidt 1979, in Pobell 2007; transcription.
    ("niobium-titanium", 4.0, 0.0975),
    ("niobium-titanium", 8.5, 0.3931),  # 8.5^1.85 = 52.41
    # 0.064 T and 0.093 T^1.23: Pobell 2007, chapter 3; transcription.
    ("cupronickel", 0.1, 0.0064),
    ("cupronickel", 1.0, 0.093),
    # 0.094 T^1.2: Pobell 2007, chapter 3; transcription.
    ("manganin", 2.0, 0.094 * 2.2974),
    # 0.0065 T: Barucci et al. 2000; transcription.
    ("polyimide", 0.5, 0.00325),
    # Wire table, points read off a transcription.
    ("phosphor-bronze", 1.0, 0.22),
    ("phosphor-bronze", 4.0, 1.6),
    ("phosphor-bronze", 10.0, 4.6),
    ("phosphor-bronze", 80.0, 25.0),
    ("phosphor-bronze", 300.0, 48.0),
]


@pytest.mark.parametrize(("name", "temperature_k", "k"), SUB_KELVIN)
def test_printed_laws_at_points(name, temperature_k, k):
    # 1e-3: the hand-worked powers carry four digits.
    assert MATERIALS[name].conductivity(temperature_k=temperature_k) == pytest.approx(k, rel=1e-3)


# material, integrals in W/m of the laws over 0.01-0.1, 0.1-1 and 1-4 K, computed apart, and the
# tolerance of each; None where the catalogue follows another law in that span.
SUB_KELVIN_INTEGRALS = [
    ("stainless-304", (1.818e-4, 0.02568, 0.4835), (3e-4, 3e-4, 3e-4)),
    ("niobium-titanium", (4.995e-6, 4.995e-3, None), (3e-4, 3e-4, None)),
    # Between 0.2 and 0.4 K the 10 % jump of the two printed laws is bridged, 1 % of the span.
    ("cupronickel", (3.17e-4, 0.04142, 0.876), (1e-3, 0.015, 1e-3)),
    ("ptfe", (1.43e-6, 1.14e-3, 0.0623), (4e-3, 3e-3, 2e-3)),
]


@pytest.mark.parametrize(("name", "integrals", "tolerances"), SUB_KELVIN_INTEGRALS)
def test_sub_kelvin_integrals_computed_apart(name, integrals, tolerances):
    spans = zip([(0.01, 0.1), (0.1, 1), (1, 4)], integrals, tolerances, strict=True)
    for (cold, warm), expected, tolerance in spans:
        if expected is not None:
            got = MATERIALS[name].conduction_integral(cold_k=cold, warm_k=warm)
            assert got == pytest.approx(expected, rel=tolerance), (cold, warm)


def test_niobium_titanium_gap_lies_between_the_two_laws_beside_it():
    """1-4 K has no data: Schmidt's law continued down (0.134 W/m), Olson's up (0.315 W/m)."""
    got = MATERIALS["niobium-titanium"].conduction_integral(cold_k=1, warm_k=4)
    assert 0.134 < got < 0.315


# RRR: k of the fit at 4 K over L0 T / rho0, rho0 = 15.4 nohm m / (RRR - 1), computed apart
WIEDEMANN_FRANZ = [(50, 1.030), (100, 1.022), (150, 1.017), (300, 0.995), (500, 1.005)]


@pytest.mark.parametrize(("rrr", "ratio"), WIEDEMANN_FRANZ)
def test_cold_copper_follows_wiedemann_and_franz(rrr, ratio):
    k = MATERIALS[f"copper-rrr{rrr}"].conductivity(temperature_k=4.0)
    assert k / (LORENZ * 4 * (rrr - 1) / 15.4e-9) == pytest.approx(ratio, rel=6e-4)


@pytest.mark.parametrize("rrr", [50, 100, 300])
def test_two_published_fits_of_copper_agree(rrr):
    """Marquardt 2000 against Hust and Lankford 1984: other authors' form, same underlying data."""
    t = np.geomspace(4, 300, 4001)
    marquardt = MATERIALS[f"copper-rrr{rrr}"].conductivity(temperature_k=t)
    hust = HustLankford(rrr).conductivity(temperature_k=t)
    # Each claims 1 to 2 %.
    assert trapezoid(marquardt, t) == pytest.approx(trapezoid(hust, t), rel=0.01)
    assert marquardt[np.searchsorted(t, [20, 76])] == pytest.approx(
        hust[np.searchsorted(t, [20, 76])], rel=0.035
    )


# material, T in K, handbook range of k in W/(m K), all from memory
HANDBOOK_POINTS = [
    ("copper-rrr100", 300, 390, 402),
    ("silver", 300, 420, 455),  # 429; Wiedemann-Franz is 5 % above
    ("brass", 300, 108, 126),
    ("beryllium-copper", 300, 102, 121),
    ("aluminium-6061", 300, 150, 170),
    ("stainless-304", 300, 14.5, 16.3),
    ("ptfe", 300, 0.24, 0.28),
    ("cupronickel", 300, 28, 30),
    ("manganin", 300, 21, 23),
]


@pytest.mark.parametrize(("name", "temperature_k", "low", "high"), HANDBOOK_POINTS)
def test_room_temperature_handbook_from_memory(name, temperature_k, low, high):
    assert low < MATERIALS[name].conductivity(temperature_k=temperature_k) < high


def test_brass_total_against_handbook_from_memory():
    """17.2 to 17.7 kW/m from 4 to 300 K, alloy not stated."""
    got = MATERIALS["brass"].conduction_integral(cold_k=4, warm_k=300)
    # 12 %: zinc from 30 to 40 % changes the room-temperature conductivity by as much.
    assert got == pytest.approx(17450, rel=0.12)


def test_cupronickel_total_near_constantan_handbook_from_memory():
    """Constantan has 5.16 kW/m from 4 to 300 K; 70/30 has less nickel and conducts more."""
    got = MATERIALS["cupronickel"].conduction_integral(cold_k=4, warm_k=300)
    assert 5160 < got < 1.3 * 5160


def test_phosphor_bronze_sources_disagree_as_stated():
    """Fit of C51000 wire against the wire table: 15 % at 4-80 K, a factor of two when warm."""
    table, fit = MATERIALS["phosphor-bronze"], MATERIALS["phosphor-bronze-c51000"]
    t = np.array([4.0, 10, 20, 80])
    ratio = fit.conductivity(temperature_k=t) / table.conductivity(temperature_k=t)
    assert np.all(np.abs(ratio - 1) < 0.15)
    warm = fit.conductivity(temperature_k=295) / table.conductivity(temperature_k=295)
    assert warm == pytest.approx(2.0, abs=0.2)


# material, T in K, resistivity in microohm cm: Clark, Childs, Wallace 1970, from memory
RESISTIVITIES = [
    ("stainless-304", 295, 70.4),
    ("stainless-304", 77, 51.4),
    ("stainless-304", 4, 49.0),
    ("stainless-316", 295, 75.0),
    ("stainless-316", 77, 56.6),
    ("stainless-316", 4, 53.9),
    ("cupronickel", 295, 38.4),
    ("cupronickel", 77, 36.6),
    ("cupronickel", 4, 36.4),
]


@pytest.mark.parametrize(("name", "temperature_k", "microohm_cm"), RESISTIVITIES)
def test_resistivity_rows(name, temperature_k, microohm_cm):
    got = MATERIALS[name].resistivity_ohm_m(temperature_k=temperature_k)
    assert got == pytest.approx(microohm_cm * 1e-8, rel=1e-9)


# material, microohm cm at 293 K of well annealed or of ordinary metal, from memory
HANDBOOK_RESISTIVITIES = [
    ("copper-rrr500", 1.66, 1.70),  # 1.678, Matula
    ("copper-rrr50", 1.67, 1.73),  # 100 % IACS is 1.724
    ("silver", 1.57, 1.66),  # 1.587, Matula, before the plating's residual
    ("brass", 6.0, 6.7),  # 28 % IACS is 6.16
    ("beryllium-copper", 6.1, 7.9),  # 22 to 28 % IACS
]


@pytest.mark.parametrize(("name", "low", "high"), HANDBOOK_RESISTIVITIES)
def test_resistivity_at_293_k_from_memory(name, low, high):
    assert low < MATERIALS[name].resistivity_ohm_m(temperature_k=293) * 1e8 < high
