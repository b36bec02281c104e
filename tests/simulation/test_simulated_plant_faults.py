"""Every fault of the plant does what it says, and once cleared the plant is as if it had never been."""

from dataclasses import replace

import pytest

from halocline.plant.sensors import OutputPin
from halocline.simulation import FAULTS

STEADY_BAR = 55.0


def steady_again(rig, seconds=60.0):
    truth = rig.run(seconds).truth
    assert truth.faults == ()
    assert truth.vessel_pressure_bar == pytest.approx(STEADY_BAR, abs=0.3)
    assert truth.feed_pressure_bar == pytest.approx(1.5, abs=0.05)
    return truth


@pytest.mark.parametrize(("severity", "drop_bar"), [(0.0, 0.06), (0.5, 0.24), (0.8, 1.5)])
def test_a_clogged_prefilter_loses_the_clean_drop_over_the_square_of_what_is_left(producing, severity, drop_bar):
    truth = producing.inject("prefilter_clogged", severity=severity).run(5.0).truth
    assert truth.filter_inlet_pressure_bar - truth.feed_pressure_bar == pytest.approx(drop_bar, abs=0.01)
    producing.clear("prefilter_clogged")
    steady_again(producing)


def test_a_prefilter_clogged_to_four_fifths_leaves_too_little_feed_but_no_vacuum(producing):
    truth = producing.inject("prefilter_clogged", severity=0.8).run(5.0).truth
    assert 0.0 < truth.feed_pressure_bar < 0.13
    assert truth.hp_pump_dry_s == 0.0


def test_a_prefilter_clogged_further_makes_the_pump_cavitate(producing):
    truth = producing.inject("prefilter_clogged", severity=0.9).run(5.0).truth
    assert truth.feed_pressure_bar < -0.5
    assert truth.feed_flow_l_h < 300.0
    assert 4.0 < truth.hp_pump_dry_s < 5.0


def test_a_shut_prefilter_stops_all_water_but_stands_under_the_feed_pump(producing):
    truth = producing.inject("prefilter_clogged", severity=1).run(5.0).truth
    assert truth.feed_flow_l_h == 0.0
    assert truth.filter_inlet_pressure_bar == pytest.approx(2.2, abs=0.05)
    assert truth.vessel_pressure_bar < 1.0
    producing.clear("prefilter_clogged")
    steady_again(producing)


def test_a_closed_seacock_leaves_the_pump_dry_and_pressure_collapses(producing):
    truth = producing.inject("seacock_closed").run(5.0).truth
    assert truth.feed_pressure_bar < -0.5
    assert truth.filter_inlet_pressure_bar < 0.0
    assert truth.vessel_pressure_bar < 1.0
    assert truth.hp_pump_dry_s > 4.0
    producing.clear("seacock_closed")
    steady_again(producing)


def test_a_closed_seacock_gives_no_feed_pressure_in_priming(rig):
    truth = rig().inject("seacock_closed").prime().truth
    assert truth.feed_pressure_bar == pytest.approx(0.0, abs=0.01)


def test_air_makes_feed_and_vessel_pressure_unsteady(producing):
    producing.inject("air_in_suction", severity=0.5)
    feed, membrane = [], []
    for _ in range(100):
        truth = producing.run(0.1).truth
        feed.append(truth.feed_pressure_bar)
        membrane.append(truth.vessel_pressure_bar)
    assert max(feed) - min(feed) > 0.3
    assert max(membrane) - min(membrane) > 5.0
    producing.clear("air_in_suction")
    steady_again(producing)


def test_nothing_but_air_starves_the_pump(producing):
    producing.inject("air_in_suction", severity=1.0)
    assert min(producing.run(0.1).truth.feed_pressure_bar for _ in range(100)) < 0.5


