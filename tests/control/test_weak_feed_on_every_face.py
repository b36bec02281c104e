"""Low feed pressure: a warning, then a trip, with the words a tired person needs, wherever they look or listen."""

from itertools import pairwise

import pytest
from hand_driven_plant import Plant

from halocline.cli.status import status_lines
from halocline.plant.settings import UnitSettings
from halocline.report.mqtt import payloads
from halocline.report.public import Frame, snapshot

UNITS = UnitSettings()


@pytest.fixture
def plant():
    plant = Plant().brought_to("producing")
    plant.read("feed_pressure", 0.24)
    return plant.wait(1.5)


@pytest.fixture
def tripped(plant):
    plant.read("feed_pressure", 0.06)
    plant.until("tripped", within_s=3.0)
    return plant.wait(0.2)


def public(plant):
    now = {**plant.snapshot(), "wall_s": 1_800_000_000.0}
    return snapshot(now, 0.0, Frame("Cagarra", UNITS, simulated=True))


def heard(plant, seconds=4.0):
    """Bursts of the buzzer."""
    sound = [False] + ["buzzer" in plant.tick().outputs for _ in range(round(seconds / 0.05))]
    return sum(1 for before, now in pairwise(sound) if now and not before)


def test_the_warning_is_heard_and_says_what_to_check(plant):
    (alarm,) = public(plant)["alarms"]
    assert alarm["means"].startswith("Pump inlet pressure is 0.24 bar, warning below 0.3 bar, before the filters 1.6")
    assert alarm["do"].startswith("Change the filter cartridges at zero pressure")
    assert alarm["ignored"] == "If it falls further a safety stop follows, to save the pump."
    assert plant.state == "producing"
    assert heard(plant) == 2


def test_the_command_line_shows_warning_and_trip(plant):
    warned = status_lines(public(plant), UNITS)
    assert any(
        line.startswith("! Sea water supply weak (high priority, raised): Change the filter cartridges")
        for line in warned
    )
    plant.read("feed_pressure", 0.06)
    plant.until("tripped", within_s=3.0)
    plant.tick()
    said = status_lines(public(plant), UNITS)
    assert said[1].startswith(
        "Safety stop: pump inlet pressure fell to 0.06 bar, limit 0.15 bar, before the filters 1.6 bar. Change"
    )
    assert any(
        line.startswith("! Sea water supply failed (high priority, raised): Change the filter cartridges")
        for line in said
    )
    assert not any("supply weak" in line and ", raised)" in line for line in said)


def test_the_broker_carries_the_same_words(tripped):
    head = payloads.envelope("Cagarra", public(tripped), None)
    told = {alarm["id"]: payloads.alarm(head, alarm) for alarm in public(tripped)["alarms"]}
    assert told["feed_pressure_low_low"]["state"] == "unacknowledged"
    assert told["feed_pressure_low_low"]["means"].startswith(
        "Pump inlet pressure fell to 0.06 bar, limit 0.15 bar, before"
    )
    assert told["feed_pressure_low"]["state"] == "suppressed"
    event = next(e for e in tripped.events if e["kind"] == "state" and e["to"] == "tripped")
    text = payloads.event(head, "b", {**event, "seq": 1}, UNITS)["text"]
    assert text.startswith("Now safety stop. Pump inlet pressure fell to 0.06 bar, limit 0.15 bar")


def test_the_trip_is_heard_until_somebody_has_seen_it(tripped):
    assert heard(tripped) >= 2
    tripped.give("silence")
    assert heard(tripped) == 0
    assert tripped.alarm("feed_pressure_low_low") == "returned-unacknowledged"
    tripped.give("acknowledge")
    assert all("beacon" in tripped.tick().outputs for _ in range(100))
