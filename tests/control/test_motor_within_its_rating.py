"""The motor's work adds up over runs, jogs, hands at its own switch and restarts, and never gets beyond its rating."""

from dataclasses import replace

import pytest
from hand_driven_plant import FULL, Plant, quick_settings
from hypothesis import given, settings
from hypothesis import strategies as st

from halocline.control.core import Core
from halocline.control.inputs import Command
from halocline.control.retained.retained_state import Moment, decode, encode, off_s
from halocline.plant.motor import RATED_RUN_S, rated_run_s, work_s

STRIDE_S = 0.5
EPOCH_S = 1_800_000_000.0


def boat_with(**drive):
    return quick_settings(
        drive=drive, plant={"tank_capacity_l": 20_000.0}, sequence={"motor_starts": 20, "run_limit_s": 24 * 3600.0}
    )


class Duty(Plant):
    """A plant that counts for itself how long its pump has been switched on since the last whole rest."""

    def __init__(self, boat):
        super().__init__(boat)
        self.worked_s = self.longest_s = 0.0
        self.stood_s = float("inf")

    def tick(self, *commands, dt=STRIDE_S, **extra):
        turned = self.core.plant.driven or self.hand_switch
        self.worked_s = self.worked_s + dt if turned else self.worked_s
        self.stood_s = 0.0 if turned else self.stood_s + dt
        if self.stood_s >= self.settings.drive.motor_rest_s:
            self.worked_s = 0.0
        self.longest_s = max(self.longest_s, self.worked_s)
        return super().tick(*commands, dt=dt, wall_s=EPOCH_S + self.now_s, **extra)

    def ask_for(self, command, **arguments):
        """Whether it is refused or not."""
        self.tick(Command(command, arguments))
        if self.outcome.persist:
            self.latches += [retained for _, retained in self.outcome.persist]
            self.tick(*[command for command, _ in self.outcome.persist])

    def restart(self):
        """Control is killed and back at once; on file is what was put there last."""
        filed = self.latches[-1] if self.latches else self.core.plant.retained
        moment = Moment(EPOCH_S + self.now_s, self.now_s, "host")
        away_s = off_s(replace(filed, saved=moment), moment)
        self.core = Core(self.settings, decode(encode(filed)), self.now_s, boot="b", simulated=True, off_s=away_s)
        self.tick(Command("acknowledge"))
        self.wait(20.0, dt=STRIDE_S)


DEEDS = st.lists(
    st.tuples(st.sampled_from(["start", "stop", "jog", "restart", "wait"]), st.sampled_from([5.0, 50.0, 250.0])),
    min_size=1,
    max_size=3,
)


@settings(max_examples=8, deadline=None)
@given(
    drive=st.fixed_dictionaries(
        {
            "motor_run_s": st.sampled_from([300.0, 420.0]),
            "motor_rest_s": st.sampled_from([60.0, 300.0]),
            "pump": st.sampled_from(["relay", "permissive"]),
        }
    ),
    deeds=DEEDS,
    somebody_opens=st.booleans(),
)
def test_no_story_takes_the_motor_beyond_its_rating(drive, deeds, somebody_opens):
    plant = Duty(boat_with(**drive))
    plant.tick()
    for deed, then_s in [("start", 250.0), *deeds]:
        plant.hand_is_there = somebody_opens or deed == "start"
        if deed == "restart":
            plant.restart()
        elif deed == "jog":
            plant.ask_for("bench", output="high_pressure_pump", seconds=2.0)
        elif deed != "wait":
            plant.ask_for(deed)
        plant.wait(then_s, dt=STRIDE_S)
    assert plant.longest_s <= drive["motor_run_s"]


@pytest.mark.parametrize("motor", sorted(RATED_RUN_S))
def test_a_run_for_which_nothing_else_is_an_end_ends_with_the_motors_rating(motor):
    plant = Duty(boat_with(motor=motor))
    plant.tick()
    assert plant.give("start") == []
    plant.until("producing", dt=STRIDE_S)
    most_s = 0.9 * RATED_RUN_S[motor]
    plant.worked_s, plant.core.plant.motor.worked_s = plant.worked_s + most_s, plant.core.plant.motor.worked_s + most_s
    plant.wait(0.1 * RATED_RUN_S[motor] + 60.0, dt=STRIDE_S)
    assert plant.core.first_out == "motor_must_rest"
    assert plant.state == "standby"
    assert 0.97 * RATED_RUN_S[motor] < plant.longest_s <= RATED_RUN_S[motor]


def test_the_plate_counts_more_than_the_kind():
    assert rated_run_s(boat_with(motor="induction", motor_run_s=1800.0).drive) == 1800.0
    assert rated_run_s(FULL.drive) == 180 * 60.0


