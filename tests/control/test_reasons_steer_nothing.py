"""What is displayed steers nothing: what the outputs do comes from conditions judged every tick, in a stop as well.

A reason is what people are told about a change of state. Which of several causes is told is an accident of the table's
order, and a cause that comes after the change is not told at all; an actuator that listened to it would do one thing
for the same danger today and another tomorrow.
"""

from dataclasses import replace

import pytest
from cloning import clone
from exhaustive_search import PRESSED, Account, Move, Seen, take
from hand_driven_plant import Plant, quick_settings

from halocline.control.inputs import Command, Reason
from halocline.plant.alarms import DEFINITIONS, ROWS, Effect, Stop
from halocline.plant.vocabulary import Quality, State

AT_ONCE = [row for row in ROWS if row.stop is Stop.AT_ONCE]
ENDED_BY = {
    "stop": lambda plant: plant.give("stop"),
    "full tank": lambda plant: plant.press("tank_float"),
    "litres made": lambda plant: setattr(plant, "product_l", plant.product_l + 40.0),
    "weak battery": lambda plant: plant.read("battery_voltage", 10.5),
    "salt": lambda plant: plant.read("product_conductivity", 15_000.0),
}
"""What ends a run in good order: with the pump on until a hand has opened the regulator, or for 15 s."""


def stopping(how):
    """A plant that has just begun to stop, whose regulator nobody opens."""
    plant = Plant(quick_settings(sequence={"stop_open_s": 30.0})).brought_to("producing", litres=20.0)
    plant.hand_is_there = False
    plant.raising = True
    ENDED_BY[how](plant)
    plant.until("stopping")
    plant.mend()
    assert "high_pressure_pump" in plant.on
    return plant


def let_air_in(plant, seconds):
    """Feed pressure jumps about within each second, never below its limit."""
    until_s = plant.now_s + seconds
    while plant.now_s < until_s:
        for bar in (0.6, 1.6):
            plant.read("feed_pressure", bar)
            plant.wait(0.5)
        yield


@pytest.mark.parametrize("how", ENDED_BY)
def test_air_in_the_suction_stops_the_pump_whatever_the_run_was_ended_by(how):
    plant = stopping(how)
    for _ in let_air_in(plant, 14.0):
        if "high_pressure_pump" not in plant.on:
            break
    assert "high_pressure_pump" not in plant.on
    assert plant.state == "stopping"
    assert plant.alarm("feed_pressure_unsteady") == "unacknowledged"


@pytest.mark.parametrize("how", ENDED_BY)
def test_a_hot_motor_stops_at_once_whatever_the_run_was_ended_by(how):
    plant = stopping(how)
    plant.read("pump_motor_temperature", 96.0)
    plant.wait(DEFINITIONS["motor_too_warm"].delay_s + 0.2)
    assert "high_pressure_pump" not in plant.on
    assert plant.alarm("motor_too_warm") == "unacknowledged"


@pytest.mark.parametrize("how", ENDED_BY)
def test_a_pump_without_feed_goes_off_at_once_and_loudly_whatever_the_run_was_ended_by(how):
    plant = stopping(how)
    plant.wait(3.0)
    plant.read("feed_pressure", 0.05)
    plant.tick()
    assert plant.on == set()
    assert plant.alarm("feed_lost_while_stopping") == "unacknowledged"
    plant.wait(3.0)
    assert plant.on & {"feed_pump", "high_pressure_pump"} == set(), "there is nothing to feed it with"


@pytest.mark.parametrize("how", ENDED_BY)
def test_a_pump_whose_feed_nobody_knows_trips_whatever_the_run_was_ended_by(how):
    plant = stopping(how)
    plant.lose("feed_pressure", Quality.OPEN)
    plant.tick()
    assert plant.state == "tripped"


def test_an_orderly_stop_ends_without_a_word_about_feed_that_is_switched_off():
    plant = Plant().brought_to("producing")
    assert plant.give("stop") == []
    plant.until("standby")
    assert plant.alarms & {"feed_lost_while_stopping", "feed_pressure_unsteady"} == set()


def test_the_feed_stays_off_although_another_trip_is_told():
    plant = Plant().brought_to("producing")
    plant.relay_welded = True
    plant.read("feed_pressure", 0.05)
    plant.wait(plant.settings.limits.feed_pressure_low_low_s)
    assert plant.state == "producing"
    plant.press("pressure_switch")
    plant.tick()
    assert plant.state == "tripped"
    assert plant.core.why.id == "pressure_switch"
    plant.press("pressure_switch", active=False)
    for _ in range(400):
        plant.tick()
        assert "feed_pump" not in plant.on


def test_what_stops_at_once_is_judged_for_as_long_as_the_pump_may_turn():
    assert {row.id for row in AT_ONCE if row.effect is Effect.STOP} == {
        "feed_pressure_unsteady",
        "feed_lost_while_stopping",
        "motor_too_warm",
    }
    for row in AT_ONCE:
        assert row.effect in (Effect.STOP, Effect.TRIP)
        if row.effect is Effect.STOP:
            assert State.STOPPING in row.armed, row.id
    assert [row.id for row in ROWS if row.effect is Effect.TRIP and row.stop is not Stop.AT_ONCE] == []


# ---- any other reason would have done ----------------------------------------------------------------

