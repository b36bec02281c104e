"""What physics promises of any membrane in any sea: monotony, balances, continuity, never a NaN."""

from __future__ import annotations

import math
from dataclasses import astuple

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from halocline.physics.membrane import Membrane, lumped, lumped_element, project, project_series

ELEMENT = Membrane(1.60227, 0.192033, 2.6)

seas = st.floats(5.0, 45.0)
waters = st.floats(0.0, 40.0)
pressures = st.floats(15.0, 80.0)
feeds = st.floats(150.0, 1400.0)
elements = st.builds(
    Membrane,
    st.floats(0.2, 5.0),
    st.floats(0.0, 2.0),
    st.floats(0.3, 10.0),
    channel_height_m=st.floats(5e-4, 1.2e-3),
)


@settings(max_examples=150)
@given(seas, waters, pressures, feeds, st.floats(0.5, 10.0))
def test_more_pressure_more_water(sea: float, t: float, bar: float, feed: float, more: float) -> None:
    low, high = (project(ELEMENT, sea, t, p, feed) for p in (bar, bar + more))
    assert high.product_flow_l_h > low.product_flow_l_h
    # Beyond 40 % recovery the brine grows so salty that more pressure brings more salt: physics, not error.
    if high.recovery < 0.4:
        assert high.product_tds_mg_l < low.product_tds_mg_l


@settings(max_examples=150)
@given(seas, st.floats(0.0, 39.0), pressures, feeds, st.floats(0.5, 5.0))
def test_warmer_more_water_and_more_salt(sea: float, t: float, bar: float, feed: float, more: float) -> None:
    cold, warm = (project(ELEMENT, sea, x, bar, feed) for x in (t, t + more))
    assert warm.product_flow_l_h > cold.product_flow_l_h
    assert warm.product_tds_mg_l > cold.product_tds_mg_l


@settings(max_examples=150)
@given(seas, waters, pressures, feeds, st.floats(0.2, 5.0))
def test_saltier_less_water_and_more_salt(sea: float, t: float, bar: float, feed: float, more: float) -> None:
    weak, strong = (project(ELEMENT, s, t, bar, feed) for s in (sea, sea + more))
    assert strong.product_flow_l_h < weak.product_flow_l_h
    assert strong.product_tds_mg_l > weak.product_tds_mg_l


@settings(max_examples=100)
@given(seas, waters, pressures, feeds, st.floats(0.1, 10.0))
def test_pressure_behind_the_membrane_costs_water(sea: float, t: float, bar: float, feed: float, back: float) -> None:
    free, held = (project(ELEMENT, sea, t, bar, feed, product_pressure_bar=b) for b in (0.0, back))
    assert held.product_flow_l_h < free.product_flow_l_h


@settings(max_examples=200)
@given(elements, seas, waters, pressures, st.floats(1.0, 3000.0), st.integers(1, 3))
def test_water_and_salt_are_conserved(
    membrane: Membrane, sea: float, t: float, bar: float, feed: float, count: int
) -> None:
    found = project_series((membrane,) * count, sea, t, bar, feed)
    assert found.product_flow_l_h + found.brine_flow_l_h == pytest.approx(feed, rel=1e-9)
    salt_in = feed * found.feed_concentration_g_l
    salt_out = (
        found.product_flow_l_h * found.product_tds_mg_l / 1000.0 + found.brine_flow_l_h * found.brine_concentration_g_l
    )
    assert salt_out == pytest.approx(salt_in, rel=1e-9)
    assert found.recovery == pytest.approx(found.product_flow_l_h / feed, rel=1e-9)


@settings(max_examples=200)
@given(elements, seas, waters, pressures, st.floats(50.0, 3000.0))
def test_one_node_conserves_water_and_salt(membrane: Membrane, sea: float, t: float, bar: float, feed: float) -> None:
    element = lumped_element(membrane, t)
    found = element.at(sea, bar, feed)
    assert found.product_flow_l_h + found.brine_flow_l_h == pytest.approx(feed, rel=1e-9)
    assert 0.0 <= found.product_tds_mg_l <= project(membrane, sea, t, bar, feed).feed_concentration_g_l * 1000.0


