"""The time-out relay, the person aboard, and the clock."""

import time
from dataclasses import replace

import pytest

from halocline.config import load_demo
from halocline.plant.sensors import ContactInput, OutputPin
from halocline.simulation import PlantParameters, Sea


def test_the_relay_is_armed_by_hand_within_a_second_of_the_first_heartbeat(rig):
    boat = rig()
    assert not boat.run(0.5).truth.relay_closed
    assert boat.run(0.6).truth.relay_closed


def test_without_a_heartbeat_nothing_is_ever_energised(rig):
    boat = rig()
    boat.beating = False
    boat.switch(feed_pump=True, high_pressure_pump=True, product_to_tank=True, flush_valve=True).run(30.0)
    assert not any(
        boat.sea.effective_outputs(boat.now)[output]
        for output in ("feed_pump", "high_pressure_pump", "product_to_tank", "flush_valve")
    )
    assert boat.truth.feed_pump_speed == 0.0


def test_a_lost_heartbeat_takes_the_coils_supply_within_a_second_and_the_feed_ten_later(producing):
    producing.switch(product_to_tank=True).run(2.0)
    producing.beating = False
    producing.run(0.95)
    assert producing.sea.effective_outputs(producing.now)["high_pressure_pump"]
    producing.run(0.1)
    effective = producing.sea.effective_outputs(producing.now)
    assert not effective["high_pressure_pump"]
    assert not effective["product_to_tank"]
    assert effective["feed_pump"]
    assert producing.run(9.8).sea.effective_outputs(producing.now)["feed_pump"]
    assert not producing.run(0.4).sea.effective_outputs(producing.now)["feed_pump"]
    assert producing.truth.hp_pump_dry_s == 0.0


def test_a_level_that_does_not_change_is_no_heartbeat(rig):
    boat = rig().run(2.0)
    boat.beating = False
    for _ in range(60):
        boat.run(0.05).switch(heartbeat=True)
    assert not boat.truth.relay_closed


def test_the_pin_still_rules_the_feed_pump_while_its_release_is_delayed(producing):
    producing.beating = False
    producing.run(2.0).switch(feed_pump=False)
    assert not producing.sea.effective_outputs(producing.now)["feed_pump"]


def test_a_hand_rearms_the_relay_once_the_heartbeat_is_back(producing):
    producing.switch(high_pressure_pump=False)
    producing.beating = False
    producing.run(3.0)
    producing.beating = True
    assert not producing.run(0.5).truth.relay_closed
    assert producing.run(0.6).truth.relay_closed


def test_a_relay_that_the_stop_button_opened_is_rearmed_when_asked(rig):
    boat = rig().run(2.0).inject("stop_button").run(0.2).clear("stop_button").run(5.0)
    assert not boat.truth.relay_closed
    assert boat.ask("rearm_relay").run(1.0).truth.relay_closed


def test_the_relay_cannot_be_rearmed_while_the_button_is_pressed(rig):
    boat = rig().run(2.0).inject("stop_button").ask("rearm_relay").run(5.0)
    assert not boat.truth.relay_closed


def test_other_outputs_do_not_depend_on_the_relay(rig):
    boat = rig()
    boat.beating = False
    assert boat.switch(buzzer=True).run(3.0).sea.effective_outputs(boat.now)["buzzer"]


def test_the_hand_raises_at_a_steady_pace_and_holds(rig):
    boat = rig().pump().run(60.0).ask("raise_pressure")
    start = boat.truth.vessel_pressure_bar
    assert boat.run(40.0).truth.vessel_pressure_bar == pytest.approx(start + 20.0, abs=0.5)
    assert boat.run(80.0).truth.vessel_pressure_bar == pytest.approx(55.0, abs=0.1)
    assert boat.run(60.0).truth.peak_vessel_pressure_bar < 55.2


def test_asked_nothing_the_hand_leaves_the_regulator_alone(producing):
    before = producing.truth.regulator_open
    assert producing.run(60.0).truth.regulator_open == before


def test_the_hand_opens_the_regulator_within_two_seconds(producing):
    producing.ask("open_regulator").run(2.0)
    assert producing.truth.regulator_open == 1.0
    assert producing.truth.vessel_pressure_bar < 8.0


def test_the_hand_does_not_raise_what_does_not_run(rig):
    boat = rig().prime().ask("raise_pressure").run(30.0)
    assert boat.truth.regulator_open == 1.0
    boat.switch(high_pressure_pump=True).run(20.0)
    assert 10.0 < boat.truth.vessel_pressure_bar < 15.0


def with_drive(demo, **changes):
    return replace(demo, drive=replace(demo.drive, **changes))


def test_a_regulator_left_set_gives_working_pressure_at_once(rig, demo):
    boat = rig(with_drive(demo, regulator="left_set"), rested_feed_g_kg=36.0).pump()
    assert boat.run(20.0).truth.vessel_pressure_bar == pytest.approx(55.0, abs=0.5)
    assert boat.switch(high_pressure_pump=False).run(3.0).truth.vessel_pressure_bar < 5.0


