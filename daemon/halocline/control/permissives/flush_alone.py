"""Checks of a flush that nobody orders, and of the consent to it."""

import math

from halocline.control.alarm_conditions.rest import flush_interval_s
from halocline.control.inputs import Reason
from halocline.control.permissives.permissive import PRESENT_S, Context, not_good
from halocline.plant.thresholds import DAY_S

SOONER_S = 3600.0
"""So long before standing water would be told of as due it is flushed: nobody is called for what is looked after
(chosen)."""
LONGEST_DAYS = 30.0
"""A month without a person is a plant that is to be laid up (common practice: from two weeks on)."""
WAVES_PERCENT = 2.0
"""Heel and waves move a level by a per cent or two (from memory): a flush that was let in is not broken off for one."""
LEAKS = ("flush_valve_leaking", "flush_backflow")


def set_up_for_it(at: Context) -> Reason | None:
    """The owner's file allows flushes by themselves, and so says what they rest on."""
    return None if at.now.settings.sequence.automatic_flush else Reason("automatic_flush_off")


def clock_known(at: Context) -> Reason | None:
    """The time is known: a consent ends by the calendar."""
    return Reason("consent_wants_clock") if at.now.inputs.wall_s is None else None


def consent_fits(at: Context) -> list[Reason]:
    """A consent is a person's, for a time that can be overlooked, and for one flush at least."""
    given, flush_l = at.command.arguments, at.now.settings.sequence.flush_l
    days, litres = given.get("days", 1.0), given.get("litres", flush_l)
    return [
        *([] if str(given.get("name", "")).strip() else [Reason("consent_wants_name")]),
        *([] if 1.0 <= days <= LONGEST_DAYS else [Reason("consent_days", {"days": days, "limit_days": LONGEST_DAYS})]),
        *([] if litres >= flush_l else [Reason("consent_litres", {"litres": litres, "limit_l": flush_l})]),
    ]


def consent_given(at: Context) -> Reason | None:
    """There is a consent to take back."""
    return Reason("no_flush_consent") if at.retained.flush_consent is None else None


def consent_in_force(at: Context) -> Reason | None:
    """A person has given consent and it has not ended, by the calendar or otherwise."""
    consent, wall_s = at.retained.flush_consent, at.now.inputs.wall_s
    if consent is None:
        return Reason("no_flush_consent")
    if consent.ended is not None:
        return Reason(consent.ended)
    if wall_s is None:
        return None
    # No consent lasts so long: the clock was set back, and nobody knows which day it is.
    if consent.until_wall_s - wall_s > LONGEST_DAYS * DAY_S:
        return Reason("consent_wants_clock")
    return Reason("consent_run_out") if wall_s >= consent.until_wall_s else None


def no_hands(at: Context) -> Reason | None:
    """Nobody has touched page, button or command line lately: who is there may have a hand in the plant."""
    if at.hands_ago_s >= PRESENT_S:
        return None
    return Reason("person_is_there", {"seconds": PRESENT_S - at.hands_ago_s})


def bilge_watched(at: Context) -> Reason | None:
    """The bilge sensor is fitted; that it is dry is asked by another check."""
    return None if "bilge_wet" in at.now.inputs.active else Reason("bilge_not_watched")


def nothing_leaks(at: Context) -> Reason | None:
    """The flush line was found tight."""
    found = [id_ for id_ in LEAKS if (alarm := at.alarms.get(id_)) is not None and alarm.holds]
    return Reason("flush_line_leaks") if found else None


def nobody_is_waited_for(at: Context) -> list[Reason]:
    """Nothing that a person has begun waits to be ended by a person: a purge, a circuit that was opened."""
    retained = at.retained
    return [
        *([Reason("purge_is_owed")] if retained.purge is not None else []),
        *([Reason("circuit_was_opened")] if retained.circuit_opened else []),
    ]


def tank_keeps_enough(at: Context) -> Reason | None:
    """The tank's level is known, and after the flush as much is left as has to stay; once it runs, no more has gone
    than was foreseen."""
    settings, percent = at.now.settings, at.now.value("tank_fill")
    if percent is None:
        return not_good(at, "tank_fill")
    takes_percent = 100.0 * settings.sequence.flush_l / settings.plant.tank_capacity_l
    stays_percent = settings.sequence.automatic_flush_tank_percent
    if percent >= stays_percent + (-WAVES_PERCENT if at.flushing_alone else takes_percent):
        return None
    return Reason("tank_too_low_to_flush", {"percent": percent, "limit_percent": stays_percent})


def way_out_proven(at: Context) -> Reason | None:
    """The last flush flowed freely and no pressure has been raised since, or a valve opens the way by itself."""
    opens_itself = "pressure_release" in at.now.settings.outputs
    return None if opens_itself or at.retained.way_out_open else Reason("way_out_not_proven")


def once_a_day(at: Context) -> Reason | None:
    """The last one was announced a day ago or longer."""
    left_s = DAY_S - at.flush_tried_s
    return Reason("flushed_alone_lately", {"seconds": left_s}) if left_s > 0 else None


def litres_left(at: Context) -> Reason | None:
    """The consent covers one more."""
    consent, flush_l = at.retained.flush_consent, at.now.settings.sequence.flush_l
    if consent is None or consent.left_l >= flush_l:
        return None
    return Reason("consent_used_up")


def is_due(at: Context) -> Reason | None:
    """Sea water stands in the membrane, or fresh water has stood there for long enough."""
    left_s = due_s(at)
    return Reason("flush_not_due", {"seconds": left_s}) if left_s > 0 else None


def due_s(at: Context) -> float:
    """Time left until a flush is due, 0 once it is."""
    if at.retained.flush_owed:
        return 0.0
    return max(0.0, flush_interval_s(at.now) - SOONER_S - at.now.clocks.idle_s)


def next_s(at: Context) -> float:
    """Time until one can begin at the earliest: due, a day after the last, nobody there for long enough."""
    left_s = (due_s(at), DAY_S - at.flush_tried_s, PRESENT_S - at.hands_ago_s)
    return max(0.0, *(second for second in left_s if math.isfinite(second)))
