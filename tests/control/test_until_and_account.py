"""`until` as a time from now; what a run made and what it cost."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hand_driven_plant import QUICK, Plant, quick_settings
from hypothesis import given
from hypothesis import strategies as st

from halocline.control.alarm_conditions import CONDITIONS
from halocline.control.run import Need, Run
from halocline.physics.conductivity import conductivity_25c_us_cm
from halocline.plant import words
from halocline.plant.until import seconds_until, with_resolved_until

NOON = datetime(2026, 7, 1, 12, 0, tzinfo=timezone(timedelta(hours=-1)))


@pytest.mark.parametrize(
    ("until", "seconds"),
    [
        ("18:30", 6.5 * 3600),
        ("12:00", 24 * 3600),
        ("11:59", 24 * 3600 - 60),
        ("12:00:05", 5),
        ("2026-07-01T13:00", 3600),
        ("2026-07-01 13:00", 3600),
        ("2026-07-01T13:00:00+00:00", 0),
        ("2026-07-01T15:00Z", 2 * 3600),
        ("2026-06-30T12:00", -86400),
        ("tomorrow", None),
        ("", None),
        ("25:00", None),
        ("20260701", None),
        ("half past six", None),
    ],
)
def test_a_time_of_day_is_the_next_one_and_a_date_is_what_it_says(until, seconds):
    assert seconds_until(until, NOON) == seconds


@given(st.text(max_size=30))
def test_no_text_at_all_makes_it_raise(text):
    seconds = seconds_until(text, NOON)
    assert seconds is None or isinstance(seconds, float)


@pytest.mark.parametrize(
    "extreme", ["0001-01-01T00:00+23:59", "9999-12-31T23:59-23:59", "0001-01-01", "9999-12-31T23:59:59"]
)
def test_the_ends_of_the_calendar_do_not_make_it_raise(extreme):
    seconds_until(extreme, NOON)


def test_without_a_clock_it_is_said_that_the_time_is_not_known():
    assert with_resolved_until({"until": "18:30"}, None) == {"until": "18:30", "until_unknown": True}


def test_a_text_that_is_no_time_is_left_as_it_is():
    assert with_resolved_until({"until": "soon"}, 1.8e9) == {"until": "soon"}


def test_what_only_control_may_say_is_taken_out():
    assert with_resolved_until({"litres": 3, "until_s": 5.0, "until_unknown": False}, 1.8e9) == {"litres": 3}


def test_a_time_becomes_seconds():
    wall = datetime(2027, 1, 15, 8, 0, tzinfo=UTC)
    resolved = with_resolved_until({"until": "2027-01-15T09:30:00+00:00"}, wall.timestamp())
    assert resolved["until_s"] == 5400.0


# ---- the account of a run ---------------------------------------------------------------------------


def test_litres_overboard_and_into_the_tank_are_counted_apart():
    plant = Plant()
    plant.give("start", litres=0.5)
    plant.until("producing")
    before_l = plant.product_l
    plant.until("standby")
    account = plant.event("run_ended")["run"]
    assert account["litres"] == pytest.approx(0.5, abs=0.01)
    assert account["litres"] + account["overboard_l"] == pytest.approx(plant.product_l, abs=0.01)
    assert account["overboard_l"] >= before_l - 0.01
    assert account["why"]["id"] == "target_litres"
    assert account["first_out"] is None
    assert account["id"] == "b-1"


def test_worst_and_mean_salt_are_of_the_water_in_the_tank_alone():
    plant = Plant()
    plant.tds_mg_l = 480.0
    plant.brought_to("producing")
    plant.wait(0.2)
    litres_before = plant.core.plant.run.litres
    plant.tds_mg_l = 300.0
    plant.wait(30)
    run = plant.core.plant.run
    assert run.tds_worst_mg_l == pytest.approx(480, rel=0.01)
    after = run.litres - litres_before
    expected = (480 * litres_before + 300 * after) / run.litres
    assert run.tds_mean_mg_l == pytest.approx(expected, rel=0.02)


def test_the_worst_salt_is_of_single_samples_while_water_goes_to_the_tank_and_of_no_others():
    plant = Plant()
    plant.extra["conductivity_peak_us_cm"] = conductivity_25c_us_cm(9000.0)
    plant.brought_to("producing")
    plant.extra["conductivity_peak_us_cm"] = conductivity_25c_us_cm(430.0)
    plant.wait(1)
    plant.tick(conductivity_peak_us_cm=conductivity_25c_us_cm(1700.0))
    plant.wait(1)
    run = plant.core.plant.run
    first = run.tds_worst_mg_l
    assert first == pytest.approx(1700.0, rel=0.001)
    assert run.tds_mean_mg_l == pytest.approx(plant.tds_mg_l, rel=0.02)
    plant.give("stop")
    plant.until("stopping")
    plant.tick(conductivity_peak_us_cm=conductivity_25c_us_cm(3000.0))
    plant.until("flushing")
    assert plant.event("run_ended")["run"]["tds_worst_mg_l"] == pytest.approx(first, abs=0.1)


def test_a_sample_between_two_pulses_of_the_meter_is_of_the_water_that_the_second_tells():
    plant = Plant()
    plant.brought_to("producing")
    plant.wait(1)
    poured_l = plant.inputs().product_total_l
    plant.tick(conductivity_peak_us_cm=conductivity_25c_us_cm(1700.0), product_total_l=poured_l)
    plant.tick(product_total_l=poured_l)
    assert plant.core.plant.run.tds_worst_mg_l < 1000.0
    plant.tick(product_total_l=poured_l + 0.01)
    assert plant.core.plant.run.tds_worst_mg_l == pytest.approx(1700.0, rel=0.001)


@pytest.mark.parametrize("peak", [None, 0.0, float("nan"), float("inf"), -5.0])
def test_a_sample_that_says_nothing_leaves_the_worst_to_the_reading(peak):
    plant = Plant()
    plant.tds_mg_l = 300.0
    plant.extra["conductivity_peak_us_cm"] = peak
    plant.brought_to("producing")
    plant.wait(2)
    assert plant.core.plant.run.tds_worst_mg_l == pytest.approx(300.0, rel=0.01)


def test_no_decision_rests_on_single_samples_of_salt():
    """A cell full of bubbles all along: every output, alarm and sentence is the same."""
    quiet, bubbling = Plant(), Plant()
    courses = []
    for plant, peak in ((quiet, None), (bubbling, conductivity_25c_us_cm(20_000.0))):
        plant.extra["conductivity_peak_us_cm"] = peak
        plant.give("start", litres=0.3)
        course = courses.append([]) or courses[-1]
        for _ in range(2000):
            plant.tick(dt=0.1)
            course.append((plant.state, frozenset(plant.on), frozenset(plant.alarms)))
    assert courses[0] == courses[1]
    assert "producing" in {state for state, _, _ in courses[0]}
    assert quiet.event("run_ended")["run"]["litres"] == bubbling.event("run_ended")["run"]["litres"]


def test_a_run_without_water_in_the_tank_has_no_salt_to_tell(plant):
    plant.give("start")
    plant.until("diverting")
    plant.give("stop")
    plant.until("flushing")
    account = plant.event("run_ended")["run"]
    assert account["litres"] == 0.0
    assert account["tds_worst_mg_l"] is None
    assert account["tds_mean_mg_l"] is None


def test_energy_is_what_the_battery_gives_beyond_what_the_boat_drew_before(producing):
    before_wh = producing.core.plant.run.energy_wh
    producing.wait(36)
    assert producing.core.plant.run.energy_wh - before_wh == pytest.approx(13.2 * (60.0 - 2.0) * 36 / 3600, rel=0.01)
    assert producing.core.plant.run.energy_basis == "battery"


@pytest.mark.parametrize("amperes", [-2.0, -400.0, 20.0])
def test_a_battery_that_cannot_have_driven_the_pump_is_not_taken_for_its_energy(producing, amperes):
    """A pump on the mains leaves the battery alone; a heater or a charger is no pump."""
    producing.read("battery_current", amperes)
    before_wh = producing.core.plant.run.energy_wh
    producing.wait(36)
    spent_wh = producing.core.plant.run.energy_wh - before_wh
    assert spent_wh == pytest.approx(QUICK.plant.pump_power_w * 36 / 3600, rel=0.01)
    assert producing.core.plant.run.energy_basis == "both"


def test_without_a_battery_sensor_the_pump_counts_with_its_own_power(producing):
    producing.lose("battery_current")
    before_wh = producing.core.plant.run.energy_wh
    producing.wait(36)
    assert producing.core.plant.run.energy_wh - before_wh == pytest.approx(
        QUICK.plant.pump_power_w * 36 / 3600, rel=0.01
    )


def test_the_peak_is_the_highest_pressure_of_the_run(producing):
    producing.read("vessel_pressure", 58.5)
    producing.tick()
    producing.mend()
    producing.give("stop")
    producing.until("standby")
    assert producing.event("run_ended")["run"]["peak_pressure_bar"] == 58.5


def test_a_sample_above_the_limit_counts_however_the_reading_is_smoothed(producing):
    producing.tick(overpressure_bar=70.9)
    producing.until("tripped")
    assert producing.event("run_ended")["run"]["peak_pressure_bar"] == 70.9


def test_a_counter_that_starts_over_takes_nothing_away(producing):
    producing.wait(1)
    litres = producing.core.plant.run.litres
    producing.product_l = 0.0
    producing.tick()
    assert producing.core.plant.run.litres >= litres
    producing.wait(1)
    assert producing.core.plant.run.litres - litres == pytest.approx(60 / 3600, abs=0.005)


@pytest.mark.parametrize(
    ("need", "left"),
    [
        (Need(), None),
        (Need(litres=10.0), 600.0),
        (Need(producing_s=100.0), 70.0),
        (Need(deadline_s=130.0), 30.0),
    ],
)
def test_what_is_left_is_told_where_it_can_be(need, left):
    run = Run("r", need, 0.0, 200.0, litres=0.0, producing_s=30.0)
    assert need.remaining_s(run, 100.0, 60.0) == left


def test_a_litre_target_without_flow_cannot_tell_what_is_left():
    need = Need(litres=10.0)
    assert need.remaining_s(Run("r", need, 0.0, 200.0), 100.0, 0.0) is None


def test_runs_are_numbered_over_restarts():
    plant = Plant()
    plant.give("start")
    again = Plant(retained=plant.core.plant.retained)
    again.tick()
    assert again.give("acknowledge") == []
    again.give("start")
    assert again.core.plant.run.id == "b-2"


def test_a_recovery_without_a_brine_meter_is_told_as_reckoned(producing):
    high = quick_settings(producing.settings, limits={"recovery_warn": 0.01})
    now = producing.core.last._replace(settings=high, recovery=0.2)
    values = CONDITIONS["recovery_near_limit"](now, producing.core.plant.notes)
    assert values["assumed_feed_l_h"] == high.plant.feed_flow_l_h
    assert "computed with the configured feed of" in words.alarm_texts("recovery_near_limit", values)[0]
