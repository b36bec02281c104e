"""A whole run on the simulated boat, from rest to flushed, and that it agrees with physics on the way."""

import math

import pytest

from halocline.physics.membrane import Membrane, lumped, project


def test_at_the_beginning_the_plant_is_rested_and_full_of_fresh_water(rig):
    truth = rig().truth
    assert truth.vessel_pressure_bar == 0.0
    assert truth.feed_pressure_bar == 0.0
    assert truth.element_salinity_g_kg < 0.5
    assert truth.regulator_open == pytest.approx(1.0)
    assert truth.diverter_position == 0.0
    assert truth.tank_worst_tds_mg_l is None
    assert not any(truth.effective_outputs.values())


def test_two_hundred_litres_fit_into_the_tank(rig):
    demo = rig()
    assert demo.settings.plant.tank_capacity_l - demo.truth.tank_litres == pytest.approx(200.0)


def test_the_feed_pump_alone_primes_the_plant(rig):
    truth = rig().prime().truth
    assert truth.feed_pressure_bar > 1.0
    assert truth.vessel_pressure_bar < 3.0
    assert truth.brine_flow_l_h > 100.0
    assert truth.hp_pump_dry_s == 0.0


def test_an_open_regulator_holds_no_pressure(rig):
    truth = rig().pump().truth
    assert 5.5 < truth.vessel_pressure_bar < 6.5
    assert truth.feed_pressure_bar == pytest.approx(1.5, abs=0.1)


def test_sixty_litres_an_hour_of_good_water_at_working_pressure(producing):
    truth = producing.truth
    assert truth.vessel_pressure_bar == pytest.approx(55.0, abs=0.2)
    assert truth.product_flow_l_h == pytest.approx(60.0, abs=4.0)
    assert truth.product_tds_mg_l < 450.0


def test_steady_state_agrees_with_the_membrane_model(producing):
    truth, p = producing.truth, producing.sea.settings
    membrane = Membrane(p.membrane.water_permeability_lmh_bar, p.membrane.salt_permeability_lmh, p.membrane.area_m2)
    point = lumped(membrane, 36.3, 22.0, truth.vessel_pressure_bar, truth.feed_flow_l_h, truth.product_pressure_bar)
    assert truth.product_flow_l_h == pytest.approx(point.product_flow_l_h, rel=0.002)
    assert truth.product_tds_mg_l == pytest.approx(point.product_tds_mg_l, rel=0.01)
    along = project(
        membrane,
        36.3,
        22.0,
        truth.vessel_pressure_bar,
        truth.feed_flow_l_h,
        product_pressure_bar=truth.product_pressure_bar,
    )
    assert truth.product_flow_l_h == pytest.approx(along.product_flow_l_h, rel=0.02)
    assert truth.product_tds_mg_l == pytest.approx(along.product_tds_mg_l, rel=0.02)
    assert truth.brine_salinity_g_kg == pytest.approx(along.brine_salinity_g_kg, rel=0.02)


@pytest.mark.parametrize("temperature_c", [8.0, 30.0])
@pytest.mark.parametrize("salinity_g_kg", [20.0, 40.0])
def test_other_seas_agree_with_the_membrane_model_too(rig, temperature_c, salinity_g_kg):
    there = rig(temperature_c=temperature_c, salinity_g_kg=salinity_g_kg).produce()
    truth, p = there.truth, there.settings.membrane
    along = project(
        Membrane(p.water_permeability_lmh_bar, p.salt_permeability_lmh, p.area_m2),
        salinity_g_kg,
        temperature_c,
        truth.vessel_pressure_bar,
        truth.feed_flow_l_h,
        product_pressure_bar=truth.product_pressure_bar,
    )
    assert truth.product_flow_l_h == pytest.approx(along.product_flow_l_h, rel=0.02)


def test_water_and_salt_balance_at_steady_state(producing):
    truth = producing.truth
    leaving = truth.brine_flow_l_h + truth.product_flow_l_h + truth.relief_flow_l_h
    assert leaving == pytest.approx(truth.feed_flow_l_h, rel=1e-3)
    # g/kg times L/h, with densities 2 % apart
    salt_in = truth.element_salinity_g_kg * truth.feed_flow_l_h
    salt_out = truth.brine_salinity_g_kg * truth.brine_flow_l_h
    salt_out += truth.product_tds_mg_l / 1000.0 * truth.product_flow_l_h
    assert salt_out == pytest.approx(salt_in, rel=0.01)


def test_what_went_to_the_tank_and_overboard_is_what_was_made(producing):
    start = producing.truth
    producing.switch(product_to_tank=True).run(60.0).switch(product_to_tank=False).run(60.0)
    end = producing.truth
    shared = end.tank_added_l - start.tank_added_l + end.overboard_l - start.overboard_l
    assert shared == pytest.approx(start.product_flow_l_h * 120.0 / 3600.0, rel=0.005)
    assert end.tank_added_l == pytest.approx(start.product_flow_l_h / 60.0, rel=0.02)
    assert end.tank_litres == pytest.approx(start.tank_litres + end.tank_added_l)
    assert end.tank_worst_tds_mg_l == pytest.approx(start.product_tds_mg_l, rel=0.02)


