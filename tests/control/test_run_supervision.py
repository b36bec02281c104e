"""What is expected of pressures and flows within a time, on the way through a run."""

import dataclasses

import pytest
from hand_driven_plant import FULL, QUICK, Plant, quick_settings

from halocline.control.alarm_conditions import CONDITIONS
from halocline.control.inputs import Command
from halocline.control.retained.retained_state import RetainedState
from halocline.plant import words
from halocline.plant.sensors import OutputPin
from halocline.plant.vocabulary import Quality


def alarm_values(plant, cause):
    event = next(e for e in plant.events if e["kind"] == "alarm" and e["id"] == cause)
    return event["values"]


def start(plant, state="pressurising"):
    assert plant.give("start") == []
    plant.until(state)
    return plant


# ---- a whole run ------------------------------------------------------------------------------------


def test_a_run_goes_through_its_states_and_ends_flushed(plant):
    plant.give("start", litres=0.3)
    plant.until("producing")
    plant.until("standby")
    ways = ["standby", "priming", "pressurising", "diverting", "producing", "stopping", "flushing", "standby"]
    assert plant.states == ways
    assert plant.core.first_out is None
    assert plant.core.plant.position.last_end.id == "target_litres"
    assert plant.core.plant.retained.flush_owed is False
    assert plant.alarms == set()


def test_a_run_owes_a_flush_from_its_first_sea_water(plant):
    assert plant.core.plant.retained.flush_owed is False
    plant.give("start")
    assert plant.on == {"feed_pump", "inverter_enable"} & set(plant.settings.outputs)
    assert plant.core.plant.retained.flush_owed is True
    assert plant.latches[-1].flush_owed is True


@pytest.mark.parametrize("state", ["priming", "pressurising"])
def test_a_start_that_is_stopped_before_any_pressure_is_flushed(plant, state):
    start(plant, state)
    plant.give("stop")
    assert plant.pressure_bar < 10.0
    plant.until("flushing")
    plant.until("standby")
    assert plant.core.plant.retained.flush_owed is False


def test_a_start_that_trips_before_any_pressure_owes_its_flush(plant):
    start(plant, "priming")
    plant.press("stop_button")
    plant.until("tripped")
    assert plant.core.plant.retained.flush_owed is True


@pytest.mark.parametrize("output", ["feed_pump", "product_to_tank"])
def test_a_feed_pump_that_is_tried_owes_a_flush_and_no_other_output_does(plant, output):
    assert plant.give("bench", output=output, seconds=2.0) == []
    plant.until("standby")
    assert plant.core.plant.retained.flush_owed is (output == "feed_pump")


@pytest.mark.parametrize(
    ("arguments", "why"), [({"litres": 0.2}, "target_litres"), ({"minutes": 0.3}, "target_minutes")]
)
def test_a_run_ends_when_its_need_is_met(plant, arguments, why):
    plant.give("start", **arguments)
    plant.until("stopping")
    assert plant.core.why.id == why


def test_a_run_ends_at_its_time(plant):
    plant.give("start", until="18:30", until_s=60.0)
    began_s = plant.now_s
    plant.until("stopping")
    assert plant.core.why.id == "target_time"
    assert plant.now_s - began_s == pytest.approx(60, abs=0.2)


def test_a_run_never_fills_more_than_the_tank_had_room_for_at_its_start():
    plant = Plant(quick_settings(plant={"tank_capacity_l": 5.0}))
    plant.read("tank_fill", 90.0)
    plant.give("start")
    plant.until("producing")
    plant.read("tank_fill", 50.0)
    plant.until("stopping", within_s=100)
    assert plant.core.why.id == "tank_ceiling"
    assert plant.core.plant.run.litres == pytest.approx(5.0 * (0.95 - 0.90), abs=0.01)


def test_the_run_limit_ends_a_run_in_whatever_state():
    plant = Plant(quick_settings(sequence={"run_limit_s": 15.0}))
    plant.give("start")
    plant.until("stopping", within_s=20)
    assert plant.core.first_out == "run_limit"


@pytest.mark.parametrize("contact", ["tank_float"])
def test_a_full_tank_stops_the_run_in_order(producing, contact):
    producing.press(contact)
    producing.tick()
    assert producing.state == "stopping"
    assert "product_to_tank" not in producing.on
    assert producing.core.first_out == "tank_full"


def test_a_level_counts_as_full_only_after_half_a_minute(producing):
    producing.read("tank_fill", 96.0)
    producing.wait(29)
    assert producing.state == "producing"
    producing.wait(2)
    assert producing.state == "stopping"


# ---- priming ------------------------------------------------------------------------------------------


def test_the_pump_waits_until_the_feed_has_been_steady(plant):
    plant.give("start")
    while plant.feed_bar < 0.5:
        plant.tick()
    assert plant.until("pressurising") >= QUICK.sequence.prime_s - 0.05


def test_a_feed_that_jumps_about_begins_its_time_anew(plant):
    plant.give("start")
    for _ in range(10):
        plant.read("feed_pressure", 1.2)
        plant.wait(0.8)
        plant.read("feed_pressure", 0.8)
        plant.wait(0.8)
    assert plant.state == "priming"


def test_after_an_opened_circuit_priming_takes_longer():
    plant = Plant(retained=RetainedState(circuit_opened=True))
    plant.give("start")
    assert plant.until("pressurising") >= QUICK.sequence.prime_after_opening_s


def test_the_longer_priming_is_owed_until_water_was_made():
    plant = Plant(retained=RetainedState(circuit_opened=True)).brought_to("producing")
    assert plant.core.plant.retained.circuit_opened is False


