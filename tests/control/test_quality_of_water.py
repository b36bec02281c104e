"""When product may go to the tank, and when it may no longer: quick settings (hold 6 s, 0.2 L, three exchanges)."""

import pytest
from hand_driven_plant import FULL, QUICK, Plant, quick_settings

from halocline.control.inputs import Command
from halocline.control.retained.retained_state import Purge, RetainedState
from halocline.control.situation import wetted_flow_l_h
from halocline.physics.conductivity import conductivity_25c_us_cm
from halocline.plant.purges import END_TESTS
from halocline.plant.vocabulary import Quality

HOLD_S = QUICK.sequence.quality_hold_s


def salt(plant, mg_l):
    plant.tds_mg_l = mg_l
    return plant


def creeping(plant, mg_l):
    """Up to there by 5 mg/L a second, and steady for a while."""
    while plant.tds_mg_l < mg_l:
        salt(plant, min(mg_l, plant.tds_mg_l + 5.0)).wait(1.0)
    return plant.wait(3.0)


def test_the_tank_opens_once_the_quality_has_held_for_the_whole_time():
    plant = Plant().brought_to("diverting")
    while plant.unmet():
        plant.tick()
    assert plant.until("producing") == pytest.approx(HOLD_S, abs=0.06)
    assert "product_to_tank" in plant.on


def test_without_a_break_means_that_one_bad_tick_begins_it_anew():
    plant = Plant().brought_to("diverting")
    while plant.unmet():
        plant.tick()
    plant.wait(HOLD_S - 0.2)
    plant.lose("sea_temperature")
    plant.tick()
    plant.mend()
    assert plant.until("producing") == pytest.approx(HOLD_S, abs=0.16)


def test_the_first_water_goes_overboard_by_volume_and_by_exchange_of_the_sea_side():
    plant = Plant().brought_to("pressurising")
    plant.until("diverting")
    assert "first_water" in plant.unmet()
    first = plant.core.plant.quality.first_water
    while "first_water" in plant.unmet():
        plant.tick()
    wanted_l = max(3 * QUICK.plant.product_side_volume_l, QUICK.sequence.first_product_l)
    exchange_s = QUICK.sequence.feed_exchanges * QUICK.plant.feed_side_volume_l / QUICK.plant.feed_flow_l_h * 3600
    assert plant.product_l - first.product_from_l >= wanted_l
    assert plant.now_s - first.started_s >= exchange_s
    short = plant.product_l - first.product_from_l - wanted_l < 0.002
    assert short or plant.now_s - first.started_s - exchange_s < 0.06


def test_first_water_is_counted_from_working_pressure_not_before():
    plant = Plant().brought_to("pressurising")
    while plant.pressure_bar < 35.0:
        plant.tick()
    assert plant.core.plant.quality.first_water.started_s is None
    assert plant.core.plant.quality.first_water.product_l(plant.product_l) == 0.0
    assert "no_working_pressure" in plant.unmet()


def test_a_broken_counter_of_product_never_counts_as_enough_water():
    plant = Plant().brought_to("diverting")
    plant.extra["product_total_l"] = float("nan")
    plant.wait(HOLD_S + 30)
    assert plant.state == "diverting"
    assert "first_water" in plant.unmet()


@pytest.mark.parametrize("mg_l", [501.0, 599.0, 2000.0])
def test_salt_above_the_limit_never_opens_the_tank(mg_l):
    plant = salt(Plant(), mg_l).brought_to("diverting")
    plant.wait(60)
    assert plant.state == "diverting"
    assert "tds_above_accept" in plant.unmet()


def test_salt_that_rises_does_not_open_the_tank_although_it_is_still_within_the_limit():
    plant = salt(Plant(), 100.0).brought_to("diverting")
    for _ in range(500):
        plant.tds_mg_l += 0.6
        plant.tick()
        assert plant.state == "diverting"
    assert "tds_rising" in plant.unmet()
    plant.until("producing", within_s=60)


@pytest.mark.parametrize("mg_l", [0.0, 1.0, 30.0])
def test_water_too_good_to_be_believed_does_not_open_the_tank(mg_l):
    plant = salt(Plant(), mg_l).brought_to("diverting")
    plant.wait(60)
    assert plant.state == "diverting"
    assert plant.unmet() == ["tds_too_good"]


def test_a_cell_that_is_not_wetted_does_not_open_the_tank_however_good_it_reads():
    plant = Plant().brought_to("diverting")
    plant.read("product_flow", wetted_flow_l_h(QUICK) - 0.1)
    plant.wait(40)
    assert plant.state == "diverting"
    assert "no_product_flow" in plant.unmet()


