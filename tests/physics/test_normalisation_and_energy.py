"""Normalisation to a reference day, energy, and the taste of salt."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halocline.physics import energy, guidance
from halocline.physics.errors import OutOfRange, Unsolvable
from halocline.physics.lumped import log_mean_factor
from halocline.physics.membrane import Membrane, project
from halocline.physics.normalisation import (
    OperatingPoint,
    net_driving_pressure_bar,
    normalise,
    normalised_pressure_drop_bar,
    salt_passage,
)

REFERENCE = OperatingPoint(55.0, 0.17, 0.2, 38.0, 24.0, 340.0, 60.0, 350.0)
ACTUAL = OperatingPoint(57.0, 0.24, 0.2, 38.5, 20.5, 335.0, 53.0, 330.0)
ELEMENT = Membrane(1.25, 0.192, 2.6)


def measured(membrane: Membrane, sea: float, t: float, bar: float, feed: float) -> OperatingPoint:
    found = project(membrane, sea, t, bar, feed, polarisation="none")
    return OperatingPoint(
        bar, found.pressure_drop_bar, 0.0, sea, t, feed, found.product_flow_l_h, found.product_tds_mg_l
    )


def test_the_reference_day_normalises_to_itself() -> None:
    same = normalise(REFERENCE, REFERENCE)
    assert same.product_flow_l_h == pytest.approx(60.0)
    assert (same.flow_change, same.salt_passage_change, same.pressure_drop_change) == pytest.approx((0.0, 0.0, 0.0))


def test_a_fouled_day_by_hand() -> None:
    # ASTM D4516 worked through by hand with TEOS-10 osmotic pressures.
    found = normalise(REFERENCE, ACTUAL)
    assert found.flow_change == pytest.approx(-0.102, abs=2e-3)
    assert found.salt_passage == pytest.approx(0.00796, abs=5e-5)
    assert found.salt_passage_change == pytest.approx(-0.049, abs=2e-3)
    assert found.pressure_drop_change == pytest.approx(0.33, abs=5e-3)
    assert found.osmotic == "seawater"


def test_the_astm_osmotic_formula_invents_a_point_of_loss_and_is_named() -> None:
    ours, theirs = normalise(REFERENCE, ACTUAL), normalise(REFERENCE, ACTUAL, "d4516")
    assert theirs.osmotic == "d4516"
    assert ours.flow_change - theirs.flow_change == pytest.approx(0.013, abs=2e-3)


@settings(max_examples=100)
@given(st.floats(34.0, 41.0), st.floats(8.0, 32.0), st.floats(48.0, 62.0), st.floats(300.0, 600.0))
def test_weather_does_not_look_like_age(sea: float, t: float, bar: float, feed: float) -> None:
    clean = measured(ELEMENT, 38.0, 24.0, 55.0, 340.0)
    found = normalise(clean, measured(ELEMENT, sea, t, bar, feed))
    assert found.flow_change == pytest.approx(0.0, abs=0.02)
    assert found.salt_passage_change == pytest.approx(0.0, abs=0.03)


def test_age_shows_whatever_the_weather() -> None:
    clean = measured(ELEMENT, 38.0, 24.0, 55.0, 340.0)
    fouled = normalise(clean, measured(ELEMENT.aged(0.85), 36.0, 15.0, 58.0, 340.0))
    leaking = normalise(clean, measured(ELEMENT.aged(1.0, 1.4), 36.0, 15.0, 58.0, 340.0))
    assert fouled.flow_change == pytest.approx(-0.15, abs=0.03)
    assert leaking.salt_passage_change == pytest.approx(0.4, abs=0.05)
    assert leaking.flow_change == pytest.approx(0.0, abs=0.02)


def test_friction_of_the_channel_follows_the_exponent_it_is_normalised_with() -> None:
    clean = measured(ELEMENT, 38.0, 24.0, 55.0, 340.0)
    found = normalise(clean, measured(ELEMENT, 38.0, 18.0, 55.0, 400.0))
    assert found.pressure_drop_change == pytest.approx(0.0, abs=0.03)


def test_a_drop_of_nothing_has_no_change() -> None:
    none = replace(REFERENCE, pressure_drop_bar=0.0)
    assert normalise(none, ACTUAL).pressure_drop_change == 0.0
    assert normalised_pressure_drop_bar(REFERENCE, none) == 0.0


def test_points_that_cannot_be_normalised_are_refused() -> None:
    with pytest.raises(Unsolvable, match=r"the actual point has a net driving pressure of -\d+\.\d\d bar"):
        normalise(REFERENCE, replace(ACTUAL, membrane_inlet_bar=20.0))
    with pytest.raises(Unsolvable, match="the reference point has a net driving pressure"):
        normalise(replace(REFERENCE, membrane_inlet_bar=20.0), ACTUAL)
    with pytest.raises(Unsolvable, match="a feed without salt has no salt passage"):
        salt_passage(replace(ACTUAL, feed_salinity_g_kg=0.0))
    with pytest.raises(ValueError, match="osmotic law 'van' is not known; choose seawater or d4516"):
        net_driving_pressure_bar(ACTUAL, "van")  # type: ignore[arg-type]
    with pytest.raises(OutOfRange, match="flow exponent is 3; allowed is 1 to 2"):
        normalised_pressure_drop_bar(REFERENCE, ACTUAL, 3.0)


def test_swapped_flow_meters_are_refused() -> None:
    with pytest.raises(Unsolvable, match="product of 340 L/h from a feed of 60 L/h is more than a membrane can take"):
        replace(REFERENCE, feed_flow_l_h=60.0, product_flow_l_h=340.0)
    with pytest.raises(OutOfRange, match="product salt is nan mg/L"):
        replace(REFERENCE, product_tds_mg_l=math.nan)


@given(st.floats(0.0, 0.99))
def test_the_mean_feed_is_saltier_than_the_inlet(recovery: float) -> None:
    assert log_mean_factor(recovery) >= 1.0
    assert log_mean_factor(1e-10) == pytest.approx(1.0)


def test_energy_a_litre_without_a_litre_is_refused() -> None:
    with pytest.raises(Unsolvable, match="without product flow there is no energy a litre"):
        energy.specific_energy_wh_l(1400.0, 0.0)
    with pytest.raises(OutOfRange, match="power is nan W"):
        energy.specific_energy_wh_l(math.nan, 60.0)


@pytest.mark.parametrize(
    ("salt", "word"),
    [
        (0.0, "excellent"),
        (300.0, "excellent"),
        (357.0, "good"),
        (700.0, "fair"),
        (1200.0, "poor"),
        (1201.0, "unacceptable"),
    ],
)
def test_the_taste_panel_s_words(salt: float, word: str) -> None:
    # WHO/SDE/WSH/03.04/16, total dissolved solids in drinking-water.
    assert guidance.taste(salt) == word