def test_steadiness_from_an_earlier_run_does_not_count(plant):
    plant.read("feed_pressure", 1.5)
    plant.give("start")
    plant.until("pressurising")
    plant.give("stop")
    plant.until("standby")
    plant.wait(30)
    plant.give("start")
    assert plant.until("pressurising") >= QUICK.sequence.prime_s - 0.05


def test_without_feed_pressure_the_start_trips_after_a_minute(plant):
    plant.read("feed_pressure", 0.45)
    plant.give("start")
    assert plant.until("tripped") == pytest.approx(QUICK.sequence.prime_limit_s, abs=0.1)
    assert plant.core.first_out == "feed_pressure_not_reached"
    assert alarm_values(plant, "feed_pressure_not_reached")["limit_bar"] == 0.5
    assert not any("high_pressure_pump" in state for state in plant.states)


def test_a_feed_that_never_gets_steady_trips_soon_after_the_minute(plant):
    plant.give("start")
    began_s = plant.now_s
    while plant.state == "priming":
        plant.read("feed_pressure", 1.5 if (plant.now_s * 2) % 2 < 1 else 0.8)
        plant.tick()
    assert plant.core.first_out == "feed_pressure_not_reached"
    assert plant.now_s - began_s == pytest.approx(QUICK.sequence.prime_limit_s + QUICK.sequence.prime_s, abs=0.2)


def test_a_stop_while_priming_never_switches_the_pump_on(plant):
    start(plant, "priming")
    plant.give("stop")
    while plant.state != "standby":
        assert "high_pressure_pump" not in plant.on
        plant.tick()
    assert plant.states == ["standby", "priming", "stopping", "flushing", "standby"]


# ---- raising the pressure --------------------------------------------------------------------------------


def test_a_closed_regulator_trips_within_its_check():
    plant = start(Plant(quick_settings(sequence={"regulator_check_s": 3.0})))
    plant.read("vessel_pressure", 10.5)
    plant.tick()
    plant.tick()
    assert plant.state == "tripped"
    assert plant.core.first_out == "regulator_closed"
    assert plant.on == set()
    assert alarm_values(plant, "regulator_closed") == {"pressure_bar": 10.5, "limit_bar": 10.0}


def test_after_the_check_ten_bar_is_no_sign_of_a_closed_regulator():
    plant = Plant(quick_settings(sequence={"regulator_check_s": 3.0}))
    plant.hand_is_there = False
    start(plant).wait(3.1)
    plant.read("vessel_pressure", 12.0)
    plant.wait(2)
    assert plant.state == "pressurising"


def test_a_regulator_left_set_may_show_pressure_at_once():
    plant = Plant(quick_settings(drive={"regulator": "left_set"}))
    start(plant)
    plant.read("vessel_pressure", 30.0)
    plant.wait(0.5)
    assert plant.state == "pressurising"


def test_pressure_that_rises_too_fast_for_two_seconds_trips():
    plant = Plant(quick_settings(FULL, sequence={"prime_s": 1.0}))
    plant.hand_is_there = False
    start(plant).wait(4)
    bar = 3.0
    began_s = plant.now_s
    while plant.state == "pressurising":
        bar += 4.0 * 0.05
        plant.read("vessel_pressure", bar)
        plant.tick()
    assert plant.core.first_out == "pressure_rise_too_fast"
    assert 2.0 <= plant.now_s - began_s <= 3.5


def test_a_hand_that_is_only_slow_is_no_fault_but_not_waited_for_for_ever():
    plant = Plant()
    plant.hand_is_there = False
    start(plant)
    plant.until("stopping", within_s=QUICK.sequence.raise_limit_s + 2)
    assert plant.core.why.id == "pressure_not_set"
    assert plant.core.first_out is None


def test_a_pump_that_brings_no_pressure_at_all_trips():
    plant = start(Plant(quick_settings(sequence={"raise_limit_s": 600.0})))
    plant.read("vessel_pressure", 0.5)
    assert plant.until("tripped", within_s=70) == pytest.approx(QUICK.sequence.pressure_limit_s, abs=0.2)
    assert plant.core.first_out == "vessel_pressure_not_reached"


def test_a_regulator_left_set_has_to_bring_working_pressure_within_its_time():
    plant = start(Plant(quick_settings(drive={"regulator": "left_set"})))
    plant.read("vessel_pressure", 30.0)
    assert plant.until("tripped", within_s=70) == pytest.approx(QUICK.sequence.pressure_limit_s, abs=0.2)
    assert plant.core.first_out == "vessel_pressure_not_reached"


def test_settled_means_above_the_working_minimum_and_steady(plant):
    start(plant).wait(4)
    plant.read("vessel_pressure", plant.core.last.expectation.working_minimum_bar - 0.2)
    plant.wait(10)
    assert plant.state == "pressurising"
    plant.read("vessel_pressure", plant.core.last.expectation.working_minimum_bar + 1.0)
    assert plant.until("diverting") >= QUICK.sequence.settle_s - 0.1


# ---- under pressure ----------------------------------------------------------------------------------------


def test_pressure_too_high_trips_in_the_same_tick(producing):
    producing.read("vessel_pressure", 64.1)
    producing.tick()
    assert (producing.state, producing.on) == ("tripped", set())
    assert alarm_values(producing, "vessel_pressure_high_high") == {"pressure_bar": 64.1, "limit_bar": 64.0}


