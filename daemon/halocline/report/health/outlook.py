"""What flow, salt passage and pressure drop have become, under all stories by their likelihood."""

import math
from collections.abc import Sequence
from statistics import fmean
from typing import Any

from halocline.report.health import draws
from halocline.report.health.bends import PLACES
from halocline.report.health.film import Pair
from halocline.report.health.fit import SLOW_H, Component, Fit
from halocline.report.health.forecast import NO_STEADY_RUN, Forecast, Trajectory, not_enough
from halocline.report.health.linear import dot
from halocline.report.health.narrowing import narrowed_by
from halocline.report.health.seen import Seen
from halocline.report.health.shapes import Shape
from halocline.report.health.signals import LEAST_PERIODS
from halocline.report.health.stories import NOTHING

BASELINE_H = 10.0
LAW_DOUBT = 0.006
"""No change follows a course exactly: so much of it is doubted."""
WANDERS_G_KG = 0.5
"""A sea that wanders by more is another than was entered, and is taken off."""
SURELY = 0.8
"""So likely a sea has to wander before it is said to have been taken off."""
DRIFTS = frozenset({"cell", "meter", "zero", "span"})
"""Causes that a figure as read has in it, whatever the story that they are part of is called."""
DROP_SIZES_BAR = (0.03, 0.15)
DROP_LAW_DOUBT = 0.05
"""How the drop grows with what lies in the channel is known less well."""


def flow_and_salt(forecast: Forecast, fit: Fit | None, since: int) -> dict[str, Any]:
    """Both on the reference day. `since`: steady runs since the baseline began."""
    if fit is None:
        why = f"{since} of the {LEAST_PERIODS} steady runs that are needed"
        if since >= LEAST_PERIODS:
            why = "the readings of these runs allow no comparison"
        return {name: not_enough(name, why) for name in ("flow", "salt_passage")}
    begin_h = forecast.begin_h
    without_sea = sea_is_off(fit)
    basis = "corrected" if without_sea or _share_of_zero(fit) > 0.5 else "as_read"
    cell_now = sum(size for h, size in fit.data.steps if begin_h < forecast.now_h and h >= begin_h)
    flows, salts, stories = [], [], []
    base_h = [begin_h + x * BASELINE_H / 5.0 for x in range(6)]
    chosen = draws.pick([c.weight for c in fit.components], draws.COUNT)
    for place, z in zip(chosen, draws.spread(draws.COUNT, 6 + len(PLACES)), strict=True):
        c = fit.components[place]
        change = pair(c.mean, c.covariance, z[0], z[1])
        bends = [] if c.bent is None else c.bent.drawn(change, z[6:])
        slow = pair(_slow_at(c, change, bends), c.slow.covariance, z[2], z[3])
        law = (1.0 + LAW_DOUBT * z[4], 1.0 + LAW_DOUBT * z[5])
        parts = _parts(fit, c, change, bends, without_sea=without_sea)
        of_flow = [(u * law[0], share) for (u, _), share in parts]
        of_salt = [(u * law[0] + w * law[1], share) for (u, w), share in parts]
        stories.append(NOTHING if c.chapter is None else c.chapter.story.name)
        flows.append(_relative(of_flow, slow[0], 0.0, base_h))
        salts.append(_relative(of_salt, slow[0] + slow[1], cell_now, base_h))
    return {
        name: {
            **forecast.of(name, courses, basis),
            "narrowed_by": narrowed_by(stories, [course(forecast.now_h) for course in courses]),
        }
        for name, courses in (("flow", flows), ("salt_passage", salts))
    }


def sea_is_off(fit: Fit) -> bool:
    """Whether another sea than was entered has been taken off, and no drift of a sensor is in the figure."""
    wanders = sum(c.weight for c in fit.components if c.sea.wanders or c.sea.noise.sea_g_kg > WANDERS_G_KG)
    drifts = sum(c.weight for c in fit.components if c.chapter and not DRIFTS.isdisjoint(c.chapter.story.causes))
    other_sea = sum(c.weight for c in fit.components if c.chapter and c.chapter.story.name == "sea_salinity")
    return other_sea > 0.5 or (wanders > SURELY and drifts < 0.2)


def _share_of_zero(fit: Fit) -> float:
    return sum(
        c.weight
        for c in fit.components
        if c.chapter and c.chapter.story.name == "pressure_drift" and "zero" in c.chapter.scalars
    )


def _told(fit: Fit, component: Component, cu: float, cw: float, *, without_sea: bool) -> Pair:
    """A change of the periods as it is on the reference day."""
    chapter = component.chapter
    if chapter is None:
        return 0.0, 0.0
    name = chapter.story.name
    if without_sea and name == "sea_salinity":
        return 0.0, 0.0
    told = fit.data.effects.told.get(name)
    if told is None:
        return cu, cw
    (cause,) = chapter.story.causes
    of = fit.data.effects.trend.get(cause, (0.0, 0.0))
    size = cu / of[0] if of[0] else 0.0
    return told[0] * size, told[1] * size