@settings(max_examples=300)
@given(
    elements,
    st.floats(0.0, 120.0),
    st.floats(-2.0, 45.0),
    st.floats(-1.0, 150.0),
    st.floats(0.0, 50_000.0),
    st.floats(-1.0, 100.0),
)
def test_no_input_in_range_gives_a_nan_or_a_negative_flow(
    membrane: Membrane, sea: float, t: float, bar: float, feed: float, back: float
) -> None:
    full = project(membrane, sea, t, bar, feed, product_pressure_bar=back)
    fast = lumped(membrane, sea, t, bar, feed, back)
    for value in (*astuple(full)[:-1], *astuple(fast)):
        assert math.isfinite(value)
    for found in (full, fast):
        assert 0.0 <= found.product_flow_l_h <= feed
        assert found.product_tds_mg_l >= 0.0
        assert found.brine_salinity_g_kg >= 0.0


@pytest.mark.parametrize("choice", ["none", {"factor": 1.3}, {"film_m_s": 1e-6}])
@settings(max_examples=60)
@given(sea=st.floats(0.0, 75.0), t=st.floats(-2.0, 45.0), bar=st.floats(-1.0, 150.0), feed=st.floats(0.0, 5000.0))
def test_no_way_of_polarisation_gives_a_nan(choice: object, sea: float, t: float, bar: float, feed: float) -> None:
    found = project(ELEMENT, sea, t, bar, feed, polarisation=choice)  # type: ignore[arg-type]
    assert all(math.isfinite(value) for value in astuple(found)[:-1])


@settings(max_examples=100)
@given(seas, waters, feeds)
def test_the_flow_fades_out_as_the_driving_pressure_does(sea: float, t: float, feed: float) -> None:
    back = 2.0
    at_rest = project(ELEMENT, sea, t, back, feed, product_pressure_bar=back)
    nearly = project(ELEMENT, sea, t, back + 1e-6, feed, product_pressure_bar=back, pressure_drop_bar=0.0)
    assert at_rest.product_flow_l_h == 0.0
    assert nearly.product_flow_l_h < 1e-5
    assert nearly.product_tds_mg_l == pytest.approx(at_rest.product_tds_mg_l, rel=1e-5)


@settings(max_examples=60)
@given(seas, waters, pressures)
def test_the_flow_fades_out_as_the_feed_does(sea: float, t: float, bar: float) -> None:
    assert project(ELEMENT, sea, t, bar, 1e-6).product_flow_l_h <= 1e-6
    assert lumped(ELEMENT, sea, t, bar, 1e-6).product_flow_l_h <= 1e-6


@settings(max_examples=100)
@given(waters, pressures, feeds)
def test_the_salt_fades_out_as_the_sea_grows_fresh(t: float, bar: float, feed: float) -> None:
    fresh = project(ELEMENT, 0.0, t, bar, feed)
    nearly = project(ELEMENT, 1e-9, t, bar, feed)
    assert nearly.product_flow_l_h == pytest.approx(fresh.product_flow_l_h, rel=1e-6)
    assert nearly.product_tds_mg_l < 1e-5


@settings(max_examples=150)
@given(seas, waters, pressures, feeds)
def test_neighbouring_inputs_have_neighbouring_answers(sea: float, t: float, bar: float, feed: float) -> None:
    here = project(ELEMENT, sea, t, bar, feed)
    there = project(ELEMENT, sea * (1 + 1e-7), t, bar * (1 + 1e-7), feed * (1 + 1e-7))
    assert there.product_flow_l_h == pytest.approx(here.product_flow_l_h, rel=1e-4)
    assert there.product_tds_mg_l == pytest.approx(here.product_tds_mg_l, rel=1e-4)


@settings(max_examples=150)
@given(st.floats(30.0, 42.0), st.floats(5.0, 32.0), st.floats(45.0, 62.0), st.floats(300.0, 700.0))
def test_one_node_stays_near_the_whole_element_at_work(sea: float, t: float, bar: float, feed: float) -> None:
    full = project(ELEMENT, sea, t, bar, feed)
    assume(full.recovery < 0.27)
    fast = lumped(ELEMENT, sea, t, bar, feed)
    assert fast.product_flow_l_h == pytest.approx(full.product_flow_l_h, rel=0.02)
    assert fast.product_tds_mg_l == pytest.approx(full.product_tds_mg_l, rel=0.03)
    assert fast.brine_salinity_g_kg == pytest.approx(full.brine_salinity_g_kg, rel=0.01)
