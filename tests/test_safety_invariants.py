"""Each invariant of the list can be broken, and by the step it speaks of; and each is asked by some judge."""

from dataclasses import replace

import pytest

from halocline.control.retained.retained_state import FlushConsent, Lock, Purge, RetainedState
from halocline.plant.vocabulary import State
from safety_invariants import (
    FEED,
    FLUSH,
    HP,
    INVARIANTS,
    TANK,
    Alone,
    AloneBounds,
    Bounds,
    Instruments,
    Part,
    Step,
    Watch,
    broken,
    told_by,
)

S = State
SOUND = Instruments(bar=55.0, feed_bar=1.0, tds_mg_l=200.0, temperature_c=20.0, flow_l_h=60.0)
AT_EASE = replace(SOUND, bar=0.0)
OWING = RetainedState(flush_owed=True)
BOUNDS = Bounds(
    worst_mg_l=1000.0, salty_s=3.0, dry_s=3.0, stop_s=60.0, relief_bar=69.0, motor_run_s=3600.0, motor_starts=4
)

ALONE = Alone(
    bounds=AloneBounds(day_s=86400.0, quiet_s=600.0, notice_s=60.0, stays_percent=30.0, sways_percent=2.0),
    consent=True,
    failures=0,
    last_s=86400.0,
    quiet_s=660.0,
    notice_s=60.0,
    tank_percent=34.0,
    watched=True,
    goes_on=False,
    called_off=False,
)
"""Leave to flush with nobody there, and all that it rests on."""
GOING_ON = replace(ALONE, goes_on=True, last_s=5.0)
CONSENT = FlushConsent("Ana", until_wall_s=2e9, left_l=20.0, failures=1)
TRIED = replace(OWING, flush_consent=CONSENT, flush_tried_ago_s=60.0)


def step(before, *outputs, to=None, accepted=(), was_on=None, **told):
    """A step that is sound but for what the caller says."""
    on = frozenset(outputs)
    state = to or before
    return Step(
        before=before,
        state=state,
        was_on=on if was_on is None else frozenset(was_on),
        outputs=on | (frozenset() if state is S.TRIPPED or told.pop("no_heartbeat", False) else {"heartbeat"}),
        accepted=frozenset(accepted),
        **{
            "bounds": BOUNDS,
            "instruments": SOUND,
            "retained": OWING,
            "first_out": "stop_button",
            "alone": ALONE,
            **told,
        },
    )


def alone(retained=TRIED, **known):
    """A flush that begins by itself; sound, but for what the caller says."""
    told = {"retained": retained, "alone": replace(ALONE, **known), "instruments": AT_EASE}
    return step(S.STANDBY, FLUSH, to=S.FLUSHING, was_on=[], **told)


def goes_on(**known):
    """One that has begun goes on."""
    return step(S.FLUSHING, FLUSH, retained=TRIED, alone=replace(GOING_ON, **known), instruments=AT_EASE)


RESET = {"to": S.STANDBY, "accepted": ["reset"], "instruments": AT_EASE}
MAKING = (FEED, HP, TANK)

