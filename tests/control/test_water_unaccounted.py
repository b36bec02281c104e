"""With a brine meter a leak shows as water that goes in and does not come out."""

import pytest
from hand_driven_plant import QUICK

FEED_L_H = QUICK.plant.feed_flow_l_h


@pytest.mark.parametrize(("missing", "told"), [(0.05, False), (0.12, True), (0.25, True)])
def test_a_tenth_of_the_feed_that_comes_out_nowhere_warns_after_a_minute(producing, missing, told):
    plant = producing
    plant.read("brine_flow", FEED_L_H * (1 - missing) - plant.product_l_h)
    plant.wait(58.0)
    assert plant.alarm("water_unaccounted") is None
    plant.wait(4.0)
    assert (plant.alarm("water_unaccounted") == "unacknowledged") is told
    assert plant.state == "producing"


@pytest.mark.parametrize(("missing", "tripped"), [(0.28, False), (0.32, True), (0.85, True)])
def test_three_tenths_that_come_out_nowhere_trip_after_ten_seconds(producing, missing, tripped):
    plant = producing
    plant.read("brine_flow", max(0.0, FEED_L_H * (1 - missing) - plant.product_l_h))
    plant.wait(9.5)
    assert plant.state == "producing"
    plant.wait(1.0)
    assert (plant.core.first_out == "water_lost") is tripped
    assert (plant.state == "tripped") is tripped


def test_a_leak_that_has_tripped_can_be_reset_once_it_was_seen(producing):
    plant = producing
    plant.read("brine_flow", 0.0)
    plant.until("tripped")
    plant.wait(5.0)
    assert plant.give("reset") == ["trips_not_acknowledged"]
    assert plant.give("acknowledge") == []
    plant.wait(2.0)
    assert plant.give("reset") == []


def test_without_a_brine_meter_or_with_a_dead_one_nothing_is_said(producing):
    producing.wait(65.0)
    producing.lose("brine_flow")
    producing.wait(65.0)
    assert producing.alarm("water_unaccounted") is None