def test_the_fast_watch_trips_although_the_smoothed_value_lags(producing):
    producing.tick(overpressure_bar=66.0)
    assert producing.state == "tripped"
    assert producing.core.first_out == "vessel_pressure_high_high"


def test_pressure_over_the_end_of_the_span_is_pressure(producing):
    producing.read("vessel_pressure", 100.0, Quality.OVER)
    producing.tick()
    assert producing.core.first_out == "vessel_pressure_high_high"


def test_lost_pressure_trips_after_two_seconds(producing):
    producing.read("vessel_pressure", 30.0)
    producing.wait(1.9)
    assert producing.state == "producing"
    producing.wait(0.3)
    assert producing.core.first_out == "vessel_pressure_lost"


@pytest.mark.parametrize("channel", ["vessel_pressure", "feed_pressure"])
def test_a_lost_sensor_of_pressure_trips_in_the_same_tick(producing, channel):
    producing.lose(channel, Quality.STALE)
    producing.tick()
    assert producing.state == "tripped"
    assert producing.core.first_out == f"sensor_fault_{channel}"


def test_a_needed_channel_that_is_simply_not_there_trips_as_well(producing):
    inputs = producing.inputs()
    readings = {name: r for name, r in inputs.readings.items() if name != "feed_pressure"}
    producing.core.tick(inputs._replace(now_s=inputs.now_s + 0.05, readings=readings))
    assert producing.state == "tripped"


def test_low_feed_pressure_warns_first(producing):
    producing.read("feed_pressure", 0.25)
    producing.wait(2)
    assert producing.state == "producing"
    assert producing.alarm("feed_pressure_low") == "unacknowledged"


def test_feed_pressure_too_low_for_the_pump_trips_after_two_seconds(producing):
    producing.read("feed_pressure", 0.1)
    producing.wait(1.95)
    assert producing.state == "producing"
    producing.wait(0.15)
    assert producing.core.first_out == "feed_pressure_low_low"
    producing.wait(10)
    assert producing.on == set()


def test_low_feed_for_a_moment_does_not_trip_and_most_of_the_time_does(producing):
    for _ in range(5):
        producing.read("feed_pressure", 0.1)
        producing.wait(1.8)
        producing.read("feed_pressure", 0.2)
        producing.wait(1.8)
    assert producing.state == "producing"
    for _ in range(2):
        producing.read("feed_pressure", 0.1)
        producing.wait(1.8)
        producing.read("feed_pressure", 0.2)
        producing.wait(0.3)
    assert producing.core.first_out == "feed_pressure_low_low"


def test_the_feed_pump_has_three_seconds_to_bring_its_pressure():
    plant = Plant().brought_to("hand_run")
    on_s = plant.now_s
    plant.read("feed_pressure", 0.0)
    plant.until("tripped", within_s=10)
    assert plant.core.first_out == "feed_pressure_low_low"
    assert plant.now_s - on_s == pytest.approx(3.0 + 2.0, abs=0.2)


def test_air_in_the_suction_ends_the_run_in_order_but_without_waiting_for_a_hand(producing):
    producing.hand_is_there = False
    while producing.state == "producing":
        producing.read("feed_pressure", 1.5 if producing.now_s % 1 < 0.5 else 0.6)
        producing.tick()
    assert producing.core.first_out == "feed_pressure_unsteady"
    assert producing.state == "stopping"
    assert "high_pressure_pump" not in producing.on


@pytest.mark.parametrize(
    ("channel", "value", "cause", "after_s"),
    [
        ("product_flow", 86.0, "product_flow_too_high", 10.0),
        ("sea_temperature", 42.5, "water_too_warm", 60.0),
        ("battery_voltage", 11.5, "battery_low", 30.0),
    ],
)
def test_what_ends_a_run_in_order_does_so_after_its_delay(producing, channel, value, cause, after_s):
    producing.read(channel, value)
    producing.wait(after_s - 0.2)
    assert producing.state == "producing"
    producing.wait(0.4)
    assert producing.state == "stopping"
    assert producing.core.first_out == cause


@pytest.mark.parametrize(("salt_mg_l", "low"), [(5000.0, False), (None, False), (300.0, True)])
def test_too_much_product_is_blamed_on_pressure_alone_only_where_its_salt_is_low(producing, salt_mg_l, low):
    producing.read("product_flow", 89.0)
    if salt_mg_l is None:
        producing.lose("product_conductivity", Quality.MISSING)
    else:
        producing.tds_mg_l = salt_mg_l
    producing.wait(11.0)
    assert producing.core.first_out == "product_flow_too_high"
    values = producing.core.plant.alarms.get("product_flow_too_high").values
    assert values.get("tds_mg_l") == (None if salt_mg_l is None else pytest.approx(salt_mg_l, rel=0.05))
    _, _, steps = words.alarm_texts("product_flow_too_high", values)
    ended = words.reason({"id": "product_flow_too_high", "values": values})
    assert "less pressure" in steps
    for other in ("hoses", "membrane"):
        assert (other in steps) is not low
        assert (other in ended) is not low
    assert ("saltier than the sea" in steps) is not low


@pytest.mark.parametrize("alarm", ["recovery_high", "recovery_near_limit"])
@pytest.mark.parametrize(("salt_mg_l", "low"), [(27000.0, False), (None, False), (300.0, True)])
def test_too_little_brine_is_blamed_on_feed_and_pressure_alone_only_where_the_salt_is_low(
    producing, alarm, salt_mg_l, low
):
    now = producing.core.plant.present(producing.core.last)._replace(recovery=0.5, tds_mg_l=salt_mg_l)
    values = CONDITIONS[alarm](now, producing.core.plant.notes)
    _, _, steps = words.alarm_texts(alarm, values)
    assert "feed" in steps
    assert "less pressure" in steps
    assert ("hoses" in steps) is not low
    assert ("membrane" in steps) is not low