@pytest.mark.parametrize("rate_bar_per_ms", [None, 0.1, 0.3, 1.0])
def test_a_blocked_brine_outlet_raises_pressure_within_milliseconds(producing, rate_bar_per_ms):
    given = {} if rate_bar_per_ms is None else {"rate_bar_per_ms": rate_bar_per_ms}
    producing.inject("brine_blocked", **given)
    before = producing.truth.vessel_pressure_bar
    producing.sea.advance(producing.now + 0.005)
    producing.now += 0.005
    risen = (producing.truth.vessel_pressure_bar - before) / 5.0
    assert 0.1 * 0.9 <= risen <= 1.0
    if rate_bar_per_ms is not None:
        assert risen == pytest.approx(rate_bar_per_ms, rel=0.1)
        assert producing.sea.pressure_rate_bar_s == pytest.approx(1000.0 * risen, rel=0.15)


@pytest.mark.parametrize("rate_bar_per_ms", [0.1, 1.0])
def test_the_relief_valve_lifts_at_its_setting_and_holds_a_blocked_plant(rig, rate_bar_per_ms):
    blocked = rig(pressure_switch_bar=100.0).produce()
    blocked.inject("brine_blocked", rate_bar_per_ms=rate_bar_per_ms).run(3.0)
    truth = blocked.truth
    assert truth.relief_lifted
    assert 69.0 < truth.vessel_pressure_bar < 73.0
    assert truth.peak_vessel_pressure_bar < 73.0
    assert truth.relief_flow_l_h + truth.product_flow_l_h == pytest.approx(truth.feed_flow_l_h, rel=0.01)
    blocked.clear("brine_blocked")
    assert steady_again(blocked).relief_lifted


def test_a_blocked_plant_keeps_the_osmotic_pressure_after_its_pump_stopped(producing):
    producing.inject("brine_blocked").switch(high_pressure_pump=False, feed_pump=False).run(20.0)
    assert 10.0 < producing.truth.vessel_pressure_bar < 40.0
    producing.clear("brine_blocked").run(5.0)
    assert producing.truth.vessel_pressure_bar < 5.0


def test_a_blocked_brine_outlet_opens_the_pressure_switch_which_stops_the_pump(producing):
    producing.inject("brine_blocked", rate_bar_per_ms=0.1).run(0.3)
    assert not producing.truth.relay_closed
    assert not producing.sea.contact_closed("pressure_switch", producing.now)
    assert producing.run(2.0).truth.high_pressure_pump_speed == 0.0
    assert producing.run(30.0).truth.relay_closed is False, "nobody re-arms before the heartbeat was away"


@pytest.mark.parametrize("bar_per_min", [4.0, -4.0])
def test_a_drifting_regulator_moves_pressure_at_its_rate(producing, bar_per_min):
    truth = producing.inject("regulator_drift", bar_per_min=bar_per_min).run(60.0).truth
    assert truth.vessel_pressure_bar == pytest.approx(STEADY_BAR + bar_per_min, abs=0.3)
    stopped = producing.clear("regulator_drift").run(30.0).truth
    assert stopped.vessel_pressure_bar == pytest.approx(truth.vessel_pressure_bar, abs=0.2)


def test_a_regulator_left_where_it_was_gives_that_pressure_at_once(rig):
    left = rig().inject("regulator_left_at", bar=40).prime().ask("open_regulator").run(5.0)
    left.switch(high_pressure_pump=True).run(2.0)
    assert left.truth.vessel_pressure_bar > 20.0, "less than 40 while the element is full of fresh water"
    assert left.run(100.0).truth.vessel_pressure_bar == pytest.approx(40.0, abs=0.3)
    left.switch(high_pressure_pump=False).run(3.0).clear("regulator_left_at")
    assert left.switch(high_pressure_pump=True).run(3.0).truth.vessel_pressure_bar < 7.0


def test_a_leaking_membrane_passes_more_salt(producing):
    good = producing.truth
    leaking = producing.inject("membrane_leak", factor=5).run(150.0).truth
    assert leaking.product_tds_mg_l == pytest.approx(5 * good.product_tds_mg_l, rel=0.15)
    producing.clear("membrane_leak").run(150.0)
    assert producing.truth.product_tds_mg_l == pytest.approx(good.product_tds_mg_l, rel=0.02)


