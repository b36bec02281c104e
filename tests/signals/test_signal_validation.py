"""A channel's reading: what it says, what it is worth, and when it stops being worth anything."""

import math
import random
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.physics.conductivity import at_25c
from halocline.plant.sensors import (
    CurrentLoop,
    Input,
    Pulses,
    Ratiometric,
    ResistiveSender,
    Thermistor,
    Voltage,
)
from halocline.plant.vocabulary import VALUED_QUALITIES, Quality, Reading
from halocline.signals.calibration import Calibration
from halocline.signals.formulas import beta_resistance_ohm
from halocline.signals.plausibility import RateLimit
from halocline.signals.signal_validation import ChannelValidator

AT = {"address": 0x48, "mux": 0}
LSB_V = 125e-6
PRESSURE = CurrentLoop(**AT, low=0.0, high=100.0, error=0.5, smoothing_s=0.0)
FEED = CurrentLoop(**AT, low=-1.0, high=4.0, error=0.02, smoothing_s=0.0)
SALT = CurrentLoop(**AT, low=0.0, high=30_000.0, error=90.0, smoothing_s=0.0)
WATER = Thermistor(**AT, low=-2.0, high=50.0, error=0.3, smoothing_s=0.0)
TANK = ResistiveSender(**AT, low=0.0, high=100.0, error=3.0, empty_ohm=10.0, full_ohm=180.0)
RATIO = Ratiometric(
    **AT, low=0.0, high=100.0, error=0.5, divider=1.5, smoothing_s=0.0, supply_address=0x48, supply_mux=3
)
BATTERY = Voltage(**AT, low=0.0, high=16.0, error=0.1, volts_high=16.0, divider=5.0)
METER = Pulses(pin=21, pulses_per_l=450.0, high=250.0)

CHANNELS: dict[str, Input] = {
    "vessel_pressure": PRESSURE,
    "feed_pressure": FEED,
    "product_conductivity": SALT,
    "sea_temperature": WATER,
    "tank_fill": TANK,
    "brine_pressure": RATIO,
    "battery_voltage": BATTERY,
}


def loop_v(value: float, sensor: CurrentLoop = PRESSURE) -> float:
    return (4.0 + 16.0 * (value - sensor.low) / (sensor.high - sensor.low)) * sensor.shunt_ohm / 1000.0


def water_v(temperature_c: float) -> float:
    ohm = beta_resistance_ohm(temperature_c, WATER.r25_ohm, WATER.beta_k)
    return WATER.supply_v * ohm / (WATER.pullup_ohm + ohm)


def tank_v(percent: float) -> float:
    ohm = 10.0 + 1.7 * percent
    return TANK.supply_v * ohm / (TANK.pullup_ohm + ohm)


def feed(
    judge: ChannelValidator,
    volts: float | Callable[[float], float | None] | None,
    *,
    start_s: float,
    seconds: float,
    step_s: float = 0.05,
    noise_v: float = 3 * LSB_V,
) -> float:
    """Gives the judge conversions at a steady rate with a living signal's noise; returns when it ended."""
    noise = random.Random(1)
    now_s = start_s
    for tick in range(1, round(seconds / step_s) + 1):
        now_s = start_s + tick * step_s
        sample = volts(now_s) if callable(volts) else volts
        judge.update(now_s, None if sample is None else sample + noise.uniform(-noise_v, noise_v))
    return now_s


def quality(judge: ChannelValidator, now_s: float) -> Quality:
    return judge.reading(now_s, 2.0).quality


def settled(channel: str, volts: float) -> tuple[ChannelValidator, float]:
    judge = ChannelValidator(channel, CHANNELS[channel])
    return judge, feed(judge, volts, start_s=0.0, seconds=2.0)


# ---- the ordinary reading -------------------------------------------------------------------------


def test_a_reading_carries_value_raw_unit_quality_and_age() -> None:
    judge = ChannelValidator("vessel_pressure", PRESSURE)
    judge.update(10.0, loop_v(55.0))
    seen = judge.reading(10.1, 0.15)
    assert seen == Reading(pytest.approx(55.0), loop_v(55.0), "bar", Quality.GOOD, pytest.approx(0.1))