@pytest.mark.parametrize("missed", [10, 400])
def test_too_many_missed_looks_trip(producing, missed):
    producing.tick(missed_ticks=9)
    assert producing.state == "producing"
    producing.tick(missed_ticks=missed)
    assert producing.core.first_out == "scan_overrun"


def test_a_lost_converter_is_told_once_and_trips(producing):
    for channel in ("vessel_pressure", "feed_pressure", "product_conductivity", "sea_temperature"):
        producing.lose(channel, Quality.MISSING)
    producing.extra["lost_chips"] = (0x48,)
    producing.wait(5)
    assert producing.core.first_out == "adc_lost"
    assert producing.alarms <= {"adc_lost", "product_flow_missing"}


def test_the_loss_of_a_converter_with_optional_channels_is_told_once_and_does_not_stop_the_run(producing):
    for channel in ("filter_inlet_pressure", "battery_voltage", "battery_current", "tank_fill"):
        producing.lose(channel, Quality.MISSING)
    producing.extra["lost_chips"] = (0x49,)
    producing.wait(5)
    assert producing.state == "producing"
    assert producing.alarms == {"sensor_fault_filter_inlet_pressure"}


def test_a_diverter_that_does_not_follow_trips_after_three_seconds(producing):
    producing.pinned_contacts["diverter_at_tank"] = False
    producing.wait(2.9)
    assert producing.state == "producing"
    producing.wait(0.2)
    assert producing.core.first_out == "output_disagrees"


# ---- the end of a run ---------------------------------------------------------------------------------------


def test_a_stop_asks_for_the_regulator_and_waits_for_it_only_so_long():
    plant = Plant().brought_to("stopping")
    assert plant.core.ask() == "open_regulator"
    began_s = plant.now_s
    while "high_pressure_pump" in plant.on:
        assert "product_to_tank" not in plant.on
        assert "feed_pump" in plant.on
        plant.tick()
    assert plant.now_s - began_s == pytest.approx(QUICK.sequence.stop_open_s, abs=0.1)


def test_the_pump_goes_off_as_soon_as_the_regulator_is_open(producing):
    producing.give("stop")
    while producing.pressure_bar > 10.0:
        producing.tick()
    producing.tick()
    assert "high_pressure_pump" not in producing.on


def test_the_feed_pump_stays_on_until_the_pressure_is_gone_and_the_pump_has_run_down(producing):
    producing.give("stop")
    while "high_pressure_pump" in producing.on:
        producing.tick()
    off_s = producing.now_s
    producing.read("vessel_pressure", 5.5)
    producing.wait(3)
    assert "feed_pump" in producing.on
    producing.mend()
    while "feed_pump" in producing.on:
        producing.tick()
    assert producing.now_s - off_s >= 3.0
    assert producing.pressure_bar < 5.0


@pytest.mark.parametrize("way", ["feed lost", "bilge"])
def test_a_stop_never_leaves_the_pump_turning_without_its_feed(way):
    plant = Plant().brought_to("stopping")
    plant.wait(1)
    assert plant.on == {"feed_pump", "high_pressure_pump"}
    if way == "feed lost":
        plant.read("feed_pressure", 0.05)
    else:
        plant.press("bilge_wet")
    plant.tick()
    assert plant.on == set()
    plant.wait(0.4)
    assert plant.on == set()


def test_pressure_that_does_not_go_trips_urgently_and_cannot_be_reset_while_it_stays():
    plant = Plant().brought_to("stopping")
    plant.relay_welded = True
    plant.read("vessel_pressure", 55.0)
    while "high_pressure_pump" in plant.on:
        plant.tick()
    assert plant.until("tripped", within_s=20) == pytest.approx(15.0, abs=0.2)
    assert plant.core.first_out == "pressure_not_released"
    assert plant.on == {"feed_pump"}
    assert "heartbeat" not in plant.outcome.outputs
    plant.wait(2)
    plant.give("acknowledge")
    assert plant.give("reset") == ["cause_still_there", "pressure_present"]
    plant.mend()
    plant.relay_welded = False
    plant.wait(5)
    assert plant.on == set()
    assert plant.give("reset") == []


def test_a_spring_regulator_is_given_a_minute():
    plant = Plant(quick_settings(drive={"regulator_kind": "spring"})).brought_to("stopping")
    plant.read("vessel_pressure", 30.0)
    while "high_pressure_pump" in plant.on:
        plant.tick()
    assert plant.until("tripped", within_s=70) == pytest.approx(60.0, abs=0.2)


def test_a_slow_fall_from_five_to_three_bar_still_ends_in_the_flush_that_is_owed():
    plant = Plant().brought_to("stopping")
    plant.read("vessel_pressure", 4.5)
    plant.until("flushing", within_s=5)
    assert "flush_valve" not in plant.on
    plant.wait(3)
    assert "flush_valve" not in plant.on
    plant.read("vessel_pressure", 2.9)
    plant.tick()
    assert plant.on == {"flush_valve"}


# ---- trips ------------------------------------------------------------------------------------------------


def test_a_trip_switches_everything_off_although_pressure_is_still_there(producing):
    producing.read("vessel_pressure", 64.5)
    producing.tick()
    assert producing.on == set()
    assert "heartbeat" not in producing.outcome.outputs


