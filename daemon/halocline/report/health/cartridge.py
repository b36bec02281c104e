"""The pre-filter: pressure lost in its cartridge now, and when it is due.

A cartridge that is blocked by a share x loses drop = clean/(1 − x)², so 1/√drop falls in proportion to the dirt. Dirt
comes unevenly. A filter for two unknowns, 1/√drop and its fall an hour; a change that was not noted shows as a fall of
the drop itself.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, median

UNEVEN = 0.4
"""Dirt of one run: standard deviation over its mean (common practice: harbours and passages differ by as much)."""
LIFE_H, LIFE_DOUBT = 90.0, 0.8
"""A cartridge lasts some hundred hours of a small plant; log of the life has this doubt (common practice)."""
LEAST_DROP_BAR = 0.01
FRESH = 0.7
"""A drop that falls by this factor is a new cartridge."""
LEAST_FALL_BAR = 0.03
CLEAN_BAR, CLEAN_DOUBT = 0.07, 0.5


@dataclass(frozen=True, slots=True)
class Cartridge:
    """`level` is 1/√drop now and falls by `pace` an hour: means and covariance. `noise_bar` of one reading."""

    level: float
    pace: float
    covariance: tuple[float, float, float]
    noise_bar: float
    since_h: float
    periods: int
    unlogged: tuple[int, ...]


def changes(hours: Sequence[float], drops: Sequence[float], logged_h: Sequence[float]) -> tuple[list[int], list[int]]:
    """Places in `drops` where a new cartridge begins: all, and those that were not noted."""
    logged = {next((i for i, h in enumerate(hours) if h >= at), len(hours)) for at in logged_h}
    found = {0} | {place for place in logged if place < len(hours)}
    unlogged = []
    for i in range(2, len(drops)):
        begin = max(place for place in found if place <= i)
        if i - begin < 2:
            continue
        before = median(drops[max(begin, i - 3) : i])
        after = fmean(drops[i : i + 2])
        if max(after, drops[i]) < FRESH * before and before - max(after, drops[i]) > LEAST_FALL_BAR:
            found.add(i)
            unlogged.append(i)
    return sorted(found), unlogged


def cartridge(
    hours: Sequence[float], drops: Sequence[float], logged_h: Sequence[float], now_h: float, run_h: float
) -> Cartridge | None:
    """None without a reading. `hours` are running hours of the readings, in order; `run_h` how long the last run was.

    Dirt of a run may settle while it runs or show at the next start: half a run's dirt is added, and doubted.
    """
    if not hours:
        return None
    begins, unlogged = changes(hours, drops, logged_h)
    noise = _noise(drops, begins)
    clean = [fmean(drops[b : b + 2]) for b in begins[1:]]
    clean_bar, clean_doubt = (median(clean), 0.25) if clean else (CLEAN_BAR, CLEAN_DOUBT)
    life_h, doubt = LIFE_H, LIFE_DOUBT
    state: tuple[float, float, tuple[float, float, float]] = (0.0, 0.0, (0.0, 0.0, 0.0))
    for begin, end in zip(begins, [*begins[1:], len(hours)], strict=True):
        level0 = clean_bar**-0.5
        span = max(level0 - 0.5**-0.5, 0.5)
        pace = span / life_h
        first = drops[begin] if begin == 0 else clean_bar
        start = (max(first, LEAST_DROP_BAR)) ** -0.5
        variance = (level0 * (0.5 if begin == 0 else 0.5 * clean_doubt)) ** 2
        state = _follow(hours[begin:end], drops[begin:end], start, variance, pace, (doubt * pace) ** 2, noise)
        seen = end - begin
        if seen >= 4 and state[1] > 0:
            # The boat's own waters: the next cartridge begins with what this one taught.
            share = state[2][2] ** 0.5 / state[1]
            life_h, doubt = min(max(span / state[1], 5.0), 1000.0), min(max(math.hypot(share, 0.35), 0.3), LIFE_DOUBT)
    level, pace, (v11, v12, v22) = state
    ahead = max(now_h - hours[-1], 0.5 * run_h)
    level -= pace * ahead
    v11 += ahead * ahead * v22 - 2 * ahead * v12 + (0.8 * pace * ahead) ** 2
    v12 -= ahead * v22
    return Cartridge(level, pace, (v11, v12, v22), noise, hours[begins[-1]], len(hours) - begins[-1], tuple(unlogged))


def _noise(drops: Sequence[float], begins: Sequence[int]) -> float:
    """Of one reading, from bends of the course that no cartridge makes."""
    bends = [
        abs(drops[i + 1] - 2 * drops[i] + drops[i - 1])
        for i in range(1, len(drops) - 1)
        if not any(i - 1 < b <= i + 1 for b in begins) and drops[i] < 0.25
    ]
    return max(median(bends) / 0.6745 / math.sqrt(6.0), 0.003) if len(bends) >= 4 else 0.01


def _follow(
    hours: Sequence[float],
    drops: Sequence[float],
    level: float,
    level_variance: float,
    pace: float,
    pace_variance: float,
    noise_bar: float,
) -> tuple[float, float, tuple[float, float, float]]:
    v11, v12, v22 = level_variance, 0.0, pace_variance
    last_h = hours[0]
    for h, drop in zip(hours, drops, strict=True):
        passed = max(h - last_h, 0.0)
        last_h = h
        level -= pace * passed
        v11 += passed * passed * v22 - 2 * passed * v12 + (UNEVEN * pace * passed) ** 2
        v12 -= passed * v22
        expected = max(level, 0.8) ** -2
        # One reading of the drop is that of the level by the slope at what is expected.
        bar = max(drop, LEAST_DROP_BAR, 0.5 * expected)
        seen = bar**-0.5
        sd = 0.5 * min(max(expected, bar), 2 * bar) ** -1.5 * noise_bar
        s = v11 + sd * sd
        k1, k2 = v11 / s, v12 / s
        off = seen - level
        level += k1 * off
        pace = max(pace + k2 * off, 1e-4)
        v22 -= k2 * v12
        v12 -= k1 * v12
        v11 -= k1 * v11
    return level, pace, (v11, v12, max(v22, 1e-10))