@pytest.mark.parametrize("channel", ["product_conductivity", "sea_temperature", "product_flow"])
@pytest.mark.parametrize("quality", ["under", "over", "open", "short", "stale", "stuck", "implausible", "missing"])
def test_a_reading_that_is_not_good_closes_the_tank_in_the_same_tick(producing, channel, quality):
    value = producing.core.last.known(channel) if quality in ("under", "over") else None
    producing.read(channel, value, Quality(quality))
    producing.tick()
    assert producing.state == "diverting"
    assert "product_to_tank" not in producing.on
    assert "high_pressure_pump" in producing.on


def test_flow_that_stops_closes_the_tank_in_the_same_tick(producing):
    producing.read("product_flow", 0.0)
    producing.tick()
    assert producing.state == "diverting"
    assert producing.core.why.id == "no_product_flow"


def test_salt_above_the_reject_limit_closes_the_tank_within_two_seconds(producing):
    creeping(producing, 598.0)
    assert producing.state == "producing"
    salt(producing, 604.0).wait(2.0)
    assert producing.state == "diverting"
    assert producing.core.why.id == "quality_lost"
    assert producing.alarm("quality_lost") == "unacknowledged"


def test_salt_above_the_reject_limit_for_a_moment_is_let_pass(producing):
    for _ in range(3):
        salt(producing, 650.0).wait(0.3)
        salt(producing, 330.0).wait(1.5)
    assert producing.state == "producing"


def test_salt_far_above_the_limit_closes_the_tank_at_once(producing):
    salt(producing, 1001.0).tick()
    assert producing.state == "diverting"


def test_between_accept_and_reject_the_tank_stays_open(producing):
    creeping(producing, 590.0).wait(20)
    assert producing.state == "producing"


def test_after_bad_water_the_whole_hold_is_due_again(producing):
    salt(producing, 1500.0).wait(1)
    salt(producing, 330.0)
    assert producing.until("producing") >= HOLD_S


def test_the_clock_of_product_overboard_stops_the_run_when_quality_does_not_come():
    plant = salt(Plant(), 800.0).brought_to("diverting")
    limit_s = QUICK.sequence.divert_limit_s
    assert plant.until("stopping", within_s=200) == pytest.approx(limit_s, abs=0.2)
    assert plant.core.first_out == "quality_not_reached"
    assert plant.event("state")["why"]["values"]["seconds"] == limit_s


def test_the_clock_begins_anew_after_a_stretch_of_good_water(producing):
    salt(producing, 1500.0).wait(QUICK.sequence.divert_limit_s - 30)
    assert producing.state == "diverting"
    salt(producing, 330.0).until("producing")
    salt(producing, 1500.0).wait(QUICK.sequence.divert_limit_s - 1)
    assert producing.state == "diverting"
    producing.wait(2)
    assert producing.state == "stopping"


def purging(left_s, of="preservative"):
    purge = Purge(of, rinsed_l=1000.0, left_s=left_s)
    return Plant(retained=RetainedState(purge=purge))


def test_while_a_purge_is_owed_the_clock_stands_and_the_tank_stays_shut():
    plant = purging(left_s=QUICK.sequence.divert_limit_s + 60).brought_to("diverting")
    plant.wait(QUICK.sequence.divert_limit_s + 30)
    assert plant.state == "diverting"
    assert plant.core.clocks.diverting_s == -1.0
    assert "purge_running" in plant.unmet()


def test_a_purge_that_has_run_its_time_still_waits_for_a_person():
    plant = purging(left_s=5.0).brought_to("diverting")
    plant.wait(60)
    assert plant.state == "diverting"
    assert plant.unmet() == ["purge_to_confirm"]
    assert plant.give("log", kind="purge_confirmed", confirmed=list(END_TESTS["preservative"])) == []
    assert plant.until("producing") >= HOLD_S - 0.1


def test_nobody_can_confirm_a_purge_before_its_time():
    plant = purging(left_s=500.0).brought_to("diverting")
    plant.give("log", kind="purge_confirmed", confirmed=list(END_TESTS["preservative"]))
    assert plant.core.plant.retained.purge is not None


def test_the_purge_only_counts_while_product_flows():
    plant = purging(left_s=100.0).brought_to("diverting")
    plant.read("product_flow", 0.0)
    left_s = plant.core.plant.retained.purge.left_s
    plant.wait(5)
    assert plant.core.plant.retained.purge.left_s == pytest.approx(left_s, abs=0.1)
    plant.mend()
    plant.wait(5)
    assert plant.core.plant.retained.purge.left_s == pytest.approx(left_s - 5, abs=0.2)


def test_the_rinse_comes_first_at_low_pressure_and_only_then_is_pressure_asked_for():
    plant = Plant(retained=RetainedState(purge=Purge("preservative", left_s=50.0)))
    plant.brought_to("pressurising")
    plant.give("start")
    plant.until("pressurising")
    rinse_l = plant.core.plant.rinse_l()
    plant.wait(10)
    assert plant.core.ask() is None
    assert 0 < plant.core.plant.retained.purge.rinsed_l < rinse_l
    while plant.core.plant.rinsing():
        plant.tick()
        assert plant.pressure_bar < 7.0
    plant.tick()
    assert plant.core.ask() == "raise_pressure"
    plant.until("diverting")