def test_a_channel_never_sampled_is_missing() -> None:
    assert ChannelValidator("feed_pressure", FEED).reading(5.0, 2.0) == Reading(
        None, None, "bar", Quality.MISSING, None
    )


def test_a_reading_goes_stale_by_its_age_alone() -> None:
    judge = ChannelValidator("vessel_pressure", PRESSURE)
    judge.update(10.0, loop_v(55.0))
    assert quality(judge, 12.0) is Quality.GOOD
    stale = judge.reading(12.01, 2.0)
    assert (stale.value, stale.quality) == (None, Quality.STALE)
    assert stale.age_s == pytest.approx(2.01)


def test_a_stale_reading_is_good_again_with_the_next_sample() -> None:
    judge = ChannelValidator("vessel_pressure", PRESSURE)
    judge.update(10.0, loop_v(55.0))
    assert quality(judge, 20.0) is Quality.STALE
    judge.update(20.0, loop_v(54.0))
    assert judge.reading(20.0, 2.0).good == pytest.approx(54.0)


def test_a_sample_from_the_future_is_a_broken_clock() -> None:
    judge = ChannelValidator("vessel_pressure", PRESSURE)
    judge.update(10.0, loop_v(55.0))
    assert quality(judge, 9.9) is Quality.GOOD
    assert quality(judge, 5.0) is Quality.STALE


def test_an_age_limit_that_is_no_number_lets_nothing_pass() -> None:
    judge = ChannelValidator("vessel_pressure", PRESSURE)
    judge.update(10.0, loop_v(55.0))
    assert judge.reading(10.0, math.nan).good is None
    assert judge.reading(math.nan, 2.0).good is None


def test_smoothing_follows_its_time_constant() -> None:
    slow = CurrentLoop(**AT, low=0.0, high=100.0, error=0.5, smoothing_s=1.0)
    judge = ChannelValidator("vessel_pressure", slow)
    now_s = feed(judge, loop_v(10.0), start_s=0.0, seconds=5.0, noise_v=LSB_V)
    now_s = feed(judge, loop_v(20.0), start_s=now_s, seconds=1.0, noise_v=LSB_V, step_s=0.01)
    assert judge.reading(now_s, 2.0).good == pytest.approx(20.0 - 10.0 * math.exp(-1.0), abs=0.1)


def test_raw_stands_beside_calibrated() -> None:
    judge = ChannelValidator("vessel_pressure", PRESSURE, Calibration(zero=1.0, span=1.1))
    judge.update(0.0, loop_v(51.0))
    seen = judge.reading(0.0, 2.0)
    assert seen.value == pytest.approx(55.0)
    assert seen.raw == loop_v(51.0)
    assert judge.uncalibrated() == pytest.approx(51.0)


def test_nothing_is_calibrated_from_a_bad_reading() -> None:
    judge = ChannelValidator("vessel_pressure", PRESSURE)
    assert judge.uncalibrated() is None
    judge.update(0.0, 0.0)
    assert judge.uncalibrated() is None


def test_statistics_are_the_extremes_since_the_last_row() -> None:
    judge = ChannelValidator("vessel_pressure", PRESSURE)
    assert judge.take_statistics() == (None, None)
    for tick, bar in enumerate((50.0, 61.0, 55.0)):
        judge.update(tick * 0.05, loop_v(bar))
    assert judge.take_statistics() == (pytest.approx(50.0), pytest.approx(61.0))
    assert judge.take_statistics() == (None, None)


# ---- electrical faults ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("volts", "fault"),
    [(0.0, Quality.OPEN), (0.53, Quality.OPEN), (3.2, Quality.SHORT), (4.0959, Quality.SHORT)],
)
def test_two_bad_samples_make_a_fault_and_one_does_not(volts: float, fault: Quality) -> None:
    judge, now_s = settled("vessel_pressure", loop_v(55.0))
    judge.update(now_s + 0.01, volts)
    assert judge.reading(now_s + 0.01, 0.15).good == pytest.approx(55.0, abs=0.1)
    judge.update(now_s + 0.02, volts)
    seen = judge.reading(now_s + 0.02, 0.15)
    assert (seen.value, seen.quality, seen.raw) == (None, fault, volts)


