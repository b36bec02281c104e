"""What is owed stays owed until a person has met it, through kills, stops, restarts, power cuts, orderly ends and
clocks that are set: stories on a real latch file, written by the real housekeeping."""

import contextlib
import os
import queue
import random
import tempfile
import types
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from card import STEPS, Card, CutOff
from hand_driven_plant import Plant, quick_settings
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule, run_state_machine_as_test

from halocline.control import housekeeping as keeper_module
from halocline.control.core import Core
from halocline.control.exchange import News, World
from halocline.control.housekeeping import Housekeeping, Identity
from halocline.control.inputs import Command
from halocline.control.retained import retained_state as retained_file
from halocline.control.retained.retained_state import CutOff as Interrupted
from halocline.control.retained.retained_state import Moment, RetainedState, Trip, decode, encode, off_s
from halocline.plant import words
from halocline.plant.vocabulary import Origin, State
from obligations import OBLIGATIONS, acts, forgotten, owed

SOAK = bool(os.environ.get("HALOCLINE_SOAK"))
STORIES = 100 if SOAK else 15
CHAPTERS = 40 if SOAK else 25
AT_REST = ("standby", "tripped", "laid_up")
BY_TIME = {"event:cooled", "event:rested", "event:day"}
SETTINGS = quick_settings(sequence={"motor_run_limits": True, "automatic_flush": True, "flush_shut_off": "valve"})
TOLD = Counter()
"""What the stories did, for people who want to see it: `pytest -rP`."""


class Boat:
    """Control, its housekeeping and its file aboard a computer with a clock; what was told to people stays in mind."""

    def __init__(self, folder, patch, chance=None):
        self.path = Path(folder) / "latch"
        self.card = Card(self.path, patch, chance)
        self.mono_s, self.wall_s, self.host = 1000.0, 1.8e9, 1
        clock = types.SimpleNamespace(monotonic=lambda: self.mono_s, sleep=self.pass_by, time=lambda: self.wall_s)
        patch.setattr(keeper_module, "time", clock)
        patch.setattr(keeper_module, "POLL_S", 0.0)
        self.must, self.under_way, self.housekeeping = frozenset(), False, None
        self.plant = Plant(SETTINGS)
        self.boot()

    def pass_by(self, seconds):
        self.mono_s += seconds
        self.wall_s += seconds

    # ---- control comes and goes ----

    def boot(self):
        """Control begins by its file; everything that was owed is owed, or somebody forgot it."""
        retained = retained_file.read(self.path)
        now = Moment(self.wall_s, self.mono_s, f"start {self.host}")
        same = retained.saved.same_start(now)
        self.plant.core = Core(
            SETTINGS,
            retained,
            self.plant.now_s,
            boot="b",
            simulated=True,
            off_s=off_s(retained, now),
            computer=None if same is None else not same,
        )
        self.world, self.commands, self.news = World(), queue.SimpleQueue(), queue.Queue()
        self.housekeeping = Housekeeping(
            Identity("b", f"start {self.host}", True, "0", 0.0),
            self.path.with_name("link.sock"),
            self.path,
            self.path.with_name("calibrations"),
            self.world,
            self.commands,
            self.news,
            wall_s=lambda: self.wall_s,
        )
        self.answered = []
        self.housekeeping._server.answer = lambda _client, id_, *, accepted, **_k: self.answered.append((id_, accepted))
        assert forgotten(self.must, owed(self.plant.core.plant.retained), BY_TIME) == set()
        if self.under_way:
            assert self.plant.core.plant.retained.cut_off is not None, "nobody is told of what was cut off"
        self.under_way = False
        self.tick()
        if self.plant.core.plant.retained.cut_off is not None:
            assert "restart_not_acknowledged" in self.plant.refused("start")

    def gone(self):
        self.housekeeping._server.close()
        self.plant.pressure_bar, self.plant.raising = 0.0, False
        self.plant.pinned_contacts.clear()

    def again(self, how, away_s):
        """After it went: the process alone, or the whole computer with what its card had not kept."""
        TOLD[how] += 1
        self.gone()
        if how == "power":
            self.card.lose_power()
            self.host, self.mono_s = self.host + 1, 10.0
        self.pass_by(away_s)
        self.boot()

    def told_to_end(self, away_s):
        self.housekeeping.close()
        TOLD["told to end"] += 1
        self.plant.pressure_bar, self.plant.raising = 0.0, False
        self.pass_by(away_s)
        self.boot()

    # ---- while it lives ----

    def tick(self, *commands, dt=0.05):
        """One tick and what housekeeping makes of it. Raises CutOff where the card was to cut it off."""
        self.pass_by(dt)
        before = owed(self.plant.core.plant.retained)
        self.plant.extra.update(latch_writable=self.world.latch_writable, clock_set=True, wall_s=self.wall_s)
        outcome = self.plant.tick(*commands, dt=dt)
        retained, done = self.plant.core.plant.retained, acts(outcome.events) | BY_TIME
        assert forgotten(before, owed(retained), done) == set()
        self.must -= {name for name in self.must - owed(retained) if OBLIGATIONS[name].ended_by & done}
        ordered = {event["command"] for event in outcome.events if event["kind"] == "command" and event["accepted"]}
        if ordered & PROMISED:
            self.must |= owed(retained) & PROMISES
            self.under_way |= "start" in ordered
        on_file = owed(self.plant.core.on_file())
        self.under_way &= retained.under_way is not None
        self.must -= owed(retained) - on_file  # what an order is about to end is ended once it is on file
        self.news.put(News(self.plant.now_s, outcome.events, outcome.answers, outcome.retained, outcome.persist))
        self.housekeeping.poll()
        self.must = owed(retained) & on_file
        self.under_way = retained.under_way is not None
        assert owed(decode(self.path.read_bytes())) >= self.must, "what is in force is on file"

    def give(self, name, /, **arguments):
        """One command and its way over the card; whether it was accepted."""
        self.tick(Command(name, arguments, token="1:x", wall_s=self.wall_s))
        self.back()
        return ("x", True) in self.answered

    def back(self):
        with contextlib.suppress(queue.Empty):
            while True:
                self.tick(self.commands.get_nowait())

    def live(self, seconds):
        for _ in range(int(seconds / 0.1)):
            self.tick(dt=0.1)


