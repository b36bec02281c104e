"""An offer and control's own judgement of the start agree, for any settings, any state of the plant and any need."""

import math

import pytest
from hand_driven_plant import Plant, quick_settings
from hypothesis import given, settings
from hypothesis import strategies as st

from halocline.control.hmi.prospect import prospect_message
from halocline.control.inputs import Command
from halocline.control.retained.retained_state import Purge, RetainedState
from halocline.plant.offer import LEAST_LITRES, Need, Prospect, against, offer, usual_needs

EPOCH_S = 1_800_000_000.0
OF_THE_PROCESS = {"until_too_soon"}
"""A start that comes to nothing is accepted by control, and not offered all the same."""


def prospect_of(plant):
    return Prospect.from_message(prospect_message(plant.core.plant, plant.core.plant.present(plant.core.last)))


def reasons_of(plant, need):
    """Control's own reasons against a start for that need."""
    given = {"litres": need.litres, "minutes": need.minutes, "until_s": need.until_s}
    command = Command("start", {key: value for key, value in given.items() if value is not None})
    now = plant.core.plant.present(plant.core.last)
    return {reason.id for reason in plant.core.decisions.reasons(command, now)}


@st.composite
def plants(draw):
    boat = quick_settings(
        plant={"tank_capacity_l": draw(st.floats(5.0, 2000.0))},
        drive={
            "motor": draw(st.sampled_from(["brush", "induction"])),
            "motor_run_s": draw(st.sampled_from([None, 300.0, 1800.0])),
            "regulator": draw(st.sampled_from(["hand_each_run", "left_set"])),
        },
        limits={"tank_full_percent": draw(st.floats(50.0, 100.0))},
        sequence={"run_limit_s": draw(st.floats(60.0, 24 * 3600.0)), "motor_run_limits": draw(st.booleans())},
    )
    purge = draw(st.none() | st.builds(Purge, of=st.just("glycol"), left_s=st.floats(0.0, 360.0)))
    plant = Plant(boat, RetainedState(purge=purge))
    if draw(st.booleans()):
        plant.read("tank_fill", draw(st.floats(0.0, 100.0)))
    else:
        plant.lose("tank_fill")
    plant.core.plant.motor.worked_s = draw(st.sampled_from([0.0, 200.0, 1500.0, 3600.0, 10_800.0]))
    plant.core.plant.motor.rests_since_s = plant.now_s - draw(st.floats(0.0, 1000.0))
    for _ in range(draw(st.integers(0, 5))):
        plant.core.plant.motor.switched_on(plant.now_s - 10.0)
    plant.tick(wall_s=EPOCH_S)
    return plant


NEEDS = st.one_of(
    st.just(Need()),
    st.builds(Need, litres=st.floats(-1.0, 3000.0)),
    st.builds(Need, minutes=st.floats(-1.0, 600.0)),
    st.builds(Need, until_s=st.floats(-3600.0, 86_400.0)),
)


@settings(max_examples=15, deadline=None)
@given(plant=plants(), need=NEEDS)
def test_what_is_offered_is_not_refused_and_what_is_refused_is_not_offered(plant, need):
    offered = offer(prospect_of(plant), need)
    refused = {
        "start": [
            reason.as_message()
            for reason in plant.core.decisions.refused("start", plant.core.plant.present(plant.core.last))
        ]
    }
    said = {reason["id"] for reason in against(refused)} | {reason for reason, _ in offered.reasons}
    assert said - OF_THE_PROCESS == reasons_of(plant, need) - OF_THE_PROCESS


@settings(max_examples=15, deadline=None)
@given(plant=plants(), need=NEEDS)
def test_no_offer_goes_beyond_tank_motor_run_limit_or_need(plant, need):
    on = prospect_of(plant)
    offered = offer(on, need)
    if offered.reasons:
        return
    assert offered.litres is not None
    assert 0 <= offered.litres <= on.room_l + 1e-9
    assert offered.litres <= math.inf if need.litres is None else need.litres
    assert offered.seconds <= on.run_limit_s
    if on.motor_left_s is not None:
        assert offered.seconds - on.prime_s <= on.motor_left_s + 1e-6
    assert offered.energy_wh == pytest.approx(on.power_w * offered.seconds / 3600)


@settings(max_examples=10, deadline=None)
@given(plant=plants())
def test_what_is_offered_unasked_has_room_below_the_full_limit(plant):
    on = prospect_of(plant)
    level, limit = plant.core.plant.present(plant.core.last).value("tank_fill"), plant.settings.limits.tank_full_percent
    for need in usual_needs(on):
        offered = offer(on, need)
        assert offered.reasons == ()
        if level is not None:
            assert level + 100 * offered.litres / plant.settings.plant.tank_capacity_l <= limit + 1e-6
    assert usual_needs(on) or on.room_l < LEAST_LITRES


def test_an_owed_purge_is_counted_before_the_tank_opens():
    clean, owing = (Plant(retained=RetainedState(purge=purge)) for purge in (None, Purge(of="glycol", left_s=360.0)))
    for plant in (clean, owing):
        plant.tick()
    extra_s = offer(prospect_of(owing), Need()).before_s - offer(prospect_of(clean), Need()).before_s
    rinse_s = owing.core.plant.rinse_l() / owing.settings.plant.feed_flow_l_h * 3600
    assert extra_s == pytest.approx(360.0 + rinse_s, abs=0.1)


def test_all_that_is_purged_is_named():
    plant = Plant(retained=RetainedState(purge=Purge(of="glycol", also=("cleaning",), left_s=360.0)))
    plant.tick()
    assert prospect_of(plant).purge_of == "glycol, cleaning"


@pytest.mark.parametrize("chlorine", [False, True])
def test_a_flush_is_foreseen_only_where_one_will_follow(chlorine):
    plant = Plant(retained=RetainedState(chlorine_suspected=chlorine))
    plant.tick()
    # 120 L/h is the least that a flush needs (common practice)
    flush_s = plant.settings.sequence.flush_l / 120 * 3600
    assert prospect_of(plant).flush_s == (None if chlorine else pytest.approx(flush_s))
    assert offer(prospect_of(plant), Need()).flush_l == (0.0 if chlorine else plant.settings.sequence.flush_l)


def test_a_purge_that_the_motor_cannot_end_in_one_go_says_so():
    plant = Plant(quick_settings(drive={"motor_run_s": 300.0}), RetainedState(purge=Purge(of="glycol", left_s=360.0)))
    plant.tick()
    offered = offer(prospect_of(plant), Need())
    assert (offered.ended_by, offered.litres, offered.rest_s) == ("purge", 0.0, plant.settings.drive.motor_rest_s)
    assert offered.falls_short
