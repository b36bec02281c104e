"""What one fault brings with it is listed under its first cause and calls nobody; its effects stand all the same."""

import pytest
from hand_driven_plant import Plant
from test_alarm_life_cycle import Desk

from halocline.plant.alarms import DEFINITIONS, EFFECT_ORDER, PRIORITY_ORDER, ROWS, Effect
from halocline.plant.vocabulary import Quality


@pytest.mark.parametrize("row", [row for row in ROWS if row.consequence_of], ids=lambda row: row.id)
def test_what_follows_never_hides_something_graver_than_its_cause(row):
    for root in (DEFINITIONS[id_] for id_ in row.consequence_of):
        assert root.id != row.id
        assert EFFECT_ORDER.index(root.effect) <= EFFECT_ORDER.index(row.effect)
        graver = PRIORITY_ORDER.index(row.priority) < PRIORITY_ORDER.index(root.priority)
        assert not graver or root.id == "unattended", "a question nobody answered needs no second alarm"


@pytest.fixture
def desk():
    return Desk("producing")


def failing_feed(desk):
    desk.plant.read("feed_pressure", 0.05)
    desk.judge(2.2)


def blocking_brine(desk):
    desk.plant.read("vessel_pressure", 60.5)
    desk.judge(1)
    assert desk.state_of("vessel_pressure_high") == "unacknowledged"
    desk.plant.read("vessel_pressure", 70.0)
    desk.judge()


def test_a_warning_from_shortly_before_goes_under_the_trip_it_announced(desk):
    blocking_brine(desk)
    assert desk.state_of("vessel_pressure_high_high") == "unacknowledged"
    warning = desk.annunciator.get("vessel_pressure_high")
    assert (warning.state.value, warning.suppressed_by) == ("suppressed", "vessel_pressure_high_high")


def test_what_is_listed_under_another_neither_sounds_nor_waits_to_be_acknowledged(desk):
    blocking_brine(desk)
    desk.annunciator.acknowledge(None)
    assert desk.sounds() == 0
    assert desk.state_of("vessel_pressure_high") == "suppressed"


def test_its_effect_stands_all_the_same(desk):
    failing_feed(desk)
    desk.plant.lose("product_flow")
    desk.judge(5.2)
    assert desk.state_of("product_flow_missing") == "suppressed"
    assert "product_flow_missing" in desk.holding
    assert DEFINITIONS["product_flow_missing"].effect is Effect.DIVERT


def test_what_its_cause_leaves_behind_is_raised_by_itself():
    desk = Desk("producing")
    desk.plant.lose("product_conductivity", Quality.OPEN)
    desk.notes.set("quality_lost", {})
    desk.judge(0.6)
    desk.notes.set("tds", {})
    failing_feed(desk)
    assert desk.state_of("quality_lost") == "suppressed"
    desk.annunciator.acknowledge(None)
    desk.plant.mend("feed_pressure")
    desk.plant.feed_bar = 1.5
    desk.judge(2)
    desk.annunciator.reset()
    desk.judge()
    assert desk.state_of("feed_pressure_low_low") is None
    assert desk.state_of("quality_lost") == "unacknowledged"


def test_what_went_with_its_cause_is_not_raised_again_by_a_quick_reset():
    plant = Plant().brought_to("producing")
    plant.read("feed_pressure", 0.05)
    plant.until("tripped")
    assert plant.alarm("feed_pressure_low") == "suppressed"
    plant.mend()
    plant.wait(2)
    plant.give("acknowledge")
    plant.wait(1)
    assert plant.alarm("feed_pressure_low") == "suppressed", "it has not been gone for long enough to be over"
    before = len(plant.events)
    assert plant.give("reset") == []
    plant.wait(10)
    assert [e["id"] for e in plant.events[before:] if e["kind"] == "alarm" and e["to"] == "unacknowledged"] == []
    assert plant.alarm("feed_pressure_low") is None


def test_a_trip_listed_under_another_keeps_the_reset_shut_while_it_holds():
    plant = Plant().brought_to("producing")
    plant.press("pressure_switch")
    plant.read("vessel_pressure", 70.0)
    plant.tick()
    assert plant.core.first_out == "pressure_switch"
    assert plant.alarm("vessel_pressure_high_high") == "suppressed"
    plant.mend()
    plant.wait(20)
    plant.give("acknowledge")
    assert "cause_still_there" in plant.give("reset")
    plant.press("pressure_switch", active=False)
    plant.wait(2)
    assert plant.give("reset") == []
    assert plant.state == "standby"


def test_the_first_cause_in_a_tick_is_the_first_out_and_the_one_that_is_told():
    plant = Plant().brought_to("producing")
    plant.read("feed_pressure", 0.05)
    plant.until("tripped")
    assert plant.core.first_out == "feed_pressure_low_low"
    told = [e["id"] for e in plant.events if e["kind"] == "alarm" and e["to"] == "unacknowledged"]
    assert set(told) <= {"feed_pressure_low", "feed_pressure_low_low"}
    suppressed_by = {e["id"]: e["under"] for e in plant.events if e["kind"] == "alarm" and e["to"] == "suppressed"}
    assert suppressed_by == {"feed_pressure_low": "feed_pressure_low_low"}


def test_an_hour_later_it_is_news_of_its_own(desk):
    desk.plant.read("vessel_pressure", 60.5)
    desk.judge(1)
    desk.judge(61)
    desk.plant.read("vessel_pressure", 70.0)
    desk.judge()
    assert desk.state_of("vessel_pressure_high") == "unacknowledged"
