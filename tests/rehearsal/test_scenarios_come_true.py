"""Every scenario file is played, its expectations must come true, and some rules hold whatever happens in it."""

from pathlib import Path

import pytest

from halocline.plant.alarms import DEFINITIONS, Effect
from halocline.rehearsal.scenario import load
from halocline.rehearsal.scenario_runner import ScenarioRunner
from halocline.simulation import FAULTS

FOLDER = Path(__file__).parents[1] / "rehearsals"
FILES = sorted(FOLDER.glob("*.toml"))

DRY_S = 3.5
"""2 s of delay before the trip, feed pressure on its way down, a pump that runs down."""

DRY_ALL_THE_SAME = {"hand_start_while_laid_up"}
"""Preserved and with shut seacocks the plant may not run its feed pump for whoever runs the pump by hand."""

GULP = {"hoses_swapped_in_the_middle"}
"""Brine at the cell is at the valve as well, and the valve needs its time to close."""

WORST_MG_L = 1000.0

MOST_ALARMS = {"flush_valve_opens_in_a_run": 4}
"""Fresh water in a running plant shows at feed, cell and meter before its own alarm may tell it for certain; and what
diverts or stops may not hide under that one, which only warns."""

NOT_SHOWN_HERE = {
    "scan_overrun": "a rehearsal's clock waits for control",
}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_scenario_comes_true(path):
    stage = ScenarioRunner(load(path), seed=1)
    result = stage.play()
    missed = [expectation for expectation in result["expectations"] if not expectation["ok"]]
    assert not missed
    assert result["ok"]
    assert not [event for event in stage.played.events if event["kind"] == "control_failed"]
    assert len(raised(result)) <= MOST_ALARMS.get(path.stem, 3), "one root cause raises three alarms at most"
    assert first_causes(stage) <= expected_first_causes(path), "each first cause is expected by name"
    assert most_switchings_a_minute(stage) <= 6, "no valve rattles"
    truth = result["truth"]
    assert truth["hp_pump_dry_s"] <= DRY_S or path.stem in DRY_ALL_THE_SAME
    assert (truth["tank_worst_tds_mg_l"] or 0.0) <= WORST_MG_L or path.stem in GULP
    assert truth["peak_vessel_pressure_bar"] <= 75.0
    assert all(command["reasons"] for command in result["commands"] if not command["accepted"])
    assert no_water_but_while_producing(stage)
    if result["final_state"] in ("standby", "tripped", "laid_up", "flushing"):
        assert not result["outputs"]["high_pressure_pump"]
        assert not result["outputs"]["product_to_tank"]


def raised(result) -> set[str]:
    return {alarm["id"] for alarm in result["alarms"] if alarm["to"] == "unacknowledged"}


def first_causes(stage) -> set[str]:
    """What ended something by a trip or a stop of the plant's own."""
    ended = [
        event for event in stage.played.events if event["kind"] == "state" and event["to"] in ("tripped", "stopping")
    ]
    acting = {cause.id for cause in DEFINITIONS.values() if cause.effect in (Effect.TRIP, Effect.STOP)}
    return {event["why"]["id"] for event in ended} & acting


def expected_first_causes(path) -> set[str]:
    wanted = [expectation.conditions for expectation in load(path).expectations if expectation.when != "never"]
    return {conditions["first_out"] for conditions in wanted if "first_out" in conditions}


def most_switchings_a_minute(stage) -> int:
    """How often the diverter was switched in the minute in which it was switched most."""
    turned = [
        event["t"]
        for event in stage.played.events
        if event["kind"] == "state" and "producing" in (event["from"], event["to"])
    ]
    return max((sum(t <= other < t + 60.0 for other in turned) for t in turned), default=0)


def no_water_but_while_producing(stage) -> bool:
    on = stage.core.on
    return "product_to_tank" not in on or stage.core.plant.state.value in ("producing", "bench")


def test_every_fault_is_rehearsed():
    played = {step.fault for path in FILES for step in load(path).steps}
    assert set(FAULTS) - played == set()


def test_every_cause_that_does_something_is_expected_somewhere():
    expected = {
        value
        for path in FILES
        for expectation in load(path).expectations
        if expectation.when != "never"
        for key, value in expectation.conditions.items()
        if key in ("first_out", "alarm")
    }
    acting = {cause.id for cause in DEFINITIONS.values() if cause.effect is not Effect.WARN}
    assert acting - expected - set(NOT_SHOWN_HERE) == set()


def test_every_file_says_what_it_expects():
    assert len(FILES) > 100
    assert [path.stem for path in FILES if not load(path).expectations] == []
