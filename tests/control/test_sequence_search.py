"""A breadth-first search over the whole abstract sequence proves its safety rules; broken tables must not pass.

The searched state is the sequence's own state with what the rules speak of: whether a person has acted since the
last rest, trip or restart, and whether the quality of the water was proven in this stretch of product overboard. In
every such state every combination of the facts that the table knows there is tried, and every combination of the
conditions on its outputs.
"""

from collections import deque
from dataclasses import replace
from itertools import chain, combinations
from typing import NamedTuple

import pytest

from halocline.control.sequence import sequence_table as sequence
from halocline.plant.vocabulary import State
from safety_invariants import FEED, FLUSH, HP, Part, Step, broken, told_by

S = State
BY_A_PERSON = frozenset(
    {
        "start_accepted",
        "flush_accepted",
        "bench_accepted",
        "lay_up_accepted",
        "reset_accepted",
        "recommission_accepted",
    }
)
RESTARTS = (S.STANDBY, S.TRIPPED, S.LAID_UP)


class Node(NamedTuple):
    """`asked`: by a person, for what goes on now. `primed` and `proven`: what this run has been through."""

    state: State
    asked: bool
    primed: bool
    proven: bool


def subsets(items):
    items = sorted(items)
    return [frozenset(s) for s in chain.from_iterable(combinations(items, n) for n in range(len(items) + 1))]


WHOLE_TABLE = sequence.TABLE


def facts_in(state):
    """What may happen in a state, whether or not a broken copy of the table still listens to it."""
    return {row.fact for row in (*WHOLE_TABLE, *sequence.TABLE) if state in row.states}


def energised_in(state, *, pump_was_on=True):
    """Every combination of outputs; a stop keeps a running pump on for a while but never switches one on."""
    conditions = {condition for condition in sequence.ENERGISED[state].values() if condition != "always"}
    if not pump_was_on:
        conditions.discard("waiting_for_regulator")
    return [sequence.outputs(state, dict.fromkeys(chosen, True)) for chosen in subsets(conditions)]


def after(node, facts):
    to, fact = sequence.next_state(node.state, dict.fromkeys(facts, True))
    if fact is None:
        return node, None
    person = fact in ("start_accepted", "bench_accepted", "flush_accepted")
    at_rest = to in (S.STANDBY, S.TRIPPED, S.LAID_UP)
    asked = (node.asked or person) and not at_rest
    primed = (node.primed or fact == "primed") and not at_rest
    proven = fact == "quality_held" and to is S.PRODUCING
    return Node(to, asked, primed, proven), fact


def search():
    """All reachable nodes and everything wrong that was met on the way: (nodes, steps, violations)."""
    waiting = deque(Node(state, False, False, False) for state in RESTARTS)
    seen, steps, violations = set(waiting), 0, set()
    for node in seen:
        violations |= {f"{node.state}: {rule}" for rule in wrong_outputs(node)}
    while waiting:
        node = waiting.popleft()
        for facts in subsets(facts_in(node.state)):
            following, fact = after(node, facts)
            steps += 1
            violations |= {f"{node.state}: {rule}" for rule in wrong_step(node, facts, following, fact)}
            if following not in seen:
                seen.add(following)
                waiting.append(following)
                violations |= {f"{following.state}: {rule}" for rule in wrong_outputs(following)}
    return seen, steps, violations


def wrong_outputs(node):
    """Broken invariants of a node that stays as it is, under every combination of the conditions on its outputs."""
    for on in energised_in(node.state, pump_was_on=node.primed):
        yield from told(step_of(node, node, on, frozenset(), None))


def wrong_step(node, facts, following, fact):
    yield from told(step_of(node, following, frozenset(), facts, fact))
    if node.state is S.PRODUCING and "quality_lost" in facts and following.state is S.PRODUCING:
        yield "bad water goes on to the tank"


def told(step):
    return [sentence for _, sentence in broken(step, INVARIANTS)]