def test_the_first_product_after_a_fresh_flush_reads_excellent_and_then_salt_arrives(rig):
    young = rig().pump().ask("raise_pressure")
    first = young.run(40.0).truth.product_tds_mg_l
    worst = max(young.run(5.0).truth.product_tds_mg_l for _ in range(20))
    young.run(120.0)
    assert first < 200.0
    assert worst > 450.0
    assert young.truth.product_tds_mg_l < 400.0


def second_of_two(salt, incoming, flow_l_h, first_l, second_l, seconds):
    """What leaves the second of two stirred volumes in line: the exact solution of the salt balance."""
    a, b = (flow_l_h * seconds / (3600.0 * volume_l) for volume_l in (first_l, second_l))
    return incoming + (salt - incoming) * (math.exp(-b) + b * (math.exp(-a) - math.exp(-b)) / (b - a))


def test_washout_of_a_salty_product_side_follows_two_stirred_volumes(rig):
    salty = rig(rested_product_g_l=20.0, suck_back_l=0.0, hand_raise_bar_s=100.0, regulator_open_bar=3.0)
    salty.pump().run(120.0).ask("raise_pressure").run(2.0)
    p, flow = salty.settings.plant, salty.truth.product_flow_l_h
    start = salty.truth.product_tds_mg_l / 1000.0
    salty.run(60.0)
    element_l = 0.58 * p.product_side_volume_l
    cell = second_of_two(start, 0.34, flow, element_l, p.product_side_volume_l - element_l, 60.0)
    assert start > 18.0
    assert salty.truth.product_tds_mg_l / 1000.0 == pytest.approx(cell, rel=0.05)


def test_standing_sea_water_seeps_through_to_the_product_side(rig):
    standing = rig(rested_feed_g_kg=36.0, rested_product_g_l=0.3, suck_back_l=0.0)
    standing.beating = False
    standing.sea.advance(1800.0)
    standing.now = 1800.0
    # 0.35 L behind B times area of 0.44 L/h: a good half of the way in half an hour
    assert 10.0 < standing.sea._plant.product.element_g_l < 22.0


def test_pressure_leaves_through_the_regulator_after_a_stop(producing):
    producing.switch(high_pressure_pump=False).run(2.0)
    assert producing.truth.vessel_pressure_bar < 5.0


def test_suck_back_at_a_stop_is_never_counted_as_product(producing):
    producing.switch(high_pressure_pump=False, feed_pump=False).run(1.0)
    before = producing.sea.edges("product_flow", producing.now)
    producing.run(10.0)
    assert producing.sea.edges("product_flow", producing.now) == before
    assert producing.truth.product_flow_l_h < 0.5


def test_a_flush_fills_the_plant_with_fresh_water_and_takes_it_from_the_tank(producing):
    producing.ask("open_regulator").run(3.0).switch(high_pressure_pump=False).run(2.0)
    producing.switch(feed_pump=False).run(3.0).ask(None)
    before = producing.truth
    producing.switch(flush_valve=True).run(10.0)
    assert producing.truth.feed_pressure_bar > 0.3
    producing.run(170.0).switch(flush_valve=False).run(5.0)
    after = producing.truth
    assert after.element_salinity_g_kg < 0.5
    assert after.flush_l > 10.0
    assert after.tank_litres == pytest.approx(before.tank_litres - after.flush_l, abs=0.01)
    assert after.flush_flow_l_h == 0.0


def test_a_nearly_closed_regulator_lets_little_flush_water_through(producing):
    producing.switch(high_pressure_pump=False, feed_pump=False).run(5.0)
    producing.switch(flush_valve=True).run(10.0)
    assert 40.0 < producing.truth.flush_flow_l_h < 70.0


def test_energy_is_what_the_pumps_took(producing):
    before = producing.truth
    producing.run(360.0)
    spent = producing.truth.energy_wh - before.energy_wh
    assert spent == pytest.approx(before.pumps_w / 10.0, rel=0.01)
    assert before.pumps_w == pytest.approx(1400.0, rel=0.02)


def test_the_battery_sags_under_load_and_loses_charge(rig):
    boat = rig()
    rest = boat.truth
    loaded = boat.produce().truth
    assert rest.battery_v > 12.4
    assert 12.0 < loaded.battery_v < rest.battery_v - 0.2
    assert loaded.battery_current_a < -80.0
    assert loaded.battery_charge_percent < rest.battery_charge_percent


def test_the_tank_does_not_overflow_into_the_count_of_the_level(rig):
    full = rig(tank_litres=299.95).produce().switch(product_to_tank=True).run(30.0)
    assert full.truth.tank_litres == 300.0
    assert full.truth.tank_added_l > 0.3
    assert not full.sea.contact_closed("tank_float", full.now)


def test_a_tank_fuller_than_it_is_large_is_refused(rig):
    with pytest.raises(ValueError, match=r"tank_litres is 500 L, but the tank holds 300 L: give less"):
        rig(tank_litres=500.0)