def test_one_bad_sample_is_a_fault_when_nothing_better_follows() -> None:
    judge, now_s = settled("vessel_pressure", loop_v(55.0))
    judge.update(now_s + 0.05, 0.0)
    assert quality(judge, now_s + 0.2) is Quality.GOOD
    assert quality(judge, now_s + 0.26) is Quality.OPEN


def test_the_first_sample_of_all_may_be_a_fault() -> None:
    judge = ChannelValidator("vessel_pressure", PRESSURE)
    judge.update(0.0, 0.0)
    assert quality(judge, 0.0) is Quality.OPEN


def test_a_fault_is_over_only_after_a_second_of_good_samples() -> None:
    judge, now_s = settled("vessel_pressure", loop_v(55.0))
    now_s = feed(judge, 0.0, start_s=now_s, seconds=1.0, noise_v=0.0)
    now_s = feed(judge, loop_v(55.0), start_s=now_s, seconds=0.9)
    assert quality(judge, now_s) is Quality.OPEN
    judge.update(now_s + 0.05, 0.0)
    now_s = feed(judge, loop_v(55.0), start_s=now_s + 0.05, seconds=0.95)
    assert quality(judge, now_s) is Quality.OPEN
    now_s = feed(judge, loop_v(55.0), start_s=now_s, seconds=0.2)
    assert quality(judge, now_s) is Quality.GOOD


@pytest.mark.parametrize("every", [2, 3])
def test_a_loose_wire_does_not_get_away_with_some_good_samples(every: int) -> None:
    judge, now_s = settled("feed_pressure", loop_v(2.0, FEED))
    noise = random.Random(7)
    for tick in range(1, 200):
        loose = noise.random() < 1.0 / every
        judge.update(now_s + tick * 0.05, 0.0 if loose else loop_v(2.0, FEED) + tick % 2 * LSB_V)
    assert quality(judge, now_s + 199 * 0.05) is Quality.OPEN


def test_a_value_at_the_rail_is_told_and_counts_as_the_top() -> None:
    judge, now_s = settled("vessel_pressure", loop_v(99.0))
    now_s = feed(judge, 20.8 * 0.15, start_s=now_s, seconds=0.2)
    seen = judge.reading(now_s, 2.0)
    assert seen.quality is Quality.OVER
    assert seen.value is not None
    assert seen.value >= 100.0
    assert seen.good is None


@pytest.mark.parametrize("volts", [None, math.nan, math.inf, -math.inf, 1e9])
def test_what_the_electronics_cannot_deliver_is_missing(volts: float | None) -> None:
    judge, now_s = settled("vessel_pressure", loop_v(55.0))
    judge.update(now_s + 0.05, volts)
    judge.update(now_s + 0.10, volts)
    seen = judge.reading(now_s + 0.1, 2.0)
    assert (seen.value, seen.quality) == (None, Quality.MISSING)
    assert seen.raw is not None
    assert math.isfinite(seen.raw)


def test_missing_stays_missing_however_old_it_gets() -> None:
    judge, now_s = settled("vessel_pressure", loop_v(55.0))
    now_s = feed(judge, None, start_s=now_s, seconds=30.0)
    assert quality(judge, now_s) is Quality.MISSING


def test_a_measured_supply_is_needed_and_compensates() -> None:
    judge = ChannelValidator("brine_pressure", RATIO)
    judge.update(0.0, 2.4 / 1.5)
    assert quality(judge, 0.0) is Quality.MISSING
    for tick in range(1, 30):
        judge.take_supply(tick * 0.05, 4.8 / 1.5)
        judge.update(tick * 0.05, 2.4 / 1.5 + tick % 2 * LSB_V)
    assert judge.reading(1.45, 2.0).good == pytest.approx(50.0, abs=0.01)
    assert judge.instant(2.4 / 1.5) == pytest.approx(50.0)
    feed(judge, 2.4 / 1.5, start_s=1.45, seconds=6.0)
    assert quality(judge, 7.45) is Quality.MISSING


