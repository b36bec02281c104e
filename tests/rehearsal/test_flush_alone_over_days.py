"""Flushes that nobody orders on the simulated boat, over restarts: from one rehearsal to the next goes what is on file,
as it would be read a day later."""

import pytest

from halocline.control.retained.retained_state import decode, encode
from halocline.rehearsal.scenario import from_document
from halocline.rehearsal.scenario_runner import ScenarioRunner

DAY_S = 86400.0
BEGINS_S = 675.0
"""After ten minutes without a person and a minute of notice."""
BOAT = {
    "title": "away",
    "duration": "15min",
    "stood": "119.5h",
    "settings": {
        "sequence": {"automatic_flush": True, "flush_shut_off": "valve", "flush_l": 6},
        "plant": {"feed_side_volume_l": 0.15, "product_side_volume_l": 0.06, "wetted_volume_l": 2},
    },
    "plant": {"temperature_c": 20.0, "tank_litres": 150},
}
CONSENT = {"at": "2s", "command": "consent_flush", "name": "Ana", "days": 7}


def aboard(*steps, before=None, off_s=0.0):
    """A boat with this on file from the time before."""
    scenario = from_document({**BOAT, "step": list(steps)}, "away")
    return ScenarioRunner(scenario, 1, before=before, off_s=off_s)


def killed(runner):
    """What is on file, for the next start."""
    return decode(encode(runner.core.plant.retained))


def consent(runner):
    return runner.core.plant.retained.flush_consent


def flushes(runner):
    return [event for event in runner.played.events if event["kind"] == "flush_ended"]


def alarms(runner):
    return {alarm["id"] for alarm in runner.played.alarms if alarm["to"] == "unacknowledged"}


@pytest.mark.parametrize(
    "fault",
    [{"fault": "flush_supply_empty"}, {"fault": "valve_stuck", "output": "flush_valve", "position": "off"}],
    ids=["the supply is empty", "the valve does not open"],
)
def test_a_flush_that_fails_on_two_days_ends_the_consent_with_an_alarm(fault):
    first = aboard(CONSENT, {"at": "5min", **fault})
    first.live_until(720.0)
    assert [flush["complete"] for flush in flushes(first)] == [False]
    assert (consent(first).failures, consent(first).ended) == (1, None)
    assert "flush_failed" in alarms(first)

    again = aboard({"at": "5min", **fault}, before=killed(first), off_s=DAY_S)
    again.live_until(720.0)
    assert [flush["complete"] for flush in flushes(again)] == [False]
    assert consent(again).ended == "consent_failed_twice"
    assert "automatic_flush_ended" in alarms(again)
    assert flushes(again)[0]["litres"] < 1.0

    third = aboard(before=killed(again), off_s=2 * DAY_S)
    third.live_until(720.0)
    assert flushes(third) == []
    assert "automatic_flush_ended" in alarms(third)


def test_killed_in_the_middle_it_is_charged_counted_and_left_to_a_person():
    first = aboard(CONSENT)
    first.live_until(BEGINS_S)
    assert first.core.plant.state.value == "flushing"
    budget_l = consent(first).left_l
    again = aboard(before=killed(first), off_s=5.0)
    again.live_until(720.0)
    assert flushes(again) == []
    assert (consent(again).failures, consent(again).left_l) == (1, budget_l)
    assert "restarted_unexpectedly" in alarms(again)

    a_day_later = aboard({"at": "2s", "command": "acknowledge"}, before=killed(again), off_s=DAY_S)
    a_day_later.live_until(900.0)
    assert [flush["complete"] for flush in flushes(a_day_later)] == [True]
    assert consent(a_day_later).failures == 0


def test_killed_after_one_that_worked_it_waits_out_its_day():
    first = aboard(CONSENT)
    first.live_until(900.0)
    assert [flush["complete"] for flush in flushes(first)] == [True]
    owes = killed(first)
    again = aboard(before=owes, off_s=DAY_S / 2)
    again.live_until(720.0)
    assert flushes(again) == []
    assert consent(again) == consent(first)
