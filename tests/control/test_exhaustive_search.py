"""The model checker of `exhaustive_search`: the product keeps every rule in every state it can get into, and every
mutant of it is caught."""

from dataclasses import replace

import pytest
from exhaustive_search import (
    ACKNOWLEDGE,
    BEGINNINGS,
    ENOUGH,
    FLUSH_NOW,
    LARGE,
    LONG_S,
    LOOKS,
    PRESSED,
    RESET,
    SMALL,
    START,
    STOP,
    TRY_PUMP,
    Move,
    Seen,
    fine,
    left,
    search,
)

from halocline.control import automatic_flush, hydraulic_state, permissives, plant_state, situation
from halocline.control.alarm_conditions import feed
from halocline.control.duties import flush_alone
from halocline.control.permissives import flush_alone as checks_alone
from halocline.control.quality import QualityJudge
from halocline.control.retained import persistence, restart_recovery
from halocline.control.retained.retained_state import RetainedState
from halocline.control.sequence import sequence_table as sequence
from halocline.control.sequence.output_logic import OutputLogic
from halocline.control.sequence.transition_actions import TransitionActions
from halocline.control.sequence.transition_conditions import TransitionConditions
from halocline.plant import alarms, motor
from halocline.plant.alarms import Effect
from halocline.plant.vocabulary import State

pytestmark = pytest.mark.timeout(900)
"""Two minutes of one core; a computer with much else to do takes its time."""

S = State
RUNS = (S.PRIMING, S.PRESSURISING, S.DIVERTING, S.PRODUCING)