def test_a_tripped_pump_that_goes_on_turning_is_fed_again(producing):
    producing.tick(overpressure_bar=65.0)
    producing.read("vessel_pressure", 54.0)
    producing.wait(2.9)
    assert producing.on == set()
    producing.wait(0.3)
    assert producing.on == {"feed_pump"}
    producing.read("vessel_pressure", 30.0)
    producing.wait(2)
    assert producing.on == {"feed_pump"}
    producing.read("vessel_pressure", 4.9)
    producing.tick()
    assert producing.on == set()


@pytest.mark.parametrize("contact", ["bilge_wet", "stop_button"])
def test_a_pump_that_goes_on_turning_is_not_fed_into_a_bilge_or_against_a_stop_button(producing, contact):
    producing.press(contact)
    producing.read("vessel_pressure", 54.0)
    producing.wait(20)
    assert producing.state == "tripped"
    assert producing.on == set()


def test_pressure_that_is_trapped_and_falls_is_no_pump_that_turns(producing):
    producing.tick(overpressure_bar=65.0)
    for _ in range(200):
        producing.read("vessel_pressure", max(25.0, producing.core.last.pressure_bar - 1.0))
        producing.tick()
        assert producing.on == set()


def test_pressure_that_is_trapped_is_told_under_its_trip_and_blames_nobody(producing):
    producing.tick(overpressure_bar=65.0)
    producing.read("vessel_pressure", 30.0)
    producing.wait(120)
    assert producing.alarm("pressure_without_command") is None
    assert producing.snapshot()["sentence"]["values"]["membrane_bar"] == 30.0
    producing.give("acknowledge")
    assert producing.give("reset") == ["pressure_present"]


def test_a_pump_that_seems_to_turn_after_a_trip_is_told_though_a_hand_lets_its_pressure_down(producing):
    producing.tick(overpressure_bar=65.0)
    producing.read("vessel_pressure", 54.0)
    producing.wait(5)
    assert producing.on == {"feed_pump"}
    producing.read("vessel_pressure", 20.0)
    producing.wait(12)
    assert producing.alarm("pressure_without_command") == "unacknowledged"


def test_a_pressure_sensor_that_is_lost_after_a_trip_is_told_though_everything_is_off(producing):
    producing.tick(overpressure_bar=65.0)
    producing.read("vessel_pressure", 40.0)
    producing.wait(2)
    producing.lose("vessel_pressure")
    producing.wait(1)
    assert producing.state == "tripped"
    assert producing.alarm("sensor_fault_vessel_pressure") == "unacknowledged"
    assert producing.core.first_out == "vessel_pressure_high_high"
    assert producing.snapshot()["sentence"]["values"]["membrane_bar"] is None


def test_with_water_under_the_plant_nobody_is_asked_to_touch_it(producing):
    producing.press("bilge_wet")
    producing.wait(2)
    assert producing.state == "tripped"
    assert producing.core.ask() is None
    producing.pinned_contacts.clear()
    producing.wait(2)
    assert producing.core.ask() == "open_regulator"


def test_pressure_that_rises_after_a_trip_is_told_urgently(producing):
    producing.tick(overpressure_bar=65.0)
    producing.read("vessel_pressure", 30.0)
    producing.wait(16)
    producing.read("vessel_pressure", 33.5)
    producing.wait(1)
    assert producing.alarm("pressure_without_command") == "unacknowledged"


def test_pressure_that_does_not_fall_after_a_trip_is_told_urgently(producing):
    producing.tick(overpressure_bar=65.0)
    producing.read("vessel_pressure", 54.0)
    producing.wait(16)
    assert producing.alarm("pressure_without_command") == "unacknowledged"


def test_first_out_is_the_first_and_stays_until_the_reset(producing):
    producing.press("stop_button")
    producing.tick()
    producing.press("bilge_wet")
    producing.wait(3)
    assert producing.core.first_out == "stop_button"
    assert [trip.cause for trip in producing.core.plant.retained.trips] == ["bilge_wet", "stop_button"]
    producing.pinned_contacts.clear()
    producing.wait(2)
    producing.give("acknowledge")
    assert producing.give("reset") == []
    assert producing.core.first_out is None
    assert producing.core.plant.retained.trips == ()


def test_what_ended_a_run_stays_first_out_until_the_next_start(producing):
    producing.press("tank_float")
    producing.until("standby")
    assert producing.core.first_out == "tank_full"
    producing.pinned_contacts.clear()
    producing.wait(2)
    producing.give("start")
    assert producing.core.first_out is None


def test_a_trip_says_its_own_cause_although_an_earlier_stop_was_first():
    plant = Plant().brought_to("producing")
    plant.press("tank_float")
    plant.until("standby")
    plant.press("bilge_wet")
    plant.wait(1)
    assert plant.core.first_out == "tank_full"
    assert plant.snapshot()["sentence"]["values"]["cause"] == "bilge_wet"


# ---- pressure where none was commanded -------------------------------------------------------------------------


def test_pressure_at_rest_is_a_pump_run_by_hand_and_the_feed_pump_helps():
    plant = Plant()
    plant.wait(1)
    plant.read("vessel_pressure", 11.0)
    plant.until("hand_run", within_s=2)
    assert plant.on == {"feed_pump"}
    plant.wait(1)
    assert plant.alarm("pressure_without_command") == "unacknowledged"
    plant.read("vessel_pressure", 4.0)
    assert plant.until("standby") == pytest.approx(2.0, abs=0.1)
    assert plant.core.plant.retained.flush_owed is True