BREAKS = {
    "the_tank_is_filled_while_producing": step(S.DIVERTING, *MAKING),
    "the_diverter_is_tried_by_a_person": step(S.BENCH, TANK, asked=False),
    "water_to_the_tank_is_measured": step(S.PRODUCING, *MAKING, instruments=replace(SOUND, flow_l_h=1.9)),
    "water_to_the_tank_is_never_salt": step(S.PRODUCING, *MAKING, tank_mg_l=1000.1),
    "bad_water_is_turned_away_in_time": step(S.PRODUCING, *MAKING, tank_mg_l=700.0, salty_s=3.1),
    "water_to_the_tank_had_its_hold": step(S.PRODUCING, *MAKING, was_on=[FEED, HP], water_proven=False),
    "producing_begins_out_of_diverting": step(S.PRESSURISING, *MAKING, to=S.PRODUCING),
    "no_preservative_runs_to_the_tank": step(
        S.PRODUCING, *MAKING, retained=replace(OWING, purge=Purge("preservative"))
    ),
    "the_pump_has_its_feed_pump": step(S.DIVERTING, HP),
    "the_pump_never_runs_into_an_open_flush_valve": step(S.BENCH, FEED, HP, FLUSH),
    "the_pump_runs_only_where_it_should": step(S.PRIMING, FEED, HP),
    "the_pump_starts_with_steady_feed": step(S.PRESSURISING, FEED, HP, was_on=[FEED], feed_proven=False),
    "the_pump_stops_with_its_feed_unknown": step(S.DIVERTING, FEED, HP, instruments=replace(SOUND, feed_bar=None)),
    "the_pump_never_runs_dry": step(S.DIVERTING, FEED, HP, dry_s=3.1),
    "pressure_stays_below_the_relief": step(S.DIVERTING, FEED, HP, risen_to_bar=69.1),
    "the_motor_rests": step(S.PRESSURISING, FEED, HP, was_on=[FEED], rested=False),
    "the_motor_is_not_started_too_often": step(S.PRESSURISING, FEED, HP, was_on=[FEED], starts=5),
    "the_motor_never_works_beyond_its_rating": step(S.DIVERTING, FEED, HP, worked_s=3600.0),
    "the_flush_valve_opens_only_for_a_flush": step(S.PRIMING, FEED, FLUSH),
    "the_flush_valve_opens_without_pressure": step(S.FLUSHING, FLUSH, was_on=[], instruments=replace(SOUND, bar=None)),
    "chlorine_is_never_flushed": step(S.FLUSHING, FLUSH, retained=replace(OWING, chlorine_suspected=True)),
    "no_pump_without_a_person": step(S.DIVERTING, FEED, HP, asked=False),
    "nothing_begins_out_of_rest_without_an_order": step(S.STANDBY, FEED, to=S.BENCH),
    "a_run_begins_with_a_start_and_priming": step(S.STANDBY, FEED, HP, to=S.PRESSURISING, accepted=["start"]),
    "a_restart_comes_to_rest": step(S.PRIMING, FEED, restart=True),
    "after_a_run_that_was_cut_off_a_person_looks_first": step(
        S.STANDBY, FEED, to=S.PRIMING, accepted=["start"], was_cut_off=True
    ),
    "a_run_that_was_cut_off_is_kept": step(S.STANDBY, cut_off=True),
    "a_locked_plant_begins_nothing": step(
        S.PRIMING, FEED, retained=replace(OWING, lock=Lock("Ana", "a housing is open"))
    ),
    "a_flush_by_itself_has_a_consent_on_file": alone(replace(TRIED, flush_consent=replace(CONSENT, ended="tripped"))),
    "a_flush_by_itself_is_counted_before_it_begins": alone(replace(TRIED, flush_tried_ago_s=None)),
    "a_flush_by_itself_passes_over_nothing": alone(replace(TRIED, circuit_opened=True)),
    "a_flush_by_itself_was_consented_to": alone(consent=False),
    "two_failures_end_flushes_by_themselves": alone(failures=2),
    "a_flush_by_itself_comes_once_a_day": alone(last_s=86399.0),
    "a_flush_by_itself_begins_with_nobody_there": alone(quiet_s=599.0),
    "a_flush_by_itself_leaves_the_tank_its_reserve": alone(tank_percent=29.9),
    "a_flush_by_itself_is_watched": goes_on(watched=False),
    "a_flush_by_itself_ends_with_the_reserve": goes_on(tank_percent=27.9),
    "a_person_ends_a_flush_by_itself": goes_on(called_off=True),
    "a_stop_is_never_refused": step(S.STANDBY, stop_given=True),
    "a_stop_is_obeyed_in_the_same_step": step(S.PRIMING, FEED, accepted=["stop"], stop_given=True),
    "after_a_stop_no_water_runs_to_the_tank": step(S.PRODUCING, *MAKING, after_stop_s=0.1),
    "after_a_stop_the_pump_goes_off": step(S.STOPPING, FEED, HP, after_stop_s=60.1),
    "at_rest_nothing_is_on": step(S.STANDBY, FEED),
    "a_pump_run_by_hand_is_only_fed": step(S.HAND_RUN, FEED, "inverter_enable"),
    "laid_up_nothing_moves": step(S.TRIPPED, "inverter_enable", retained=replace(OWING, laid_up=True)),
    "a_laid_up_plant_wakes_by_recommissioning": step(S.LAID_UP, to=S.STANDBY),
    "a_trip_acts_in_the_same_step": step(S.PRODUCING, *MAKING, must_trip=frozenset({"adc_lost"})),
    "tripped_means_off": step(S.TRIPPED, FEED, "inverter_enable"),
    "the_step_of_a_trip_takes_the_feed_too": step(S.PRIMING, FEED, to=S.TRIPPED),
    "what_tripped_first_is_known": step(S.TRIPPED, first_out=None),
    "a_trip_stays_until_it_is_reset": step(S.TRIPPED, to=S.STANDBY, instruments=AT_EASE),
    "a_trip_stays_until_it_is_acknowledged": step(S.TRIPPED, **RESET, was_waiting=True),
    "a_reset_starts_nothing": step(S.TRIPPED, FEED, **{**RESET, "to": S.PRIMING, "accepted": ["reset", "start"]}),
    "a_reset_waits_until_the_pressure_is_gone": step(S.TRIPPED, **{**RESET, "instruments": replace(AT_EASE, bar=5.1)}),
    "a_reset_waits_until_the_contacts_are_closed": step(
        S.TRIPPED, **{**RESET, "instruments": replace(AT_EASE, active=frozenset({"stop_button"}))}
    ),
    "the_heartbeat_beats_unless_tripped": step(S.STANDBY, no_heartbeat=True),
    "what_is_owed_stays_owed_until_it_is_met": step(S.STANDBY, forgotten=frozenset({"a flush"})),
    "sea_water_in_the_membrane_owes_a_flush": step(S.PRIMING, FEED, retained=RetainedState()),
}
"""One step that breaks it, of each."""

