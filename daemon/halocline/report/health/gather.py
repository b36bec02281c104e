"""All that the fit sees: periods on the reference day, the other signals, what each cause does to them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import fmean, median

from halocline.report.health.film import FilmModel, Normal, Pair, Point
from halocline.report.health.fit import SEA_CHANGE_G_KG, Data, outliers
from halocline.report.health.seen import RunningHours, Seen
from halocline.report.health.signals import Used, scalars, sea_read
from halocline.report.health.stories import Effects

LEAST_NORMALS = 3
"""With fewer periods there is no before and after to look at."""
PUBLIC_WHY = {"no_minutes": "too_short", "not_settled": "pressure_moved"}
"""What a period's own word is called in the answer, where it has another."""


@dataclass(frozen=True, slots=True)
class Gathered:
    """`data` is None while there is too little. `set_aside`: number of a run and why. `places`: those of the runs that
    are used; `feeds`: of every run, L/h."""

    data: Data | None
    set_aside: list[tuple[int, str]]
    feeds: Sequence[float]
    places: Sequence[int] = ()


def gathered(has: Seen, hours: RunningHours, model: FilmModel, breaks: Sequence[float]) -> Gathered:
    """`breaks`: running hours where an element, or what a cleaning made of it, begins; the first is 0."""
    set_aside = [(k.number, PUBLIC_WHY.get(k.period.unfit, k.period.unfit)) for k in has.kept if k.period.unfit]
    feeds, measured = feeds_of(has, model.reference.feed_flow_l_h)
    normals: list[tuple[int, Normal]] = []
    near: Pair | None = None
    for i, point in _points(has, model, feeds):
        normal = model.normal(point, near)
        near = None if normal is None else (normal.log_a, normal.log_b)
        if normal is None:
            set_aside.append((has.kept[i].number, "sensor_missing"))
        else:
            normals.append((i, normal))
    if len(normals) < LEAST_NORMALS:
        return Gathered(None, set_aside, feeds)
    steps = _cell_steps(has, hours)
    level = [_taken_off(n, sum(size for h, size in steps if hours.middle_h[i] > h)) for i, n in normals]
    begins = {next((k for k, (i, _) in enumerate(normals) if hours.middle_h[i] >= h), len(normals)) for h in breaks[1:]}
    odd = outliers(level, begins)
    set_aside += [(has.kept[normals[k][0]].number, why) for k, why in odd.items()]
    places = [i for k, (i, _) in enumerate(normals) if k not in odd]
    kept = [n for k, n in enumerate(level) if k not in odd]
    if len(kept) < LEAST_NORMALS:
        return Gathered(None, set_aside, feeds)
    middle = kept[len(kept) // 2]
    day_drop_bar = model.day_drop_bar((middle.log_a, middle.log_b))
    used = Used(has, hours, places, kept, breaks, day_drop_bar)
    sea = sea_read(used, model.reference)
    seen_feeds = [seen_feed(has, i) for i in range(len(has.kept))]
    data = Data(
        hours=[hours.middle_h[i] for i in places],
        days=[has.kept[i].period.at_s / 86400.0 for i in places],
        into_s=[has.kept[i].period.into_s for i in places],
        conductivity=[has.kept[i].period.product_conductivity_us_cm or 0.0 for i in places],
        normals=kept,
        now_h=hours.now_h,
        breaks=breaks,
        steps=steps,
        scalars=scalars(used, model.reference, seen_feeds, sea),
        effects=_effects(model, kept, day_drop_bar, measured_feed=measured),
        day_drop_bar=day_drop_bar,
        # One further off is another sea: the story of it tells that, and no pull within this one.
        sea=[read for read in sea if abs(read.over_g_kg) < SEA_CHANGE_G_KG],
    )
    return Gathered(data, set_aside, feeds, places)


def _points(has: Seen, model: FilmModel, feeds: Sequence[float]) -> list[tuple[int, Point]]:
    """Place of each steady period and what was measured in it; the zero that the sender showed at rest is off."""
    rests = [r for k in has.kept if (r := k.period.rest_vessel_pressure_bar) is not None]
    usual_rest = median(rests) if rests else 0.0
    found = []
    for i, each in enumerate(has.kept):
        p = each.period
        if p.unfit is not None:
            continue
        rest = p.rest_vessel_pressure_bar if p.rest_vessel_pressure_bar is not None else usual_rest
        point = Point(
            p.sea_salinity_g_kg or model.reference.salinity_g_kg,
            p.sea_temperature_c or 0.0,
            (p.vessel_pressure_bar or 0.0) - rest,
            feeds[i],
            p.product_flow_l_h or 0.0,
            p.product_conductivity_us_cm or 0.0,
        )
        found.append((i, point))
    return found


def seen_feed(has: Seen, i: int) -> float | None:
    """Feed of a run by both meters, L/h."""
    p = has.kept[i].period
    if p.brine_flow_l_h is None or p.product_flow_l_h is None:
        return None
    return p.brine_flow_l_h + p.product_flow_l_h


def feeds_of(has: Seen, usual_l_h: float) -> tuple[list[float], bool]:
    """Feed of each run, L/h: by both meters, smoothed over neighbours, else the settings'; whether any is measured."""
    found = [seen_feed(has, i) for i in range(len(has.kept))]
    feeds, measured = [], False
    for i, each in enumerate(has.kept):
        near = [f for f in found[max(0, i - 3) : i + 4] if f is not None]
        if len(near) >= 3:
            measured = True
            feeds.append(median(near))
        else:
            feeds.append(each.period.feed_flow_l_h or usual_l_h)
    return feeds, measured


def _cell_steps(has: Seen, hours: RunningHours) -> list[tuple[float, float]]:
    """Running hours and sizes (log) of calibrations of the conductivity cell."""
    found = []
    for wall_s, channel, details in has.calibrations:
        before, after = details.get("before") or [], details.get("after") or []
        if channel == "product_conductivity" and before and after and before[-1] > 0 and after[-1] > 0:
            found.append((hours.at(wall_s), math.log(after[-1] / before[-1])))
    return found


def _taken_off(normal: Normal, size: float) -> Normal:
    return normal if not size else replace(normal, log_salt=normal.log_salt - size)


def _effects(model: FilmModel, normals: Sequence[Normal], day_drop_bar: float, *, measured_feed: bool) -> Effects:
    """What each cause does, by the physics of this plant in the later half of its periods."""
    middle = normals[len(normals) // 2]
    logs = (middle.log_a, middle.log_b)
    day = model.day_slopes(logs)
    base = model.on_the_day(logs)
    press = model.on_the_day(logs, pressure_bar=-0.5)
    bar = model.reference.pressure_bar
    late = normals[len(normals) // 2 :]

    def mean(pairs: Sequence[Pair]) -> Pair:
        return fmean(u for u, _ in pairs), fmean(w for _, w in pairs)

    pressure = mean([n.slopes["pressure"] for n in late])
    recovery = math.exp(base[0]) / model.reference.feed_flow_l_h
    nothing = (0.0, 0.0)
    return Effects(
        trend={
            "water": (day[0][0], day[1][0]),
            "salt": (day[0][1], day[1][1]),
            "meter": mean([(n.mix[0][0], n.mix[1][0]) for n in late]),
            "cell": (0.0, 1.0),
            # A sender that reads high by a share: the true pressure is lower by it.
            "span": (-pressure[0] * bar, -pressure[1] * bar),
            "sea": mean([n.slopes["salinity"] for n in late]),
            "feed": nothing if measured_feed else mean([n.slopes["feed"] for n in late]),
        },
        scalars={
            "channel": {"drop": 1.3 * day_drop_bar},
            "span": {"drop": bar, "gauge": bar},
            "zero": {"zero": 1.0, "gauge": 1.0},
            "feed": {"feed": 1.0},
            "meter": {"tank": -1.0, "feed": recovery, "bucket": 1.0},
            "cell": {"hand": 1.0},
            "sea": {"sea": 1.0},
        },
        told={
            "flow_meter_drift": (1.0, 0.0),
            "pressure_drift": ((press[0] - base[0]) / 0.5 * bar, (press[1] - base[1]) / 0.5 * bar),
            "worn_pump": nothing,
        },
    )