def test_a_fouled_membrane_passes_less_water(producing):
    good = producing.truth
    fouled = producing.inject("membrane_fouled", factor=0.6).run(20.0).truth
    assert fouled.product_flow_l_h < 0.85 * good.product_flow_l_h
    producing.clear("membrane_fouled")
    assert steady_again(producing).product_flow_l_h == pytest.approx(good.product_flow_l_h, rel=0.01)


def test_swapped_hoses_lead_brine_through_meter_cell_and_diverter(producing):
    producing.inject("hoses_swapped").run(20.0)
    truth = producing.truth
    assert truth.product_tds_mg_l > 40_000.0
    assert producing.flow("product_flow") == pytest.approx(truth.brine_flow_l_h, rel=0.01)
    producing.switch(product_to_tank=True).run(3.0)
    assert producing.truth.tank_worst_tds_mg_l > 40_000.0
    producing.switch(product_to_tank=False).clear("hoses_swapped").run(200.0)
    assert producing.truth.product_tds_mg_l < 400.0
    assert producing.flow("product_flow") == pytest.approx(61.3, abs=1.0)


def test_a_closed_product_line_lifts_its_own_relief_and_stops_the_meter(producing):
    producing.inject("product_line_closed").run(5.0)
    assert 1.5 < producing.truth.product_pressure_bar < 2.2
    assert producing.flow("product_flow") == 0.0
    producing.clear("product_line_closed")
    assert steady_again(producing).product_pressure_bar < 0.2
    assert producing.flow("product_flow") > 50.0


def test_a_dead_high_pressure_pump_makes_no_pressure(producing):
    dead = producing.inject("hp_pump_dead").run(3.0).truth
    assert dead.high_pressure_pump_speed == 0.0
    assert dead.vessel_pressure_bar < 5.0
    producing.clear("hp_pump_dead")
    steady_again(producing)


def test_a_worn_high_pressure_pump_delivers_less(producing):
    worn = producing.inject("hp_pump_worn", factor=0.8).run(10.0).truth
    assert worn.feed_flow_l_h == pytest.approx(0.8 * 340.0)
    assert worn.vessel_pressure_bar < 50.0
    producing.clear("hp_pump_worn")
    steady_again(producing)


def test_without_its_feed_pump_the_high_pressure_pump_sucks(producing):
    dead = producing.inject("feed_pump_dead").run(5.0).truth
    assert dead.feed_pump_speed == 0.0
    assert dead.feed_pressure_bar < 0.0
    assert dead.hp_pump_dry_s > 4.0
    producing.clear("feed_pump_dead")
    steady_again(producing)


def test_a_welded_relay_keeps_the_pump_running(producing):
    producing.inject("relay_welded", output="high_pressure_pump").switch(high_pressure_pump=False).run(5.0)
    assert producing.truth.vessel_pressure_bar > 50.0
    assert not producing.truth.effective_outputs["high_pressure_pump"]
    producing.clear("relay_welded", output="high_pressure_pump").run(3.0)
    assert producing.truth.vessel_pressure_bar < 5.0


def test_two_relays_weld_and_are_cleared_one_by_one(producing):
    producing.switch(high_pressure_pump=False, feed_pump=False)
    producing.inject("relay_welded", output="high_pressure_pump")
    producing.inject("relay_welded", output="feed_pump").run(3.0)
    assert producing.truth.faults == ("relay_welded high_pressure_pump", "relay_welded feed_pump")
    producing.clear("relay_welded", output="high_pressure_pump").run(3.0)
    assert producing.truth.high_pressure_pump_speed == 0.0
    assert producing.truth.feed_pump_speed == 1.0
    producing.clear("relay_welded").run(3.0)
    assert producing.truth.feed_pump_speed == 0.0


@pytest.mark.parametrize(("position", "at"), [("on", 1.0), ("off", 0.0)])
def test_a_stuck_diverter_does_not_obey(producing, position, at):
    producing.inject("valve_stuck", output="product_to_tank", position=position)
    producing.switch(product_to_tank=position == "off").run(2.0)
    assert producing.truth.diverter_position == at
    producing.clear("valve_stuck", output="product_to_tank").run(2.0)
    assert producing.truth.diverter_position == 1.0 - at


