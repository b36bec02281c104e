"""A run that was cut off waits for a person through every kind of restart, in real processes on a real file."""

import os
import random
import signal

import pytest

from halocline.control.retained import retained_state as latch_file

pytestmark = [pytest.mark.system, pytest.mark.timeout(600)]

BACK_WITHIN_S = 30.0
RESTARTS = 100 if os.environ.get("HALOCLINE_SOAK") else 4


def bar(now):
    return now["readings"]["vessel_pressure"]["value"] or 0.0


def restarted(boat, number):
    """Control after it was killed, or told to end, and came back by itself."""
    before = boat.now()["boot"]
    boat.kill("control", number)
    boat.wait(lambda now: now["boot"] != before and now["state"] != "hand_run", BACK_WITHIN_S)


def holds(boat):
    """The hold and its alarm stand, on file as well; neither a start nor a flush is taken."""
    now = boat.wait(lambda now: "restarted_unexpectedly" in [alarm["id"] for alarm in now["alarms"]], BACK_WITHIN_S)
    assert now["state"] == "standby"
    assert now["owed"]["flush"] is True
    for command in ("start", "flush"):
        answer = boat.order(command)
        assert answer["accepted"] is False
        assert any("Open the regulator fully, then acknowledge" in reason for reason in answer["reasons"])
    assert latch_file.read(boat.data_dir / "latch").cut_off is not None
    (alarm,) = [alarm for alarm in now["alarms"] if alarm["id"] == "restarted_unexpectedly"]
    assert "while pressure was raised" in alarm["means"]
    assert "the computer itself had stayed on" in alarm["means"]


def test_a_run_that_was_cut_off_waits_for_somebody_through_every_restart(a_boat, wait_until):
    boat = a_boat().wait_ready()
    assert boat.order("start", litres=1)["accepted"]
    assert latch_file.read(boat.data_dir / "latch").under_way is not None
    boat.wait(lambda now: bar(now) > 20)
    restarted(boat, signal.SIGKILL)
    holds(boat)
    chance = random.Random(7)
    for _ in range(RESTARTS):
        restarted(boat, chance.choice([signal.SIGKILL, signal.SIGTERM]))
        holds(boat)
    boat.end()
    again = a_boat(data_dir=boat.data_dir)
    wait_until(lambda: again.address, 40.0)
    again.wait(lambda now: now["state"] == "standby", 40.0)
    holds(again)
    told = again.cli("log", "--events").stdout
    assert "Control had been cut off while pressure was raised" in told
    assert again.order("acknowledge")["accepted"]
    again.wait_ready()
    # An acknowledgement counts at once and is on file a little later; one that is lost in between is asked for again.
    wait_until(lambda: latch_file.read(again.data_dir / "latch").cut_off is None, 10.0)
    restarted(again, signal.SIGKILL)
    again.wait_ready()
    assert again.order("flush", litres=0.3)["accepted"]
    again.wait_state("flushing")
    again.order("stop")
