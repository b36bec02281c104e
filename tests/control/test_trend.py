"""Rises and noise at whatever spacing of the ticks, and of whatever numbers."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.control.quality import QualityJudge
from halocline.signals.noise import Noise
from halocline.signals.trend import Mean, PressureRate, Rise, Span


@given(st.floats(0.02, 0.9), st.floats(5.0, 20.0), st.floats(-2.0, 2.0))
def test_a_steady_rise_is_known_after_a_window_at_any_spacing_of_the_ticks(tick_s, window_s, per_s):
    rise = Rise(window_s)
    now_s = 100.0
    while now_s < 100.0 + window_s + 2 * tick_s:
        seen = rise.update(per_s * now_s, now_s)
        now_s += tick_s
    assert rise.is_whole
    # The halves are as wide as the ticks let them be.
    assert seen == pytest.approx(per_s * window_s, abs=abs(per_s) * 3 * tick_s + 1e-6)


@given(st.lists(st.floats(0.01, 0.4), min_size=100, max_size=150))
def test_what_is_known_stays_known_while_ticks_come_early_and_late(spacings_s):
    mean, rise, rate = Mean(1.0), Rise(1.0), PressureRate()
    now_s, since_s = 0.0, None
    for spacing_s in spacings_s:
        now_s += spacing_s
        seen = (mean.update(5.0, now_s), rise.update(5.0, now_s), rate.update(5.0, now_s))
        if since_s is None and None not in seen and rise.is_whole:
            since_s = now_s
        if since_s is not None:
            assert seen == (pytest.approx(5.0), pytest.approx(0.0, abs=1e-9), pytest.approx(0.0, abs=1e-9))
            assert rise.is_whole
    assert since_s is not None or now_s < 2.0


@given(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=5, max_size=30))
def test_no_number_makes_noise_fail_or_look_like_calm(values):
    noise = Noise(least=1.0)
    for place, value in enumerate(values):
        noise.update(value, place * 0.5)
        assert noise.present >= noise.usual >= 1.0
        assert not math.isnan(noise.present)


def test_a_mean_that_is_no_number_is_never_taken_for_good_water():
    judge = QualityJudge(60.0)
    judge.salt.mean = math.nan
    assert judge._above_accept(300.0, 500.0)
    judge.salt.mean = 300.0
    assert not judge._above_accept(300.0, 500.0)


@given(st.lists(st.tuples(st.floats(0.01, 2.0), st.floats(-5.0, 5.0)), min_size=1, max_size=80))
def test_the_span_is_that_of_every_value_within_the_window(steps):
    span, now_s, seen = Span(3.0), 100.0, []
    for spacing_s, value in steps:
        now_s += spacing_s
        seen.append((now_s, value))
        within = [each for at_s, each in seen if now_s - at_s <= 3.0]
        assert span.update(value, now_s) == max(within) - min(within)
    span.clear()
    assert span.update(7.0, now_s) == 0.0
