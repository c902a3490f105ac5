"""Coaxial lines: geometry, heat, loss, superconductivity, plating, measured tables."""

from dataclasses import replace

import numpy as np
import pytest

from components import catalogue
from components.coax import (
    FLAT_SUPERCONDUCTING_DB_PER_M,
    Coax,
    Conductor,
    Dielectric,
    Plating,
    fit_loss,
)
from components.materials import Material, MissingProperty, OutsideRange
from components.surface_resistance import plated_resistance, surface_resistance

MATERIALS, COAX = catalogue.materials(), catalogue.coax()
NAMES = sorted(COAX)
GHZ = np.array([1e9, 4e9, 8e9, 12e9])
STEEL, NBTI = COAX["stainless-304-2.19"], COAX["niobium-titanium-0.86"]


def _plated(line, **thickness_m):
    """The line with silver on its centre and/or outer conductor."""
    parts = {
        part: replace(getattr(line, part), plating=Plating(MATERIALS["silver"], t))
        for part, t in thickness_m.items()
    }
    return replace(line, name="plated", **parts)


# -- geometry and heat ------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_areas_fill_the_line(name):
    line = _plated(COAX[name], centre=5e-6, outer=3e-6)
    total = np.pi / 4 * line.outer.diameter_m**2
    assert sum(line.areas_m2.values()) == pytest.approx(total)
    assert len(line.sections) == 5
    # A thin ring: circumference times thickness.
    areas = {part: area for part, _, area in line.sections}
    assert areas["centre plating"] == pytest.approx(
        np.pi * (line.centre.diameter_m - 5e-6) * 5e-6, rel=1e-9
    )


@pytest.mark.parametrize("name", NAMES)
def test_heat_is_the_sum_of_its_materials(name):
    line = COAX[name]
    edges = np.array([0.005, 0.02, 0.1, 0.9, 3.8, 46, 295])
    got = line.conduction_integral(cold_k=edges[:-1], warm_k=edges[1:])
    total = sum(
        area * material.conduction_integral(cold_k=edges[:-1], warm_k=edges[1:])
        for _, material, area in line.sections
    )
    # 2e-6: the sum of two laws is taken as a power law between 2000 knots a decade.
    assert got == pytest.approx(total, rel=2e-6)


@pytest.mark.parametrize("name", NAMES)
def test_heat_laws_and_profile(name):
    line = COAX[name]
    t = np.geomspace(0.005, 300, 401)
    theta = line.theta(temperature_k=t)
    assert np.all(np.diff(theta) > 0)
    assert np.all(line.conduction_integral(cold_k=t, warm_k=t) == 0)
    assert line.temperature_at(theta_w_m=theta) == pytest.approx(t, rel=1e-9)
    # Along a cable theta is linear in position: the ends come back, and it rises between them.
    x = np.linspace(0, 1, 11)
    ends = line.theta(temperature_k=np.array([0.015, 3.8]))
    profile = line.temperature_at(theta_w_m=ends[0] + x * (ends[1] - ends[0]))
    assert profile[[0, -1]] == pytest.approx([0.015, 3.8])
    assert np.all(np.diff(profile) > 0)


def test_plating_adds_its_own_heat():
    plated, t = _plated(STEEL, centre=5e-6), {"cold_k": 0.1, "warm_k": 4}
    extra = plated.conduction_integral(**t) - STEEL.conduction_integral(**t)
    ring = np.pi * (STEEL.centre.diameter_m - 5e-6) * 5e-6
    silver, steel = (MATERIALS[n].conduction_integral(**t) for n in ("silver", "stainless-304"))
    assert extra == pytest.approx(ring * (silver - steel), rel=1e-4)
    # 5 um of silver outweigh all the steel: why plated lines do not go to the coldest stages.
    assert extra > STEEL.conduction_integral(**t)


def test_too_warm_is_refused_by_the_material_that_stops_it():
    warm = Material.from_power_law(name="our foam", coefficient=0.1, exponent=1, range_k=(0, 50),
                                   permittivity=1.5, loss_tangent=1e-4)  # fmt: skip
    line = replace(STEEL, dielectric=Dielectric(warm, STEEL.dielectric.diameter_m))
    with pytest.raises(OutsideRange, match="our foam is known from 0 K to 50 K only, and 295 K"):
        line.conduction_integral(cold_k=4, warm_k=295)


# -- loss -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_loss_grows_with_frequency_and_temperature(name):
    line = COAX[name]
    t = np.array([10.0, 30, 77, 150, 295])
    loss = line.loss_db_per_m(frequency_hz=GHZ[:, None], temperature_k=t)
    assert np.all(np.diff(loss, axis=0) > 0)
    assert np.all(np.diff(loss, axis=1) >= 0)


