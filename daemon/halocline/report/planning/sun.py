"""The charge of the hours ahead: from a forecast where there is one, else an assumed usual day."""

import math
from collections.abc import Sequence

SUNRISE_H, SUNSET_H = 7.0, 19.0
"""Of the boat's clock (assumed): flat panels hardly charge before and after."""


def usual_day_w(sun_wh_day: float, begin_s: float, hours: int, offset_s: float) -> list[float]:
    """Watts in each hour from the begin: a half sine between sunrise and sunset that gives the day's Wh."""
    return [sun_wh_day * _share(((begin_s + offset_s) / 3600 + i) % 24) for i in range(hours)]


def by_day_w(from_s: float, sun_wh_day: Sequence[float], begin_s: float, hours: int, offset_s: float) -> list[float]:
    """The same where each day has its own Wh, the first being that of `from_s`; shorter where the days end before."""
    first = (from_s + offset_s) // 86400
    found = []
    for i in range(hours):
        clock_s = begin_s + offset_s + i * 3600
        day = int(clock_s // 86400 - first)
        if day >= len(sun_wh_day):
            break
        found.append(sun_wh_day[day] * _share(clock_s / 3600 % 24) if day >= 0 else 0.0)
    return found


def _share(clock_h: float) -> float:
    """The part of a day's sun in the hour that begins at this clock time."""
    low, high = max(clock_h, SUNRISE_H), min(clock_h + 1, SUNSET_H)
    if high <= low:
        return 0.0
    turn = math.pi / (SUNSET_H - SUNRISE_H)
    return (math.cos((low - SUNRISE_H) * turn) - math.cos((high - SUNRISE_H) * turn)) / 2


def foreseen_w(from_s: float, sun_w: Sequence[float], begin_s: float, hours: int) -> list[float]:
    """The hours of a forecast that begins at another moment, shared between those from `begin_s` on; shorter where it
    ends before."""
    found = []
    for i in range(hours):
        place = (begin_s - from_s) / 3600 + i
        whole = math.floor(place)
        if whole < 0:
            found.append(0.0 if whole + 1 < 0 else sun_w[0] * (place - whole))
        elif whole >= len(sun_w):
            break
        else:
            after = sun_w[whole + 1] if whole + 1 < len(sun_w) else sun_w[whole]
            found.append(sun_w[whole] * (1 - (place - whole)) + after * (place - whole))
    return found