def test_a_pump_that_does_not_turn_rinses_nothing():
    plant = Plant(retained=RetainedState(purge=Purge("preservative")))
    plant.give("start")
    plant.until("pressurising")
    plant.read("vessel_pressure", 0.2)
    plant.wait(10)
    assert plant.core.plant.retained.purge.rinsed_l == 0.0


def test_a_rinse_that_cannot_come_about_ends_the_run_and_says_why():
    settings = quick_settings(drive={"regulator": "left_set"})
    plant = Plant(settings, RetainedState(purge=Purge("preservative")))
    plant.give("start")
    plant.until("pressurising")
    plant.raising = True
    plant.hand_is_there = False
    plant.wait(5)
    assert plant.core.ask() == "open_regulator"
    plant.until("stopping", within_s=settings.sequence.raise_limit_s + 5)
    assert plant.core.why.id == "pressure_present"


def test_a_regulator_left_set_is_not_blamed_for_the_low_pressure_of_the_rinse():
    slow = {"regulator": "left_set"}
    settings = quick_settings(drive=slow, plant={"wetted_volume_l": 4.0}, sequence={"pressure_limit_s": 10.0})
    plant = Plant(settings, RetainedState(purge=Purge("preservative")))
    plant.give("start")
    plant.until("pressurising")
    plant.wait(60)
    assert plant.state == "pressurising"
    while plant.core.plant.rinsing():
        plant.tick(dt=0.2)
    plant.wait(9)
    assert plant.state == "pressurising"
    plant.until("tripped", within_s=5)
    assert plant.core.first_out == "vessel_pressure_not_reached"


def test_the_progress_of_a_purge_is_noted_in_steps_not_in_every_tick():
    plant = purging(left_s=120.0).brought_to("diverting")
    plant.latches.clear()
    plant.wait(60)
    assert 3 <= len(plant.latches) <= 6
    assert plant.latches[-1].purge.left_s < 75


def test_a_purge_that_becomes_owed_can_not_go_on_into_the_tank(producing):
    producing.core.plant.persistence.purge_goes_on(Purge("cleaning"))
    producing.tick()
    assert producing.state == "diverting"


def test_bad_water_three_times_within_half_an_hour_ends_the_run(producing):
    for _ in range(2):
        salt(producing, 1500.0).wait(0.5)
        assert producing.state == "diverting"
        salt(producing, 330.0).until("producing")
    salt(producing, 1500.0).wait(0.5)
    assert producing.state == "stopping"
    assert producing.core.first_out == "quality_returns_repeatedly"


def test_a_pressure_that_still_moves_does_not_open_the_tank():
    plant = Plant().brought_to("diverting")
    for _ in range(60):
        for step in (1.2, -1.2):
            plant.read("vessel_pressure", 54 + step)
            plant.wait(0.6)
    assert plant.state == "diverting"


def test_conductivity_is_judged_as_salt_with_the_defaults_of_drinking_water():
    limits = FULL.limits
    assert (limits.accept_tds_mg_l, limits.reject_tds_mg_l, limits.reject_at_once_tds_mg_l) == (500, 600, 1000)
    # 500 mg/L of sodium chloride is about 1 mS/cm (laboratory tables)
    assert conductivity_25c_us_cm(500.0) == pytest.approx(1020, rel=0.02)


def test_salt_that_stays_as_from_a_torn_membrane_ends_the_run():
    plant = Plant(quick_settings(sequence={"divert_limit_s": 900.0}))
    salt(plant, 6000.0).brought_to("diverting")
    plant.until("stopping", within_s=300)
    assert plant.core.first_out == "product_salty"
    assert plant.core.clocks.working_product_l >= 3.0
    assert plant.core.clocks.working_s >= 180.0


def test_salt_that_falls_is_first_water_and_no_torn_membrane():
    plant = Plant(quick_settings(sequence={"divert_limit_s": 900.0}))
    salt(plant, 20000.0).brought_to("diverting")
    for _ in range(4200):
        plant.tds_mg_l = max(330.0, plant.tds_mg_l * 0.999)
        plant.tick()
        if plant.tds_mg_l > 5100.0:
            assert plant.core.first_out is None
    plant.until("producing", within_s=300)


def test_sea_water_from_swapped_hoses_trips():
    plant = Plant().brought_to("pressurising")
    salt(plant, 30000.0).until("diverting")
    plant.read("product_flow", 250.0)
    plant.until("tripped", within_s=6)
    assert plant.core.first_out == "product_salty_at_once"
    assert plant.on == set()


def test_a_stop_in_the_same_tick_wins_over_good_water():
    plant = Plant().brought_to("diverting")
    while plant.core.plant.quality.held_s < HOLD_S - 0.07:
        plant.tick()
    plant.tick(Command("stop"))
    assert plant.state == "stopping"