# ---- stuck ----------------------------------------------------------------------------------------


def test_unchanged_codes_for_thirty_seconds_are_stuck() -> None:
    judge = ChannelValidator("vessel_pressure", PRESSURE)
    now_s = feed(judge, loop_v(55.0), start_s=0.0, seconds=29.0, noise_v=0.0)
    assert quality(judge, now_s) is Quality.GOOD
    now_s = feed(judge, loop_v(55.0), start_s=now_s, seconds=1.5, noise_v=0.0)
    assert quality(judge, now_s) is Quality.STUCK
    assert judge.reading(now_s, 2.0).value is None


def test_a_single_code_of_noise_is_life() -> None:
    judge = ChannelValidator("vessel_pressure", PRESSURE)
    now_s = feed(judge, lambda t: loop_v(55.0) + round(t / 5.0) % 2 * LSB_V, start_s=0.0, seconds=120.0, noise_v=0.0)
    assert quality(judge, now_s) is Quality.GOOD


def test_a_stuck_channel_that_moves_again_is_good_after_a_second() -> None:
    judge = ChannelValidator("vessel_pressure", PRESSURE)
    now_s = feed(judge, loop_v(55.0), start_s=0.0, seconds=31.0, noise_v=0.0)
    now_s = feed(judge, loop_v(50.0), start_s=now_s, seconds=0.5)
    assert quality(judge, now_s) is Quality.STUCK
    now_s = feed(judge, loop_v(50.0), start_s=now_s, seconds=1.0)
    assert quality(judge, now_s) is Quality.GOOD


def test_at_rest_a_signal_may_stand_still() -> None:
    judge = ChannelValidator("vessel_pressure", PRESSURE)
    judge.expect_rest()
    now_s = feed(judge, loop_v(1.0), start_s=0.0, seconds=120.0, noise_v=0.0)
    assert quality(judge, now_s) is Quality.GOOD
    judge.expect_movement(now_s, "priming")
    now_s = feed(judge, loop_v(1.0), start_s=now_s, seconds=29.0, noise_v=0.0)
    assert quality(judge, now_s) is Quality.GOOD
    now_s = feed(judge, loop_v(1.0), start_s=now_s, seconds=2.0, noise_v=0.0)
    assert quality(judge, now_s) is Quality.STUCK


def test_a_pump_that_started_must_show_in_a_living_signal_at_once() -> None:
    judge = ChannelValidator("vessel_pressure", PRESSURE)
    now_s = feed(judge, loop_v(1.0), start_s=0.0, seconds=10.0, noise_v=0.0)
    for _ in range(3):
        judge.expect_movement(now_s, "pump started", within_s=3.0)
        now_s = feed(judge, loop_v(1.0), start_s=now_s, seconds=0.9, noise_v=0.0)
    assert quality(judge, now_s) is Quality.GOOD
    now_s = feed(judge, loop_v(1.0), start_s=now_s, seconds=0.5, noise_v=0.0)
    assert quality(judge, now_s) is Quality.STUCK


def test_a_movement_that_came_is_not_asked_for_again() -> None:
    judge, now_s = settled("vessel_pressure", loop_v(1.0))
    judge.expect_movement(now_s, "pump started", within_s=3.0)
    now_s = feed(judge, loop_v(8.0), start_s=now_s, seconds=1.0)
    now_s = feed(judge, loop_v(8.0), start_s=now_s, seconds=10.0, noise_v=0.0)
    assert quality(judge, now_s) is Quality.GOOD


def test_an_input_on_ground_has_no_noise_to_show() -> None:
    plain = Voltage(**AT, low=0.0, high=50.0, error=0.5, volts_high=5.0, divider=2.0)
    judge = ChannelValidator("motor_current", plain)
    now_s = feed(judge, 0.0, start_s=0.0, seconds=60.0, noise_v=0.0)
    assert judge.reading(now_s, 2.0).good == pytest.approx(0.0)


