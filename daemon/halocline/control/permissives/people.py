"""Checks of who is there, what they have looked at, and who has a housing open."""

from halocline.control.duties.attendance import AT_THE_PLANT, QUESTION
from halocline.control.inputs import Reason
from halocline.control.permissives.permissive import Context, still_open, unasked
from halocline.plant.duties import PROOF_DAYS
from halocline.plant.thresholds import DAY_S
from halocline.plant.vocabulary import Origin

ANSWERED_THERE = frozenset({QUESTION, "restarted_unexpectedly"})
"""Alarms whose acknowledgement says that a person is there, or has looked at the regulator."""

QUESTIONS = ("seacocks_open", "strainer_clean", "sea_clean", "tank_chosen")
PROOF_OVERDUE = "proof_overdue"
ALL_QUESTIONS = (*QUESTIONS, PROOF_OVERDUE)


def questions(proved_wall_s: float | None, wall_s: float | None) -> tuple[str, ...]:
    """What a start asks. Trips that nobody has proved for longer than half a year may be dead: a person answers for
    that. What cannot be told, without a clock or after another program's file, counts as overdue."""
    if proved_wall_s is None or wall_s is None:
        return ALL_QUESTIONS
    # A proof in the future was dated by a clock that was wrong: it proves nothing.
    return QUESTIONS if 0.0 <= wall_s - proved_wall_s <= PROOF_DAYS * DAY_S else ALL_QUESTIONS


def person_at_the_plant(at: Context) -> Reason | None:
    """Where a start wants a person at the plant, one was seen there lately."""
    return Reason("nobody_at_the_plant") if at.misses_a_person else None


def questions_answered(at: Context) -> Reason | None:
    """A person has confirmed what only a person can look at before a start."""
    if not at.now.settings.sequence.start_questions:
        return None
    asked = questions(at.retained.trips_proved_wall_s, at.now.inputs.wall_s)
    return still_open(at, asked, "questions_open", "questions")


def answers_were_asked(at: Context) -> Reason | None:
    """An answer to a question that was not asked is a slip: the person believes that it counts."""
    return unasked(at, ALL_QUESTIONS)


def presence_is_local(at: Context) -> Reason | None:
    """Presence at the plant is reported on the boat's own computer: the page and a broker may be anywhere."""
    if at.command.arguments.get("kind") != AT_THE_PLANT or at.command.origin in (Origin.CLI, Origin.PLANT):
        return None
    return Reason("presence_is_local")


def answered_by_a_person(at: Context) -> Reason | None:
    """What only a person at the plant can know is not answered by a broker."""
    by_broker = at.command.origin is Origin.MQTT and at.command.arguments.get("alarm") in ANSWERED_THERE
    return Reason("never_from_mqtt", {"command": at.command.name}) if by_broker else None


def not_locked(at: Context) -> Reason | None:
    """Nobody has a housing open."""
    lock = at.retained.lock
    return Reason("locked", {"name": lock.name, "reason": lock.reason}) if lock else None


def is_locked(at: Context) -> Reason | None:
    """There is a lock to take away."""
    return None if at.retained.lock else Reason("not_locked")


def lock_is_named(at: Context) -> Reason | None:
    """A lock says whose it is and what for."""
    arguments = at.command.arguments
    return None if arguments.get("name") and arguments.get("reason") else Reason("lock_wants_name_and_reason")