PROMISED = {"start", "log", "lay_up", "service_lock", "recommission", "withdraw_flush_consent"}
PROMISES = {
    "a service lock",
    "laid up",
    "a purge",
    "chlorine in the flush water",
    "air in the circuit",
    "a consent that was never given, taken back or is over",
}
"""What a person is told to be in force only once it is on file."""

ORDERS = st.sampled_from(
    [
        ("start", {}),
        ("start", {"litres": 0.1}),
        ("stop", {}),
        ("flush", {"litres": 0.5}),
        ("flush", {}),
        ("acknowledge", {}),
        ("reset", {}),
        ("lay_up", {}),
        ("recommission", {}),
        ("service_lock", {"name": "ann", "reason": "filter"}),
        ("service_unlock", {}),
        ("consent_flush", {"name": "ann"}),
        ("withdraw_flush_consent", {}),
        ("bench", {"output": "feed_pump", "seconds": 5.0}),
        ("log", {"kind": "cleaned"}),
        ("log", {"kind": "purge_confirmed"}),
        ("log", {"kind": "tank_chlorinated"}),
        ("log", {"kind": "chlorine_strip_zero"}),
        ("log", {"kind": "alarm_out_of_service", "alarm": "supply_voltage_low", "note": "why"}),
        ("log", {"kind": "alarm_in_service", "alarm": "supply_voltage_low"}),
    ]
)
AWAY_S = st.sampled_from([0.3, 5.0, 3600.0, 86400.0])
HOW = st.sampled_from(["kill", "power"])


