"""Moments as people read them: in the zone of the boat's computer, whose name stands beside every time of day.

Nothing else tells a time to people, so that a page, a sheet, a list and a message never differ by a zone.
"""

from datetime import datetime

UNKNOWN_TIME = "unknown time"
WEEKDAYS = ("Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
"""Words of this program, not of the computer's language."""


def minute_of(wall_s: float | None) -> str:
    """Unix seconds as date and minute: 2026-09-21 14:15 CEST."""
    return _told(wall_s, "%Y-%m-%d %H:%M {zone}")


def day_of(wall_s: float | None) -> str:
    """Unix seconds of the days about now, where the day of the week says more than the year: Mon 21 Sep 14:15 CEST."""
    told = _told(wall_s, "%w %-d %m %H:%M {zone}").split(maxsplit=3)
    if len(told) < 4:
        return UNKNOWN_TIME
    weekday, day, month, time = told
    return f"{WEEKDAYS[int(weekday)]} {day} {MONTHS[int(month) - 1]} {time}"


def second_of(wall_s: float | None) -> str:
    """Unix seconds as date and second, where the order of events matters: 2026-09-21 14:15:07 CEST."""
    return _told(wall_s, "%Y-%m-%d %H:%M:%S {zone}")


def time_of_day(wall_s: float | None) -> str:
    """Unix seconds as a time of today or tomorrow: 14:15 CEST."""
    return _told(wall_s, "%H:%M {zone}")


def date_of(wall_s: float | None) -> str:
    """Unix seconds as a date."""
    return _told(wall_s, "%Y-%m-%d")


def _told(wall_s: float | None, form: str) -> str:
    if wall_s is None:
        return UNKNOWN_TIME
    try:
        there = datetime.fromtimestamp(wall_s).astimezone()
        return there.strftime(form).format(zone=_zone(there))
    except (ValueError, OverflowError, OSError):
        return UNKNOWN_TIME


def _zone(there: datetime) -> str:
    """Many zones have no name but their distance from UTC, which alone would look like a part of the time."""
    name = there.tzname() or ""
    if name[:1].isalpha():
        return name
    distance = f"{there:%z}"
    return f"UTC{distance[:3]}{'' if distance[3:5] == '00' else f':{distance[3:5]}'}"
