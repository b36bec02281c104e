"""From courses that a quantity may take to what is told of it: change, rate, hours and dates, each with its band."""

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from halocline.plant.words.moments import date_of
from halocline.report.health import draws
from halocline.report.health.seen import RunningHours, Seen

THRESHOLDS = {"flow": -0.15, "salt_passage": 0.30, "pressure_drop": 0.10, "filter_drop": 0.50}
UNITS = {"flow": "1", "salt_passage": "1", "pressure_drop": "bar", "filter_drop": "bar"}
LATEST_H = 10.0
"""The rate is that of the last ten hours."""
LATE_H = 2000.0
PACE_DAYS = 60.0
"""Dates go by how much the plant ran in these last days."""
GRID = tuple(0.0 if i == 0 else 2.0 * 1000.0 ** (i / 24.0) for i in range(25))
"""Hours ahead at which a course is looked at."""

Trajectory = Callable[[float], float]
"""Change of a quantity by running hours."""


class Forecast:
    """Of one plant at one moment; `begin_h`: running hours where the baseline begins."""

    def __init__(self, has: Seen, hours: RunningHours, begin_h: float) -> None:
        self.now_h = hours.now_h
        self.begin_h = begin_h
        self._end_s = has.at_s
        recent = [i for i, k in enumerate(has.kept) if k.ended_s > has.at_s - PACE_DAYS * 86400.0]
        days = max((has.at_s - has.kept[recent[0]].ended_s) / 86400.0, 7.0) if recent else 0.0
        ran = hours.now_h - hours.from_h[recent[0]] if recent else 0.0
        self._hours_a_day = ran / days if days else 0.0

    def of(self, name: str, courses: Sequence[Trajectory], basis: str) -> dict[str, Any]:
        """What is told of a quantity that takes one of these courses, all equally likely."""
        now_h = self.now_h
        past_h = max(now_h - LATEST_H, self.begin_h)
        span = max(now_h - past_h, 1e-3)
        change = [course(now_h) for course in courses]
        rate = [(now - course(past_h)) / span * 100.0 for now, course in zip(change, courses, strict=True)]
        reached = [reached_in(course, now_h, THRESHOLDS[name]) for course in courses]
        return self.said(name, change, rate, reached, basis)

    def said(
        self, name: str, change: Sequence[float], rate: Sequence[float], reached: Sequence[float], basis: str
    ) -> dict[str, Any]:
        """The same of draws of each."""
        hours = _hours_band(reached)
        return {
            "measured": True,
            "enough": True,
            "why": None,
            "unit": UNITS[name],
            "basis": basis,
            "change": _rounded(draws.band(change), 5),
            "rate_per_100h": _rounded(draws.band(rate), 5),
            "threshold": THRESHOLDS[name],
            "reached_in_h": hours,
            "reached_on": {
                "estimate": self._date(hours["estimate"]),
                "i80": [self._date(h) for h in hours["i80"]],
                "i90": [self._date(h) for h in hours["i90"]],
            },
        }

    def _date(self, h: float | None) -> str | None:
        pace = self._hours_a_day
        if h is None or pace <= 0.0 or h / pace > 36500:
            return None
        return date_of(self._end_s + h / pace * 86400.0)


NO_STEADY_RUN = "no steady run yet: one makes water for ten minutes without a change, from 12 minutes after its start"


def not_enough(name: str, why: str, *, measured: bool = True) -> dict[str, Any]:
    """What is told of a quantity of which too little is known."""
    return {"measured": measured, "enough": False, "why": why, "unit": UNITS[name], "basis": "as_read"}


def reached_in(course: Trajectory, now_h: float, threshold: float) -> float:
    """Hours from now until the course is at the threshold: 0 where it is there, infinite where not within `LATE_H`."""
    sign = math.copysign(1.0, threshold)
    last_h, last = 0.0, 0.0
    for ahead in GRID:
        off = sign * (course(now_h + ahead) - threshold)
        if off >= 0.0:
            if ahead == 0.0:
                return 0.0
            low, high = last_h, ahead
            below, above = last, off
            for _ in range(4):
                middle = low + (high - low) * below / (below - above)
                at = sign * (course(now_h + middle) - threshold)
                if at >= 0.0:
                    high, above = middle, at
                else:
                    low, below = middle, at
            return high
        last_h, last = ahead, off
    return math.inf


def _hours_band(reached: Sequence[float]) -> dict[str, Any]:
    band = draws.band([min(h, 1e9) if h <= LATE_H else math.inf for h in reached])

    def plain(value: float) -> float | None:
        return None if not math.isfinite(value) or value > LATE_H else round(value, 2)

    return {
        "estimate": plain(band["estimate"]),
        "i80": [plain(v) for v in band["i80"]],
        "i90": [plain(v) for v in band["i90"]],
    }


def _rounded(band: Mapping[str, Any], digits: int) -> dict[str, Any]:
    return {
        key: [round(v, digits) for v in value] if isinstance(value, list) else round(value, digits)
        for key, value in band.items()
    }