class Stories(RuleBasedStateMachine):
    """Anything may happen to it, at any instruction of housekeeping's writing."""

    def __init__(self):
        super().__init__()
        self.leaving = contextlib.ExitStack()
        folder = self.leaving.enter_context(tempfile.TemporaryDirectory(prefix="latch-"))
        self.patch = self.leaving.enter_context(pytest.MonkeyPatch.context())
        self.folder = folder
        self.boat = None

    @initialize(seed=st.integers(0, 2**16))
    def begin(self, seed):
        self.boat = Boat(self.folder, self.patch, random.Random(seed))

    def teardown(self):
        if self.boat is not None:
            self.boat.gone()
        self.leaving.close()

    @rule(order=ORDERS)
    def order(self, order):
        name, arguments = order
        self.boat.answered.clear()
        TOLD[f"{name} accepted"] += self.boat.give(name, **arguments)

    @rule(seconds=st.sampled_from([20.0, 40.0, 60.0]))
    def run(self, seconds):
        """A whole run, or as much of one as is let: who looks after the plant does what it waits for."""
        for name in ("stop", "acknowledge", "reset", "service_unlock", "recommission", "start"):
            self.boat.answered.clear()
            accepted = self.boat.give(name)
            self.boat.live(1.0)
        TOLD["start accepted"] += accepted
        self.boat.live(seconds)
        TOLD[f"cut off or left in {self.boat.plant.state}"] += 1

    @rule(seconds=st.sampled_from([1.0, 5.0, 20.0, 60.0]))
    def live(self, seconds):
        self.boat.live(seconds)

    @rule(contact=st.sampled_from(["stop_button", "bilge_wet"]))
    def trip(self, contact):
        self.boat.plant.press(contact)
        self.boat.live(1.0)
        self.boat.plant.press(contact, active=False)
        self.boat.live(1.0)

    @precondition(lambda self: self.boat and self.boat.plant.state in ("diverting", "producing"))
    @rule()
    def motor_gets_warm(self):
        self.boat.plant.read("pump_motor_temperature", 95.0)
        self.boat.live(6.0)
        self.boat.plant.mend("pump_motor_temperature")

    @rule(how=HOW, away_s=AWAY_S)
    def cut_off(self, how, away_s):
        self.boat.again(how, away_s)

    @rule(how=HOW, away_s=AWAY_S, step=st.sampled_from(STEPS), order=ORDERS, back=st.booleans())
    def cut_off_in_a_write(self, how, away_s, step, order, back):
        self.boat.card.cut_off_after(step)
        name, arguments = order
        try:
            self.boat.tick(Command(name, arguments, token="1:x", wall_s=self.boat.wall_s))
            if back:
                self.boat.back()
        except CutOff:
            TOLD[f"{how} when {step}"] += 1
        self.boat.card.cut_off_after(None)
        self.boat.again(how, away_s)

    @rule(away_s=AWAY_S)
    def told_to_end(self, away_s):
        self.boat.told_to_end(away_s)

    @rule(wall_s=st.sampled_from([None, 1.75e9, 1.8e9, 2.0e9]))
    def clock_set(self, wall_s):
        self.boat.wall_s = 1.8e9 if wall_s is None else wall_s
        TOLD["clock set"] += 1


