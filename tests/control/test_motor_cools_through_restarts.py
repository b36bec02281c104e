"""A motor that was too warm cools for half an hour, whatever happens to control meanwhile."""

from dataclasses import asdict, dataclass, field, replace
from functools import cache

from cloning import clone
from hand_driven_plant import Plant, quick_settings
from hypothesis import given, settings
from hypothesis import strategies as st

from halocline.control.core import Core
from halocline.control.inputs import Command
from halocline.control.retained import checked_file
from halocline.control.retained.restart_recovery import MOTOR_NOTE_S
from halocline.control.retained.retained_state import VERSION, WORST, Moment, RetainedState, decode, encode, off_s

COOLS_S = 1800.0
STRIDE_S = 60.0
EPOCH_S = 1_800_000_000.0
WITH_LIMITS = quick_settings(sequence={"motor_run_limits": True})


@cache
def latch_of_the_stop():
    """What goes on file in the tick in which a warm motor ends a run."""
    plant = Plant(WITH_LIMITS).brought_to("producing")
    plant.read("pump_motor_temperature", 95.0)
    plant.until("stopping")
    assert plant.core.first_out == "motor_too_warm"
    return plant.outcome.retained


@dataclass
class Boat:
    """Control, its file and the clock on the wall, since the motor was too warm; `wall` says whether it is set."""

    wall: bool = True
    since_s: float = 0.0
    set_by_s: float = 0.0
    host: str = ""
    card: RetainedState = field(init=False)
    core: Core = field(init=False)
    plant: Plant = field(default_factory=lambda: Plant(WITH_LIMITS))

    def __post_init__(self):
        self.file(latch_of_the_stop())
        self.restart(0.0, self.wall)

    def file(self, retained):
        self.card = replace(retained, saved=self.moment())

    def moment(self):
        return Moment(EPOCH_S + self.since_s + self.set_by_s if self.wall else None, self.since_s, self.host)

    def restart(self, away_s, wall):
        self.since_s += away_s
        self.wall = wall
        retained = decode(encode(self.card))
        away_told_s = off_s(retained, self.moment())
        self.core = Core(WITH_LIMITS, retained, 1000.0, boot="b", off_s=away_told_s)
        self.plant.now_s = 1000.0
        self.tick()

    def tick(self):
        outcome = self.core.tick(self.plant.inputs())
        if outcome.retained is not None:
            self.file(outcome.retained)

    def live(self, seconds):
        end_s = self.since_s + seconds
        while self.since_s < end_s:
            stride_s = min(STRIDE_S, end_s - self.since_s)
            self.since_s += stride_s
            self.plant.now_s += stride_s
            self.tick()

    @property
    def refuses(self):
        return "motor_needs_rest" in {reason.id for reason in self.core.decisions.refused("start", self.core.last)}


ONCE = st.tuples(
    st.one_of(st.floats(0.0, 20.0), st.floats(0.0, 700.0)),
    st.one_of(st.sampled_from([0.5, 5.0]), st.floats(0.0, 2000.0)),
    st.booleans(),
)
"""Seconds that control lives, seconds away until it is back, and whether the clock is set then."""


@settings(max_examples=40)
@given(st.booleans(), st.lists(ONCE, max_size=6))
def test_no_sequence_of_restarts_shortens_the_rest(wall, story):
    boat = Boat(wall=wall)
    for lives_s, away_s, wall_later in story:
        boat.live(lives_s)
        assert boat.refuses or boat.since_s >= COOLS_S
        boat.restart(away_s, wall_later)
        assert boat.refuses or boat.since_s >= COOLS_S
    boat.live(COOLS_S - 0.5 - boat.since_s)
    assert boat.refuses or boat.since_s >= COOLS_S


@settings(max_examples=30)
@given(st.lists(st.tuples(ONCE, st.floats(-1e7, 1e7)), max_size=6))
def test_while_the_computer_stays_up_no_clock_that_is_set_shortens_the_rest(story):
    boat = Boat(host="one start of the computer")
    for (lives_s, away_s, wall_later), set_by_s in story:
        boat.live(lives_s)
        boat.set_by_s = set_by_s
        boat.restart(away_s, wall_later)
        assert boat.refuses or boat.since_s >= COOLS_S
    boat.live(max(0.0, COOLS_S - boat.since_s) + len(story) + STRIDE_S)
    assert not boat.refuses


