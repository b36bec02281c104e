"""What commissioning rests on: what is not known proves nothing; what has to be seen without a break begins anew."""

import pytest
from hand_driven_plant import FULL, TICK_S, Plant, quick_settings
from hypothesis import given
from hypothesis import strategies as st

from halocline.plant.vocabulary import Quality


@pytest.fixture
def priming():
    plant = Plant(quick_settings(FULL, sequence={"prime_s": 60.0}))
    assert plant.give("start") == []
    plant.until("priming")
    plant.read("product_flow", 0.0)
    plant.wait(20.0)
    assert plant.core.plant.evidence.still_s > 10.0
    return plant


@pytest.mark.parametrize("channel", ["product_flow", "vessel_pressure"])
def test_a_gap_in_a_reading_ends_what_was_seen_standing_still(priming, channel):
    priming.lose(channel, Quality.STALE)
    priming.tick()
    assert priming.core.plant.evidence.still_s == 0.0


def test_water_through_the_products_meter_at_low_pressure_is_kept(priming):
    priming.read("product_flow", 195.0)
    priming.tick()
    assert (priming.core.plant.evidence.still_s, priming.core.plant.evidence.strange_l_h) == (0.0, 195.0)


@given(st.lists(st.sampled_from([0.0, 195.0, None]), min_size=1, max_size=40))
def test_the_meter_stood_still_only_since_it_was_last_seen_otherwise(flows):
    plant = Plant(quick_settings(FULL, sequence={"prime_s": 600.0}))
    plant.give("start")
    plant.wait(3.0)
    plant.read("product_flow", 195.0)
    plant.tick()
    still = 0
    for flow_l_h in flows:
        if flow_l_h is None:
            plant.lose("product_flow")
        else:
            plant.read("product_flow", flow_l_h)
        plant.tick()
        still = still + 1 if flow_l_h == 0.0 else 0
    assert plant.core.plant.evidence.still_s <= still * TICK_S + 1e-6
