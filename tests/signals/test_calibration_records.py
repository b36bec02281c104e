"""Calibrations: made from points, refused when not believable, kept with who and when."""

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.signals.calibration import IDENTITY, Calibration, k_factor, span_point, two_point, zero_point

WHO = {"date": "2026-03-21", "initials": "ab"}


def test_no_calibration_changes_nothing() -> None:
    assert IDENTITY.apply(12.5) == 12.5


def test_a_zero_moves_the_scale_and_keeps_the_slope() -> None:
    made = zero_point(0.8, sensor_span=100.0, **WHO, before=Calibration(span=1.02))
    assert made.apply(0.8) == pytest.approx(0.0)
    assert made.span == 1.02
    assert made.before == (pytest.approx(0.816),)
    assert made.after == (pytest.approx(0.0),)
    assert made.initials == "ab"


def test_a_zero_may_be_set_to_a_known_head() -> None:
    assert zero_point(0.25, 0.1, sensor_span=5.0, **WHO).apply(0.25) == pytest.approx(0.1)


def test_a_span_turns_the_scale_about_its_zero() -> None:
    made = span_point(61.0, 60.0, sensor_span=100.0, **WHO, before=Calibration(zero=1.0))
    assert made.apply(61.0) == pytest.approx(60.0)
    assert made.apply(1.0) == pytest.approx(0.0)


def test_two_points_give_a_line() -> None:
    made = two_point(0.5, 0.0, 56.5, 55.0, sensor_span=100.0, **WHO)
    assert made.apply(0.5) == pytest.approx(0.0)
    assert made.apply(56.5) == pytest.approx(55.0)
    assert made.points == ((0.5, 0.0), (56.5, 55.0))
    assert made.before == (0.5, 56.5)
    assert made.after == (pytest.approx(0.0), pytest.approx(55.0))


def test_a_bucket_corrects_the_k_factor() -> None:
    made = k_factor(10.5, 10.0, pulses_per_l=450.0, **WHO)
    assert made.pulses_per_l == pytest.approx(472.5)


def test_an_offset_beyond_a_tenth_of_the_span_is_a_fault_and_no_zero() -> None:
    with pytest.raises(ValueError, match="the zero is off by 12, more than 10: check what was typed, then sensor"):
        zero_point(12.0, sensor_span=100.0, **WHO)


def test_points_too_close_say_nothing_about_the_slope() -> None:
    with pytest.raises(ValueError, match="too close together: take them at least 10 apart"):
        two_point(50.0, 50.0, 55.0, 55.0, sensor_span=100.0, **WHO)
    with pytest.raises(ValueError, match="take a point at least 10 from zero"):
        span_point(5.0, 5.2, sensor_span=100.0, **WHO)


def test_an_unbelievable_slope_is_refused() -> None:
    with pytest.raises(ValueError, match=r"span is -1; allowed is 0\.5 to 2"):
        two_point(0.0, 55.0, 55.0, 0.0, sensor_span=100.0, **WHO)
    with pytest.raises(ValueError, match=r"span is 3; allowed is 0\.5 to 2"):
        span_point(20.0, 60.0, sensor_span=100.0, **WHO)


def test_a_bucket_that_disagrees_by_more_than_a_third_is_refused() -> None:
    with pytest.raises(ValueError, match="check meter, wiring and K-factor"):
        k_factor(20.0, 10.0, pulses_per_l=450.0, **WHO)
    with pytest.raises(ValueError, match=r"litres in the bucket is 0\.1"):
        k_factor(1.0, 0.1, pulses_per_l=450.0, **WHO)


def test_somebody_signs() -> None:
    with pytest.raises(ValueError, match="needs the initials of who made it"):
        zero_point(0.1, sensor_span=100.0, date="2026-03-21", initials=" ")
    with pytest.raises(ValueError, match="initials are longer than 16 characters"):
        Calibration(initials="somebody with a long name")


def test_a_date_is_a_date_or_unknown() -> None:
    assert Calibration(date="").date == ""
    assert Calibration(date="2026-03-21T10:00:00Z").date.startswith("2026")
    with pytest.raises(ValueError, match="'yesterday' is no date; write it as 2026-03-21"):
        Calibration(date="yesterday")


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_numbers_that_are_none_are_refused_everywhere(number: float) -> None:
    for made in (
        lambda: Calibration(zero=number),
        lambda: Calibration(span=number),
        lambda: Calibration(pulses_per_l=number),
        lambda: Calibration(points=((number, 1.0),)),
        lambda: zero_point(number, sensor_span=100.0, **WHO),
        lambda: two_point(0.0, number, 50.0, 50.0, sensor_span=100.0, **WHO),
    ):
        with pytest.raises(ValueError, match="allowed is"):
            made()


def test_a_file_that_holds_something_else_is_refused() -> None:
    with pytest.raises(ValueError, match="a calibration has no slope; calibrate the channel again"):
        Calibration.from_dict({"slope": 1.0})
    for plain in ({"zero": "0"}, {"span": True}, {"points": 3}, {"date": 20260321}, {"before": [None]}):
        with pytest.raises(ValueError, match="damaged"):
            Calibration.from_dict(plain)
    with pytest.raises(ValueError, match="damaged"):
        Calibration.from_dict({"points": [[1.0]]})


@given(
    raw1=st.floats(-9.0, 9.0),
    raw2=st.floats(40.0, 100.0),
    zero=st.floats(-4.0, 4.0),
    span=st.floats(0.6, 1.8),
)
def test_a_calibration_survives_its_file_and_undoes_itself(raw1: float, raw2: float, zero: float, span: float) -> None:
    made = two_point(raw1, (raw1 - zero) * span, raw2, (raw2 - zero) * span, sensor_span=100.0, **WHO)
    assert Calibration.from_dict(json.loads(json.dumps(made.to_dict()))) == made
    assert made.unapply(made.apply(33.0)) == pytest.approx(33.0)
    assert made.zero == pytest.approx(zero, abs=1e-6)