OTHERS = [Reason(row.id) for row in ROWS if row.effect is not Effect.WARN]
OTHERS += [Reason("stop_command"), Reason("raise_timeout"), Reason("never heard of")]
SEEN = (
    PRESSED,
    Seen(),
    Seen(bar=55.0, feed_bar=0.05),
    Seen(bar=55.0, feed_bar=0.6),
    Seen(bar=55.0, feed_bar=None),
    Seen(bar=20.0),
    Seen(bar=7.0),
    Seen(bar=4.0),
    Seen(bar=55.0, tds_mg_l=700.0),
    Seen(bar=55.0, tds_mg_l=1500.0),
    Seen(bar=55.0, tds_mg_l=None),
    Seen(bar=55.0, flow_l_h=0.0),
    Seen(bar=55.0, active=frozenset({"stop_button"})),
    Seen(bar=55.0, active=frozenset({"tank_float"})),
    Seen(bar=65.0),
)
"""Readings that end runs in one way or another."""


def told_otherwise(core, other):
    """The same core, had it told people something else."""
    core.plant.position.explain(other)
    if core.first_out is not None:
        core.plant.position.first_out = other.id
        core.plant.persistence.tripped(other.id)
    if core.plant.position.last_end is not None:
        core.plant.position.run_ended(other)
    if core.plant.run is not None and core.plant.run.ended_by is not None:
        core.plant.run.end(other)
    return core


ROOTS = ("priming", "pressurising", "diverting", "producing", "stopping", "tripped", "flushing")


def played(core, account, seen, other=None):
    """Outputs, state and alarms of four seconds with these readings, with another reason told before each."""
    core, account = clone(core), replace(account)
    for _ in range(4):
        if other is not None:
            told_otherwise(core, other)
        taken = take(core, account, Move(seen))
        core, account = taken.core, taken.account
        yield taken.step.outputs, taken.state, taken.raised


@pytest.mark.parametrize("root", ROOTS)
def test_another_reason_changes_no_output(root):
    plant = Plant().brought_to(root)
    account = Account(now_s=plant.now_s, product_l=plant.product_l, flush_l=plant.flush_l)
    for seen in SEEN:
        as_told = list(played(plant.core, account, seen))
        for other in OTHERS:
            assert list(played(plant.core, account, seen, other)) == as_told, other.id


class Untouchable(str):
    """An id that may be shown and handed on, but not compared."""

    __slots__ = ()

    def __eq__(self, other):
        raise AssertionError(f"the id of a reason is compared: {str.__str__(self)}")

    __ne__ = __eq__

    def __hash__(self):
        raise AssertionError(f"the id of a reason is looked up: {str.__str__(self)}")

    def startswith(self, *_a):
        raise AssertionError(f"the id of a reason is read: {str.__str__(self)}")


@pytest.fixture
def reasons_that_may_not_be_read(monkeypatch):
    """Every reason that the core makes carries an id that may not be compared."""
    begin = Reason.__init__

    def init(self, id_, *values, **more):
        begin(self, Untouchable(id_), *values, **more)

    monkeypatch.setattr(Reason, "__init__", init)


STORIES = {
    "a run until its litres": lambda plant: (plant.give("start", litres=0.1), plant.until("standby")),
    "a stop and a flush": lambda plant: (plant.brought_to("producing"), plant.give("stop"), plant.until("standby")),
    "a full tank": lambda plant: (plant.brought_to("producing"), plant.press("tank_float"), plant.until("standby")),
    "salt": lambda plant: (
        plant.brought_to("producing"),
        plant.read("product_conductivity", 3_000.0),
        plant.until("diverting"),
        plant.mend(),
        plant.until("producing"),
    ),
    "a dead probe": lambda plant: (
        plant.brought_to("producing"),
        plant.lose("product_conductivity"),
        plant.until("diverting"),
    ),
    "no feed": lambda plant: (
        plant.brought_to("producing"),
        plant.read("feed_pressure", 0.05),
        plant.until("tripped"),
        plant.wait(8.0),
        plant.mend(),
        plant.wait(2.0),
        plant.give("acknowledge"),
        plant.give("reset"),
        plant.wait(8.0),
    ),
    "nobody raises the pressure": lambda plant: (
        setattr(plant, "hand_is_there", False),
        plant.give("start"),
        plant.until("stopping"),
        plant.until("standby"),
    ),
    "a flush that fails": lambda plant: (
        plant.give("flush"),
        plant.give("log", kind="tank_chlorinated"),
        plant.until("standby"),
    ),
    "a start that is refused": lambda plant: (plant.press("bilge_wet"), plant.wait(2.0), plant.tick(Command("start"))),
}
"""Between them every change of state of the table that a reason is given for."""


@pytest.mark.parametrize("story", STORIES)
def test_no_decision_reads_the_id_of_a_reason(story, reasons_that_may_not_be_read):
    plant = Telling()
    STORIES[story](plant)
    assert len(plant.states) > 1 or story.startswith("a start")


class Telling(Plant):
    """A plant whose tests do not read the reasons either."""

    def answers_after_persisting(self):
        if self.outcome.persist:
            self.tick(*[command for command, _ in self.outcome.persist])
        ((_, accepted, reasons),) = self.outcome.answers
        return [] if accepted else list(reasons)