# ---- impossible -----------------------------------------------------------------------------------


def test_water_cannot_jump_ten_degrees_but_a_level_that_holds_is_believed() -> None:
    judge, now_s = settled("sea_temperature", water_v(20.0))
    now_s = feed(judge, water_v(30.0), start_s=now_s, seconds=0.5)
    assert quality(judge, now_s) is Quality.IMPLAUSIBLE
    now_s = feed(judge, water_v(30.0), start_s=now_s, seconds=2.0)
    assert judge.reading(now_s, 2.0).good == pytest.approx(30.0, abs=0.1)


def test_a_single_spike_is_left_out() -> None:
    judge, now_s = settled("sea_temperature", water_v(20.0))
    judge.update(now_s + 0.05, water_v(40.0))
    judge.update(now_s + 0.10, water_v(20.0) + LSB_V)
    assert judge.reading(now_s + 0.1, 2.0).good == pytest.approx(20.0, abs=0.1)
    assert (judge.take_statistics()[1] or math.inf) < 21.0


def test_water_that_warms_at_its_own_pace_is_believed() -> None:
    judge, now_s = settled("sea_temperature", water_v(20.0))
    start_s = now_s
    for _ in range(20):
        now_s = feed(judge, lambda t: water_v(20.0 + 1.5 * (t - start_s)), start_s=now_s, seconds=0.5)
        assert quality(judge, now_s) is Quality.GOOD


@pytest.mark.parametrize("channel", ["vessel_pressure", "feed_pressure"])
def test_no_rise_of_pressure_is_too_fast_to_be_true(channel: str) -> None:
    sensor = CHANNELS[channel]
    assert isinstance(sensor, CurrentLoop)
    judge, now_s = settled(channel, loop_v(sensor.low + 0.1, sensor))
    judge.update(now_s + 0.001, loop_v(sensor.high, sensor))
    assert judge.reading(now_s + 0.001, 0.15).good == pytest.approx(sensor.high)


@pytest.mark.parametrize("channel", ["vessel_pressure", "feed_pressure", "product_conductivity"])
def test_garbage_is_never_good_for_long(channel: str) -> None:
    judge, now_s = settled(channel, loop_v(10.0, SALT) if channel == "product_conductivity" else 1.5)
    noise = random.Random(3)
    good = 0
    for tick in range(1, 401):
        judge.update(now_s + tick * 0.05, noise.uniform(0.0, 4.096))
        good += tick > 40 and quality(judge, now_s + tick * 0.05) is Quality.GOOD
    assert good <= 4


def test_garbage_inside_the_span_is_seen_too() -> None:
    judge, now_s = settled("vessel_pressure", loop_v(50.0))
    noise = random.Random(5)
    for tick in range(1, 101):
        judge.update(now_s + tick * 0.05, noise.uniform(loop_v(0.0), loop_v(100.0)))
    assert quality(judge, now_s + 5.0) is Quality.IMPLAUSIBLE


def test_salt_that_arrives_at_once_is_believed_and_salt_that_vanishes_is_not() -> None:
    judge, now_s = settled("product_conductivity", loop_v(500.0, SALT))
    now_s = feed(judge, loop_v(20_000.0, SALT), start_s=now_s, seconds=0.1)
    assert quality(judge, now_s) is Quality.GOOD
    now_s = feed(judge, loop_v(400.0, SALT), start_s=now_s, seconds=0.1)
    assert quality(judge, now_s) is Quality.IMPLAUSIBLE


def test_an_own_rate_limit_replaces_the_table() -> None:
    judge = ChannelValidator("vessel_pressure", PRESSURE, rate=RateLimit(None, 1.0, 0.5))
    now_s = feed(judge, loop_v(50.0), start_s=0.0, seconds=2.0)
    now_s = feed(judge, loop_v(40.0), start_s=now_s, seconds=0.2)
    assert quality(judge, now_s) is Quality.IMPLAUSIBLE


# ---- conductivity ---------------------------------------------------------------------------------


