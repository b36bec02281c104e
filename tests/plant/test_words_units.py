"""Numbers as people read them. Conversion factors: NIST SP 811."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.physics import conductivity
from halocline.plant import words
from halocline.plant.settings import UnitSettings
from halocline.plant.words.units import conductivity_us_cm

IMPERIAL = UnitSettings(pressure="psi", volume="gal", temperature="F", salt="uS/cm")


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (0.15, "bar", "0.15 bar"),
        (55.0, "bar", "55 bar"),
        (60.34, "bar", "60.3 bar"),
        (-0.001, "bar", "0 bar"),
        (0.5, "bar/s", "0.5 bar/s"),
        (0.6, "L", "0.6 L"),
        (41.3, "L", "41 L"),
        (38.4, "L/h", "38 L/h"),
        (312.4, "mg/L", "312 mg/L"),
        (640.0, "µS/cm", "640 µS/cm"),
        (18.25, "°C", "18.2 °C"),
        (12.44, "V", "12.4 V"),
        (0.02, "V", "0.02 V"),
        (95.0, "%", "95 %"),
        (0.27, "1", "27 %"),
        (1234.0, "Wh", "1234 Wh"),
        (4, "", "4"),
    ],
)
def test_a_quantity_has_as_many_digits_as_a_person_can_use(value: float, unit: str, shown: str) -> None:
    assert words.quantity(value, unit, None) == shown


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (1.0, "bar", "14.5 psi"),  # 1 bar = 14.5038 psi
        (100.0, "bar", "1450 psi"),
        (0.5, "bar/s", "7.3 psi/s"),
        (3.785411784, "L", "1 gal"),  # 1 US gallon = 3.785411784 L
        (37.85411784, "L/h", "10 gal/h"),
        (10.0, "Wh/L", "37.9 Wh/gal"),
        (0.0, "°C", "32 °F"),
        (25.0, "°C", "77 °F"),
        (12.0, "V", "12 V"),
    ],
)
def test_a_quantity_is_converted_to_the_units_the_owner_chose(value: float, unit: str, shown: str) -> None:
    assert words.quantity(value, unit, IMPERIAL) == shown


@given(st.floats(0.0, 80_000.0))
def test_product_salt_is_shown_as_the_conductivity_that_physics_gives_it(tds_mg_l: float) -> None:
    assert conductivity_us_cm(tds_mg_l) == pytest.approx(conductivity.conductivity_25c_us_cm(tds_mg_l), rel=1e-12)


def test_product_salt_can_be_shown_as_conductivity() -> None:
    # 0.01 mol/L of NaCl, 584.43 mg/L, has 118.45 S·cm²/mol at 25 °C: CRC Handbook, from memory
    assert conductivity_us_cm(584.43) == pytest.approx(1184.5, rel=0.002)
    assert words.quantity(500.0, "mg/L", IMPERIAL) == f"{conductivity.conductivity_25c_us_cm(500.0):.0f} µS/cm"


@pytest.mark.parametrize("nothing", [None, math.nan, math.inf, -math.inf, "", "None", "12", True, [], {}, 10**400])
def test_what_is_not_a_finite_number_is_unknown(nothing: object) -> None:
    assert words.quantity(nothing, "bar", None) == "unknown"


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [
        (-3.0, "0 s"),
        (45.2, "45 s"),
        (119.0, "119 s"),
        (120.0, "2 min"),
        (150.0, "2 min 30 s"),
        (900.0, "15 min"),
        (1229.0, "20 min"),
        (3 * 3600.0, "3 h"),
        (2 * 3600.0 + 300, "2 h 5 min"),
        (3 * 86400.0, "3 days"),
    ],
)
def test_a_span_of_time_is_told_in_units_that_matter(seconds: float, shown: str) -> None:
    assert words.quantity(seconds, "s", None) == shown


@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from(["bar", "L", "°C", "mg/L", "s", "1", "V"]))
def test_any_number_stays_short(value: float, unit: str) -> None:
    assert len(words.quantity(value, unit, IMPERIAL)) <= 20


@given(st.floats(0.01, 80.0), st.floats(0.01, 80.0))
def test_more_pressure_never_reads_as_less(one_bar: float, other_bar: float) -> None:
    low, high = sorted((one_bar, other_bar))
    shown = [float(words.quantity(bar, "bar", IMPERIAL).split()[0]) for bar in (low, high)]
    assert shown == sorted(shown)
