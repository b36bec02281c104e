"""One's own plant on the simulated boat: whoever switches the pump and however the pressure is set, it makes water."""

from dataclasses import replace

import pytest

from halocline.config import load_demo
from halocline.control.inputs import Command
from halocline.control.sequence.transition_conditions import SWITCHED_BEFORE_S
from halocline.plant.settings import DriveSettings
from halocline.rehearsal.scenario import Scenario
from halocline.rehearsal.scenario_runner import ScenarioRunner
from halocline.simulation import PlantParameters

LIMIT_S = {True: 180.0, False: 900.0}
PUMPS, REGULATORS = (DriveSettings.__dataclass_fields__[name].metadata["choices"] for name in ("pump", "regulator"))


def boat_of(quick, *, capacity_l=None, **drive):
    settings = load_demo(quick=quick)[0]
    plant = settings.plant if capacity_l is None else replace(settings.plant, tank_capacity_l=capacity_l)
    return replace(settings, plant=plant, drive=replace(settings.drive, **drive))


def played(settings, quick):
    """The stage with the boat that `run --simulated --config` makes of these settings."""
    parameters = PlantParameters.for_settings(settings)
    return ScenarioRunner(Scenario("drive", 1.0, settings, parameters.quick() if quick else parameters, ()), 1)


def until(stage, seen, limit_s, began_s=0.0):
    t_s = began_s
    while not seen():
        t_s += 0.5
        assert t_s < began_s + limit_s, f"still {stage.core.plant.state}: {stage.core.why}"
        stage.live_until(t_s)
    return t_s


@pytest.mark.parametrize("quick", [True, pytest.param(False, marks=pytest.mark.soak)])
@pytest.mark.parametrize("regulator", REGULATORS)
@pytest.mark.parametrize("pump", PUMPS)
def test_a_start_comes_to_water_in_the_tank_and_to_rest_again(pump, regulator, quick):
    stage = played(boat_of(quick, pump=pump, regulator=regulator), quick)
    stage.live_until(0.5)
    began_s = until(
        stage, lambda: "start" in stage.core.decisions.overview(stage.core.plant.present(stage.core.last))[0], 10.0, 0.5
    )
    stage.give(Command("start", {"litres": 0.3}))
    stage.live_until(began_s + 0.5)
    until(stage, lambda: stage.core.plant.state == "standby", LIMIT_S[quick], began_s + 0.5)
    truth = stage.sea.truth(1000.0)
    assert truth.tank_added_l >= 0.28
    assert stage.core.plant.position.last_end.id == "target_litres"
    assert not stage.core.plant.retained.flush_owed


def test_the_simulated_hand_is_no_faster_than_control_takes_a_hand_to_be():
    assert PlantParameters().quick().hand_switch_s > 2 * SWITCHED_BEFORE_S


@pytest.mark.parametrize("capacity_l", [60.0, 150.0, 200.0, 300.0])
def test_the_tank_begins_with_water_for_a_flush_and_with_room_for_a_run(capacity_l):
    settings = boat_of(False, capacity_l=capacity_l)
    stage = played(settings, quick=False)
    stage.live_until(2.0)
    stage.give(Command("flush", {}))
    stage.live_until(3.0)
    until(stage, lambda: stage.core.plant.state == "standby", 300.0, 3.0)
    assert stage.core.why.id == "flush_complete"
    assert PlantParameters.for_settings(settings).tank_litres <= 0.5 * capacity_l
