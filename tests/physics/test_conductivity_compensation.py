"""Conductivity: compensation, dissolved salt, calibration, and what is refused."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.physics import conductivity
from halocline.physics.errors import OutOfRange


@pytest.mark.parametrize("method", ["natural", "nacl", "linear"])
@given(micro_siemens=st.floats(0.0, 60_000.0), t=st.floats(0.0, 36.0))
def test_compensating_and_back_gives_the_reading(method: str, micro_siemens: float, t: float) -> None:
    k25 = conductivity.at_25c(micro_siemens, t, method)  # type: ignore[arg-type]
    if k25 <= conductivity.HIGHEST_CONDUCTIVITY_US_CM:
        back = conductivity.at_temperature(k25, t, method)  # type: ignore[arg-type]
        assert back == pytest.approx(micro_siemens, rel=1e-12)


@pytest.mark.parametrize("method", ["natural", "nacl", "linear"])
def test_at_25_degrees_nothing_is_compensated(method: str) -> None:
    assert conductivity.at_25c(700.0, 25.0, method) == 700.0  # type: ignore[arg-type]


def test_colder_water_conducts_less_so_its_reading_is_raised() -> None:
    assert conductivity.at_25c(600.0, 18.0) > 600.0 > conductivity.at_25c(600.0, 30.0)


def test_the_default_is_the_salt_that_product_water_holds() -> None:
    assert conductivity.at_25c(600.0, 18.0) == conductivity.at_25c(600.0, 18.0, "nacl")


def test_natural_and_sodium_chloride_agree_within_half_a_percent_from_14_to_35_degrees() -> None:
    for t in range(14, 36):
        ratio = conductivity.at_25c(500.0, t, "natural") / conductivity.at_25c(500.0, t, "nacl")
        assert ratio == pytest.approx(1.0, abs=5e-3)


def test_an_unknown_compensation_is_refused_with_the_choices() -> None:
    with pytest.raises(ValueError, match="compensation 'quadratic' is not known; choose one of natural, nacl, linear"):
        conductivity.at_25c(500.0, 20.0, "quadratic")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("method", "t", "allowed"),
    [("natural", -0.1, "0 to 36 °C"), ("natural", 36.5, "0 to 36 °C"), ("nacl", 45.5, "-2 to 45 °C")],
)
def test_each_compensation_refuses_temperatures_it_is_not_made_for(method: str, t: float, allowed: str) -> None:
    with pytest.raises(OutOfRange, match=f"water temperature is .*; allowed is {allowed}"):
        conductivity.at_25c(500.0, t, method)  # type: ignore[arg-type]


@pytest.mark.parametrize("value", [math.nan, math.inf, -1.0])
def test_an_impossible_conductivity_never_becomes_a_salt_content(value: float) -> None:
    with pytest.raises(OutOfRange, match="conductivity is"):
        conductivity.at_25c(value, 20.0)
    with pytest.raises(OutOfRange, match="conductivity at 25 °C is"):
        conductivity.tds_mg_l(value)
    with pytest.raises(OutOfRange, match="dissolved salt is"):
        conductivity.conductivity_25c_us_cm(value)


@given(st.floats(0.0, 80_000.0))
def test_salt_and_conductivity_convert_both_ways(salt: float) -> None:
    k25 = conductivity.conductivity_25c_us_cm(salt)
    if k25 < conductivity.conductivity_25c_us_cm(79_999.0):
        assert conductivity.tds_mg_l(k25) == pytest.approx(salt, rel=1e-9, abs=1e-9)


@given(st.floats(0.0, 79_000.0), st.floats(0.01, 1000.0))
def test_more_salt_conducts_more(salt: float, more: float) -> None:
    assert conductivity.conductivity_25c_us_cm(salt + more) > conductivity.conductivity_25c_us_cm(salt)


def test_the_three_limits_of_product_water_in_conductivity() -> None:
    # 500, 600, 1000 mg/L of sodium chloride: Onsager's law.
    found = [round(conductivity.conductivity_25c_us_cm(salt)) for salt in (500.0, 600.0, 1000.0)]
    assert found == [1019, 1216, 1993]


def test_one_kelvin_of_error_costs_two_percent() -> None:
    assert conductivity.at_25c(600.0, 19.0) / conductivity.at_25c(600.0, 20.0) == pytest.approx(1.022, abs=2e-3)
