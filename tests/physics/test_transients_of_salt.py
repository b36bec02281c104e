"""Washing out, standing still, sucking back: exact whatever the time step."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.physics import seawater, transients
from halocline.physics.errors import OutOfRange, Unsolvable

volumes = st.floats(0.01, 5.0)
flows = st.floats(0.0, 200.0)
salts = st.floats(0.0, 60.0)
times = st.floats(0.0, 3600.0)


@given(salts, salts, flows, volumes, times, times)
def test_two_steps_are_one_long_step(now: float, new: float, flow: float, volume: float, a: float, b: float) -> None:
    once = transients.washout(now, new, flow, volume, a + b)
    twice = transients.washout(transients.washout(now, new, flow, volume, a), new, flow, volume, b)
    assert twice == pytest.approx(once, rel=1e-9, abs=1e-9)


@given(salts, salts, salts, flows, volumes, volumes, times, times)
def test_two_volumes_may_be_stepped_as_one_likes(
    first: float, second: float, new: float, flow: float, v1: float, v2: float, a: float, b: float
) -> None:
    once = transients.two_volumes_washout(first, second, new, flow, v1, v2, a + b)
    half = transients.two_volumes_washout(first, second, new, flow, v1, v2, a)
    twice = transients.two_volumes_washout(*half, new, flow, v1, v2, b)
    assert twice == pytest.approx(once, rel=1e-8, abs=1e-8)


@given(salts, salts, salts, flows, volumes, volumes, times)
def test_water_is_never_saltier_or_fresher_than_what_went_in(
    first: float, second: float, new: float, flow: float, v1: float, v2: float, seconds: float
) -> None:
    low, high = min(first, second, new) - 1e-9, max(first, second, new) + 1e-9
    for found in transients.two_volumes_washout(first, second, new, flow, v1, v2, seconds):
        assert low <= found <= high


@given(salts, salts, st.floats(1.0, 200.0), volumes, st.floats(1.0, 600.0))
def test_equal_volumes_are_no_special_case(
    start: float, new: float, flow: float, volume: float, seconds: float
) -> None:
    equal = transients.two_volumes_washout(start, start, new, flow, volume, volume, seconds)
    nearly = transients.two_volumes_washout(start, start, new, flow, volume, volume * (1 + 1e-9), seconds)
    assert equal == pytest.approx(nearly, rel=1e-6, abs=1e-6)


def test_a_small_step_integrated_many_times_is_the_closed_form() -> None:
    # Euler's method with 10 ms steps, written from the balance of two stirred volumes.
    one, two, new, step = 20.0, 20.0, 0.36, 0.01
    for _ in range(6000):
        flow = 60.0 / 3600.0
        one, two = one + step * flow / 0.35 * (new - one), two + step * flow / 0.25 * (one - two)
    found = transients.two_volumes_washout(20.0, 20.0, 0.36, 60.0, 0.35, 0.25, 60.0)
    assert found == pytest.approx((one, two), rel=2e-3)


def test_without_flow_nothing_changes() -> None:
    assert transients.two_volumes_washout(20.0, 3.0, 0.3, 0.0, 0.35, 0.25, 900.0) == (20.0, 3.0)


def test_the_time_until_the_probe_sees_good_water() -> None:
    # Two stirred volumes, closed form: below 1 g/L after 96 s, below 0.5 g/L after 129 s.
    assert transients.seconds_until_below(1.0, 20.0, 0.36, 60.0, 0.35, 0.25) == pytest.approx(95.6, abs=0.1)
    assert transients.seconds_until_below(0.5, 20.0, 0.36, 60.0, 0.35, 0.25) == pytest.approx(129.0, abs=1.0)
    assert transients.seconds_until_below(25.0, 20.0, 0.36, 60.0, 0.35, 0.25) == 0.0


@pytest.mark.parametrize(("target", "flow"), [(0.3, 60.0), (1.0, 0.0)])
def test_a_concentration_never_reached_is_refused(target: float, flow: float) -> None:
    with pytest.raises(Unsolvable, match=f"{target:g} is never reached: the water flowing in has 0.36 at {flow:g} L/h"):
        transients.seconds_until_below(target, 20.0, 0.36, flow, 0.35, 0.25)


def test_salt_seeps_through_an_element_at_rest_within_the_hour() -> None:
    start, half_hour, day = (
        transients.standstill(0.36, 39.0, 0.184871, 2.6, 0.35, seconds) for seconds in (0.0, 1800.0, 86_400.0)
    )
    assert start == pytest.approx(0.36)
    assert half_hour == pytest.approx(19.55, abs=0.05)
    assert day == pytest.approx(39.0)


def test_osmosis_sucks_product_back_at_stop_and_pressure_holds_it() -> None:
    feed, product = seawater.osmotic_pressure_bar(38.0, 24.0), seawater.osmotic_pressure_bar(0.36, 24.0)
    assert transients.suck_back_l_h(1.555, 2.6, feed, product) == pytest.approx(112.0, abs=2.0)
    assert transients.suck_back_l_h(1.555, 2.6, feed, product, 55.0) == 0.0
    assert transients.suck_back_l_h(1.555, 2.6, product, product) == 0.0


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((20.0, 0.3, -1.0, 0.35, 1.0), "flow is -1 L/h"),
        ((20.0, 0.3, 60.0, 0.0, 1.0), "volume is 0 L"),
        ((20.0, 0.3, 60.0, 0.35, math.nan), "time is nan s"),
    ],
)
def test_an_impossible_washout_is_refused(arguments: tuple[float, ...], message: str) -> None:
    with pytest.raises(OutOfRange, match=message):
        transients.washout(*arguments)