def test_a_stuck_flush_valve_does_not_flush(rig):
    stuck = rig().inject("valve_stuck", output="flush_valve", position="off").run(2.0)
    assert stuck.switch(flush_valve=True).run(5.0).truth.feed_pressure_bar < 0.05
    stuck.clear("valve_stuck").run(3.0)
    assert stuck.truth.feed_pressure_bar > 1.0


def test_a_hand_start_runs_the_pump_past_relay_and_time_out(rig):
    hand = rig()
    hand.beating = False
    truth = hand.inject("hand_start").run(5.0).truth
    assert truth.high_pressure_pump_speed == 1.0
    assert truth.feed_pump_speed == 0.0
    assert not truth.effective_outputs["high_pressure_pump"]
    assert hand.inject("hand_stop").run(3.0).truth.high_pressure_pump_speed == 0.0
    assert hand.truth.faults == ()


def test_clearing_a_hand_start_ends_it(rig):
    hand = rig().inject("hand_start").run(3.0).clear("hand_start").run(3.0)
    assert hand.truth.high_pressure_pump_speed == 0.0


def test_a_hand_stop_holds_the_pump_off_until_cleared(producing):
    assert producing.inject("hand_stop").run(3.0).truth.high_pressure_pump_speed == 0.0
    producing.clear("hand_stop")
    steady_again(producing)


def test_a_hand_start_after_a_hand_stop_runs_the_pump(producing):
    producing.inject("hand_stop").run(3.0).inject("hand_start").run(2.0)
    assert producing.truth.high_pressure_pump_speed == 1.0
    assert producing.truth.faults == ("hand_start",)


def test_a_sagging_battery(producing):
    before = producing.truth.battery_v
    assert producing.inject("battery_sag", volts=1.5).run(1.0).truth.battery_v == pytest.approx(before - 1.5, abs=0.05)
    assert producing.clear("battery_sag").run(1.0).truth.battery_v == pytest.approx(before, abs=0.05)


def test_the_tank_stands_where_it_is_put_and_fills_on_from_there(producing):
    before = producing.truth
    producing.inject("tank_fill", percent=97).switch(product_to_tank=True).run(60.0)
    assert producing.truth.tank_litres == pytest.approx(0.97 * 300 + producing.truth.tank_added_l, abs=0.01)
    producing.clear("tank_fill")
    assert producing.truth.tank_litres == pytest.approx(before.tank_litres + producing.truth.tank_added_l, abs=0.01)


def test_a_full_tank_lifts_its_float(rig):
    boat = rig()
    assert boat.sea.contact_closed("tank_float", boat.now)
    boat.inject("tank_fill", percent=99)
    assert not boat.sea.contact_closed("tank_float", boat.now)
    boat.clear("tank_fill")
    assert boat.sea.contact_closed("tank_float", boat.now)


def test_without_fresh_water_a_flush_has_no_pressure(rig):
    empty = rig().run(2.0).inject("flush_supply_empty").switch(flush_valve=True).run(10.0)
    assert empty.truth.feed_pressure_bar < 0.05
    assert empty.truth.flush_l == 0.0
    assert empty.clear("flush_supply_empty").run(10.0).truth.feed_pressure_bar > 0.3


def test_an_empty_tank_has_no_water_to_flush_with(rig):
    assert rig(tank_litres=0.0).run(2.0).switch(flush_valve=True).run(5.0).truth.flush_l == 0.0


def test_a_leaking_flush_check_turns_the_flush_meter_while_the_plant_runs(producing):
    assert producing.flow("flush_flow") == 0.0
    producing.inject("flush_check_leaks")
    assert producing.flow("flush_flow") > 10.0
    assert producing.truth.flush_l == 0.0
    producing.clear("flush_check_leaks")
    assert producing.flow("flush_flow") == 0.0


def test_a_leaking_flush_valve_seeps_through_the_resting_plant(rig):
    resting = rig().run(2.0).inject("flush_valve_leaks").run(5.0)
    assert resting.flow("flush_flow", 20.0) > 10.0
    assert 0.0 < resting.truth.feed_pressure_bar < 0.3
    resting.clear("flush_valve_leaks").run(5.0)
    assert resting.flow("flush_flow", 20.0) == 0.0