def test_a_dry_cell_reads_like_perfect_water_and_is_implausible() -> None:
    judge, now_s = settled("product_conductivity", loop_v(400.0, SALT))
    now_s = feed(judge, loop_v(0.0, SALT), start_s=now_s, seconds=0.1, noise_v=LSB_V)
    seen = judge.reading(now_s, 2.0)
    assert (seen.value, seen.quality) == (None, Quality.IMPLAUSIBLE)
    assert judge.instant(loop_v(0.0, SALT)) is None


def test_the_floor_can_be_set() -> None:
    judge = ChannelValidator("product_conductivity", SALT, floor=100.0)
    judge.update(0.0, loop_v(80.0, SALT))
    assert quality(judge, 0.0) is Quality.IMPLAUSIBLE


@pytest.mark.parametrize("method", ["natural", "nacl", "linear"])
@pytest.mark.parametrize("temperature_c", [3.0, 12.0, 25.0, 33.0])
def test_conductivity_is_referred_to_25_degrees_once(method: str, temperature_c: float) -> None:
    sensor = CurrentLoop(**AT, low=0.0, high=30_000.0, error=90.0, compensation=method)  # type: ignore[arg-type]
    judge = ChannelValidator("product_conductivity", sensor)
    judge.update(0.0, loop_v(800.0, SALT))
    seen = judge.reading(0.0, 2.0, temperature_c=temperature_c)
    assert seen.good == pytest.approx(at_25c(800.0, temperature_c, method))  # type: ignore[arg-type]
    assert judge.take_statistics()[0] == pytest.approx(seen.good)


def test_a_transmitter_that_compensates_is_left_alone() -> None:
    sensor = CurrentLoop(**AT, low=0.0, high=30_000.0, error=90.0, compensation="done")
    judge = ChannelValidator("product_conductivity", sensor)
    judge.update(0.0, loop_v(800.0, SALT))
    for temperature_c in (None, 5.0, 35.0):
        assert judge.reading(0.0, 2.0, temperature_c=temperature_c).good == pytest.approx(800.0)


@pytest.mark.parametrize("temperature_c", [None, math.nan, math.inf, -40.0, 90.0])
def test_an_unknown_temperature_counts_as_cold_water(temperature_c: float | None) -> None:
    judge = ChannelValidator("product_conductivity", SALT)
    judge.update(0.0, loop_v(800.0, SALT))
    assert judge.reading(0.0, 2.0, temperature_c=20.0).good == pytest.approx(at_25c(800.0, 20.0))
    assert judge.reading(0.0, 2.0, temperature_c=temperature_c).good == pytest.approx(at_25c(800.0, 5.0))


@pytest.mark.parametrize("temperature_c", [-1.5, 40.0])
def test_natural_compensation_reaches_beyond_its_table(temperature_c: float) -> None:
    sensor = CurrentLoop(**AT, low=0.0, high=30_000.0, error=90.0, compensation="natural")
    judge = ChannelValidator("product_conductivity", sensor)
    judge.update(0.0, loop_v(800.0, SALT))
    seen = judge.reading(0.0, 2.0, temperature_c=temperature_c)
    assert seen.good == pytest.approx(at_25c(800.0, temperature_c, "nacl"))


def test_conductivity_is_never_negative() -> None:
    judge = ChannelValidator("product_conductivity", SALT)
    judge.update(0.0, 3.7 * 0.15)
    seen = judge.reading(0.0, 2.0, temperature_c=20.0)
    assert (seen.value, seen.quality) == (0.0, Quality.UNDER)


# ---- fast comparison ------------------------------------------------------------------------------


def test_the_instant_value_knows_no_smoothing_and_no_debounce() -> None:
    judge, _ = settled("vessel_pressure", loop_v(55.0))
    assert judge.instant(loop_v(70.0)) == pytest.approx(70.0)
    assert judge.instant(20.9 * 0.15) == pytest.approx(105.625)
    assert ChannelValidator("vessel_pressure", PRESSURE, Calibration(zero=9.0)).instant(20.9 * 0.15) == 100.0