@pytest.mark.parametrize(
    ("disturb", "cause"),
    [
        (lambda plant: plant.read("vessel_pressure", 65.0), "vessel_pressure_high_high"),
        (lambda plant: plant.press("stop_button"), "stop_button"),
        (lambda plant: plant.lose("feed_pressure"), "sensor_fault_feed_pressure"),
    ],
)
def test_every_trip_is_armed_while_a_pump_is_run_by_hand(disturb, cause):
    plant = Plant().brought_to("hand_run")
    disturb(plant)
    plant.tick()
    assert plant.state == "tripped"
    assert plant.core.first_out == cause


def test_pressure_left_over_from_before_a_restart_is_no_hand_run():
    plant = Plant()
    plant.pressure_bar = 40.0
    plant.wait(3)
    assert plant.states == ["standby"]


def test_pressure_that_stands_when_control_starts_is_a_hand_run():
    plant = Plant()
    plant.read("vessel_pressure", 40.0)
    plant.until("hand_run", within_s=3)


def test_in_a_flush_the_valve_stays_open_and_an_urgent_alarm_tells_of_the_pressure():
    plant = Plant().brought_to("flushing")
    plant.wait(0.5)
    plant.read("vessel_pressure", 6.0)
    plant.wait(0.5)
    assert plant.on == {"flush_valve"}
    assert plant.alarm("pressure_without_command") == "unacknowledged"


def test_in_a_laid_up_plant_pressure_makes_the_purge_owed_anew_and_wakes_nothing():
    plant = Plant().brought_to("laid_up")
    plant.wait(1)
    plant.core.plant.persistence.carry_out(lambda _retained: RetainedState(laid_up=True, laid_up_with="glycol"))
    plant.read("vessel_pressure", 11.0)
    plant.wait(1)
    assert plant.state == "laid_up"
    assert plant.on == set()
    assert plant.core.plant.retained.purge.of == "glycol"
    assert plant.alarm("pressure_without_command") == "unacknowledged"


# ---- flush -------------------------------------------------------------------------------------------------


def test_a_flush_without_flow_fails_and_stays_owed():
    plant = Plant(retained=RetainedState(flush_owed=True)).brought_to("flushing")
    plant.read("flush_flow", 0.0)
    plant.read("feed_pressure", 0.6)
    plant.until("standby", within_s=30)
    plant.tick()
    assert plant.core.plant.retained.flush_owed is True
    assert plant.alarm("flush_failed") == "unacknowledged"
    assert plant.event("flush_ended")["complete"] is False


def test_a_flush_without_supply_fails():
    plant = Plant(retained=RetainedState(flush_owed=True)).brought_to("flushing")
    plant.extra["flush_total_l"] = None
    plant.core.plant.flush.from_total_l = None
    plant.read("feed_pressure", 0.1)
    assert plant.until("standby", within_s=30) == pytest.approx(QUICK.sequence.flush_supply_s, abs=0.3)
    assert plant.core.why.id == "flush_no_supply"


def test_the_valve_never_opens_under_pressure_and_the_flush_gives_up():
    plant = Plant().brought_to("stopping")
    plant.read("vessel_pressure", 4.0)
    plant.until("flushing")
    plant.until("standby", within_s=70)
    assert plant.core.why.id == "flush_under_pressure"


def test_a_measured_flush_ends_with_its_litres(plant):
    plant.give("flush", litres=1.5)
    plant.until("standby")
    ended = plant.event("flush_ended")
    assert ended["measured"] is True
    assert ended["litres"] == pytest.approx(1.5, abs=0.02)


def test_a_small_flush_does_not_pay_what_is_owed():
    plant = Plant(retained=RetainedState(flush_owed=True))
    plant.give("flush", litres=0.5)
    plant.until("standby")
    assert plant.core.plant.retained.flush_owed is True
    plant.give("flush")
    plant.until("standby")
    assert plant.core.plant.retained.flush_owed is False


def test_an_unmeasured_flush_counts_the_least_it_must_flow_and_says_so(plant):
    plant.extra["flush_total_l"] = None
    plant.give("flush")
    seconds = plant.until("standby", within_s=100)
    ended = plant.event("flush_ended")
    assert ended["measured"] is False
    assert seconds == pytest.approx(QUICK.sequence.flush_l / 120 * 3600, rel=0.05)


# ---- bench -------------------------------------------------------------------------------------------------


def test_the_pump_is_jogged_only_after_ten_seconds_of_feed(plant):
    assert plant.give("bench", output="high_pressure_pump", seconds=1.0) == []
    fed_s, jogged = None, 0.0
    while plant.state == "bench":
        plant.tick()
        if plant.core.last.feed_bar >= 0.5 and fed_s is None:
            fed_s = plant.now_s
        if "high_pressure_pump" in plant.on:
            assert plant.now_s - fed_s >= 9.9
            jogged += 0.05
    assert jogged == pytest.approx(1.0, abs=0.1)
    assert plant.on == set()


def test_without_feed_the_pump_is_not_jogged_at_all(plant):
    plant.read("feed_pressure", 0.4)
    plant.give("bench", output="high_pressure_pump", seconds=1.0)
    while plant.state == "bench":
        assert "high_pressure_pump" not in plant.on
        plant.tick()
    assert plant.core.plant.motor.starts_ago_s(plant.now_s) == ()


@pytest.mark.parametrize(
    "disturb",
    [
        lambda plant: plant.read("vessel_pressure", 10.5),
        lambda plant: plant.read("feed_pressure", 0.4),
    ],
)
def test_a_jog_is_broken_off_by_pressure_or_by_lost_feed(plant, disturb):
    plant.give("bench", output="high_pressure_pump", seconds=2.0)
    while "high_pressure_pump" not in plant.on:
        plant.tick()
    disturb(plant)
    plant.tick()
    assert plant.state == "standby"
    assert plant.on == set()