@pytest.mark.timeout(1800)
def test_nothing_owed_is_forgotten_whatever_happens_to_control():
    TOLD.clear()
    run_state_machine_as_test(
        Stories,
        settings=settings(
            max_examples=STORIES,
            stateful_step_count=CHAPTERS,
            phases=(Phase.explicit, Phase.reuse, Phase.generate),  # a story of hundreds of ticks shrinks for minutes
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
    print(dict(sorted(TOLD.items())))
    assert TOLD["kill"] + TOLD["power"] >= STORIES


# ---- single stories -----------------------------------------------------------------------------------


@pytest.fixture
def boat(tmp_path, monkeypatch):
    boat = Boat(tmp_path, monkeypatch)
    yield boat
    boat.gone()


def test_a_second_restart_does_not_forget_a_run_that_was_cut_off(boat):
    assert boat.give("start")
    boat.live(60.0)
    assert boat.plant.state == "producing"
    for how in ("power", "kill", "power"):
        boat.again(how, 5.0)
        boat.live(2.0)
        assert boat.plant.alarm("restarted_unexpectedly") == "unacknowledged"
        assert "restart_not_acknowledged" in boat.plant.refused("start")
        assert "restart_not_acknowledged" in boat.plant.refused("flush")
    boat.told_to_end(5.0)
    boat.answered.clear()
    assert boat.give("acknowledge")
    boat.again("power", 5.0)
    boat.live(2.0)
    assert boat.plant.refused("start") == []


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("how", ["kill", "power"])
def test_a_start_that_was_accepted_is_on_file_wherever_the_next_write_is_cut_off(boat, step, how):
    boat.plant.tick()
    boat.tick(Command("start", {}, token="1:x"))
    assert boat.answered == []
    boat.card.cut_off_after(step)
    with contextlib.suppress(CutOff):
        boat.back()
    boat.card.cut_off_after(None)
    if ("x", True) in boat.answered:
        boat.under_way = True
    boat.again(how, 1.0)
    assert boat.plant.core.plant.retained.cut_off is not None


def test_a_start_that_waits_for_the_card_is_called_off_by_a_stop(boat):
    boat.plant.tick(Command("start", {}, token="1:s"))
    ((again, on_file),) = boat.plant.outcome.persist
    assert on_file.under_way == "priming"
    boat.plant.tick(Command("stop", {}, token="1:t"))
    boat.plant.tick(again)
    ((_, accepted, reasons),) = boat.plant.outcome.answers
    assert not accepted
    assert [reason.id for reason in reasons] == ["stop_command"]
    assert boat.plant.state == "standby"
    assert boat.plant.outcome.retained.under_way is None


def test_what_is_ordered_while_another_order_is_on_its_way_to_the_card_does_not_undo_it(boat):
    lock = Command("service_lock", {"name": "ann", "reason": "filter"}, token="1:a")
    boat.plant.tick(lock)
    (first,) = boat.plant.outcome.persist
    boat.plant.tick(Command("log", {"kind": "tank_chlorinated"}, token="1:b"))
    (second,) = boat.plant.outcome.persist
    assert owed(second[1]) >= {"a service lock", "chlorine in the flush water"}
    boat.plant.tick(first[0])
    boat.plant.tick(replace(second[0], unfiled=True))
    in_force = owed(boat.plant.outcome.retained)
    assert "a service lock" in in_force
    assert "chlorine in the flush water" not in in_force


def test_a_trip_in_the_tick_of_an_order_goes_on_file_with_it(boat):
    boat.plant.press("stop_button")
    boat.tick(Command("service_lock", {"name": "ann", "reason": "filter"}, token="1:a"))
    assert owed(decode(boat.path.read_bytes())) >= {"a service lock", "a trip"}


def test_a_trip_has_its_numbers_after_a_restart():
    plant = Plant(
        retained=decode(encode(RetainedState(trips=(Trip("adc_lost", {"address": 0x49}),), first_out="adc_lost")))
    )
    plant.tick()
    assert plant.core.plant.alarms.get("adc_lost").values == {"address": 0x49}
    assert plant.core.plant.retained.trips == (Trip("adc_lost", {"address": 0x49}),)


def test_a_number_that_is_none_does_not_keep_the_file_from_being_written():
    plant = Plant()
    plant.core.plant.alarms.restore("adc_lost", 1000.0, {"address": float("nan"), "bar": float("inf")})
    assert plant.core.plant.trips == (Trip("adc_lost", {"address": None, "bar": None}),)


@pytest.mark.parametrize("state", [state for state in State if state.value not in AT_REST])
def test_whatever_was_under_way_is_told_to_have_been_cut_off(state):
    begun = Plant().brought_to(state)
    begun.tick()
    begun.wait(1.0)
    retained = decode(encode(begun.core.plant.retained))
    assert retained.under_way == begun.state
    plant = Plant(retained=retained)
    plant.tick()
    assert plant.core.plant.retained.cut_off == Interrupted(begun.state)
    assert plant.core.plant.alarms.get("restarted_unexpectedly").values == {
        "during": begun.state,
        "computer": None,
        "on_purpose": False,
    }


@pytest.mark.parametrize(
    ("retained", "computer", "why"),
    [
        (RetainedState(closed=True, run_number=1), True, "switched_on"),
        (RetainedState(closed=False), True, "switched_on_after_a_cut"),
        (RetainedState(closed=True, run_number=1), False, "program_started"),
        (RetainedState(closed=False), False, "program_broke_off"),
        (RetainedState(closed=True, run_number=1), None, "control_started"),
        (RetainedState(closed=False), None, "control_started_after_a_cut"),
    ],
)
def test_a_restart_of_the_program_is_told_from_a_start_of_the_computer(retained, computer, why):
    plant = Plant()
    plant.core = Core(SETTINGS, retained, 1000.0, boot="b", off_s=7.0, computer=computer)
    plant.tick()
    assert plant.core.why.id == why
    ended = "told" if retained.closed else "cut_off"
    expected = {"kind": "restarted", "ended": ended, "during": "standby", "computer": computer, "away_s": 7.0}
    assert plant.event("restarted") == {**expected, "on_purpose": retained.closed}


def test_work_that_nobody_saw_counts_once():
    plant = Plant(retained=RetainedState(under_way="producing", motor_worked_s=1000.0))
    plant.tick()
    assert plant.core.plant.retained.motor_worked_s == 1300.0
    plant = Plant(retained=plant.core.plant.retained)
    plant.tick()
    assert plant.core.plant.retained.motor_worked_s == 1300.0


def test_preservative_ages_through_restarts():
    retained = RetainedState(laid_up=True, laid_up_with="preservative", laid_up_s=29 * 86400.0)
    core = Core(SETTINGS, retained, 1000.0, off_s=2 * 86400.0)
    assert core.plant.rest.laid_up_s(1000.0) == 31 * 86400.0
    unknown = Core(SETTINGS, retained, 1000.0, off_s=None)
    assert unknown.plant.rest.laid_up_s(1000.0) > 36 * 86400.0


def test_a_flush_waits_for_a_hand_that_opens_the_regulator_but_not_where_it_is_left_set():
    retained = RetainedState(under_way="producing")
    plant = Plant(retained=retained)
    plant.tick()
    assert plant.refused("flush") == ["restart_not_acknowledged"]
    left_set = Plant(quick_settings(drive={"regulator": "left_set"}), retained)
    left_set.tick()
    assert left_set.refused("flush") == []


@pytest.mark.parametrize(("during", "said"), [("bench", "while an output was tried"), ("flushing", "in a flush")])
def test_at_rest_the_headline_says_what_was_cut_off(during, said):
    plant = Plant()
    retained = RetainedState(under_way=during, closed=False)
    plant.core = Core(SETTINGS, retained, 1000.0, boot="b", off_s=7.0, computer=False)
    plant.tick()
    sentence = words.sentence(plant.snapshot())
    assert sentence.startswith(f"At rest. Control was cut off {said}. Open the regulator")
    assert "The computer had stayed on." in sentence


def test_what_a_person_ended_in_the_middle_is_not_told_as_a_failure_and_owes_the_same():
    plant = Plant()
    retained = RetainedState(under_way="producing", closed=True)
    plant.core = Core(SETTINGS, retained, 1000.0, boot="b", off_s=7.0, computer=False)
    plant.tick()
    said = [
        words.sentence(plant.snapshot()),
        words.event_text(plant.event("restarted")),
        *words.alarm_texts("restarted_unexpectedly", plant.core.plant.alarms.get("restarted_unexpectedly").values),
    ]
    assert sum("told to end" in text for text in said) == 3
    assert not any("journal" in text or "power supply" in text or "stayed on" in text for text in said)
    assert plant.refused("start")[0] == "restart_not_acknowledged"
    assert plant.core.plant.retained.flush_owed


def test_a_start_in_the_very_first_tick_is_refused_as_well():
    plant = Plant(retained=RetainedState(under_way="producing"))
    assert "restart_not_acknowledged" in plant.give("start")


def test_a_broker_cannot_say_that_somebody_has_opened_the_regulator():
    plant = Plant(retained=RetainedState(under_way="producing"))
    plant.tick()
    assert plant.give("acknowledge", origin=Origin.MQTT, alarm="restarted_unexpectedly") == ["never_from_mqtt"]
    plant.give("acknowledge", origin=Origin.MQTT)
    assert plant.core.plant.retained.cut_off is not None