def test_after_it_a_start_waits_for_the_rest_and_says_until_when():
    plant = Duty(boat_with(motor_run_s=600.0, motor_rest_s=120.0))
    plant.tick()
    plant.give("start")
    plant.wait(590.0)
    plant.wait(30.0)
    (reason,) = plant.core.decisions.refused("start", plant.core.last)
    assert reason.id == "motor_needs_rest"
    until_s = plant.core.last.inputs.wall_s + reason.values["seconds"]
    assert reason.values["until_wall_s"] == pytest.approx(until_s, abs=1)
    plant.wait(reason.values["seconds"] + 1.0)
    assert plant.refused("start") == []


def test_what_is_left_after_a_short_stop_is_no_whole_run():
    plant = Duty(boat_with(motor_run_s=600.0))
    plant.tick()
    plant.give("start")
    plant.wait(300.0)
    plant.give("stop")
    plant.wait(60.0)
    assert plant.give("start") == []
    plant.wait(600.0)
    assert plant.core.first_out == "motor_must_rest"
    assert plant.longest_s <= 600.0


def test_a_start_that_could_not_get_water_to_the_tank_is_left_until_after_the_rest():
    plant = Duty(boat_with(motor_run_s=600.0))
    plant.tick()
    plant.give("start")
    plant.until("producing")
    while plant.worked_s < work_s(plant.settings) - 20.0:
        plant.tick()
    plant.give("stop")
    plant.until("standby")
    plant.tick()
    assert plant.refused("start") == ["motor_needs_rest"]


def test_a_hand_at_the_pumps_own_switch_is_work_too_and_is_told_when_it_is_too_much():
    plant = Duty(boat_with(motor_run_s=600.0, motor_rest_s=120.0))
    plant.tick()
    plant.hand_switch = True
    plant.until("hand_run")
    plant.wait(590.0)
    assert plant.alarm("motor_overworked") is None
    plant.wait(15.0)
    assert plant.alarm("motor_overworked") == "unacknowledged"
    plant.hand_switch = False
    plant.until("standby")
    plant.wait(10.0)
    assert plant.refused("start") == ["motor_needs_rest"]
    plant.wait(120.0)
    assert plant.refused("start") == []


def test_a_pump_only_watched_is_asked_for_early_and_told_when_nobody_comes():
    plant = Duty(boat_with(motor_run_s=600.0, pump="watch_only", regulator="left_set"))
    plant.tick()
    plant.give("start")
    plant.until("pressurising")
    plant.hand_switch = True
    plant.until("stopping", within_s=700.0)
    assert plant.longest_s < 590.0
    assert plant.core.ask() == "switch_pump_off"
    plant.wait(60.0)
    assert plant.alarm("motor_overworked") == "unacknowledged"


def test_the_last_start_of_the_window_says_so_and_when_the_next_is_allowed():
    plant = Duty(quick_settings(sequence={"motor_starts": 2, "motor_starts_window_s": 400.0}))
    plant.tick()
    told = []
    for _ in range(2):
        plant.ask_for("start")
        ((_, accepted, messages),) = plant.outcome.answers
        assert accepted
        told.append(messages)
        asked_s = plant.now_s
        plant.until("pressurising")
        plant.wait(2.0)
        plant.give("stop")
        plant.until("standby")
        plant.tick()
    first, (last,) = told
    assert first == []
    assert (last.id, last.values["limit"], last.values["window_s"]) == ("last_start", 2, 400.0)
    assert last.values["until_wall_s"] == pytest.approx(EPOCH_S + asked_s + last.values["seconds"], abs=1.0)
    plant.wait(asked_s + last.values["seconds"] - plant.now_s - 2.0)
    assert plant.refused("start") == ["too_many_starts"]
    plant.wait(4.0)
    assert plant.refused("start") == []


def test_four_starts_an_hour_say_until_when():
    plant = Duty(quick_settings(sequence={"motor_starts": 2, "motor_starts_window_s": 400.0}))
    plant.tick()
    for _ in range(2):
        assert plant.give("start") == []
        plant.until("pressurising")
        plant.wait(2.0)
        plant.give("stop")
        plant.until("standby")
        plant.tick()
    (reason,) = plant.core.decisions.refused("start", plant.core.last)
    assert reason.id == "too_many_starts"
    assert reason.values["window_s"] == 400.0
    plant.wait(reason.values["seconds"] - 2.0)
    assert plant.refused("start") == ["too_many_starts"]
    plant.wait(3.0)
    assert plant.refused("start") == []


def test_without_limits_a_motor_works_on():
    boat = boat_with(motor_run_s=300.0)
    plant = Duty(replace(boat, sequence=replace(boat.sequence, motor_run_limits=False)))
    plant.tick()
    plant.give("start")
    plant.wait(400.0)
    assert plant.state == "producing"