SOUND_STEPS = (
    step(S.STANDBY, instruments=AT_EASE),
    step(S.STANDBY, FEED, to=S.PRIMING, was_on=[], accepted=["start"], instruments=AT_EASE),
    step(S.PRIMING, FEED, HP, to=S.PRESSURISING, was_on=[FEED]),
    step(S.DIVERTING, *MAKING, to=S.PRODUCING, was_on=[FEED, HP], tank_mg_l=200.0),
    step(S.PRODUCING, FEED, HP, to=S.STOPPING, accepted=["stop"], stop_given=True, after_stop_s=0.0),
    step(S.STOPPING, FLUSH, to=S.FLUSHING, was_on=[], instruments=AT_EASE),
    step(S.PRODUCING, to=S.TRIPPED, must_trip=frozenset({"adc_lost"})),
    step(S.TRIPPED, **RESET),
    step(S.LAID_UP, to=S.STANDBY, accepted=["recommission"], instruments=AT_EASE),
    step(S.HAND_RUN, FEED),
    alone(),
    goes_on(tank_percent=28.0),
)


def test_every_invariant_can_be_broken():
    assert BREAKS.keys() == INVARIANTS.keys()


@pytest.mark.parametrize("name", BREAKS)
def test_a_step_that_breaks_an_invariant_is_found(name):
    assert name in [id_ for id_, _ in broken(BREAKS[name], INVARIANTS.values())]


@pytest.mark.parametrize("sound", SOUND_STEPS, ids=lambda at: f"{at.before} to {at.state}")
def test_a_sound_step_breaks_none(sound):
    assert broken(sound, INVARIANTS.values()) == []


def test_each_says_what_must_hold():
    assert all(each.sentence and each.sentence.endswith(".") for each in INVARIANTS.values())
    assert len({each.sentence for each in INVARIANTS.values()}) == len(INVARIANTS)


def test_a_judge_is_asked_what_it_can_tell():
    everywhere, all_ = told_by([]), told_by(Part)
    assert set(everywhere) < set(told_by(Watch.TELLS)) < set(all_)
    assert set(all_) == set(INVARIANTS.values())
