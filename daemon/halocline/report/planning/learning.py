"""Use of the tank by the hour of the day, learned from its level with the runs taken out."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean, median, stdev, variance
from typing import NamedTuple

USUAL_DAY = (1, 1, 1, 1, 1, 2, 5, 9, 8, 4, 4, 4, 6, 5, 3, 2, 3, 4, 8, 9, 8, 6, 3, 2)
"""Use by the hour before anything is learned, in parts of their sum (assumed: meals, mornings and evenings)."""
BELIEVED_DAYS = 3.0
"""The assumed day counts as so many measured ones: a level sensor's noise is as large as an hour's use."""
LEAST_DAYS = 4
MOST_DAYS = 30
FILLED_PART = 0.02
"""A rise of so much of the tank in an hour is a hose from ashore, not less than no use."""
NOISE_SPREADS = 5.0
"""… if it also stands out so far from what the level does in other hours: at sea a sender swings, and who left its
rises out and kept its falls would learn too much use."""
TO_SPREAD = 1.4826
"""From the median of departures to the standard deviation of a normal distribution (any table of statistics)."""
AFTER_RUN_S = 1800.0
"""The flush takes water for some minutes after a run, and the float settles."""
LEVEL_S = 900.0
"""A level is the mean over so long from its moment on, as the record sums it up."""
WHOLE_DAY_H = 18
"""A day of which so many hours are known tells a day's use; the rest of it was like these."""
LEAST_SHARE = 0.25
"""Hours that usually hold less of a day's use tell nothing of the rest of it (chosen)."""
STRETCHES = 4
"""The days are looked at in so many stretches: guests and habits last for days, and days that resemble their
neighbours tell less of the mean than as many independent ones. Of more stretches each would be shorter than a visit
(chosen by simulation)."""
HABIT_DAYS = 5
CHANGED = 3.7
"""Habits have changed where the days before and after differ by so many standard errors; not sooner, for a visit is
no change of habits (chosen by simulation)."""
HIGH_QUANTILE = 0.9
T_90 = (3.078, 1.886, 1.638, 1.533, 1.476, 1.440, 1.415, 1.397, 1.383, 1.372, 1.363, 1.356, 1.350, 1.345, 1.341, 1.337)
"""The 90 % quantile of Student's t with 1, 2, 3 … degrees of freedom (any table of statistics)."""
T_95 = (6.314, 2.920, 2.353, 2.132, 2.015, 1.943, 1.895, 1.860, 1.833, 1.812, 1.796, 1.782, 1.771, 1.761, 1.753, 1.746)
NORMAL_90, NORMAL_95 = 1.282, 1.645


class HourOfUse(NamedTuple):
    """Litres taken in one hour of one day; the hour is that of the boat's clock."""

    day: int
    hour: int
    litres: float


@dataclass(frozen=True, slots=True)
class LearnedUse:
    """A usual day, the interval that holds its mean in nine cases of ten, and the day that one in ten exceeds."""

    days: int
    l_day: float
    l_day_low: float
    l_day_high: float
    by_hour: tuple[float, ...]
    high_factor: float


def usual_shares() -> tuple[float, ...]:
    """The assumed day: shares that add up to 1."""
    total = sum(USUAL_DAY)
    return tuple(part / total for part in USUAL_DAY)


def hours_of_use(
    levels_l: Mapping[float, float],
    runs_s: Sequence[tuple[float, float]],
    capacity_l: float,
    offset_s: float,
) -> list[HourOfUse]:
    """What was taken in each hour at whose both ends the level is known, and in which no run was.

    levels_l: litres by the Unix seconds of whole hours. offset_s: what the boat's clock is ahead of UTC. Falls and
    rises both count, for a sensor's noise goes both ways; a rise as from a hose does not.
    """
    known = []
    for begin_s, level in sorted(levels_l.items()):
        after = levels_l.get(begin_s + 3600)
        until_s = begin_s + 3600 + LEVEL_S
        busy = any(start < until_s and end + AFTER_RUN_S > begin_s for start, end in runs_s)
        if after is not None and not busy:
            known.append((begin_s + offset_s, level - after))
    if not known:
        return []
    usual = median(litres for _, litres in known)
    spread = TO_SPREAD * median(abs(litres - usual) for _, litres in known)
    filled = max(FILLED_PART * capacity_l, NOISE_SPREADS * spread)
    return [
        HourOfUse(int(local_s // 86400), int(local_s % 86400 // 3600), litres)
        for local_s, litres in known
        if -litres <= filled
    ]


def learned(hours: Iterable[HourOfUse]) -> LearnedUse | None:
    """What the hours tell of a day; None where there are too few days."""
    by_day: dict[int, dict[int, float]] = {}
    for each in hours:
        by_day.setdefault(each.day, {})[each.hour] = each.litres
    whole = [day for day, known in sorted(by_day.items()) if len(known) >= WHOLE_DAY_H][-MOST_DAYS:]
    if len(whole) < LEAST_DAYS:
        return None
    changed = _habits_since(_totals(by_day, whole)[1])
    usual, totals = _totals(by_day, whole[changed:])
    mean, n = fmean(totals), len(totals)
    if mean <= 0.0:
        return None
    many = min(STRETCHES, n)
    means = [fmean(totals[i * n // many : (i + 1) * n // many]) for i in range(many)]
    doubt = quantile(T_95, NORMAL_95, many - 1) * stdev(means) / math.sqrt(many)
    high = mean + quantile(T_90, NORMAL_90, n - 1) * stdev(totals) * math.sqrt(1 + 1 / n)
    total = sum(usual) or 1.0
    return LearnedUse(
        days=n,
        l_day=mean,
        l_day_low=max(mean - doubt, 0.0),
        l_day_high=mean + doubt,
        by_hour=tuple(each / total for each in usual),
        high_factor=high / mean,
    )


def _totals(by_day: Mapping[int, Mapping[int, float]], days: Sequence[int]) -> tuple[list[float], list[float]]:
    """The usual use of each hour, and the use of each day: its unknown hours were like the known ones of that day."""
    shape = usual_shares()
    rough = fmean(sum(by_day[day].values()) / max(sum(shape[hour] for hour in by_day[day]), 1e-9) for day in days)
    usual = []
    for hour in range(24):
        seen = [by_day[day][hour] for day in days if hour in by_day[day]]
        usual.append(max((sum(seen) + BELIEVED_DAYS * rough * shape[hour]) / (len(seen) + BELIEVED_DAYS), 0.0))
    known = [(sum(by_day[day].values()), sum(usual[hour] for hour in by_day[day])) for day in days]
    total = sum(usual)
    return usual, [litres * total / max(of_usual, LEAST_SHARE * total, 1e-9) for litres, of_usual in known]


def _habits_since(totals: Sequence[float]) -> int:
    """The place of the first day of the present habits: where the days part most clearly, if clearly enough."""
    n = len(totals)
    found = (CHANGED, 0)
    for place in range(HABIT_DAYS, n - HABIT_DAYS + 1):
        before, after = totals[:place], totals[place:]
        within = (variance(before) * (place - 1) + variance(after) * (n - place - 1)) / (n - 2)
        error = math.sqrt(within * (1 / place + 1 / (n - place)))
        found = max(found, (abs(fmean(after) - fmean(before)) / max(error, 1e-9), place))
    return found[1]


def quantile(table: Sequence[float], normal: float, freedom: int) -> float:
    """Student's t from its table, and beyond it the first term towards the normal distribution."""
    if freedom <= len(table):
        return table[max(freedom, 1) - 1]
    return normal + (normal**3 + normal) / (4 * freedom)