@pytest.mark.parametrize("material", ["copper", "beryllium-copper", "stainless-304"])
def test_thinner_lines_lose_more(material):
    losses = [
        COAX[f"{material}-{size}"].loss_db_per_m(frequency_hz=6e9, temperature_k=295)
        for size in ("0.86", "1.19", "2.19", "3.58")
    ]
    assert np.all(np.diff(losses) < 0)


def test_superconducting_only_below_the_critical_temperature():
    assert NBTI.is_superconducting
    assert NBTI.critical_temperature_k == 9.2
    loss = NBTI.loss_db_per_m(frequency_hz=6e9, temperature_k=np.array([0.01, 9.19, 9.2, 20]))
    assert loss[:2] == pytest.approx([FLAT_SUPERCONDUCTING_DB_PER_M] * 2)
    # The normal metal loses some 15 dB/m, more than a steel line of that size.
    assert np.all(loss[2:] > 10)
    assert not STEEL.is_superconducting
    assert STEEL.critical_temperature_k is None
    assert np.all(STEEL.loss_coefficients(temperature_k=np.array([0.01, 4])).flat == 0)


def test_one_superconducting_conductor_leaves_the_other_and_the_dielectric():
    mixed = replace(NBTI, outer=replace(NBTI.outer, material=MATERIALS["cupronickel"]))
    whole = replace(COAX["cupronickel-0.86"])
    flat, root, linear = mixed.loss_coefficients(temperature_k=4.0)
    assert flat == FLAT_SUPERCONDUCTING_DB_PER_M
    assert linear == whole.loss_coefficients(temperature_k=4.0).linear > 0
    d, big = mixed.centre.diameter_m, mixed.dielectric.diameter_m
    share = (1 / big) / (1 / d + 1 / big)
    assert root == pytest.approx(share * whole.loss_coefficients(temperature_k=4.0).root)


def test_cold_copper_is_stopped_by_the_anomalous_skin_effect():
    """Ten times purer copper would lose sqrt(10) less by the classical law; it gains a little."""
    pure = replace(
        COAX["copper-2.19"],
        centre=Conductor(MATERIALS["copper-rrr500"], 0.511e-3),
        outer=Conductor(MATERIALS["copper-rrr500"], 2.197e-3),
    )
    ratio = (
        COAX["copper-2.19"].loss_coefficients(temperature_k=4).root
        / pure.loss_coefficients(temperature_k=4).root
    )
    assert 1.02 < ratio < 1.4


def test_surface_resistance_runs_from_classical_to_anomalous_without_a_step():
    rho = np.geomspace(1e-12, 1e-7, 4001)
    r = surface_resistance(
        frequency_hz=6e9, resistivity_ohm_m=rho, mean_free_path_product_ohm_m2=6.7e-16
    )
    classical = surface_resistance(frequency_hz=6e9, resistivity_ohm_m=rho)
    assert np.all(np.diff(r) > 0)
    assert np.all(np.diff(np.log(r)) < 0.005)
    assert r[-1] == pytest.approx(classical[-1], rel=1e-4)
    assert np.all(r >= classical)


# -- plating ----------------------------------------------------------------------------------


def _sliced(frequency_hz, rho_layer, thickness_m, rho_base):
    """Surface resistance by a ladder of thin slices: series j omega mu0 dz, shunt dz / rho."""
    omega, slices = 2 * np.pi * frequency_hz, 20000
    mu0 = 4e-7 * np.pi
    z = (1 + 1j) * np.sqrt(omega * mu0 * rho_base / 2)
    dz = thickness_m / slices
    for _ in range(slices):
        z = 1j * omega * mu0 * dz / 2 + z
        z = 1 / (1 / z + dz / rho_layer)
        z = 1j * omega * mu0 * dz / 2 + z
    return z.real


@pytest.mark.parametrize("thickness_m", [0.1e-6, 0.5e-6, 1e-6, 3e-6])
def test_plated_resistance_against_thin_slices(thickness_m):
    f, silver, steel = 6e9, 1.6e-8, 7e-7
    got = plated_resistance(
        frequency_hz=f,
        plating_ohm=surface_resistance(frequency_hz=f, resistivity_ohm_m=silver),
        plating_m=thickness_m,
        base_ohm=surface_resistance(frequency_hz=f, resistivity_ohm_m=steel),
    )
    assert got == pytest.approx(_sliced(f, silver, thickness_m, steel), rel=1e-6)


def test_plating_limits():
    r = {"frequency_hz": 6e9, "plating_ohm": 0.02, "base_ohm": 0.1}
    assert plated_resistance(plating_m=1e-12, **r) == pytest.approx(0.1, rel=1e-4)
    assert plated_resistance(plating_m=1e-3, **r) == pytest.approx(0.02)
    same = plated_resistance(plating_m=1e-6, **(r | {"base_ohm": 0.02}))
    assert same == pytest.approx(0.02)
    # A superconducting plating loses nothing, whatever is under it.
    assert plated_resistance(plating_m=1e-6, **(r | {"plating_ohm": 0.0})) == 0


