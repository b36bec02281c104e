"""Somebody has to be within reach of a run: it asks now and then, and ends in good order without an answer.

Every 60 min, and 5 min for the answer: common practice (a run of a plant at 55 bar is not left alone). The quick
boat asks after a tenth of it.
"""

import pytest
from hand_driven_plant import FULL, Plant, quick_settings

from halocline.plant import words
from halocline.plant.vocabulary import Origin

ASK_S, ANSWER_S = 360.0, 30.0


def at_the_button(plant):
    plant.press("plant_button")
    plant.tick()
    plant.press("plant_button", active=False)
    plant.tick()


@pytest.fixture
def plant():
    """A run with attendance, shortly before it asks."""
    plant = Plant(quick_settings(sequence={"attendance": True}))
    plant.tick()
    at_the_button(plant)
    assert plant.give("start") == []
    began_s = plant.now_s
    plant.until("producing")
    plant.wait(ASK_S - (plant.now_s - began_s) - 5, dt=0.5)
    assert plant.core.ask() is None
    return plant


def said(plant):
    return words.sentence(plant.snapshot())


def test_the_boat_asks_every_hour_and_waits_five_minutes():
    assert FULL.sequence.attendance_ask_s == 3600
    assert FULL.sequence.attendance_answer_s == 300


def test_the_question_is_asked_by_sentence_alarm_and_buzzer(plant):
    plant.wait(10)
    assert plant.core.ask() == "still_there"
    assert plant.alarm("attendance_due") == "unacknowledged"
    assert said(plant).startswith("Still there? Press the button at the plant or answer on the page within ")
    assert "Making water into the tank" in said(plant)
    assert any("buzzer" in plant.tick().outputs for _ in range(100))


def test_the_snapshot_says_when_it_asks_and_how_long_it_waits(plant):
    before = plant.snapshot()["attendance"]
    assert before["asked"] is False
    assert 0 < before["due_s"] < 10
    plant.wait(10)
    asked = plant.snapshot()["attendance"]
    assert asked["asked"] is True
    assert asked["due_s"] == 0
    assert 0 < asked["answer_left_s"] < ANSWER_S
    assert asked["answer"] == {"command": "acknowledge", "alarm": "attendance_due"}


def test_nothing_is_asked_without_a_run_or_with_attendance_off():
    plant = Plant()
    plant.tick()
    assert plant.snapshot()["attendance"] is None
    plant.brought_to("producing")
    assert plant.snapshot()["attendance"] is None


def test_the_button_answers_and_the_alarm_goes_with_it(plant):
    plant.wait(10)
    at_the_button(plant)
    plant.wait(1.5)
    assert plant.core.ask() is None
    assert plant.alarm("attendance_due") is None
    plant.wait(ASK_S - 10, dt=0.5)
    assert plant.state == "producing"


@pytest.mark.parametrize("arguments", [{"alarm": "attendance_due"}, {}])
def test_an_acknowledgement_from_the_page_answers(plant, arguments):
    plant.wait(10)
    assert plant.give("acknowledge", origin=Origin.PAGE, **arguments) == []
    plant.wait(1.5)
    assert plant.alarm("attendance_due") is None
    plant.wait(ASK_S - 10, dt=0.5)
    assert plant.state == "producing"


def test_a_broker_is_nobody(plant):
    plant.wait(10)
    assert plant.give("acknowledge", origin=Origin.MQTT, alarm="attendance_due") == ["never_from_mqtt"]
    assert plant.give("acknowledge", origin=Origin.MQTT) == []
    assert plant.alarm("attendance_due") == "unacknowledged"
    plant.until("stopping", within_s=ANSWER_S + 1)
    assert plant.core.first_out == "unattended"


def test_a_page_can_answer_after_somebody_silenced_and_a_program_acknowledged(plant):
    plant.wait(10)
    plant.give("silence", origin=Origin.MQTT)
    plant.core.plant.alarms.acknowledge("attendance_due")
    assert plant.give("acknowledge", origin=Origin.PAGE) == []
    plant.wait(ANSWER_S + 10)
    assert plant.state == "producing"


def test_without_an_answer_the_run_ends_in_good_order(plant):
    plant.wait(10)
    plant.until("stopping", within_s=ANSWER_S)
    assert plant.core.first_out == "unattended"
    assert "product_to_tank" not in plant.on
    plant.until("flushing")
    plant.until("standby")
    assert not plant.core.plant.retained.flush_owed


def test_silence_is_no_answer(plant):
    plant.wait(10)
    plant.give("silence")
    plant.until("stopping", within_s=ANSWER_S)
    assert plant.core.first_out == "unattended"


def test_an_answer_is_no_presence_for_the_next_start(plant):
    plant.wait(10)
    plant.give("acknowledge", origin=Origin.PAGE)
    plant.give("stop")
    plant.until("standby")
    plant.wait(250, dt=0.5)
    assert "nobody_at_the_plant" in plant.refused("start")


@pytest.mark.parametrize(
    ("origin", "refusal"),
    [(Origin.CLI, []), (Origin.PAGE, ["presence_is_local"]), (Origin.MQTT, ["presence_is_local"])],
)
def test_presence_is_logged_on_the_boats_own_computer_only(origin, refusal):
    plant = Plant(quick_settings(sequence={"attendance": True}))
    plant.tick()
    assert plant.give("log", origin=origin, kind="at_the_plant") == refusal
    assert ("nobody_at_the_plant" in plant.refused("start")) is bool(refusal)