@pytest.mark.parametrize("volts", [None, math.nan, math.inf, 0.0, 3.3])
def test_an_unusable_conversion_has_no_instant_value(volts: float | None) -> None:
    judge, _ = settled("vessel_pressure", loop_v(55.0))
    assert judge.instant(volts) is None


# ---- tank and flow --------------------------------------------------------------------------------


def test_sloshing_does_not_move_the_tank() -> None:
    judge = ChannelValidator("tank_fill", TANK)
    now_s = feed(judge, lambda t: tank_v(60.0 + 25.0 * math.sin(1.9 * t)), start_s=0.0, seconds=90.0)
    assert judge.reading(now_s, 2.0).good == pytest.approx(60.0, abs=8.0)


def test_an_analogue_flow_is_added_up() -> None:
    sensor = CurrentLoop(**AT, low=0.0, high=100.0, error=1.0)
    judge = ChannelValidator("product_flow", sensor)
    feed(judge, loop_v(60.0), start_s=0.0, seconds=60.0)
    assert judge.take_litres() == pytest.approx(1.0, rel=0.01)
    feed(judge, 0.0, start_s=60.0, seconds=60.0)
    assert judge.take_litres() == pytest.approx(0.0, abs=0.01)


def test_a_gap_in_an_analogue_flow_is_not_counted() -> None:
    judge = ChannelValidator("product_flow", CurrentLoop(**AT, low=0.0, high=100.0, error=1.0))
    judge.update(0.0, loop_v(60.0))
    judge.update(600.0, loop_v(60.0))
    assert judge.take_litres() == 0.0


def test_pulses_become_a_reading_in_litres_an_hour_and_hertz() -> None:
    judge = ChannelValidator("product_flow", METER)
    for tick in range(200):
        now_s = tick * 0.05
        pulses = int(now_s * 7.5 + 1e-9)
        judge.take_pulses(now_s, pulses, pulses / 7.5)
    seen = judge.reading(9.95, 2.0)
    assert seen.good == pytest.approx(60.0)
    assert (seen.raw, seen.unit) == (pytest.approx(7.5), "L/h")
    assert judge.take_litres() == pytest.approx(74 / 450.0)
    assert not judge.estimated
    assert judge.take_statistics()[1] == pytest.approx(60.0)


def test_a_k_factor_from_the_bucket_counts() -> None:
    judge = ChannelValidator("product_flow", METER, Calibration(pulses_per_l=500.0))
    judge.take_pulses(0.0, 0, 0.0)
    judge.take_pulses(10.0, 500, 10.0)
    assert judge.take_litres() == pytest.approx(1.0)


def test_no_pulses_is_a_good_reading_of_no_flow_and_no_look_is_stale() -> None:
    judge = ChannelValidator("product_flow", METER)
    for tick in range(100):
        judge.take_pulses(tick * 0.05, 0, 0.0)
    assert judge.reading(4.95, 2.0).good == 0.0
    assert quality(judge, 7.0) is Quality.STALE


def test_a_burst_makes_the_flow_implausible_until_a_second_of_peace() -> None:
    judge = ChannelValidator("product_flow", METER)
    judge.take_pulses(0.0, 0, 0.0)
    judge.take_pulses(0.05, 200, 0.05)
    judge.take_pulses(0.10, 400, 0.10)
    assert quality(judge, 0.1) is Quality.IMPLAUSIBLE
    assert judge.estimated
    for tick in range(3, 60):
        judge.take_pulses(tick * 0.05, 400, 0.10)
    assert judge.reading(2.95, 2.0).good == 0.0


def test_a_meter_beyond_its_range_is_over() -> None:
    judge = ChannelValidator("product_flow", METER)
    for tick in range(100):
        judge.take_pulses(tick * 0.05, tick * 2, tick * 0.05)
    assert judge.reading(4.95, 2.0).quality is Quality.OVER


def test_a_pulse_pin_that_cannot_be_read_is_missing() -> None:
    judge = ChannelValidator("product_flow", METER)
    judge.take_pulses(0.0, None, 0.0)
    assert quality(judge, 0.0) is Quality.MISSING