def step_of(node, following, on, facts, fact):
    """What the table can tell of a step. Everything on counts as having gone on in it."""
    state = node.state
    accepted = {each.removesuffix("_accepted") for each in facts if each.endswith("_accepted")}
    accepted |= {"stop"} & facts
    if fact == "lay_up_accepted" and state is S.TRIPPED:
        accepted |= {"reset"}  # a plant that was laid up when it tripped is laid up again by its reset
    trips = "trip" in facts and state not in (S.TRIPPED, S.LAID_UP)
    return Step(
        before=state,
        state=following.state,
        was_on=frozenset(),
        outputs=on,
        accepted=frozenset(accepted),
        must_trip=frozenset({"trip"} if trips else ()),
        stop_given="stop" in facts,
        feeds_another=True,
        asked=following.asked,
        water_proven=following.proven,
        # On the bench the time of the feed is no matter of the table.
        feed_proven=following.primed or following.state is S.BENCH,
    )


INVARIANTS = told_by({Part.PERSON, Part.WATER_PROOF, Part.FEED_PROOF})


def without_a_person():
    """States that are reached from a restart, a trip or a lay-up while nobody does anything."""
    seen, waiting = set(RESTARTS), deque(RESTARTS)
    while waiting:
        state = waiting.popleft()
        for facts in subsets(facts_in(state) - BY_A_PERSON):
            to, _ = sequence.next_state(state, dict.fromkeys(facts, True))
            if to not in seen:
                seen.add(to)
                waiting.append(to)
    return seen


def rest_within(steps):
    """States from which a stop, and then nothing but falling pressure, does not lead to rest in so many steps."""
    facts = ("stop", "depressurised", "pressure_gone", "flush_complete", "bench_over")
    lost = set()
    for state in State:
        at = state
        for _ in range(steps):
            at, _ = sequence.next_state(at, dict.fromkeys(facts, True))
        if at not in (S.STANDBY, S.TRIPPED, S.LAID_UP):
            lost.add(state)
    return lost


def all_violations():
    _, _, violations = search()
    if any(HP in on for state in without_a_person() for on in energised_in(state)):
        violations.add("the high-pressure pump is reached without a person")
    if rest_within(3):
        violations.add("stop does not lead to rest")
    return violations


def test_every_reachable_state_keeps_every_rule():
    nodes, steps, violations = search()
    assert violations == set()
    assert {node.state for node in nodes} == set(State)
    assert len(nodes) == 14
    assert steps == 338


def test_nobody_but_a_person_leads_from_a_restart_a_trip_or_a_lay_up_to_a_running_pump():
    assert without_a_person() == {S.STANDBY, S.TRIPPED, S.LAID_UP, S.HAND_RUN, S.FLUSHING}
    assert {output for on in energised_in(S.FLUSHING) for output in on} == {FLUSH}
    assert not any(HP in on for state in without_a_person() for on in energised_in(state))


def test_from_every_state_a_stop_and_falling_pressure_lead_to_rest():
    assert rest_within(3) == set()


def test_without_proven_water_there_is_no_way_to_producing():
    reached, waiting = {S.STANDBY}, deque([S.STANDBY])
    while waiting:
        state = waiting.popleft()
        for facts in subsets(facts_in(state) - {"quality_held"}):
            to, _ = sequence.next_state(state, dict.fromkeys(facts, True))
            if to not in reached:
                reached.add(to)
                waiting.append(to)
    assert reached == set(State) - {S.PRODUCING}


# ---- broken copies --------------------------------------------------------------------------------


def row(states, fact, to):
    return sequence.Row(frozenset(states), fact, to)


def without(fact, state=None):
    """The table without the rows of a fact, or without one state in them."""
    if state is None:
        return tuple(r for r in sequence.TABLE if r.fact != fact)
    return tuple(replace(r, states=r.states - {state}) if r.fact == fact else r for r in sequence.TABLE)