def test_the_product_valve_can_be_tried_for_longer_than_its_travel(plant):
    plant.give("bench", output="product_to_tank", seconds=8.0)
    plant.until("standby")
    assert plant.states == ["standby", "bench", "standby"]


def test_pressure_while_a_valve_is_tried_takes_the_product_overboard(plant):
    plant.give("bench", output="product_to_tank", seconds=60.0)
    plant.read("vessel_pressure", 30.0)
    plant.tick()
    assert "product_to_tank" not in plant.on


def test_a_bench_ends_by_itself_and_by_a_stop(plant):
    plant.give("bench", output="buzzer", seconds=3.0)
    assert plant.until("standby") == pytest.approx(3.0, abs=0.1)
    plant.give("bench", output="buzzer", seconds=3.0)
    plant.give("stop")
    assert plant.state == "standby"


# ---- who switches the pump ------------------------------------------------------------------------------------


class BySwitch(Plant):
    """A pump with a switch of its own: it turns when the switch is on and, for `permissive`, permitted."""

    switch = False

    def _turning(self):
        permitted = "high_pressure_pump" in self.core.on or self.settings.drive.pump == "watch_only"
        return self.switch and permitted


def by_switch(pump, **drive):
    plant = BySwitch(quick_settings(drive={"pump": pump, **drive}))
    plant.give("start")
    plant.until("pressurising")
    return plant


@pytest.mark.parametrize("pump", ["permissive", "watch_only"])
def test_somebody_is_asked_to_switch_the_pump_on_and_the_run_goes_on(pump):
    plant = by_switch(pump)
    plant.wait(20)
    assert plant.core.ask() == "switch_pump_on"
    assert ("high_pressure_pump" in plant.on) is (pump == "permissive")
    plant.switch = True
    plant.until("producing")
    assert ("high_pressure_pump" in plant.on) is (pump == "permissive")


@pytest.mark.parametrize("pump", ["permissive", "watch_only"])
def test_without_a_pump_switched_on_the_run_ends_without_a_trip(pump):
    plant = by_switch(pump)
    plant.until("stopping", within_s=310)
    assert plant.core.why.id in ("pump_not_switched_on", "pressure_not_set")
    plant.until("standby")


def test_a_switch_that_was_already_on_is_refused():
    plant = BySwitch(quick_settings(drive={"pump": "permissive"}))
    plant.switch = True
    plant.give("start")
    plant.until("pressurising")
    plant.until("stopping", within_s=1.5)
    assert plant.core.why.id == "unbidden_pressure"
    assert "high_pressure_pump" not in plant.on


def test_the_regulator_is_checked_from_when_the_pump_turns_not_from_the_permission():
    plant = by_switch("permissive")
    plant.wait(20)
    plant.read("vessel_pressure", 4.5)
    plant.wait(0.1)
    plant.read("vessel_pressure", 12.0)
    plant.tick()
    assert plant.core.first_out == "regulator_closed"


def test_a_plant_that_only_watches_asks_for_the_switch_and_does_not_trip_at_once():
    plant = by_switch("watch_only")
    plant.wait(5)
    plant.switch = True
    plant.until("producing")
    plant.hand_is_there = False
    plant.give("stop")
    plant.wait(20)
    assert plant.state == "stopping"
    assert plant.on == {"feed_pump"}
    plant.until("tripped", within_s=20)
    assert plant.core.first_out == "pressure_not_released"


def test_a_plant_that_only_watches_comes_to_rest_once_somebody_switches_off():
    plant = by_switch("watch_only")
    plant.wait(5)
    plant.switch = True
    plant.until("producing")
    plant.give("stop")
    plant.wait(5)
    plant.switch = False
    plant.until("standby")


def test_a_release_valve_unloads_start_and_stop():
    outputs = {**QUICK.outputs, "pressure_release": OutputPin(pin=9)}
    plant = Plant(dataclasses.replace(QUICK, outputs=outputs))
    plant.give("start")
    plant.until("pressurising")
    assert "pressure_release" not in plant.on
    plant.until("producing")
    assert "pressure_release" in plant.on
    plant.tick(Command("stop"))
    assert "pressure_release" not in plant.on


# ---- attendance ----------------------------------------------------------------------------------------------


def attended():
    return Plant(quick_settings(sequence={"attendance": True}))


def test_a_start_wants_a_press_of_the_button_within_ten_minutes():
    plant = attended()
    plant.tick()
    assert "nobody_at_the_plant" in plant.refused("start")
    plant.press("plant_button")
    plant.tick()
    plant.press("plant_button", active=False)
    plant.wait(590, dt=1.0)
    assert "nobody_at_the_plant" not in plant.refused("start")
    plant.wait(20, dt=1.0)
    assert "nobody_at_the_plant" in plant.refused("start")


def test_a_button_with_a_broken_wire_is_nobody():
    plant = attended()
    plant.press("plant_button")
    plant.wait(5)
    assert "nobody_at_the_plant" in plant.refused("start")


def test_a_run_that_nobody_looks_after_ends_in_order():
    plant = attended()
    plant.tick()
    plant.press("plant_button")
    plant.tick()
    plant.press("plant_button", active=False)
    plant.give("start")
    plant.until("producing")
    plant.until("stopping", within_s=900, dt=0.5)
    assert plant.core.first_out == "unattended"