def test_pulses_and_volts_are_not_mistaken_for_each_other() -> None:
    with pytest.raises(ValueError, match="vessel_pressure is not read by pulses; its input is 'current_loop'"):
        ChannelValidator("vessel_pressure", PRESSURE).take_pulses(0.0, 1, 0.0)
    meter = ChannelValidator("product_flow", METER)
    meter.update(0.0, 1.0)
    assert quality(meter, 0.0) is Quality.MISSING
    assert meter.instant(1.0) is None
    assert ChannelValidator("vessel_pressure", PRESSURE).take_litres() == 0.0


# ---- whatever comes -------------------------------------------------------------------------------

ANY_VOLTS = st.one_of(st.none(), st.floats(allow_nan=True, allow_infinity=True), st.floats(-0.1, 4.2), st.just(1.8))


@given(
    channel=st.sampled_from(sorted(CHANNELS)),
    samples=st.lists(st.tuples(st.floats(0.0, 3.0), ANY_VOLTS), max_size=30),
    temperature_c=st.one_of(st.none(), st.floats()),
    age_s=st.floats(0.0, 5.0),
)
def test_any_volts_give_a_reading_that_keeps_the_rules(
    channel: str,
    samples: list[tuple[float, float | None]],
    temperature_c: float | None,
    age_s: float,
) -> None:
    judge = ChannelValidator(channel, CHANNELS[channel])
    now_s = 100.0
    for passed_s, volts in samples:
        now_s += passed_s
        judge.update(now_s, volts)
        judge.take_supply(now_s, volts)
        seen = judge.reading(now_s + age_s, 2.0, temperature_c=temperature_c)
        assert (seen.value is not None) == (seen.quality in VALUED_QUALITIES)
        for number in (seen.value, seen.raw, seen.age_s, judge.instant(volts), *judge.take_statistics()):
            assert number is None or math.isfinite(number)
        if age_s > 2.0:
            assert seen.quality is not Quality.GOOD


@given(
    channel=st.sampled_from(sorted(CHANNELS)),
    samples=st.lists(st.sampled_from([math.nan, math.inf, -math.inf, None, 1e30, -8.0]), min_size=1),
)
def test_what_is_no_number_is_never_good(channel: str, samples: list[float | None]) -> None:
    judge = ChannelValidator(channel, CHANNELS[channel])
    for tick, volts in enumerate(samples):
        judge.update(tick * 0.05, volts)
        assert judge.reading(tick * 0.05, 2.0).good is None


@given(st.lists(st.tuples(st.floats(0.0, 3.0), st.integers(0, 2000), st.floats()), max_size=30))
def test_any_pulses_give_a_reading_that_keeps_the_rules(train: list[tuple[float, int, float]]) -> None:
    judge = ChannelValidator("product_flow", METER)
    now_s = 0.0
    for passed_s, count, edge_s in train:
        now_s += passed_s
        judge.take_pulses(now_s, count, edge_s)
        seen = judge.reading(now_s, 2.0)
        assert (seen.value is not None) == (seen.quality in VALUED_QUALITIES)
        assert seen.value is None or 0.0 <= seen.value < math.inf
        assert judge.take_litres() >= 0.0
        assert judge.reading(now_s + 2.1, 2.0).good is None


def test_a_peak_is_the_highest_single_sample_since_it_was_last_asked_for() -> None:
    """Smoothing leaves nothing of one sample of many; a sample that is no good is no peak."""
    sensor = CurrentLoop(**AT, low=0.0, high=100.0, error=0.5, smoothing_s=2.0)
    judge = ChannelValidator("brine_pressure", sensor)
    assert judge.take_peak() is None
    for step in range(100):
        judge.update(step * 0.05, loop_v(20.0 if step != 50 else 40.0))
    assert judge.take_peak() == pytest.approx(40.0, abs=0.01)
    assert judge.reading(4.95, 1.0).value == pytest.approx(20.0, abs=0.5)
    assert judge.take_peak() is None
    judge.update(5.05, None)
    judge.update(5.1, loop_v(25.0))
    assert judge.take_peak() == pytest.approx(25.0, abs=0.01)