def test_a_spring_regulator_holds_pressure_and_lets_go_slowly(rig, demo):
    boat = rig(with_drive(demo, regulator="left_set", regulator_kind="spring"), rested_feed_g_kg=36.0).pump()
    assert boat.run(20.0).truth.vessel_pressure_bar == pytest.approx(55.0, abs=0.5)
    boat.switch(high_pressure_pump=False, feed_pump=False)
    assert boat.run(3.0).truth.vessel_pressure_bar > 5.0
    assert boat.run(57.0).truth.vessel_pressure_bar < 5.0


def test_a_spring_regulator_is_raised_and_opened_by_hand_too(rig, demo):
    boat = rig(with_drive(demo, regulator_kind="spring")).produce()
    assert boat.truth.vessel_pressure_bar == pytest.approx(55.0, abs=0.5)
    assert boat.ask("open_regulator").run(3.0).truth.vessel_pressure_bar < 8.0


def test_a_person_switches_the_pump_where_the_relay_only_permits(rig, demo):
    boat = rig(with_drive(demo, pump="permissive")).pump()
    assert boat.truth.high_pressure_pump_speed == 0.0
    assert boat.ask("switch_pump_on").run(5.0).truth.high_pressure_pump_speed == 1.0
    assert boat.switch(high_pressure_pump=False).run(2.0).truth.high_pressure_pump_speed == 0.0
    boat.switch(high_pressure_pump=True).run(2.0)
    assert boat.ask("switch_pump_off").run(5.0).truth.high_pressure_pump_speed == 0.0


def test_a_person_alone_runs_the_pump_where_nothing_switches_it(rig, demo):
    outputs = {name: pin for name, pin in demo.outputs.items() if name != "high_pressure_pump"}
    boat = rig(replace(with_drive(demo, pump="watch_only"), outputs=outputs)).prime()
    assert boat.ask("switch_pump_on").run(5.0).truth.high_pressure_pump_speed == 1.0
    boat.beating = False
    assert boat.run(3.0).truth.high_pressure_pump_speed == 1.0
    assert boat.ask("switch_pump_off").run(5.0).truth.high_pressure_pump_speed == 0.0


def test_without_its_inverter_the_pump_has_no_supply(rig, demo):
    fitted = rig(replace(demo, outputs={**demo.outputs, "inverter_enable": OutputPin(pin=9)})).pump()
    assert fitted.truth.high_pressure_pump_speed == 0.0
    assert fitted.switch(inverter_enable=True).run(2.0).truth.high_pressure_pump_speed == 1.0


def test_the_diverter_travels_in_less_than_a_second_and_shows_both_ends(producing):
    sea = producing.sea

    def ends():
        return [sea.contact_closed(f"diverter_{end}", producing.now) for end in ("at_tank", "overboard")]

    assert ends() == [True, False]
    producing.switch(product_to_tank=True).run(0.4)
    assert ends() == [True, True]
    assert producing.run(0.6) is producing
    assert ends() == [False, True]


def test_a_flow_switch_at_the_tank(rig, demo):
    contacts = {**demo.contacts, "flow_at_tank": ContactInput(pin=9)}
    boat = rig(replace(demo, contacts=contacts)).produce()
    assert boat.sea.contact_closed("flow_at_tank", boat.now)
    boat.switch(product_to_tank=True).run(2.0)
    assert not boat.sea.contact_closed("flow_at_tank", boat.now)


def test_somebody_presses_the_button_at_the_plant(rig):
    boat = rig()
    assert boat.sea.contact_closed("plant_button", boat.now)
    boat.sea.press_plant_button(boat.now, seconds=0.5)
    assert not boat.run(0.3).sea.contact_closed("plant_button", boat.now)
    assert boat.run(0.3).sea.contact_closed("plant_button", boat.now)


def test_the_contactor_delays_and_the_motor_runs_down(producing):
    producing.switch(high_pressure_pump=False)
    producing.sea.advance(producing.now + 0.02)
    assert producing.sea.truth(producing.now + 0.02).high_pressure_pump_speed == 1.0
    producing.now += 0.02
    assert 0.2 < producing.run(0.3).truth.high_pressure_pump_speed < 0.8
    assert producing.run(1.0).truth.high_pressure_pump_speed == 0.0


def test_a_real_clock_that_ran_ahead_makes_the_plant_slip(rig):
    slipping = rig(options={"slip": True}).pump()
    before = slipping.sea.truth(slipping.now)
    after = slipping.sea.truth(slipping.now + 60.0)
    assert after.time_s - before.time_s == pytest.approx(0.05)
    count, last_s = slipping.sea.edges("flush_flow", slipping.now + 60.0)
    assert count == 0
    assert last_s <= slipping.now + 60.0