def _slow_at(c: Component, change: Pair, bends: Sequence[float]) -> Pair:
    """Mean of the slow drifts of log flow and log salt beside this change."""
    by = c.slow.by
    found = [at0 - row[0] * change[0] - row[1] * change[1] for at0, row in zip(c.slow.at0, by, strict=True)]
    if c.bent is not None:
        found = [mean - dot(of, bends) for mean, of in zip(found, c.bent.slow, strict=True)]
    return found[0], found[1]


def _parts(
    fit: Fit, c: Component, change: Pair, bends: Sequence[float], *, without_sea: bool
) -> list[tuple[Pair, Trajectory]]:
    """The change of log flow and log salt as it is on the reference day: how much, and its course; then that of its
    bends, which have a size of their own."""
    shape, bent = c.shape, c.bent
    if shape is None:
        return []
    parts: list[tuple[Pair, Trajectory]] = [(_told(fit, c, *change, without_sea=without_sea), shape.at)]
    if bent is not None:
        parts.append((_told(fit, c, *bent.direction, without_sea=without_sea), lambda h: bent.added(bends, h)))
    return parts


def _relative(
    parts: Sequence[tuple[float, Trajectory]], slow: float, jump: float, base_h: Sequence[float]
) -> Trajectory:
    """Change over the mean of the baseline, of a log that is the sum of these parts beside a slow drift. `jump`: what
    a calibration has changed since."""

    def log_at(h: float) -> float:
        return slow * (h - base_h[0]) / SLOW_H + sum(size * course(h) for size, course in parts)

    base = fmean(math.exp(bounded(log_at(h))) for h in base_h)
    return lambda h: math.exp(bounded(jump + log_at(h))) / base - 1.0


def pressure_drop(forecast: Forecast, fit: Fit | None, has: Seen) -> dict[str, Any]:
    """Of the element, over its baseline."""
    if fit is None or "drop" not in fit.scalars:
        if any(k.period.brine_pressure_bar is not None for k in has.kept):
            return not_enough("pressure_drop", "fewer steady runs than are needed")
        if has.is_fitted("brine_pressure"):
            return not_enough("pressure_drop", NO_STEADY_RUN)
        return not_enough("pressure_drop", "the pressure before the regulator is not measured", measured=False)
    options: list[tuple[float, Shape | None, float, float]] = [(math.log(0.5), None, 0.0, 0.0)]
    ramps = [course for course in fit.seas[0].courses if course.shape.kind == "ramp"]
    for course in ramps:
        s, r = course.scalars["drop"]
        for size in DROP_SIZES_BAR:
            p = size**-2
            gain = 0.5 * (r * r / (s + p) - math.log((s + p) / p))
            odds = math.log(0.5 / len(ramps) / len(DROP_SIZES_BAR))
            options.append((gain + odds, course.shape, r / (s + p), (s + p) ** -0.5))
    top = max(o[0] for o in options)
    options = sorted((o for o in options if o[0] > top - 12), key=lambda o: -o[0])
    total = sum(math.exp(o[0] - top) for o in options)
    weights = [math.exp(o[0] - top) / total for o in options]
    drifts = [fit.scalars["drop"].drift(shape) for _, shape, _, _ in options]
    courses = []
    for place, z in zip(draws.pick(weights, draws.COUNT), draws.spread(draws.COUNT, 3), strict=True):
        _, shape, mean, sd = options[place]
        change = mean + sd * z[0]
        at0, by, doubt = drifts[place]
        slow = at0 - by * change + doubt * z[1]
        courses.append(_of_drop(shape, change * (1.0 + DROP_LAW_DOUBT * z[2]), slow, forecast.begin_h))
    return forecast.of("pressure_drop", courses, "as_read")


def _of_drop(shape: Shape | None, size: float, slow: float, begin_h: float) -> Trajectory:
    """The drop's change, bar, over running hours: a ramp of that size or none, and a slow drift, from the mean of the
    baseline's first ten hours on."""

    def ramp(h: float) -> float:
        return 0.0 if shape is None else size * shape.at(h)

    base = fmean(ramp(begin_h + 2.0 * x) for x in range(6))
    return lambda h: ramp(h) - base + slow * (h - begin_h) / SLOW_H


def bounded(x: float) -> float:
    """A logarithm within what any plant shows, so that no draw overflows."""
    return min(max(x, -3.0), 3.0)


def pair(mean: Pair, covariance: tuple[float, float, float], one: float, two: float) -> Pair:
    """Two values with that mean and covariance, of two independent standard normal ones."""
    a, b, d = covariance
    l11 = math.sqrt(max(a, 0.0))
    l21 = b / l11 if l11 > 0 else 0.0
    l22 = math.sqrt(max(d - l21 * l21, 0.0))
    return mean[0] + l11 * one, mean[1] + l21 * one + l22 * two
