"""Whatever is switched, asked and broken, in whatever order: the simulated boat stays a boat."""

import dataclasses
import math

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from halocline.plant.vocabulary import Ask
from halocline.simulation import FAULTS

OUTPUTS = ("feed_pump", "high_pressure_pump", "product_to_tank", "flush_valve")


def fault_calls():
    plant = [fault for fault in FAULTS.values() if fault.kind == "plant" and not fault.target]
    return st.sampled_from(plant).flatmap(
        lambda fault: st.tuples(
            st.just("inject"),
            st.just(fault.name),
            st.fixed_dictionaries(
                {each.name: st.floats(each.low, each.high, allow_nan=False) for each in fault.arguments}
            ),
        )
    )


ACTIONS = st.one_of(
    st.tuples(st.just("switch"), st.sampled_from(OUTPUTS), st.booleans()),
    st.tuples(st.just("ask"), st.sampled_from([None, *(ask.value for ask in Ask)]), st.none()),
    st.tuples(st.just("clear"), st.sampled_from(sorted(FAULTS)), st.none()),
    fault_calls(),
)


def act(rig, kind, what, how):
    if kind == "switch":
        rig.switch(**{what: how})
    elif kind == "ask":
        rig.ask(what)
    elif kind == "clear":
        rig.clear(what)
    else:
        rig.inject(what, **how)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(actions=st.lists(ACTIONS, min_size=1, max_size=12), salty=st.booleans())
def test_every_truth_stays_finite_and_possible(rig, actions, salty):
    boat = rig(rested_feed_g_kg=36.0 if salty else None).run(2.0)
    before = boat.truth
    for action in actions:
        act(boat, *action)
        truth = boat.run(1.5).truth
        for name, value in dataclasses.asdict(truth).items():
            assert not isinstance(value, float) or math.isfinite(value), name
        assert 0.0 <= truth.vessel_pressure_bar <= truth.peak_vessel_pressure_bar < 80.0
        assert -0.9 < truth.feed_pressure_bar < 3.6
        assert 0.0 <= truth.element_salinity_g_kg <= 36.5
        assert 0.0 <= truth.product_tds_mg_l < 80_000.0
        assert 0.0 <= truth.tank_litres <= 300.0
        assert 0.0 <= truth.diverter_position <= 1.0
        for total in ("tank_added_l", "overboard_l", "flush_l", "energy_wh", "hp_pump_dry_s"):
            assert getattr(truth, total) >= getattr(before, total), total
        before = truth
