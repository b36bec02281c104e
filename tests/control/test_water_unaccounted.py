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


def test_without_a_brine_meter_or_with_a_dead_one_nothing_is_said(producing):
    producing.wait(65.0)
    producing.lose("brine_flow")
    producing.wait(65.0)
    assert producing.alarm("water_unaccounted") is None
