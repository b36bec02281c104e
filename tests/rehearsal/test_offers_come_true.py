"""What the offer of a run promises is what the simulated boat then gives: litres, time, and what ends it; and a start
that is offered is not refused."""

from dataclasses import replace

import pytest

from halocline.config import load_demo
from halocline.control.hmi.prospect import prospect_message
from halocline.control.inputs import Command
from halocline.plant.offer import Need, Prospect, offer, usual_needs
from halocline.plant.vocabulary import State
from halocline.rehearsal.scenario import Scenario
from halocline.rehearsal.scenario_runner import ScenarioRunner
from halocline.simulation import PlantParameters

QUICK = load_demo(quick=True)[0]
START_S = 1000.0
ENDED_BY = {
    "need": {"target_litres", "target_minutes", "target_time"},
    "tank": {"tank_ceiling", "tank_full"},
    "motor": {"motor_must_rest"},
    "run_limit": {"run_limit"},
}


def a_boat(*, capacity_l=300.0, run_s=None, run_limit_s=4 * 3600.0, regulator="hand_each_run"):
    return replace(
        QUICK,
        plant=replace(QUICK.plant, tank_capacity_l=capacity_l),
        drive=replace(QUICK.drive, motor_run_s=run_s, regulator=regulator),
        sequence=replace(QUICK.sequence, run_limit_s=run_limit_s, attendance=False),
    )


class Played:
    """One start on one simulated boat at rest, from the offer to the end of the run."""

    def __init__(self, boat, level_percent):
        held_l = boat.plant.tank_capacity_l * level_percent / 100
        parameters = replace(PlantParameters.for_settings(boat).quick(), tank_litres=held_l)
        self.stage = ScenarioRunner(Scenario("offer", 1.0, boat, parameters, ()), 1)
        self.live(5.0)
        core = self.stage.core
        self.on = Prospect.from_message(prospect_message(core.plant, core.plant.present(core.last)))

    def live(self, until_s):
        self.stage.live_until(until_s)

    def truth(self, t_s):
        return self.stage.sea.truth(START_S + t_s)

    def run(self, need):
        """Seconds to the end of making water, litres in the tank, and why it ended."""
        given = {"litres": need.litres, "minutes": need.minutes, "until_s": need.until_s}
        self.stage.give(Command("start", {key: value for key, value in given.items() if value is not None}))
        t_s = 6.0
        self.live(t_s)
        while self.stage.core.plant.state not in (State.STOPPING, State.STANDBY, State.TRIPPED):
            t_s += 1.0
            self.live(t_s)
        seconds, why = t_s - 5.0, self.stage.core.why.id
        self.live(t_s + 3.0)
        return seconds, self.truth(t_s + 3.0).tank_added_l, why


@pytest.mark.parametrize(
    ("boat", "level_percent", "need", "ended_by"),
    [
        (a_boat(run_limit_s=150.0, regulator="left_set"), 50.0, Need(minutes=6.0), "run_limit"),
        (a_boat(), 94.5, Need(), "tank"),
        (a_boat(), 50.0, Need(until_s=120.0), "need"),
        (a_boat(capacity_l=100.0), 50.0, Need(litres=2.0), "need"),
        (a_boat(run_s=300.0), 50.0, Need(), "motor"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_run_gives_what_was_offered(boat, level_percent, need, ended_by):
    played = Played(boat, level_percent)
    offered = offer(played.on, need)
    assert offered.reasons == ()
    assert offered.ended_by == ended_by
    seconds, litres, why = played.run(need)
    assert why in ENDED_BY[ended_by]
    assert litres == pytest.approx(offered.litres, rel=0.1, abs=0.1)
    assert seconds == pytest.approx(offered.seconds, rel=0.05, abs=5.0)


def test_nothing_that_is_offered_unasked_is_refused():
    played = Played(a_boat(capacity_l=150.0), 60.0)
    for need in usual_needs(played.on):
        assert offer(played.on, need).reasons == ()
