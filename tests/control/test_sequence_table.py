"""Every state with every fact, and what each state may energise. The tables here are written out by hand."""

from itertools import chain, combinations

import pytest

from halocline.control.sequence import sequence_table as sequence
from halocline.control.sequence.sequence_table import FACTS, next_state, outputs
from halocline.plant.vocabulary import ACTUATORS, OPTIONAL_OUTPUTS, State

EXPECTED = {
    "standby": {
        "unbidden_pressure": "hand_run",
        "start_accepted": "priming",
        "flush_accepted": "flushing",
        "flush_alone": "flushing",
        "lay_up_accepted": "laid_up",
        "bench_accepted": "bench",
    },
    "priming": {"stop": "stopping", "target_reached": "stopping", "primed": "pressurising"},
    "pressurising": {
        "stop": "stopping",
        "target_reached": "stopping",
        "raise_timeout": "stopping",
        "settled": "diverting",
    },
    "diverting": {"stop": "stopping", "target_reached": "stopping", "quality_held": "producing"},
    "producing": {"stop": "stopping", "quality_lost": "diverting", "target_reached": "stopping"},
    "stopping": {"depressurised_to_flush": "flushing", "depressurised": "standby"},
    "flushing": {
        "stop": "standby",
        "flush_called_off": "standby",
        "flush_complete": "standby",
        "flush_failed": "standby",
    },
    "tripped": {"reset_accepted": "standby", "lay_up_accepted": "laid_up"},
    "laid_up": {"recommission_accepted": "standby"},
    "hand_run": {"pressure_gone": "standby"},
    "bench": {"stop": "standby", "bench_over": "standby"},
}
for _state, _row in EXPECTED.items():
    if _state not in ("tripped", "laid_up"):
        _row["trip"] = "tripped"

ALWAYS_ON = {
    "priming": {"feed_pump", "inverter_enable"},
    "pressurising": {"feed_pump", "inverter_enable"},
    "diverting": {"feed_pump", "inverter_enable", "pressure_release"},
    "producing": {"feed_pump", "inverter_enable", "pressure_release", "product_to_tank"},
}
EVER_ON = {
    "standby": set(),
    "priming": {"feed_pump", "inverter_enable"},
    "pressurising": {"feed_pump", "inverter_enable", "high_pressure_pump", "pressure_release"},
    "diverting": {"feed_pump", "inverter_enable", "high_pressure_pump", "pressure_release"},
    "producing": {"feed_pump", "inverter_enable", "high_pressure_pump", "pressure_release", "product_to_tank"},
    "stopping": {"feed_pump", "inverter_enable", "high_pressure_pump"},
    "flushing": {"flush_valve"},
    "tripped": {"feed_pump"},
    "laid_up": set(),
    "hand_run": {"feed_pump"},
    "bench": {*ACTUATORS, *OPTIONAL_OUTPUTS},
}


def subsets(items):
    items = sorted(items)
    return [frozenset(s) for s in chain.from_iterable(combinations(items, n) for n in range(len(items) + 1))]


def conditions_of(state):
    return {condition for condition in sequence.ENERGISED[state].values() if condition != "always"}


@pytest.mark.parametrize("fact", sorted(FACTS))
@pytest.mark.parametrize("state", list(State))
def test_each_fact_leads_where_the_sequence_says_or_nowhere(state, fact):
    to = EXPECTED[state].get(fact)
    expected = (state, None) if to is None else (State(to), fact)
    assert next_state(state, {fact: True}) == expected


def test_the_facts_are_those_written_out_here():
    assert {fact for row in EXPECTED.values() for fact in row} == FACTS


@pytest.mark.parametrize("state", list(State))
def test_without_a_fact_every_state_stays(state):
    assert next_state(state, {}) == (state, None)
    assert next_state(state, dict.fromkeys(FACTS, False)) == (state, None)
    assert next_state(state, {"never heard of": True}) == (state, None)


@pytest.mark.parametrize("state", [s for s in State if s not in (State.TRIPPED, State.LAID_UP)])
def test_a_trip_wins_over_everything_else_that_is_true_at_the_same_time(state):
    assert next_state(state, dict.fromkeys(FACTS, True)) == (State.TRIPPED, "trip")


def test_stop_wins_over_everything_but_a_trip():
    everything = dict.fromkeys(FACTS - {"trip"}, True)
    for state in ("priming", "pressurising", "diverting", "producing"):
        assert next_state(State(state), everything) == (State.STOPPING, "stop")
    assert next_state(State.FLUSHING, everything) == (State.STANDBY, "stop")
    assert next_state(State.BENCH, everything) == (State.STANDBY, "stop")


def test_bad_water_wins_over_a_reached_target():
    assert next_state(State.PRODUCING, {"quality_lost": True, "target_reached": True})[0] is State.DIVERTING


def test_pressure_nobody_commanded_wins_over_a_start():
    assert next_state(State.STANDBY, {"unbidden_pressure": True, "start_accepted": True})[0] is State.HAND_RUN


def test_a_flush_that_is_due_is_not_skipped():
    assert next_state(State.STOPPING, {"depressurised": True, "depressurised_to_flush": True})[0] is State.FLUSHING


@pytest.mark.parametrize("state", list(State))
def test_each_state_energises_what_it_is_meant_to_and_nothing_else(state):
    some = [outputs(state, dict.fromkeys(chosen, True)) for chosen in subsets(conditions_of(state))]
    assert set().union(*some) == EVER_ON[state]
    assert set(frozenset.intersection(*some)) == ALWAYS_ON.get(state, set())


@pytest.mark.parametrize("state", list(State))
def test_a_condition_nobody_worked_out_leaves_its_output_off(state):
    assert outputs(state, {}) == ALWAYS_ON.get(state, set())


def test_water_goes_to_the_tank_while_producing_and_else_only_on_the_bench():
    for state in set(State) - {State.PRODUCING, State.BENCH}:
        for chosen in subsets(conditions_of(state)):
            assert "product_to_tank" not in outputs(state, dict.fromkeys(chosen, True))


@pytest.mark.parametrize("state", list(State))
def test_the_high_pressure_pump_never_runs_without_the_feed_pump_nor_beside_the_flush_valve(state):
    for chosen in subsets(conditions_of(state)):
        on = outputs(state, dict.fromkeys(chosen, True))
        if "high_pressure_pump" in on:
            assert "feed_pump" in on
            assert "flush_valve" not in on


@pytest.mark.parametrize("state", ["standby", "laid_up"])
def test_a_plant_at_rest_energises_nothing(state):
    every = {condition for row in sequence.ENERGISED.values() for condition in row.values()}
    assert outputs(State(state), dict.fromkeys(every, True)) == frozenset()


def test_a_tripped_plant_energises_nothing_but_the_feed_of_a_pump_that_disobeys():
    every = {condition for row in sequence.ENERGISED.values() for condition in row.values()}
    assert outputs(State.TRIPPED, dict.fromkeys(every - {"pump_disobeys"}, True)) == frozenset()
    assert outputs(State.TRIPPED, {"pump_disobeys": True}) == {"feed_pump"}
