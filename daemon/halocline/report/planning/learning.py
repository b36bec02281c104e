"""Use of the tank by the hour of the day, learned from its level with the runs taken out."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean, stdev
from typing import NamedTuple

USUAL_DAY = (1, 1, 1, 1, 1, 2, 5, 9, 8, 4, 4, 4, 6, 5, 3, 2, 3, 4, 8, 9, 8, 6, 3, 2)
"""Use by the hour before anything is learned, in parts of their sum (assumed: meals, mornings and evenings)."""
BELIEVED_DAYS = 3.0
"""The assumed day counts as so many measured ones: a level sensor's noise is as large as an hour's use."""
LEAST_DAYS = 4
MOST_DAYS = 30
FILLED_PART = 0.02
"""A rise of so much of the tank in an hour is a hose from ashore, not less than no use."""
AFTER_RUN_S = 1800.0
"""The flush takes water for some minutes after a run, and the float settles."""
WHOLE_DAY_H = 18
"""A day of which so many hours are known tells a day's use; the rest of it is filled up with the usual ones."""
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
    found = []
    for begin_s, level in sorted(levels_l.items()):
        after = levels_l.get(begin_s + 3600)
        busy = any(start < begin_s + 3600 and end + AFTER_RUN_S > begin_s for start, end in runs_s)
        if after is None or busy or after - level > FILLED_PART * capacity_l:
            continue
        local_s = begin_s + offset_s
        found.append(HourOfUse(int(local_s // 86400), int(local_s % 86400 // 3600), level - after))
    return found


def learned(hours: Iterable[HourOfUse]) -> LearnedUse | None:
    """What the hours tell of a day; None where there are too few days."""
    by_day: dict[int, dict[int, float]] = {}
    for each in hours:
        by_day.setdefault(each.day, {})[each.hour] = each.litres
    whole = [day for day, known in sorted(by_day.items()) if len(known) >= WHOLE_DAY_H][-MOST_DAYS:]
    if len(whole) < LEAST_DAYS:
        return None
    shape = usual_shares()
    rough = fmean(sum(by_day[day].values()) / max(sum(shape[hour] for hour in by_day[day]), 1e-9) for day in whole)
    usual = []
    for hour in range(24):
        seen = [by_day[day][hour] for day in whole if hour in by_day[day]]
        usual.append(max((sum(seen) + BELIEVED_DAYS * rough * shape[hour]) / (len(seen) + BELIEVED_DAYS), 0.0))
    totals = [sum(by_day[day].get(hour, usual[hour]) for hour in range(24)) for day in whole]
    mean, spread, n = fmean(totals), stdev(totals), len(totals)
    if mean <= 0.0:
        return None
    doubt = quantile(T_95, NORMAL_95, n - 1) * spread / math.sqrt(n)
    high = mean + quantile(T_90, NORMAL_90, n - 1) * spread * math.sqrt(1 + 1 / n)
    total = sum(usual) or 1.0
    return LearnedUse(
        days=n,
        l_day=mean,
        l_day_low=max(mean - doubt, 0.0),
        l_day_high=mean + doubt,
        by_hour=tuple(each / total for each in usual),
        high_factor=high / mean,
    )


def quantile(table: Sequence[float], normal: float, freedom: int) -> float:
    """Student's t from its table, and beyond it the first term towards the normal distribution."""
    if freedom <= len(table):
        return table[max(freedom, 1) - 1]
    return normal + (normal**3 + normal) / (4 * freedom)