@settings(max_examples=30)
@given(st.lists(ONCE, max_size=6))
def test_with_a_clock_that_is_set_restarts_do_not_lengthen_it_either(story):
    boat = Boat()
    for lives_s, away_s, _ in story:
        boat.live(lives_s)
        boat.restart(away_s, True)
    boat.live(max(0.0, COOLS_S - boat.since_s) + len(story) + STRIDE_S)
    assert not boat.refuses


@settings(max_examples=30)
@given(st.lists(ONCE, max_size=6))
def test_without_a_clock_only_the_time_that_control_saw_counts(story):
    boat, seen_s = Boat(wall=False), 0.0
    for lives_s, away_s, _ in story:
        boat.live(lives_s)
        seen_s += lives_s
        assert boat.refuses or seen_s >= COOLS_S
        boat.restart(away_s, False)
    boat.live(COOLS_S - 0.5 - seen_s)
    assert boat.refuses or seen_s >= COOLS_S


def test_without_a_clock_the_rest_ends_in_spite_of_restarts():
    boat = Boat(wall=False)
    for _ in range(6):
        boat.live(MOTOR_NOTE_S + STRIDE_S)
        boat.restart(5.0, False)
    assert not boat.refuses


def test_the_file_says_it_in_the_very_tick_of_the_stop():
    assert latch_of_the_stop().motor_hot_ago_s == 0


def test_a_warm_motor_counts_whatever_else_stops_the_plant_in_the_same_tick():
    plant = Plant(WITH_LIMITS).brought_to("producing")
    plant.read("pump_motor_temperature", 95.0)
    plant.wait(4.8)
    while plant.state == "producing":
        before = clone(plant)
        plant.tick()
    before.press("stop_button")
    before.tick()
    assert before.core.first_out == "stop_button"
    assert before.outcome.retained.motor_hot_ago_s == 0


def test_while_it_cools_the_card_is_written_every_five_minutes_and_once_at_the_end():
    boat, written = Boat(), []
    boat.file = lambda retained: written.append(retained.motor_hot_ago_s)
    boat.live(2 * COOLS_S)
    cooling = [ago_s for ago_s in dict.fromkeys(written) if ago_s is not None]
    assert len(cooling) <= COOLS_S / MOTOR_NOTE_S + 2
    assert written[-1] is None


def test_a_latch_nobody_can_read_means_a_motor_that_has_just_been_too_warm():
    core = Core(WITH_LIMITS, WORST, 1000.0, off_s=None)
    core.tick(Plant(WITH_LIMITS).inputs(now_s=1000.0))
    assert "motor_needs_rest" in {reason.id for reason in core.decisions.refused("start", core.last)}


def test_a_file_from_before_this_was_kept_can_be_read():
    older = asdict(RetainedState(run_number=7))
    del older["motor_hot_ago_s"]
    assert decode(checked_file.encode(VERSION, older)) == RetainedState(run_number=7, motor_hot_ago_s=0.0)


def test_a_motor_that_was_cut_off_in_its_work_rests_from_when_it_can_last_have_turned():
    """The file is written every five minutes of work; with the clock set, control knows how old it is."""
    worked = RetainedState(motor_worked_s=3 * 3600.0, under_way="producing", saved=Moment(EPOCH_S))
    for away_s, rest_s in ((2.0, 900.0), (290.0, 900.0), (400.0, 800.0)):
        core = Core(WITH_LIMITS, worked, 1000.0, boot="b", off_s=off_s(worked, Moment(EPOCH_S + away_s)))
        plant = Plant(WITH_LIMITS)
        plant.now_s = 1000.0 + rest_s - 1.0
        core.tick(plant.inputs(), [Command("acknowledge")])
        assert "motor_needs_rest" in {reason.id for reason in core.decisions.refused("start", core.last)}
        plant.now_s += 2.0
        core.tick(plant.inputs())
        assert "motor_needs_rest" not in {reason.id for reason in core.decisions.refused("start", core.last)}