def test_plated_centre_halves_the_loss_of_a_steel_line():
    """Most of the loss is at the centre, where the current is dense."""
    plated = _plated(STEEL, centre=5e-6)
    loss = [line.loss_db_per_m(frequency_hz=6e9, temperature_k=295) for line in (STEEL, plated)]
    assert 0.25 < loss[1] / loss[0] < 0.5


# -- measured tables --------------------------------------------------------------------------


def test_measured_table_passes_through_and_scales_with_resistivity():
    line = replace(STEEL, loss=((1e9, 3.0), (10e9, 10.0)))
    warm = line.loss_db_per_m(frequency_hz=np.array([1e9, 10e9]), temperature_k=295)
    assert warm == pytest.approx([3, 10])
    assert line.fit_error_db_per_m == pytest.approx(0, abs=1e-12)
    root, linear = line.fitted_loss
    cold = line.loss_coefficients(temperature_k=np.array([4.0]))
    # Alloys have no anomalous skin effect: sqrt of the resistivities, 49.0 / 70.4.
    assert cold.root[0] == pytest.approx(root * np.sqrt(49.0 / 70.4))
    assert cold.linear[0] == linear


def test_warm_table_of_a_superconducting_line():
    line = replace(NBTI, loss=((1e9, 9.0), (10e9, 30.0)))
    got = line.loss_db_per_m(frequency_hz=10e9, temperature_k=np.array([4.0, 9.3, 295]))
    assert got[0] == FLAT_SUPERCONDUCTING_DB_PER_M
    assert got[2] == pytest.approx(30)
    assert 25 < got[1] < 30


def test_cold_table_of_a_superconducting_line():
    line = replace(NBTI, loss=((1e9, 0.01), (10e9, 0.05)), loss_temperature_k=4.0)
    got = line.loss_db_per_m(frequency_hz=10e9, temperature_k=np.array([0.01, 4.0, 20]))
    assert got[:2] == pytest.approx([0.05, 0.05])
    # The table says nothing of the normal state: computed.
    assert got[2] == NBTI.loss_db_per_m(frequency_hz=10e9, temperature_k=20)


def test_without_resistivity_a_table_is_kept_and_no_table_is_an_error():
    plain = Material.from_power_law(name="our alloy", coefficient=0.1, exponent=1, range_k=(0, 300))
    line = replace(STEEL, centre=Conductor(plain, 0.511e-3))
    with pytest.raises(MissingProperty, match="our alloy has no resistivity"):
        line.loss_coefficients(temperature_k=295)
    measured = replace(line, loss=((1e9, 3.0), (10e9, 10.0)))
    got = measured.loss_db_per_m(frequency_hz=10e9, temperature_k=np.array([4, 295]))
    assert got == pytest.approx([10, 10])


def test_fit_never_goes_negative():
    f = np.array([1e9, 4e9, 9e9])
    root, linear = fit_loss(f, 1e-5 * np.sqrt(f) + 2e-10 * f)
    assert (root, linear) == pytest.approx((1e-5, 2e-10))
    # Slower than sqrt(f): no negative dielectric loss is invented.
    root, linear = fit_loss(f, [1.0, 1.1, 1.2])
    assert linear == 0
    assert root > 0
    # Faster than f: no negative conductor loss.
    root, linear = fit_loss(f, [1.0, 16.0, 81.0])
    assert root == 0
    assert linear > 0
    assert fit_loss([4e9], [2.0]) == pytest.approx((2.0 / np.sqrt(4e9), 0.0))


def test_a_table_that_no_line_can_follow_shows_its_misfit():
    line = replace(STEEL, loss=((1e9, 5.0), (10e9, 5.5)))
    assert line.fit_error_db_per_m > 1


# -- refusals ---------------------------------------------------------------------------------


def test_impossible_lines_are_refused():
    steel, ptfe = MATERIALS["stainless-304"], MATERIALS["ptfe"]
    with pytest.raises(ValueError, match="must grow in this order"):
        Coax("bad", Conductor(steel, 1e-3), Dielectric(ptfe, 0.66e-3), Conductor(steel, 2e-3))
    with pytest.raises(ValueError, match="centre plating must be thinner"):
        _plated(STEEL, centre=0.3e-3)
    with pytest.raises(ValueError, match="loss table needs frequencies > 0"):
        replace(STEEL, loss=((1e9, -1.0),))
    with pytest.raises(MissingProperty, match="copper-rrr50 has no permittivity"):
        replace(STEEL, dielectric=Dielectric(MATERIALS["copper-rrr50"], 1.676e-3))
