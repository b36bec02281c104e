"""Checks of what is done to alarms: acknowledged, shelved, taken out of service, reset."""

from collections.abc import Sequence

from halocline.control.alarm_conditions import CONDITIONS
from halocline.control.alarm_conditions.condition import Notes
from halocline.control.inputs import Reason
from halocline.control.permissives.permissive import Context
from halocline.plant.alarms import DEFINITIONS, ROWS, AlarmState, Effect
from halocline.plant.vocabulary import Origin, State

OUT_OF_SERVICE, BACK_IN_SERVICE = "alarm_out_of_service", "alarm_in_service"
ALARM_KINDS = frozenset({OUT_OF_SERVICE, BACK_IN_SERVICE})
TRIPS_AT_REST = tuple(row.id for row in ROWS if row.effect is Effect.TRIP and State.STANDBY in row.armed)
"""Causes that would trip again as soon as a reset has let go, even where they began in this very tick."""


def acknowledged(at: Context) -> Reason | None:
    """A person has acknowledged every trip."""
    waiting = [
        alarm.cause.id for alarm in at.alarms.trips if alarm.state in (AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED)
    ]
    return Reason("trips_not_acknowledged", {"causes": ", ".join(waiting)}) if waiting else None


def restart_acknowledged(at: Context) -> Reason | None:
    """A person has looked at a plant whose run was cut off: its regulator may still stand closed."""
    return None if at.retained.cut_off is None else Reason("restart_not_acknowledged")


def regulator_seen_to(at: Context) -> Reason | None:
    """No flush against a regulator that may stand closed from a run that was cut off.

    Flush water would have no way out but the membrane: without a meter it would be counted as having flowed, and the
    flush would be taken for done. A regulator that is left set lets a flush through as ever, so there the salt is
    better out at once.
    """
    by_hand = at.now.settings.drive.regulator == "hand_each_run"
    return restart_acknowledged(at) if by_hand else None


def causes_gone(at: Context) -> Reason | None:
    """Nothing that trips shows any more, and has not for long enough."""
    holding = [alarm.cause.id for alarm in at.alarms.trips if alarm.holds and alarm.gone_s is None]
    holding += [id_ for id_ in TRIPS_AT_REST if id_ not in holding and CONDITIONS[id_](at.now, Notes()) is not None]
    if holding:
        return Reason("cause_still_there", {"causes": ", ".join(holding)})
    left_s = {
        alarm.cause.id: alarm.cause.clear_s - (at.now.now_s - alarm.gone_s)
        for alarm in at.alarms.trips
        if alarm.holds and alarm.gone_s is not None
    }
    if not left_s:
        return None
    return Reason("cause_just_gone", {"causes": ", ".join(left_s), "seconds": max(0.0, *left_s.values())})


def something_to_acknowledge(at: Context) -> Reason | None:
    """There is an alarm."""
    return None if at.alarms.alarms else Reason("nothing_to_acknowledge")


def names_an_alarm(at: Context) -> Reason | None:
    """The alarm that is named is there."""
    cause = at.command.arguments.get("alarm")
    if cause is None or at.alarms.get(cause):
        return None
    return Reason("no_such_alarm", {"alarm": cause})


def may_be_shelved(at: Context) -> Reason | None:
    """The alarm is there and merely tells."""
    cause = DEFINITIONS.get(at.command.arguments.get("alarm", ""))
    if cause is None or at.alarms.get(cause.id) is None:
        return Reason("no_such_alarm", {"alarm": at.command.arguments.get("alarm")})
    return None if cause.may_be_suppressed else Reason("never_shelved", {"alarm": cause.id})


def alarm_service_fits(at: Context) -> Reason | Sequence[Reason] | None:
    """Only what merely tells can be taken out of service, and only with a reason."""
    kind, id_ = at.command.arguments.get("kind"), at.command.arguments.get("alarm", "")
    if kind not in ALARM_KINDS:
        return None
    if at.command.origin is Origin.MQTT:
        return Reason("never_from_mqtt", {"command": kind})
    cause, out = DEFINITIONS.get(id_), {withdrawn.alarm for withdrawn in at.retained.out_of_service}
    if cause is None or (kind == BACK_IN_SERVICE and id_ not in out):
        return Reason("no_such_alarm", {"alarm": id_})
    if not cause.may_be_suppressed:
        return Reason("never_shelved", {"alarm": id_})
    if kind == OUT_OF_SERVICE and not at.command.arguments.get("note", "").strip():
        return Reason("out_of_service_wants_a_note", {"alarm": id_})
    return None
