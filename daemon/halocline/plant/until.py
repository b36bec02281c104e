"""`until` of a start: a time of day or a date, turned into seconds from now where the clock is known."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from halocline.plant.command_definitions import Start

FROM_CONTROL = tuple(argument.name for argument in Start.definition.arguments.values() if argument.from_control)


def with_resolved_until(arguments: Mapping[str, Any], wall_s: float | None) -> dict[str, Any]:
    """The arguments with `until` as `until_s`: `until_unknown` instead where the clock is not set, neither where
    the text is no time."""
    resolved = dict(arguments)
    for internal in FROM_CONTROL:
        resolved.pop(internal, None)
    until = resolved.get("until")
    if not isinstance(until, str):
        return resolved
    if wall_s is None:
        resolved["until_unknown"] = True
        return resolved
    seconds = seconds_until(until, datetime.fromtimestamp(wall_s).astimezone())
    if seconds is not None:
        resolved["until_s"] = seconds
    return resolved


def seconds_until(until: str, now: datetime) -> float | None:
    """Seconds from `now` (with its zone) to "18:30" (the next one) or an ISO 8601 date and time; None if neither."""
    try:
        moment = datetime.fromisoformat(until)
    except ValueError:
        return _seconds_to_time_of_day(until, now)
    if len(until) <= len("18:30:00"):
        return _seconds_to_time_of_day(until, now)
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=now.tzinfo)
    return (moment - now).total_seconds()


def _seconds_to_time_of_day(until: str, now: datetime) -> float | None:
    for form in ("%H:%M", "%H:%M:%S"):
        try:
            time_of_day = datetime.strptime(until, form).time()
        except ValueError:
            continue
        moment = datetime.combine(now.date(), time_of_day, tzinfo=now.tzinfo)
        return ((moment if moment > now else moment + timedelta(days=1)) - now).total_seconds()
    return None
