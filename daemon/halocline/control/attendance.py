"""Whether somebody is there: a start wants a person at the plant, a run asks "still there?" now and then.

At the plant is who presses its button, or who says so on the boat's own computer. "Still there?" may be answered from
the page as well: by acknowledging its alarm. A message broker is nobody.
"""

from typing import Any

from halocline.control.inputs import Command
from halocline.control.situation import Situation
from halocline.control.standing import RUNNING, Standing
from halocline.plant.vocabulary import Origin

QUESTION = "attendance_due"
AT_THE_PLANT = "at_the_plant"


class Attendance:
    """Watches the button of one plant and takes answers."""

    def __init__(self, at: Standing) -> None:
        self._at = at
        self._pressed: bool | None = None

    def see(self, now: Situation) -> None:
        """Somebody is there when the button goes down; one that stays down is a broken wire."""
        at, pressed = self._at, now.active("plant_button")
        if pressed and self._pressed is False:
            person_at_the_plant(at, now.now_s)
        self._pressed = pressed
        seen_s = max(at.person_seen_s, at.answered_s, at.run.started_s if at.run else now.now_s)
        at.clocks.unattended_s = now.now_s - seen_s


def person_at_the_plant(at: Standing, now_s: float) -> None:
    """Somebody has shown to be at the plant; that answers the question too."""
    at.person_seen_s = now_s
    at.alarms.acknowledge(QUESTION)


def take_answer(at: Standing, command: Command, now_s: float) -> None:
    """An acknowledgement of the question is its answer, whoever acknowledged it before."""
    named = command.arguments.get("alarm") in (None, QUESTION)
    if named and command.origin is not Origin.MQTT and at.alarms.get(QUESTION):
        at.answered_s = now_s


def is_asked(now: Situation) -> bool:
    """Whether the run wants to know now that somebody is there."""
    sequence = now.settings.sequence
    return sequence.attendance and now.state in RUNNING and now.clocks.unattended_s >= sequence.attendance_ask_s


def answer_left_s(now: Situation) -> float:
    """Time left for an answer, in s."""
    sequence = now.settings.sequence
    return max(0.0, sequence.attendance_ask_s + sequence.attendance_answer_s - now.clocks.unattended_s)


def attendance_message(at: Standing, now: Situation) -> dict[str, Any] | None:
    """As the live snapshot carries it; None while no run asks."""
    if at.run is None or not at.settings.sequence.attendance:
        return None
    asked = is_asked(now)
    return {
        "asked": asked,
        "due_s": max(0.0, at.settings.sequence.attendance_ask_s - now.clocks.unattended_s),
        "answer_left_s": answer_left_s(now) if asked else None,
        "answer": {"command": "acknowledge", "alarm": QUESTION},
    }
