"""Checks of who is there, what they have looked at, and who has a housing open."""

from collections.abc import Sequence

from halocline.control.duties.attendance import AT_THE_PLANT, QUESTION
from halocline.control.inputs import Reason
from halocline.control.permissives.permissive import Context
from halocline.plant.vocabulary import Origin

ANSWERED_THERE = frozenset({QUESTION, "restarted_unexpectedly"})
"""Alarms whose acknowledgement says that somebody is there, or has looked at the regulator."""
PRESENT_S = 600.0
"""How long a press of the button at the plant counts for a start (common practice)."""

QUESTIONS = ("seacocks_open", "strainer_clean", "sea_clean", "tank_chosen")


def somebody_there(at: Context) -> Reason | None:
    """Where a start wants a person at the plant, one was seen there lately."""
    if not at.now.settings.sequence.attendance or at.person_seen_s <= PRESENT_S:
        return None
    return Reason("nobody_at_the_plant")


def questions_answered(at: Context) -> Reason | None:
    """What only a person can look at before a start has been looked at."""
    if not at.now.settings.sequence.start_questions:
        return None
    return still_open(at, QUESTIONS, "questions_open", "questions")


def answers_were_asked(at: Context) -> Reason | None:
    """An answer to no question is a slip: whoever gave it believes to have said something."""
    return unasked(at, QUESTIONS)


def still_open(at: Context, asked: Sequence[str], refusal: str, key: str) -> Reason | None:
    """What of `asked` the command does not confirm, as a refusal that lists it under `key`."""
    confirmed = at.command.arguments.get("confirmed", ())
    missing = [one for one in asked if one not in confirmed]
    return Reason(refusal, {key: ", ".join(missing)}) if missing else None


def unasked(at: Context, asked: Sequence[str]) -> Reason | None:
    """The first thing the command confirms that is none of `asked`."""
    for one in at.command.arguments.get("confirmed", ()):
        if one not in asked:
            return Reason("answer_unknown", {"answer": one, "known": ", ".join(asked)})
    return None


def presence_is_local(at: Context) -> Reason | None:
    """Being at the plant is said on the boat's own computer: the page and a broker may be anywhere."""
    if at.command.arguments.get("kind") != AT_THE_PLANT or at.command.origin in (Origin.CLI, Origin.PLANT):
        return None
    return Reason("presence_is_local")


def answered_by_a_person(at: Context) -> Reason | None:
    """What only somebody who is there can know is not answered by a broker."""
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
