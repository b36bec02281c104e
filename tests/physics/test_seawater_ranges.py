"""Sea water: ranges, refusals, inverses, and the shape of the curves."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.physics import seawater
from halocline.physics.errors import OutOfRange, require

temperatures = st.floats(-2.0, 45.0)
salinities = st.floats(0.0, 120.0)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_no_number_is_refused(value: float) -> None:
    for function in (seawater.osmotic_pressure_bar, seawater.density_kg_m3, seawater.viscosity_pa_s):
        with pytest.raises(OutOfRange, match="salinity is"):
            function(value, 20.0)
        with pytest.raises(OutOfRange, match="water temperature is"):
            function(35.0, value)


def test_a_refusal_says_what_was_found_what_is_allowed_and_what_to_do() -> None:
    with pytest.raises(OutOfRange) as caught:
        seawater.osmotic_pressure_bar(35.0, 61.0)
    assert str(caught.value) == (
        "water temperature is 61 °C; allowed is -2 to 45 °C: "
        "check the sensor, or the number that was entered and its unit"
    )
    assert (caught.value.quantity, caught.value.value, caught.value.low) == ("water temperature", 61.0, -2.0)
    assert isinstance(caught.value, ValueError)


def test_a_quantity_without_unit_is_refused_without_one() -> None:
    with pytest.raises(OutOfRange, match=r"recovery is 2; allowed is 0 to 1: check"):
        require("recovery", 2.0, "", 0.0, 1.0)


def test_both_ends_of_a_range_belong_to_it() -> None:
    assert require("recovery", 0.0, "", 0.0, 1.0) == 0.0
    assert require("recovery", 1.0, "", 0.0, 1.0) == 1.0


@given(salinities, temperatures)
def test_fresh_water_has_no_osmotic_pressure_and_salt_adds_to_it(salinity: float, t: float) -> None:
    assert seawater.osmotic_pressure_bar(0.0, t) == 0.0
    more = min(salinity + 0.5, 120.0)
    assert seawater.osmotic_pressure_bar(more, t) >= seawater.osmotic_pressure_bar(salinity, t) >= 0.0


@given(st.floats(1.0, 120.0), st.floats(-2.0, 44.0))
def test_warmer_water_pulls_harder_and_flows_easier(salinity: float, t: float) -> None:
    assert seawater.osmotic_pressure_bar(salinity, t + 1.0) > seawater.osmotic_pressure_bar(salinity, t)
    assert seawater.viscosity_pa_s(salinity, t + 1.0) < seawater.viscosity_pa_s(salinity, t)


@given(st.floats(0.0, 120.0), temperatures)
def test_grams_in_a_kilogram_and_in_a_litre_convert_both_ways(salinity: float, t: float) -> None:
    water = seawater.at_temperature(t)
    assert water.salinity_g_kg(water.concentration_g_l(salinity)) == pytest.approx(salinity, abs=1e-9)


def test_the_astm_formula_reads_11_to_15_percent_high_on_sea_water() -> None:
    # Known of ASTM D4516's formula, which was made for sodium chloride.
    high = seawater.osmotic_pressure_d4516_bar(38_000.0, 24.0) / seawater.osmotic_pressure_bar(38.0, 24.0)
    assert 1.10 < high < 1.12
    grams = 1000.0 * seawater.concentration_g_l(38.0, 24.0)
    assert 1.13 < seawater.osmotic_pressure_d4516_bar(grams, 24.0) / seawater.osmotic_pressure_bar(38.0, 24.0) < 1.15