def test_pulses_of_a_slipping_plant_are_timed_on_the_callers_clock(rig):
    boat = rig(options={"slip": True}).produce()
    boat.sea.advance(boat.now + 100.0)
    boat.now += 100.0
    boat.run(1.0)
    _, last_s = boat.sea.edges("product_flow", boat.now)
    assert boat.now - 0.1 < last_s <= boat.now


def test_a_virtual_clock_loses_nothing(rig):
    exact = rig()
    exact.sea.advance(3600.0)
    assert exact.sea.truth(3600.0).time_s == pytest.approx(3600.0)


def trajectory(seed, look):
    settings = load_demo()[0]
    sea = Sea(settings, PlantParameters.for_settings(settings), seed, 0.0)
    sea.inject("air_in_suction", 1.0, severity=0.3)
    seen, level = [], False
    for tick in range(1, 1200):
        now = tick * 0.05
        level = not level
        sea.set_output("heartbeat", level, now)
        if tick == 60:
            sea.set_output("feed_pump", True, now)
        if tick == 200:
            sea.set_output("high_pressure_pump", True, now)
            sea.ask("raise_pressure", now)
        look(sea, now)
        if tick % 20 == 0:
            seen.append(sea.volts(0x48, 0, now))
    return seen, sea.truth(60.0)


def test_the_same_seed_plays_the_same_to_the_last_bit():
    assert trajectory(7, lambda sea, now: None) == trajectory(7, lambda sea, now: None)
    assert trajectory(7, lambda sea, now: None)[0] != trajectory(8, lambda sea, now: None)[0]


def test_looking_does_not_change_what_happens():
    def curious(sea, now):
        for share in (0.1, 0.4, 0.9):
            sea.volts(0x48, 1, now - 0.05 + 0.05 * share)
            sea.contact_closed("bilge_wet", now - 0.05 + 0.05 * share)
            sea.edges("product_flow", now - 0.05 + 0.05 * share)

    left_alone, looked_at = trajectory(7, lambda sea, now: None), trajectory(7, curious)
    assert looked_at == left_alone


def test_time_never_runs_back(rig):
    boat = rig().pump()
    before = boat.truth
    assert boat.sea.truth(boat.now - 5.0) == before


def test_quick_settings_and_parameters_make_a_whole_run_in_seconds():
    settings = load_demo(quick=True)[0]
    parameters = PlantParameters.for_settings(settings).quick()
    assert parameters.product_side_volume_l == pytest.approx(0.06)
    assert parameters.hand_raise_bar_s == pytest.approx(10.0)
    assert parameters.probe_lag_s == pytest.approx(0.5)
    assert parameters.feed_flow_l_h == 340.0
    sea, now, level = Sea(settings, parameters, 1, 0.0), 0.0, False
    for tick in range(1, 700):
        now, level = tick * 0.05, not level
        sea.set_output("heartbeat", level, now)
        sea.set_output("feed_pump", tick > 40, now)
        sea.set_output("high_pressure_pump", tick > 60, now)
        sea.ask("raise_pressure" if tick > 80 else None, now)
    assert sea.truth(now).product_tds_mg_l < 400.0


def test_parameters_know_a_bigger_battery_and_an_uncalibrated_element(demo):
    bigger = replace(
        demo,
        limits=replace(demo.limits, battery_start_v=24.8, battery_stop_v=23.2),
        membrane=replace(demo.membrane, water_permeability_lmh_bar=None, salt_permeability_lmh=None),
    )
    parameters = PlantParameters.for_settings(bigger)
    assert parameters.battery_v == pytest.approx(26.8)
    # 2.4 m³/d at 99.4 % and 2.6 m² is A 1.602 LMH/bar and B 0.192 LMH when new
    assert parameters.water_permeability_lmh_bar == pytest.approx(0.78 * 1.602, rel=0.01)
    assert parameters.salt_permeability_lmh == pytest.approx(0.192, rel=0.02)


def test_a_second_of_steady_running_costs_less_than_two_and_a_half_milliseconds(producing):
    sea, now, level = producing.sea, producing.now, False

    def twenty_seconds():
        nonlocal now, level
        begun = time.process_time()
        for tick in range(400):
            now, level = now + 0.05, not level
            sea.set_output("heartbeat", level, now)
            sea.advance(now)
            sea.volts(0x48, 0, now)
            sea.volts(0x48 + tick % 2, 1 + tick % 3, now)
            sea.edges("product_flow", now)
        return (time.process_time() - begun) / 20.0

    assert min(twenty_seconds() for _ in range(3)) < 0.0025


def test_a_hand_stops_turning_when_no_feed_comes_so_that_its_return_is_no_blow(rig):
    boat = rig().pump().ask("raise_pressure").run(40.0)
    boat.inject("seacock_closed").run(1.0).clear("seacock_closed").run(5.0)
    assert boat.truth.peak_vessel_pressure_bar < 62.0
