"""The membrane: known limits, refusals, warnings, series, fitting."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from halocline.physics import seawater
from halocline.physics.errors import OutOfRange, Unsolvable
from halocline.physics.membrane import (
    Membrane,
    Projection,
    activation_energy_kj_mol,
    fit_membrane,
    lumped,
    pressure_for_product_bar,
    project,
    project_series,
    temperature_factor,
)
from halocline.physics.sodium_chloride import SodiumChloride

ELEMENT = Membrane(1.60227, 0.192033, 2.6)


def ids(result: Projection) -> list[str]:
    return [caution.id for caution in result.warnings]


def test_the_nameplate_gives_back_its_own_test() -> None:
    plate = Membrane.from_nameplate(2.4, 0.994, 2.6)
    assert plate.water_permeability_lmh_bar == pytest.approx(1.602, abs=0.005)
    assert plate.salt_permeability_lmh == pytest.approx(0.192, abs=0.001)
    assert plate.max_flux_lmh == pytest.approx(2400.0 / 24.0 / 2.6)


def test_a_plate_tested_warm_is_brought_to_25_degrees() -> None:
    cold = Membrane.from_nameplate(2.4, 0.994, 2.6, test_temperature_c=20.0)
    warm = Membrane.from_nameplate(2.4, 0.994, 2.6, test_temperature_c=30.0)
    assert cold.water_permeability_lmh_bar > warm.water_permeability_lmh_bar
    assert cold.salt_permeability_lmh > warm.salt_permeability_lmh


def test_a_plate_that_no_membrane_can_meet_is_refused() -> None:
    with pytest.raises(Unsolvable, match="no membrane gives 100 L/h with 192 mg/L here: the pressure is too low"):
        Membrane.from_nameplate(2.4, 0.994, 2.6, test_pressure_bar=20.0)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"rejection": 99.4}, "nameplate salt rejection is 99.4; allowed is 0.5 to 0.99999"),
        ({"flow_m3_d": math.nan}, "nameplate flow is nan m³/d"),
        ({"area_m2": 0.0}, "membrane area is 0 m²"),
        ({"test_temperature_c": 5.0}, "test temperature is 5 °C; allowed is 15 to 35 °C"),
        ({"test_recovery": 0.0}, "test recovery is 0; allowed is 0.005 to 0.5"),
    ],
)
def test_a_misread_plate_is_refused(arguments: dict[str, float], message: str) -> None:
    plate = {"flow_m3_d": 2.4, "rejection": 0.994, "area_m2": 2.6} | arguments
    with pytest.raises(OutOfRange, match=message):
        Membrane.from_nameplate(**plate)


def test_an_impossible_element_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"water permeability is -1 L/m²/h/bar; allowed is 0.001 to 50"):
        Membrane(-1.0, 0.2, 2.6)
    with pytest.raises(OutOfRange, match=r"feed spacer porosity is 1.2; allowed is 0.4 to 0.99"):
        Membrane(1.6, 0.2, 2.6, spacer_porosity=1.2)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((130.0, 24.0, 55.0, 340.0), "feed salinity is 130 g/kg; allowed is 0 to 120 g/kg"),
        ((38.0, 50.0, 55.0, 340.0), "water temperature is 50 °C; allowed is -2 to 45 °C"),
        ((38.0, 24.0, 800.0, 340.0), "membrane inlet pressure is 800 bar; allowed is -1 to 150 bar"),
        ((38.0, 24.0, 55.0, -5.0), "feed flow is -5 L/h; allowed is 0 to 50000 L/h"),
        ((math.nan, 24.0, 55.0, 340.0), "feed salinity is nan g/kg"),
        ((38.0, math.inf, 55.0, 340.0), "water temperature is inf °C"),
    ],
)
def test_a_sea_outside_the_formulas_is_refused(arguments: tuple[float, ...], message: str) -> None:
    with pytest.raises(OutOfRange, match=message):
        project(ELEMENT, *arguments)
    with pytest.raises(OutOfRange, match=message):
        lumped(ELEMENT, *arguments)


def test_an_unknown_polarisation_is_refused_with_the_choices() -> None:
    for choice in ("some", {"film": 1e-5}, {"factor": 1.1, "film_m_s": 1e-5}):
        with pytest.raises(ValueError, match="is not known; choose correlation, none, "):
            project(ELEMENT, 38.0, 24.0, 55.0, 340.0, polarisation=choice)  # type: ignore[arg-type]
    with pytest.raises(OutOfRange, match=r"polarisation factor is 0.5; allowed is 1 to 5"):
        project(ELEMENT, 38.0, 24.0, 55.0, 340.0, polarisation={"factor": 0.5})


def test_a_series_needs_a_membrane() -> None:
    with pytest.raises(ValueError, match=r"there is no membrane in the series; name at least one"):
        project_series((), 38.0, 24.0, 55.0, 340.0)


def test_fresh_feed_passes_by_permeability_alone() -> None:
    found = project(ELEMENT, 0.0, 25.0, 10.0, 900.0, pressure_drop_bar=0.0)
    assert found.product_flow_l_h == pytest.approx(1.60227 * 10.0 * 2.6, rel=1e-9)
    assert found.product_tds_mg_l == 0.0
    assert found.net_driving_pressure_bar == pytest.approx(10.0, rel=1e-9)


def test_without_polarisation_the_wall_is_the_bulk() -> None:
    found = project(ELEMENT, 38.0, 24.0, 55.0, 340.0, polarisation="none")
    assert found.wall_osmotic_pressure_bar == pytest.approx(found.mean_osmotic_pressure_bar)
    assert found.polarisation_inlet == 1.0
    assert found == project(ELEMENT, 38.0, 24.0, 55.0, 340.0, polarisation={"factor": 1.0})


def test_a_given_factor_is_the_salt_at_the_wall_over_the_bulk() -> None:
    found = project(ELEMENT, 38.0, 24.0, 55.0, 340.0, polarisation={"factor": 1.2})
    assert (found.polarisation_inlet, found.polarisation_outlet) == pytest.approx((1.2, 1.2))


def test_a_very_thick_film_is_no_film_and_a_thin_one_costs_flow() -> None:
    none = project(ELEMENT, 38.0, 24.0, 55.0, 340.0, polarisation="none")
    perfect = project(ELEMENT, 38.0, 24.0, 55.0, 340.0, polarisation={"film_m_s": 1.0})
    poor = project(ELEMENT, 38.0, 24.0, 55.0, 340.0, polarisation={"film_m_s": 1e-5})
    assert perfect.product_flow_l_h == pytest.approx(none.product_flow_l_h, rel=1e-4)
    assert poor.product_flow_l_h < 0.9 * none.product_flow_l_h
    assert poor.product_tds_mg_l > none.product_tds_mg_l


def test_a_film_case_by_hand() -> None:
    # One place, by hand: a feed so large that nothing changes along the element.
    found = project(ELEMENT, 38.0, 25.0, 55.0, 50_000.0, polarisation={"film_m_s": 3e-5}, pressure_drop_bar=0.0)
    flux, salt = found.flux_lmh, found.product_tds_mg_l / 1000.0
    grow = math.exp(flux / 3.6e6 / 3e-5)
    bulk = seawater.concentration_g_l(38.0, 25.0)
    wall = salt + (bulk - salt) * grow
    water = seawater.at_temperature(25.0)
    driving = 55.0 - water.osmotic_pressure_of_g_l_bar(wall) + water.osmotic_pressure_of_g_l_bar(salt)
    assert flux == pytest.approx(1.60227 * driving, rel=2e-3)
    assert salt == pytest.approx(0.192033 * (wall - salt) / flux, rel=3e-3)


def test_a_given_pressure_drop_replaces_friction() -> None:
    assert project(ELEMENT, 38.0, 24.0, 55.0, 340.0, pressure_drop_bar=1.5).pressure_drop_bar == pytest.approx(1.5)
    assert project_series(
        (ELEMENT, ELEMENT), 38.0, 24.0, 55.0, 340.0, pressure_drop_bar=1.5
    ).pressure_drop_bar == pytest.approx(1.5)


def test_without_temperature_correction_permeabilities_are_those_of_the_day() -> None:
    a, b = (temperature_factor(energy, 10.0) for energy in (22.0, 28.0))
    corrected = project(ELEMENT, 38.0, 10.0, 55.0, 340.0)
    given_at_10 = project(ELEMENT.aged(a, b), 38.0, 10.0, 55.0, 340.0, temperature_correction=False)
    assert given_at_10.product_flow_l_h == pytest.approx(corrected.product_flow_l_h, rel=1e-12)


def test_a_supplier_s_factor_per_kelvin_becomes_an_energy() -> None:
    energy = activation_energy_kj_mol(1.03)
    assert temperature_factor(energy, 18.0) == pytest.approx(1.03 ** (18 - 25), rel=6e-3)
    assert temperature_factor(energy, 25.0) == 1.0


def test_below_the_osmotic_pressure_hardly_any_and_salty_water_comes() -> None:
    found = project(ELEMENT, 38.0, 24.0, 20.0, 340.0)
    assert 0.0 < found.product_flow_l_h < 2.0
    assert found.product_tds_mg_l > 5000.0
    assert ids(found)[0] == "below_osmotic_pressure"
    caution = found.warnings[0]
    assert (caution.value, round(caution.limit, 2), caution.unit) == (20.0, 28.05, "bar")


def test_without_feed_flow_nothing_is_made() -> None:
    found = project(ELEMENT, 38.0, 24.0, 55.0, 0.0)
    assert (found.product_flow_l_h, found.recovery, found.brine_flow_l_h) == (0.0, 0.0, 0.0)
    assert ids(found) == ["no_feed_flow"]


@pytest.mark.parametrize("bar", [0.0, 1.2, 3.9])
def test_a_pressure_read_at_the_pump_s_inlet_is_recognised(bar: float) -> None:
    assert ids(project(ELEMENT, 38.0, 24.0, bar, 340.0))[0] == "pump_inlet_pressure"


def test_a_flush_with_fresh_water_at_low_pressure_is_not_mistaken_for_it() -> None:
    assert ids(project(ELEMENT, 0.3, 24.0, 3.0, 340.0)) == []


def test_a_good_day_brings_no_warning() -> None:
    assert ids(project(ELEMENT, 38.0, 24.0, 55.0, 340.0)) == []


def test_each_limit_of_the_element_speaks_up() -> None:
    assert "recovery_high" in ids(project(ELEMENT, 38.0, 24.0, 65.0, 340.0))
    assert "flux_high" in ids(project(ELEMENT, 20.0, 24.0, 65.0, 900.0))
    assert "pressure_high" in ids(project(ELEMENT, 38.0, 24.0, 70.0, 900.0))
    assert "feed_flow_high" in ids(project(ELEMENT, 38.0, 24.0, 55.0, 1500.0))
    assert "pressure_drop_high" in ids(project(ELEMENT, 38.0, 24.0, 55.0, 2500.0))
    assert "brine_beyond_formulas" in ids(project(ELEMENT, 38.0, 24.0, 65.0, 30.0))


def test_the_accept_limit_is_the_owner_s() -> None:
    # A new element in a hot salty sea at 50 bar: known to exceed 500 mg/L.
    sea = (41.0, 32.0, 50.0, 340.0)
    found = project(ELEMENT, *sea)
    assert 550.0 < found.product_tds_mg_l < 620.0
    assert "tds_high" in ids(found)
    assert "tds_high" not in ids(project(ELEMENT, *sea, accept_tds_mg_l=800.0))


def test_the_limits_change_no_result() -> None:
    strict = replace(ELEMENT, max_pressure_bar=40.0, max_recovery=0.05, max_flux_lmh=5.0, max_feed_flow_l_h=50.0)
    spoken, silent = (project(m, 38.0, 24.0, 55.0, 340.0) for m in (strict, ELEMENT))
    assert sorted(ids(spoken)) == ["feed_flow_high", "flux_high", "pressure_high", "recovery_high"]
    assert replace(spoken, warnings=()) == silent


def test_a_second_element_makes_more_but_saltier_water() -> None:
    one = project(ELEMENT, 38.0, 24.0, 55.0, 340.0)
    two = project_series((ELEMENT, ELEMENT), 38.0, 24.0, 55.0, 340.0)
    assert one.product_flow_l_h < two.product_flow_l_h < 2.0 * one.product_flow_l_h
    assert two.product_tds_mg_l > one.product_tds_mg_l
    assert two.pressure_drop_bar > one.pressure_drop_bar


def test_one_element_cut_in_two_is_the_same_element() -> None:
    half = replace(ELEMENT, area_m2=1.3, length_m=0.45)
    whole = project(ELEMENT, 38.0, 24.0, 55.0, 340.0)
    halves = project_series((half, half), 38.0, 24.0, 55.0, 340.0)
    assert halves.product_flow_l_h == pytest.approx(whole.product_flow_l_h, rel=1e-3)
    assert halves.product_tds_mg_l == pytest.approx(whole.product_tds_mg_l, rel=1e-3)
    assert halves.wall_osmotic_pressure_bar == pytest.approx(whole.wall_osmotic_pressure_bar, rel=1e-3)


def test_flux_is_permeability_times_net_driving_pressure() -> None:
    found = project(ELEMENT, 38.0, 24.0, 55.0, 340.0)
    a = 1.60227 * temperature_factor(22.0, 24.0)
    assert found.flux_lmh == pytest.approx(a * found.net_driving_pressure_bar, rel=1e-9)
    assert found.flux_lmh == pytest.approx(found.product_flow_l_h / 2.6, rel=1e-12)


def test_an_aged_element_of_60_litres_an_hour_is_found_from_its_measurement() -> None:
    aged = fit_membrane(ELEMENT, 38.0, 24.0, 55.0, 340.0, product_flow_l_h=60.0, product_tds_mg_l=396.0)
    assert aged.water_permeability_lmh_bar / ELEMENT.water_permeability_lmh_bar == pytest.approx(0.783, abs=0.003)
    assert aged.salt_permeability_lmh == pytest.approx(ELEMENT.salt_permeability_lmh, rel=5e-3)
    again = project(aged, 38.0, 24.0, 55.0, 340.0)
    assert again.product_flow_l_h == pytest.approx(60.0, rel=1e-8)
    assert again.product_tds_mg_l == pytest.approx(396.0, rel=1e-8)


def test_a_measurement_no_membrane_could_have_made_is_refused() -> None:
    with pytest.raises(Unsolvable, match="no membrane gives 60 L/h"):
        fit_membrane(ELEMENT, 38.0, 24.0, 22.0, 340.0, product_flow_l_h=60.0, product_tds_mg_l=396.0)
    with pytest.raises(Unsolvable, match="product of 400 L/h from a feed of 340 L/h: check both flow meters"):
        fit_membrane(ELEMENT, 38.0, 24.0, 55.0, 340.0, product_flow_l_h=400.0, product_tds_mg_l=396.0)


def test_two_elements_are_fitted_as_one_plant() -> None:
    pair = fit_membrane(ELEMENT, 38.0, 24.0, 55.0, 600.0, product_flow_l_h=110.0, product_tds_mg_l=420.0, elements=2)
    again = project_series((pair, pair), 38.0, 24.0, 55.0, 600.0)
    assert again.product_flow_l_h == pytest.approx(110.0, rel=1e-8)


def test_the_pressure_for_a_wanted_flow_is_less_in_a_weak_sea() -> None:
    salty = pressure_for_product_bar(ELEMENT, 60.0, 38.0, 24.0, 340.0)
    weak = pressure_for_product_bar(ELEMENT, 60.0, 20.0, 24.0, 340.0)
    assert lumped(ELEMENT, 38.0, 24.0, salty, 340.0).product_flow_l_h == pytest.approx(60.0, rel=1e-6)
    assert project(ELEMENT, 38.0, 24.0, salty, 340.0).product_flow_l_h == pytest.approx(60.0, rel=0.015)
    assert weak < salty - 10.0


def test_a_flow_out_of_reach_is_refused() -> None:
    with pytest.raises(Unsolvable, match="100 L/h is not reached at 60 bar with 38 g/kg at 24 °C from 340 L/h"):
        pressure_for_product_bar(ELEMENT, 100.0, 38.0, 24.0, 340.0, highest_bar=60.0)


def test_fitting_and_projecting_are_the_same_equations_for_test_water() -> None:
    # 32 g/L of sodium chloride pulls less than sea water of the same salt.
    salt = SodiumChloride(25.0)
    assert salt.osmotic_pressure_of_g_l_bar(32.0) == pytest.approx(25.28, abs=0.05)
    assert salt.density_kg_m3(salt.salinity_g_kg(32.0)) == pytest.approx(997.05 + 0.695 * 32.0)