# ---- a need ends a run wherever it stands ----------------------------------------------------------------------


@pytest.mark.parametrize("state", ["priming", "pressurising", "diverting", "producing"])
def test_a_time_that_has_come_ends_the_run_in_every_state(state):
    plant = Plant()
    plant.tick()
    plant.hand_is_there = state != "pressurising"
    if state == "diverting":
        plant.tds_mg_l = 900.0
    if state == "priming":
        plant.read("feed_pressure", 0.2)
    assert plant.give("start", until="18:30", until_s=30.0) == []
    plant.until(state)
    assert plant.until("stopping", within_s=40.0) <= 31.0
    assert plant.core.why.id == "target_time"
    assert plant.core.plant.position.last_end is None or plant.core.first_out is None
    plant.mend()
    plant.until("standby")
    assert plant.core.plant.position.last_end.id == "target_time"
    assert plant.core.first_out is None


def test_minutes_count_water_made_and_litres_what_is_in_the_tank():
    plant = Plant()
    plant.tick()
    plant.tds_mg_l = 900.0
    assert plant.give("start", minutes=0.5) == []
    plant.until("diverting")
    plant.wait(40)
    assert plant.state == "diverting"
    plant.tds_mg_l = 330.0
    plant.until("producing")
    assert plant.until("stopping") == pytest.approx(30.0, abs=0.2)
    assert plant.core.why.id == "target_minutes"


# ---- air that comes again, a diverter nobody sees, a motor that was hot ------------------------------------------


def gulp(plant, seconds):
    """Air in the suction for some seconds."""
    for step in range(round(seconds / 0.05)):
        plant.read("feed_pressure", 1.5 if step % 10 < 5 else 1.0)
        plant.tick()
    plant.mend("feed_pressure")
    plant.wait(20)


def test_air_warns_after_some_seconds_and_goes_with_the_air():
    plant = Plant().brought_to("producing")
    gulp(plant, 4.5)
    told = [e["to"] for e in plant.events if e["kind"] == "alarm" and e["id"] == "feed_pressure_wavering"]
    assert told == ["unacknowledged", "returned-unacknowledged"]
    assert plant.state == "producing"


def test_air_that_comes_a_third_time_within_ten_minutes_ends_the_run():
    plant = Plant().brought_to("producing")
    gulp(plant, 4.5)
    gulp(plant, 4.5)
    assert plant.state == "producing"
    gulp(plant, 4.5)
    assert plant.core.first_out == "feed_pressure_unsteady"
    assert plant.core.plant.position.last_end is None or plant.state != "producing"


def test_steps_of_the_feed_are_no_air():
    plant = Plant().brought_to("producing")
    for step in range(8):
        plant.read("feed_pressure", 1.5 if step % 2 else 0.9)
        plant.wait(20)
    assert plant.state == "producing"
    assert plant.alarms == set()


def test_air_that_comes_seldom_does_not_end_the_run():
    plant = Plant().brought_to("producing")
    for _ in range(4):
        gulp(plant, 4.5)
        plant.wait(300, dt=0.5)
    assert plant.state == "producing"


@pytest.mark.parametrize("seen", [True, False])
def test_bad_water_behind_a_diverter_that_nobody_sees_ends_the_run_within_a_minute(seen):
    contacts = QUICK.contacts if seen else {name: c for name, c in QUICK.contacts.items() if "diverter" not in name}
    plant = Plant(dataclasses.replace(quick_settings(sequence={"divert_limit_s": 900.0}), contacts=contacts))
    plant.tick()
    plant.give("start")
    plant.until("producing")
    plant.tds_mg_l = 800.0
    plant.until("diverting")
    plant.wait(61.0)
    assert (plant.core.first_out == "quality_not_reached") is not seen


def test_a_motor_that_was_too_warm_rests_for_half_an_hour():
    plant = Plant(quick_settings(sequence={"motor_run_limits": True}))
    plant.tick()
    plant.give("start")
    plant.until("producing")
    plant.read("pump_motor_temperature", 95.0)
    plant.until("standby")
    assert plant.core.first_out == "motor_too_warm"
    plant.mend()
    plant.wait(25 * 60, dt=1.0)
    assert plant.refused("start") == ["motor_needs_rest"]
    plant.wait(6 * 60, dt=1.0)
    assert plant.refused("start") == []


# ---- a battery whose charge is measured --------------------------------------------------------------------------


def charged(percent):
    plant = Plant()
    plant.read("battery_charge_percent", percent)
    plant.tick()
    return plant


def test_a_start_goes_by_the_charge_where_it_is_known():
    assert charged(29.0).refused("start") == ["battery_charge_too_low"]
    plant = charged(31.0)
    plant.read("battery_voltage", 12.0)
    plant.tick()
    assert plant.refused("start") == []


def test_a_run_ends_by_the_charge_and_no_longer_by_the_voltage():
    plant = charged(60.0)
    plant.give("start")
    plant.until("producing")
    plant.read("battery_voltage", 11.0)
    plant.wait(40)
    assert plant.state == "producing"
    plant.read("battery_charge_percent", 19.0)
    plant.wait(31)
    assert plant.core.first_out == "battery_low"
    assert plant.core.why.values == {"percent": 19.0, "limit_percent": 20.0}


def test_a_charge_that_nobody_knows_any_more_leaves_it_to_the_voltage():
    plant = charged(60.0)
    plant.give("start")
    plant.until("producing")
    plant.lose("battery_charge_percent")
    plant.read("battery_voltage", 11.0)
    plant.wait(31)
    assert plant.core.first_out == "battery_low"