def test_a_leaking_flush_valve_hardly_matters_while_the_plant_runs(producing):
    truth = producing.inject("flush_valve_leaks").run(30.0).truth
    assert truth.element_salinity_g_kg > 35.0
    assert producing.flow("flush_flow") > 5.0


def test_the_sea_changes_its_temperature(producing):
    before = producing.truth
    warm = producing.inject("sea_temperature", value=35).run(120.0).truth
    assert warm.sea_temperature_c == pytest.approx(35.0, abs=0.1)
    assert warm.product_flow_l_h > 1.1 * before.product_flow_l_h
    producing.inject("sea_temperature", value=43).run(120.0)
    assert producing.truth.sea_temperature_c == pytest.approx(43.0, abs=0.1)
    producing.clear("sea_temperature").run(120.0)
    assert producing.truth.sea_temperature_c == pytest.approx(22.0, abs=0.1)


@pytest.mark.parametrize("contact", ["bilge_wet", "stop_button", "pressure_switch"])
def test_contacts_open_and_close_again(rig, contact):
    boat = rig().run(2.0)
    assert boat.sea.contact_closed(contact, boat.now)
    boat.inject(contact)
    assert not boat.sea.contact_closed(contact, boat.now)
    boat.clear(contact)
    assert boat.sea.contact_closed(contact, boat.now)


@pytest.mark.parametrize("contact", ["stop_button", "pressure_switch"])
def test_stop_button_and_pressure_switch_take_the_coils_supply_away(producing, contact):
    producing.switch(product_to_tank=True).run(2.0).inject(contact).run(1.5)
    truth = producing.truth
    assert truth.high_pressure_pump_speed == 0.0
    assert truth.diverter_position == 0.0
    assert truth.feed_pump_speed == 1.0, "the feed outlasts the run-down"
    assert producing.run(10.0).truth.feed_pump_speed == 0.0


def test_a_wet_bilge_is_left_to_software(producing):
    assert producing.inject("bilge_wet").run(2.0).truth.relay_closed


def test_the_flush_valve_and_a_release_valve_can_stick_too(rig, demo):
    outputs = {**demo.outputs, "pressure_release": OutputPin(pin=9)}
    released = rig(replace(demo, outputs=outputs)).run(2.0).switch(pressure_release=True).produce()
    assert released.truth.vessel_pressure_bar > 50.0
    released.inject("valve_stuck", output="pressure_release", position="off").run(3.0)
    assert released.truth.vessel_pressure_bar < 10.0
    released.clear("valve_stuck")
    steady_again(released)


def test_every_plant_fault_can_be_given_twice_and_cleared(rig):
    boat = rig().run(2.0)
    for fault in FAULTS.values():
        if fault.kind != "plant":
            continue
        arguments = {each.name: each.high / 2 for each in fault.arguments}
        if fault.target:
            arguments |= {"output": "flush_valve"}
        if fault.name == "valve_stuck":
            arguments |= {"position": "off"}
        boat.inject(fault.name, **arguments).run(0.5)
        boat.inject(fault.name, **arguments).run(0.5)
        boat.clear(fault.name).run(0.5)
        assert boat.truth.faults == (), fault.name
    boat.run(60.0)
    assert boat.truth.vessel_pressure_bar < 0.1


def test_a_fault_given_again_replaces_its_arguments(producing):
    producing.inject("hp_pump_worn", factor=0.5).run(1.0).inject("hp_pump_worn", factor=0.9).run(5.0)
    assert producing.truth.feed_flow_l_h == pytest.approx(0.9 * 340.0)
    assert producing.truth.faults == ("hp_pump_worn",)


def test_a_welded_relay_has_no_coil_supply_once_the_heartbeat_stops(producing):
    producing.inject("relay_welded", output="high_pressure_pump").switch(high_pressure_pump=False).run(2.0)
    assert producing.truth.high_pressure_pump_speed == 1.0
    producing.beating = False
    producing.run(3.0)
    assert not producing.truth.relay_closed
    assert producing.truth.high_pressure_pump_speed == 0.0
