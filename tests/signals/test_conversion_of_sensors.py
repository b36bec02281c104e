"""Volts of every sensor kind become a value and an electrical verdict."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.plant.sensors import (
    CurrentLoop,
    Input,
    Pulses,
    Ratiometric,
    ResistiveSender,
    Thermistor,
    Voltage,
)
from halocline.plant.vocabulary import VALUED_QUALITIES, Quality
from halocline.signals.conversion import Sample, converter_for, saturation_v
from halocline.signals.formulas import beta_resistance_ohm, volume_fraction

AT = {"address": 0x48, "mux": 0}
LOOP = CurrentLoop(**AT, low=0.0, high=100.0, error=0.5)
RATIO = Ratiometric(**AT, low=0.0, high=100.0, error=0.5, divider=1.5)
MEASURED_RATIO = Ratiometric(**AT, low=0.0, high=100.0, error=0.5, divider=1.5, supply_address=0x49, supply_mux=3)
BATTERY = Voltage(**AT, low=0.0, high=16.0, error=0.05, volts_high=16.0, divider=5.0)
CURRENT = Voltage(**AT, low=-200.0, high=200.0, error=2.0, volts_low=0.5, volts_high=4.5, divider=1.5)
WATER = Thermistor(**AT, low=-2.0, high=45.0, error=0.3)
MOTOR = Thermistor(**AT, low=-20.0, high=130.0, error=2.0)
EUROPEAN = ResistiveSender(**AT, low=0.0, high=100.0, error=3.0, empty_ohm=10.0, full_ohm=180.0)
AMERICAN = ResistiveSender(**AT, low=0.0, high=100.0, error=3.0, empty_ohm=240.0, full_ohm=33.0)
SENSORS: list[Input] = [LOOP, RATIO, MEASURED_RATIO, BATTERY, CURRENT, WATER, MOTOR, EUROPEAN, AMERICAN]


def sample(sensor: Input, volts: float, supply: float | None = None) -> Sample:
    return converter_for(sensor)(volts, supply)


def loop(milliamps: float, sensor: CurrentLoop = LOOP) -> Sample:
    return sample(sensor, milliamps * sensor.shunt_ohm / 1000.0)


def under_pullup(sensor: Thermistor | ResistiveSender, ohm: float) -> Sample:
    return sample(sensor, sensor.supply_v * ohm / (sensor.pullup_ohm + ohm))


@pytest.mark.parametrize(
    ("milliamps", "quality"),
    [
        (0.0, Quality.OPEN),
        (3.59, Quality.OPEN),
        (3.7, Quality.UNDER),
        (3.81, Quality.GOOD),
        (12.0, Quality.GOOD),
        (20.49, Quality.GOOD),
        (20.8, Quality.OVER),
        (21.1, Quality.SHORT),
        (27.0, Quality.SHORT),
    ],
)
def test_a_loop_reports_its_failures_by_its_current(milliamps: float, quality: Quality) -> None:
    assert loop(milliamps)[1] is quality


def test_a_loop_spans_four_to_twenty_milliamps() -> None:
    assert loop(4.0)[0] == pytest.approx(0.0)
    assert loop(12.0)[0] == pytest.approx(50.0)
    assert loop(20.0)[0] == pytest.approx(100.0)


def test_a_loop_whose_converter_saturates_is_over_and_never_good() -> None:
    coarse = CurrentLoop(**AT, low=0.0, high=100.0, error=0.5, gain_v=2.048, shunt_ohm=120.0)
    value, quality = sample(coarse, saturation_v(2.048))
    assert quality is Quality.OVER
    assert value == pytest.approx((2.048 / 0.12 - 4.0) / 16.0 * 100.0, rel=1e-3)


def test_a_ratiometric_sensor_follows_its_nominal_supply_where_none_is_measured() -> None:
    assert sample(RATIO, 2.5 / 1.5) == (pytest.approx(50.0), Quality.GOOD)


@pytest.mark.parametrize(
    ("part", "quality"),
    [
        (0.04, Quality.OPEN),
        (0.07, Quality.UNDER),
        (0.5, Quality.GOOD),
        (0.93, Quality.OVER),
        (0.96, Quality.SHORT),
    ],
)
def test_a_ratiometric_sensor_outside_its_tenth_to_nine_tenths(part: float, quality: Quality) -> None:
    assert sample(RATIO, part * 5.0 / 1.5)[1] is quality


def test_a_sagging_supply_does_not_move_a_ratiometric_value_when_it_is_measured() -> None:
    assert sample(MEASURED_RATIO, 2.4 / 1.5, supply=4.8 / 1.5) == (pytest.approx(50.0), Quality.GOOD)


def test_a_ratiometric_sensor_without_its_measured_supply_gives_nothing() -> None:
    assert sample(MEASURED_RATIO, 1.6, supply=None) == (None, Quality.MISSING)


@pytest.mark.parametrize("supply_v", [0.0, 3.0, 6.0])
def test_a_supply_far_from_nominal_makes_the_sensor_implausible(supply_v: float) -> None:
    assert sample(MEASURED_RATIO, 1.6, supply=supply_v / 1.5) == (None, Quality.IMPLAUSIBLE)


def test_a_battery_is_read_through_its_divider() -> None:
    assert sample(BATTERY, 2.6) == (pytest.approx(13.0), Quality.GOOD)
    assert sample(BATTERY, 3.4)[1] is Quality.OVER


def test_zero_volts_is_a_value_only_where_it_can_be_one() -> None:
    live = Voltage(**AT, low=0.0, high=16.0, error=0.1, volts_high=16.0, divider=5.0, live_zero=True)
    assert sample(BATTERY, 0.0) == (pytest.approx(0.0), Quality.GOOD)
    assert sample(live, 0.0) == (None, Quality.OPEN)


def test_a_span_that_begins_above_zero_knows_a_broken_wire_and_a_short_to_supply() -> None:
    assert sample(CURRENT, 0.0) == (None, Quality.OPEN)
    assert sample(CURRENT, 5.0 / 1.5) == (None, Quality.SHORT)
    assert sample(CURRENT, 0.35 / 1.5)[1] is Quality.UNDER
    assert sample(CURRENT, 2.5 / 1.5) == (pytest.approx(0.0), Quality.GOOD)


def test_a_grounded_input_may_read_a_few_codes_below_zero_but_not_more() -> None:
    assert sample(BATTERY, -3 * 125e-6)[1] is Quality.GOOD
    assert sample(BATTERY, -0.01) == (None, Quality.IMPLAUSIBLE)


def test_a_voltage_that_falls_with_the_value_is_read_the_right_way_round() -> None:
    falling = Voltage(**AT, low=0.0, high=10.0, error=0.1, volts_low=3.0, volts_high=1.0)
    assert sample(falling, 1.5) == (pytest.approx(7.5), Quality.GOOD)
    assert sample(falling, 3.2)[1] is Quality.UNDER


def test_a_thermistor_tells_temperature_open_and_short() -> None:
    assert under_pullup(WATER, 10_000.0) == (pytest.approx(25.0), Quality.GOOD)
    assert under_pullup(WATER, 900.0) == (None, Quality.SHORT)
    assert under_pullup(WATER, 110_000.0) == (None, Quality.OPEN)
    assert sample(WATER, 3.3) == (None, Quality.OPEN)
    assert sample(WATER, 0.0) == (None, Quality.SHORT)


def test_water_is_believed_between_its_ends_and_a_little_beyond() -> None:
    at = {
        degrees: under_pullup(WATER, beta_resistance_ohm(degrees, 10_000.0, 3950.0))
        for degrees in (-4.0, -1.0, 44.0, 48.0, 60.0)
    }
    assert at[-4.0][1] is Quality.UNDER
    assert at[-1.0] == (pytest.approx(-1.0), Quality.GOOD)
    assert at[44.0] == (pytest.approx(44.0), Quality.GOOD)
    assert at[48.0] == (pytest.approx(48.0), Quality.OVER)
    assert at[60.0] == (None, Quality.IMPLAUSIBLE)


def test_a_hot_motor_is_hot_and_not_a_short() -> None:
    hot = under_pullup(MOTOR, beta_resistance_ohm(120.0, 10_000.0, 3950.0))
    assert hot == (pytest.approx(120.0), Quality.GOOD)


def test_steinhart_hart_replaces_beta() -> None:
    exact = Thermistor(
        **AT,
        low=-2.0,
        high=45.0,
        error=0.1,
        steinhart_hart=(1.1252567e-3, 2.3472045e-4, 8.5630527e-8),
    )
    assert under_pullup(exact, 32_650.0)[0] == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize(
    ("sensor", "ohm", "value", "quality"),
    [
        (EUROPEAN, 0.0, 0.0, Quality.GOOD),  # a short cannot be told from empty
        (EUROPEAN, 95.0, 50.0, Quality.GOOD),
        (EUROPEAN, 188.0, 100.0, Quality.GOOD),
        (EUROPEAN, 220.0, 100.0, Quality.OVER),
        (EUROPEAN, 260.0, None, Quality.OPEN),
        (AMERICAN, 15.0, None, Quality.SHORT),
        (AMERICAN, 33.0, 100.0, Quality.GOOD),
        (AMERICAN, 240.0, 0.0, Quality.GOOD),
        (AMERICAN, 270.0, 0.0, Quality.UNDER),
        (AMERICAN, 310.0, None, Quality.OPEN),
    ],
)
def test_tank_senders_of_both_conventions(
    sensor: ResistiveSender, ohm: float, value: float | None, quality: Quality
) -> None:
    seen, judged = under_pullup(sensor, ohm)
    assert judged is quality
    assert seen == (None if value is None else pytest.approx(value, abs=1e-6))


def test_a_tank_that_is_no_box_follows_its_table() -> None:
    wedge = ((0.25, 0.1), (0.5, 0.3))
    assert volume_fraction(0.0, wedge) == 0.0
    assert volume_fraction(0.125, wedge) == pytest.approx(0.05)
    assert volume_fraction(0.5, wedge) == pytest.approx(0.3)
    assert volume_fraction(0.75, wedge) == pytest.approx(0.65)
    assert volume_fraction(1.0, wedge) == 1.0
    assert volume_fraction(0.4, ()) == pytest.approx(0.4)


def test_pulses_have_no_volts() -> None:
    meter = Pulses(pin=21, pulses_per_l=450.0, high=250.0)
    with pytest.raises(ValueError, match="'pulses' has no volts to convert; count its pulses"):
        converter_for(meter)


@given(
    sensor=st.sampled_from(SENSORS),
    volts=st.floats(-7.0, 7.0),
    supply=st.one_of(st.none(), st.floats(-7.0, 7.0)),
)
def test_a_value_is_there_exactly_for_good_under_and_over(sensor: Input, volts: float, supply: float | None) -> None:
    value, quality = sample(sensor, volts, supply)
    assert (value is not None) == (quality in VALUED_QUALITIES)


@given(sensor=st.sampled_from([LOOP, RATIO, BATTERY, CURRENT, WATER]), volts=st.floats(-7.0, 7.0))
def test_a_good_value_lies_in_or_near_the_span(sensor: Input, volts: float) -> None:
    value, quality = sample(sensor, volts, 5.0)
    span = sensor.high - sensor.low
    if quality is Quality.GOOD:
        assert value is not None
        assert sensor.low - 0.032 * span <= value <= sensor.high + 0.032 * span
