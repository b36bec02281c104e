"""Smoothing."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.signals.filters import LowPass, Median


def test_a_low_pass_starts_at_its_first_value_and_follows() -> None:
    smooth = LowPass(2.0)
    assert smooth.update(0.0, 10.0) == 10.0
    value = 10.0
    for tick in range(1, 201):
        value = smooth.update(tick * 0.01, 0.0)
    assert value == pytest.approx(10.0 * math.exp(-1.0), abs=0.05)


def test_no_time_constant_passes_everything() -> None:
    smooth = LowPass(0.0)
    assert [smooth.update(t, v) for t, v in ((0.0, 1.0), (0.0, 2.0), (0.1, 3.0))] == [1.0, 2.0, 3.0]


def test_a_second_value_in_the_same_instant_changes_nothing() -> None:
    smooth = LowPass(1.0)
    smooth.update(0.0, 1.0)
    assert smooth.update(0.0, 99.0) == 1.0


def test_a_median_forgets_what_is_older_than_its_window() -> None:
    median = Median(10.0)
    for second in range(11):
        median.update(float(second), 0.0)
    assert median.update(11.0, 5.0) == 0.0
    value = 0.0
    for second in range(12, 24):
        value = median.update(float(second), 5.0)
    assert value == 5.0


def test_a_median_takes_one_value_a_second() -> None:
    median = Median(30.0)
    median.update(0.0, 1.0)
    assert median.update(0.5, 100.0) == 1.0
    assert median.update(1.0, 3.0) == 2.0


@given(st.lists(st.tuples(st.floats(0.0, 5.0), st.floats(-100.0, 100.0)), min_size=1, max_size=50))
def test_smoothing_never_leaves_the_range_of_its_values(train: list[tuple[float, float]]) -> None:
    filters = (LowPass(1.5), Median(20.0))
    now_s, seen = 0.0, []
    for passed_s, value in train:
        now_s += passed_s
        seen.append(value)
        for smooth in filters:
            assert min(seen) - 1e-9 <= smooth.update(now_s, value) <= max(seen) + 1e-9