def leading(fact, to):
    return tuple(replace(r, to=to) if r.fact == fact else r for r in sequence.TABLE)


def energising(state, **outputs):
    return {**sequence.ENERGISED, state: {**sequence.ENERGISED[state], **outputs}}


TABLES = {
    "no trip from flushing": without("trip", S.FLUSHING),
    "no trip while stopping": without("trip", S.STOPPING),
    "no trip at all": without("trip"),
    "a trip after everything else": (*without("trip"), sequence.TABLE[0]),
    "a trip only stops": leading("trip", S.STOPPING),
    "no stop while producing": without("stop", S.PRODUCING),
    "no stop while priming": without("stop", S.PRIMING),
    "a stop goes back to diverting": leading("stop", S.DIVERTING),
    "a reset goes straight on": leading("reset_accepted", S.PRIMING),
    "a trip that lets go": (*sequence.TABLE, row({S.TRIPPED}, "pressure_gone", S.STANDBY)),
    "recommissioned by a reset": (*sequence.TABLE, row({S.LAID_UP}, "reset_accepted", S.STANDBY)),
    "a laid-up plant that starts": (*sequence.TABLE, row({S.LAID_UP}, "start_accepted", S.PRIMING)),
    "straight to the tank": leading("settled", S.PRODUCING),
    "bad water is not diverted": without("quality_lost"),
    "no priming": leading("start_accepted", S.PRESSURISING),
    "a hand run that becomes a run": leading("unbidden_pressure", S.PRESSURISING),
    "a stop that turns back": (*sequence.TABLE, row({S.STOPPING}, "settled", S.DIVERTING)),
    "a restart after a flush": leading("flush_complete", S.PRIMING),
    "a target before bad water": (
        row({S.PRODUCING}, "target_reached", S.PRODUCING),
        *sequence.TABLE,
    ),
    "a flush that nobody can stop": without("stop", S.FLUSHING),
}
OUTPUTS = {
    "the tank opened while diverting": energising(S.DIVERTING, product_to_tank="always"),
    "the tank open while stopping": energising(S.STOPPING, product_to_tank="feed_needed"),
    "the pump on while priming": energising(S.PRIMING, high_pressure_pump="always"),
    "the pump on after a trip": energising(S.TRIPPED, high_pressure_pump="pump_disobeys"),
    "the flush valve open after a trip": energising(S.TRIPPED, flush_valve="always"),
    "the feed pump on at rest": energising(S.STANDBY, feed_pump="feed_needed"),
    "the inverter on while laid up": energising(S.LAID_UP, inverter_enable="always"),
    "the flush valve open in a run": energising(S.PRODUCING, flush_valve="feed_needed"),
    "water to the tank while a pump is run by hand": energising(S.HAND_RUN, product_to_tank="always"),
    "the pump on in a flush": energising(S.FLUSHING, high_pressure_pump="always", feed_pump="always"),
}


@pytest.mark.parametrize("name", TABLES)
def test_a_broken_table_is_caught(monkeypatch, name):
    monkeypatch.setattr(sequence, "TABLE", TABLES[name])
    assert all_violations(), name


@pytest.mark.parametrize("name", OUTPUTS)
def test_a_broken_table_of_outputs_is_caught(monkeypatch, name):
    monkeypatch.setattr(sequence, "ENERGISED", OUTPUTS[name])
    assert all_violations(), name


def test_the_pump_is_interlocked_with_feed_and_flush_even_where_the_table_is_wrong(monkeypatch):
    monkeypatch.setattr(sequence, "ENERGISED", {**sequence.ENERGISED, S.DIVERTING: {HP: "always"}})
    assert sequence.outputs(S.DIVERTING, {}) == frozenset()
    both = {HP: "always", FEED: "always", FLUSH: "always"}
    monkeypatch.setattr(sequence, "ENERGISED", {**sequence.ENERGISED, S.DIVERTING: both})
    assert sequence.outputs(S.DIVERTING, {}) == {FEED, FLUSH}
