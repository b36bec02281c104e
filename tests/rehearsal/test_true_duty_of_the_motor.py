"""The motor's duty, counted on the simulated boat itself: never longer than its rating, whatever is asked for.

Work adds up over stops and starts until the motor has had its whole rest, as it does in the winding.
"""

from dataclasses import replace

import pytest

from halocline.config import load_demo
from halocline.control.inputs import Command
from halocline.rehearsal.scenario import Scenario
from halocline.rehearsal.scenario_runner import ScenarioRunner
from halocline.simulation import PlantParameters

QUICK = load_demo(quick=True)[0]
LOOK_EVERY_S = 0.25
RAN_S = 0.05
"""Of its speed: below it the motor stands."""


def parameters_of(boat, hand_open_s):
    """The simulated boat to the settings, with a tank that does not get full."""
    return replace(PlantParameters.for_settings(boat).quick(), tank_litres=10.0, hand_open_s=hand_open_s)


def a_boat(*, run_s, rest_s, stop_open_s, **drive):
    return replace(
        QUICK,
        plant=replace(QUICK.plant, tank_capacity_l=2000.0),
        drive=replace(QUICK.drive, motor_run_s=run_s, motor_rest_s=rest_s, **drive),
        sequence=replace(QUICK.sequence, stop_open_s=stop_open_s, motor_starts=20, attendance=False),
    )


class Duty:
    """What the motor really does."""

    def __init__(self, boat, hand_open_s):
        self.stage = ScenarioRunner(Scenario("duty", 1.0, boat, parameters_of(boat, hand_open_s), ()), 1)
        self.rest_s = boat.drive.motor_rest_s
        self.t_s = self.worked_s = self.longest_s = 0.0
        self.stood_s = float("inf")

    def live(self, seconds):
        until_s = self.t_s + seconds
        while self.t_s < until_s:
            self.t_s += LOOK_EVERY_S
            self.stage.live_until(self.t_s)
            if self.stage.sea.truth(1000.0 + self.t_s).high_pressure_pump_speed > RAN_S:
                self.worked_s += LOOK_EVERY_S
                self.stood_s = 0.0
            else:
                self.stood_s += LOOK_EVERY_S
                if self.stood_s >= self.rest_s:
                    self.worked_s = 0.0
            self.longest_s = max(self.longest_s, self.worked_s)

    def give(self, name, **arguments):
        self.stage.give(Command(name, arguments))


@pytest.mark.parametrize(
    ("boat", "hand_open_s", "before_s"),
    [
        (a_boat(run_s=300.0, rest_s=200.0, stop_open_s=1.0, pump="relay", regulator="left_set"), 1.0, 200.0),
        (a_boat(run_s=300.0, rest_s=200.0, stop_open_s=120.0, pump="relay", regulator="hand_each_run"), 300.0, 60.0),
        (
            a_boat(run_s=300.0, rest_s=200.0, stop_open_s=30.0, pump="permissive", regulator="hand_each_run"),
            300.0,
            320.0,
        ),
    ],
    ids=["left set", "nobody opens the regulator", "permissive"],
)
def test_the_pump_never_turns_longer_than_its_motor_is_rated_for(boat, hand_open_s, before_s):
    duty = Duty(boat, hand_open_s)
    duty.live(2.0)
    duty.give("start")
    duty.live(before_s)
    duty.give("stop")
    duty.live(60.0)
    duty.give("start")
    duty.live(320.0 - before_s)
    assert 0.5 * boat.drive.motor_run_s < duty.longest_s <= boat.drive.motor_run_s