@pytest.fixture(autouse=True, scope="module")
def membrane_model_asked_once():
    """The expectation for a pressure and a temperature is the same each time; working it out takes most of a tick."""
    known, work_out = {}, situation.Observer._expect

    def expect(observer, bar, temperature_c):
        key = bar, temperature_c
        if key not in known:
            known[key] = work_out(observer, bar, temperature_c)
        return known[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(situation.Observer, "_expect", expect)
        yield


@pytest.fixture(scope="module")
def product():
    """The search over the product as it is, both parts."""
    return {name: search(moves, LOOKS[name], [BEGINNINGS[name]()]) for name, moves in SMALL.items()}


def told(found):
    return {f"{name}: {text} ({step.before} → {step.state})" for (name, text), step in found.violations.items()}


def test_the_product_keeps_every_rule_in_every_state_it_can_get_into(product):
    running, keeping, alone = product["running"], product["keeping"], product["alone"]
    for name, found in product.items():
        print(f"{name}: {found.states} states, {found.steps} steps")
        assert told(found) == set()
    assert running.sequence_states() == set(State) - {S.LAID_UP}
    assert {S.LAID_UP, S.FLUSHING, S.BENCH} <= keeping.sequence_states()
    assert running.states > 300
    assert keeping.states > 200
    assert alone.states > 500
    assert alone.sequence_states() == {S.STANDBY, S.FLUSHING}
    assert running.edges >= {(row_state, row.to) for row in sequence.TABLE for row_state in row.states} - OTHER_PART


OTHER_PART = {
    (S.STANDBY, S.LAID_UP),
    (S.TRIPPED, S.LAID_UP),
    (S.LAID_UP, S.STANDBY),
}
"""Ways that only the search about looking after the plant takes."""


@pytest.mark.soak
@pytest.mark.timeout(7200)
@pytest.mark.parametrize("part", LARGE)
def test_the_product_keeps_every_rule_with_every_reading_and_every_clock(part):
    found = search(LARGE[part], left if part == "alone" else fine, [BEGINNINGS[part]()])
    print(f"{part}: {found.states} states, {found.steps} steps")
    assert told(found) == set()
    assert found.states > 1000


# ---- broken copies ---------------------------------------------------------------------------------


def table(rows):
    return lambda patch: patch.setattr(sequence, "TABLE", rows(sequence.TABLE))


def without(fact, state):
    return table(lambda rows: tuple(replace(r, states=r.states - {state}) if r.fact == fact else r for r in rows))


def leading(fact, to):
    return table(lambda rows: tuple(replace(r, to=to) if r.fact == fact else r for r in rows))


def with_row(state, fact, to):
    return table(lambda rows: (*rows, sequence.Row(frozenset({state}), fact, to)))


def energising(state, **outputs):
    def patch_it(patch):
        patch.setattr(sequence, "ENERGISED", {**sequence.ENERGISED, state: {**sequence.ENERGISED[state], **outputs}})

    return patch_it


def unchecked(command, *names):
    """The command without the checks of these names."""

    def patch_it(patch):
        kept = tuple(c for c in permissives.CHECKS[command] if getattr(c, "__name__", "") not in names)
        assert len(kept) == len(permissives.CHECKS[command]) - len(names)
        patch.setattr(permissives, "CHECKS", {**permissives.CHECKS, command: kept})

    return patch_it


def cause(id_, **changes):
    """A row of causes with other values."""

    def patch_it(patch):
        rows = tuple(replace(row, **changes) if row.id == id_ else row for row in alarms.ROWS)
        assert rows != alarms.ROWS
        patch.setattr("halocline.control.annunciator.ROWS", rows)

    return patch_it


def answering(owner, name, value):
    """A question of the core that always has the same answer."""
    return lambda patch: patch.setattr(owner, name, lambda *_a, **_k: value)


def fact(name, value):
    """The core's facts with one of them always so."""

    def patch_it(patch):
        work_out = TransitionConditions.of
        patch.setattr(TransitionConditions, "of", lambda *a: {**work_out(*a), name: value})

    return patch_it


def no_hold(patch):
    judge = QualityJudge.update

    def take(self, now, purge):
        judge(self, now, purge)
        self.held_s = 99.0

    patch.setattr(QualityJudge, "update", take)


def never_lost(patch):
    judge = QualityJudge.update

    def take(self, now, purge):
        judge(self, now, purge)
        self.lost = ()

    patch.setattr(QualityJudge, "update", take)


def resumed_without(field):
    """Control comes up without one thing that was on file."""

    def patch_it(patch):
        fresh = getattr(RetainedState(), field)
        patch.setattr(
            plant_state,
            "resumed",
            lambda retained, **k: restart_recovery.resumed(replace(retained, **{field: fresh}), **k),
        )

    return patch_it


def forgetful_of_work(patch):
    begin = plant_state.PlantState.__init__

    def init(self, settings, retained, *a, **k):
        begin(self, settings, replace(retained, motor_worked_s=0.0), *a, **k)

    patch.setattr(plant_state.PlantState, "__init__", init)


def dry_pump_unseen(patch):
    for asking in (feed, hydraulic_state):
        patch.setattr(asking, "feed_pump_had_its_time", lambda _now: False)


def owing_no_flush(patch):
    update = persistence.Persistence.update

    def without(self, *given):
        update(self, *given)
        self.retained = replace(self.retained, flush_owed=False)

    patch.setattr(persistence.Persistence, "update", without)


def interlock_gone(patch):
    def outputs(state, conditions):
        energised = sequence.ENERGISED[state]
        return frozenset(o for o, c in energised.items() if c == "always" or conditions.get(c, False))

    patch.setattr("halocline.control.sequence.output_logic.outputs", outputs)
    energising(S.PRODUCING, feed_pump="feed_needed")(patch)


def unasked_alone(name):
    """A flush that nobody orders, without one of its checks."""

    def patch_it(patch):
        dropped = 0
        for table in ("PEOPLE_LET_IT", "FLUSH_ALONE", "FLUSH_ALONE_DUE"):
            checks = getattr(permissives, table)
            kept = tuple(check for check in checks if getattr(check, "__name__", "") != name)
            dropped += len(checks) - len(kept)
            patch.setattr(automatic_flush, table, kept)
        assert dropped

    return patch_it


def never_given_up(patch):
    for counting in (persistence, automatic_flush):
        patch.setattr(counting, "MOST_FAILURES", 99)


TRIPPED_AND_LEFT = (
    Move(ENOUGH),
    Move(replace(ENOUGH, active=frozenset({"stop_button"}))),
    Move(ENOUGH, ACKNOWLEDGE),
    Move(ENOUGH, RESET),
    Move(ENOUGH, seconds=601.0),
)
FAILING = (
    Move(ENOUGH),
    Move(replace(ENOUGH, tank_percent=None)),
    Move(ENOUGH, seconds=601.0),
    Move(ENOUGH, seconds=86401.0),
)
REST, PRESSURE = Move(Seen()), Move(PRESSED)
AGAIN = (
    REST,
    PRESSURE,
    Move(Seen(), START),
    Move(Seen(), STOP),
    Move(Seen(), ACKNOWLEDGE),
    Move(Seen(), restart=True),
)
JOG = (REST, Move(Seen(), TRY_PUMP))
FLUSHES = (REST, Move(Seen(), FLUSH_NOW))
"""What leads to some mutants within few steps."""
MOTOR_CHECKS = ("starts_left", "motor_rested", "motor_cooled")

MUTANTS = {
    "table: no trip while producing": ((S.PRODUCING,), without("trip", S.PRODUCING)),
    "table: no trip from a flush": ((S.FLUSHING,), without("trip", S.FLUSHING)),
    "table: no stop while diverting": ((S.DIVERTING,), without("stop", S.DIVERTING)),
    "table: a stop goes back to diverting": ((S.PRODUCING,), leading("stop", S.DIVERTING)),
    "table: a reset starts": ((S.TRIPPED,), leading("reset_accepted", S.PRIMING)),
    "table: a trip lets go when pressure is gone": ((S.TRIPPED,), with_row(S.TRIPPED, "trip", S.STANDBY)),
    "table: a start without priming": ((S.STANDBY,), leading("start_accepted", S.PRESSURISING)),
    "table: straight to the tank": ((S.PRESSURISING,), leading("settled", S.PRODUCING)),
    "table: a stop wakes a laid-up plant": ((S.LAID_UP,), with_row(S.LAID_UP, "stop", S.STANDBY)),
    "table: a run after a flush": ((S.FLUSHING,), leading("flush_complete", S.PRIMING)),
    "outputs: the tank open while diverting": ((S.DIVERTING,), energising(S.DIVERTING, product_to_tank="always")),
    "outputs: the pump on while priming": ((S.PRIMING,), energising(S.PRIMING, high_pressure_pump="always")),
    "outputs: the flush valve open in a run": ((S.DIVERTING,), energising(S.PRODUCING, flush_valve="always")),
    "outputs: the feed pump on at rest": ((S.STANDBY,), energising(S.STANDBY, feed_pump="always")),
    "outputs: the diverter on after a trip": ((S.PRODUCING,), energising(S.TRIPPED, product_to_tank="always")),
    "outputs: the feed pump on while laid up": ((S.LAID_UP,), energising(S.LAID_UP, feed_pump="always")),
    "outputs: no interlock of pump and feed": ((S.DIVERTING,), interlock_gone),
    "permission: a reset with the cause there": ((S.TRIPPED,), unchecked("reset", "causes_gone")),
    "permission: a reset that nobody acknowledged": ((S.TRIPPED,), unchecked("reset", "acknowledged")),
    "permission: a reset under pressure": ((S.TRIPPED,), unchecked("reset", "no_pressure")),
    "permission: a jog of a hot motor": (
        (S.STANDBY,),
        unchecked("bench", "starts_left", "motor_rested", "motor_cooled"),
        JOG,
    ),
    "permission: a start after a run was cut off": ((S.STANDBY,), unchecked("start", "restart_acknowledged"), AGAIN),
    "permission: a jog after a run was cut off": (
        (S.STANDBY,),
        unchecked("bench", "restart_acknowledged"),
        (*AGAIN, Move(Seen(), TRY_PUMP)),
    ),
    "permission: too many starts": (None, unchecked("start", "starts_left"), AGAIN),
    "permission: a start with a housing open": ((S.STANDBY,), unchecked("start", "not_locked")),
    "permission: a flush with chlorine": ((S.STANDBY,), unchecked("flush", "no_chlorine"), FLUSHES),
    "causes: the stop button only warns": (None, cause("stop_button", effect=Effect.WARN)),
    "causes: overpressure not judged in a run": (
        None,
        cause("vessel_pressure_high_high", armed=alarms.AWAKE - frozenset(RUNS)),
    ),
    "causes: a lost feed sensor not judged in a run": (
        None,
        cause("sensor_fault_feed_pressure", armed=frozenset({S.FLUSHING})),
    ),
    "causes: a dry pump does not trip": (
        (S.PRODUCING,),
        dry_pump_unseen,
        (Move(Seen(bar=55.0, feed_bar=0.05)),),
    ),
    "causes: a motor works on beyond its rating": (
        (S.PRODUCING,),
        answering(motor, "work_s", float("inf")),
        (Move(PRESSED, seconds=LONG_S),),
    ),
    "causes: the pressure switch comes late": (None, cause("pressure_switch", delay_s=5.0)),
    "causes: a lost converter is no trip": (None, cause("adc_lost", effect=Effect.DIVERT)),
    "core: no hold": ((S.DIVERTING,), no_hold),
    "core: bad water is never noticed": ((S.PRODUCING,), never_lost),
    "core: primed without feed": ((S.PRIMING,), fact("primed", True)),
    "core: no trip": (RUNS, fact("trip", False)),
    "core: a stop is not heard": (RUNS, fact("stop", False), (PRESSURE, Move(PRESSED, STOP))),
    "core: the pump never waits for a hand to end": (
        (S.PRODUCING, S.STOPPING),
        answering(OutputLogic, "_wait_for_regulator", True),
    ),
    "core: the flush valve opens under pressure": (
        (S.STOPPING, S.FLUSHING),
        answering(OutputLogic, "_flush_valve_open", True),
    ),
    "core: a flush goes on under chlorine": ((S.FLUSHING,), fact("flush_failed", False)),
    "core: the motor's work forgotten by a restart": ((S.STANDBY,), forgetful_of_work, AGAIN),
    "core: trips forgotten by a restart": (
        (S.PRODUCING, S.TRIPPED),
        lambda patch: patch.setattr(plant_state.PlantState, "_restore", lambda *_a: None),
    ),
    "core: a run that was cut off forgotten by the next restart": ((S.STANDBY,), resumed_without("cut_off"), AGAIN),
    "core: an owed flush forgotten by a restart": ((S.STANDBY,), resumed_without("flush_owed"), (REST, AGAIN[-1])),
    "core: sea water owes no flush": ((S.STANDBY,), owing_no_flush, (REST, Move(Seen(), START))),
    "core: a lock forgotten by a restart": ((S.STANDBY,), resumed_without("lock"), (REST, AGAIN[-1])),
    "core: chlorine forgotten by a restart": ((S.STANDBY,), resumed_without("chlorine_suspected"), (REST, AGAIN[-1])),
    "core: a bench is no work under way": (
        (S.BENCH,),
        lambda patch: patch.setattr(persistence, "AT_REST", persistence.AT_REST | {S.BENCH}),
        (REST, AGAIN[-1]),
    ),
    "alone: without consent": (None, unasked_alone("consent_in_force")),
    "alone: while a person is there": (None, unasked_alone("no_hands")),
    "alone: over a lock": (None, unasked_alone("not_locked")),
    "alone: as often as it likes": (None, unasked_alone("once_a_day"), FAILING),
    "alone: from a low tank": (None, unasked_alone("tank_keeps_enough")),
    "alone: until the tank is empty": (None, lambda patch: patch.setattr(checks_alone, "WAVES_PERCENT", 100.0)),
    "alone: a restart forgives a failure": (None, answering(persistence.Persistence, "flush_is_announced", None)),
    "alone: without a clock": (None, unasked_alone("clock_known")),
    "alone: without memory": (None, unasked_alone("latch_writable")),
    "alone: without notice": (None, lambda patch: patch.setattr(flush_alone, "NOTICE_S", 0.0)),
    "alone: failure after failure": (None, never_given_up, FAILING),
    "alone: a person does not end it": (None, fact("flush_called_off", False)),
    "alone: consent forgotten to have ended": (
        None,
        answering(persistence.Persistence, "flush_consent_ends", None),
        TRIPPED_AND_LEFT,
    ),
    "core: the first cause is not kept": (RUNS, answering(TransitionActions, "_note_first_out", None)),
}
"""Name → where the search for it begins (None: from the start), what is broken, and the moves that are enough."""

MOST_STEPS = 20_000


def catching(product, monkeypatch, parts, begin, break_it, enough=None):
    break_it(monkeypatch)
    for part in parts:
        every = SMALL[part]
        roots = [BEGINNINGS[part]()] if begin is None else product[part].of(*begin)
        if begin is None or roots:
            found = search(
                enough or every, fine if enough else LOOKS[part], roots, stop_at_first=True, most_steps=MOST_STEPS
            )
            if found.violations:
                return found
    return None


@pytest.mark.parametrize("name", MUTANTS)
def test_a_mutant_is_caught(product, monkeypatch, name):
    parts = ("alone",) if name.startswith("alone") else ("running", "keeping")
    found = catching(product, monkeypatch, parts, *MUTANTS[name])
    assert found is not None, f"nothing notices: {name}"
    ((_, sentence),) = list(found.violations)[:1]
    print(f"{name} | {sentence} | {found.steps} steps")


def test_there_are_enough_mutants_of_every_kind():
    kinds = {name.partition(":")[0] for name in MUTANTS}
    assert kinds == {"table", "outputs", "permission", "causes", "core", "alone"}
    assert len(MUTANTS) > 40
