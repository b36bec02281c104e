"""Whether a person is there: a start wants a person at the plant, a run asks "still there?" now and then.

A person is at the plant who presses its button, or logs it on the boat's own computer. "Still there?" may be answered
from the page as well: by acknowledging its alarm. A message broker does not count as a person.
"""

import math

from halocline.control.annunciator import Annunciator
from halocline.control.inputs import Command
from halocline.control.run import Run
from halocline.control.situation import Observation, Situation
from halocline.link.snapshot import AttendanceNow
from halocline.plant.vocabulary import RUNNING, Origin

QUESTION = "attendance_due"
AT_THE_PLANT = "at_the_plant"


class Attendance:
    """Watches the button of one plant and takes answers. All `…_s` are monotonic."""

    def __init__(self, alarms: Annunciator) -> None:
        self._alarms = alarms
        self._pressed: bool | None = None
        self._person_seen_s = -math.inf
        self._answered_s = -math.inf

    def see(self, seen: Observation) -> bool:
        """A person is there when the button goes down, which is told; one that stays down is a broken wire."""
        pressed = seen.active("plant_button")
        goes_down = pressed and self._pressed is False
        if goes_down:
            self.person_at_the_plant(seen.now_s)
        self._pressed = pressed
        return goes_down

    def person_at_the_plant(self, now_s: float) -> None:
        """A person is at the plant; that answers the question too."""
        self._person_seen_s = now_s
        self._alarms.acknowledge(QUESTION)

    def take_answer(self, command: Command, now_s: float) -> None:
        """An acknowledgement of the question is its answer, whoever acknowledged it before."""
        named = command.arguments.get("alarm") in (None, QUESTION)
        if named and command.origin is not Origin.MQTT and self._alarms.get(QUESTION):
            self._answered_s = now_s

    def person_ago_s(self, now_s: float) -> float:
        """How long ago a person showed to be at the plant; infinite for never."""
        return now_s - self._person_seen_s

    def unattended_s(self, now_s: float, run: Run | None) -> float:
        """For how long a run has been without a sign of a person; 0 while none goes on."""
        return now_s - max(self._person_seen_s, self._answered_s, now_s if run is None else run.started_s)


def is_asked(now: Situation) -> bool:
    """Whether the run asks now whether a person is there."""
    sequence = now.settings.sequence
    return sequence.attendance and now.state in RUNNING and now.clocks.unattended_s >= sequence.attendance_ask_s


def answer_left_s(now: Situation) -> float:
    """Time left for an answer, in s."""
    sequence = now.settings.sequence
    return max(0.0, sequence.attendance_ask_s + sequence.attendance_answer_s - now.clocks.unattended_s)


def attendance_message(run: Run | None, now: Situation) -> AttendanceNow | None:
    """As the live snapshot carries it; None while no run asks."""
    if run is None or not now.settings.sequence.attendance:
        return None
    asked = is_asked(now)
    return {
        "asked": asked,
        "due_s": max(0.0, now.settings.sequence.attendance_ask_s - now.clocks.unattended_s),
        "answer_left_s": answer_left_s(now) if asked else None,
        "answer": {"command": "acknowledge", "alarm": QUESTION},
    }
