"""The answer to *how is the plant, and when does that end*: a function of what the record held at one moment."""

import json
import math
import re
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import fmean, median
from typing import Any

from halocline.physics.membrane import Membrane
from halocline.plant import words
from halocline.plant.words.moments import date_of
from halocline.report.health import draws
from halocline.report.health.cartridge import Cartridge, cartridge
from halocline.report.health.film import FilmModel, Normal, Pair, Point, Reference
from halocline.report.health.fit import Component, Data, Fit, Scalar, outliers
from halocline.report.health.periods import Kept, periods
from halocline.report.health.shapes import Shape
from halocline.report.health.stories import NOTHING, Effects
from halocline.report.public import iso

THRESHOLDS = {"flow": -0.15, "salt_passage": 0.30, "pressure_drop": 0.10, "filter_drop": 0.50}
UNITS = {"flow": "1", "salt_passage": "1", "pressure_drop": "bar", "filter_drop": "bar"}
BASELINE_H = 10.0
LATEST_H = 10.0
"""The rate is that of the last ten hours."""
LATE_H = 2000.0
LEAST_PERIODS = 6
DUE_DROP_BAR, DUE_H = 0.22, 25.0
TOLD = 0.8
REFERENCE_C = 25.0
LAW_DOUBT = 0.006
"""No change follows a course exactly: so much of it is doubted."""
WANDERS_G_KG = 0.5
"""A sea that wanders by more is another than was entered, and is taken off."""
DROP_SIZES_BAR = (0.03, 0.15)
FILTER_POWER = 1.3
"""The drop of a cartridge goes with this power of the flow (common practice)."""
FEED_SEEN, FEED_SET = 0.02, 0.03
"""How well the feed is known: by two meters, or by the settings."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What the record held at the moment that is asked for."""

    at_s: float
    kept: Sequence[Kept]
    work: Sequence[tuple[float, str, str]]
    calibrations: Sequence[tuple[float, str, Mapping[str, Any]]]
    settings: Mapping[str, Any]


def seen(connection: sqlite3.Connection, at_s: float | None) -> Seen:
    """Reads it; nothing later than `at_s`."""
    limit = math.inf if at_s is None else at_s
    kept = [each for each in periods(connection) if each.ended_s <= limit]
    work = [
        (float(wall_s), str(kind), str(note or ""))
        for wall_s, kind, note in connection.execute(
            "SELECT wall_s, kind, note FROM work WHERE wall_s IS NOT NULL ORDER BY boot, seq"
        )
        if wall_s <= limit
    ]
    calibrations = [
        (float(wall_s), str(channel), _object(details))
        for wall_s, channel, details in connection.execute(
            "SELECT wall_s, channel, details FROM calibrations WHERE wall_s IS NOT NULL ORDER BY boot, seq"
        )
        if wall_s <= limit
    ]
    boot = kept[-1].boot if kept else -1
    row = connection.execute("SELECT configuration FROM boots WHERE id = ?", (boot,)).fetchone()
    end_s = max([each.ended_s for each in kept], default=0.0) if at_s is None else at_s
    return Seen(end_s, kept, work, calibrations, _object(row[0]) if row else {})


def _object(text: str | None) -> dict[str, Any]:
    try:
        found = json.loads(text or "{}")
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def answer(has: Seen) -> dict[str, Any]:
    """The whole answer, as JSON values."""
    return _Answer(has).said()


class _Answer:
    def __init__(self, has: Seen) -> None:
        self.has = has
        plant = has.settings.get("plant") or {}
        drive = has.settings.get("drive") or {}
        first_salinity = next((k.period.sea_salinity_g_kg for k in has.kept if k.period.sea_salinity_g_kg), None)
        self.reference = Reference(
            REFERENCE_C,
            float(drive.get("working_pressure_bar") or 55.0),
            float(first_salinity or plant.get("sea_salinity_g_kg") or 36.0),
            float(plant.get("feed_flow_l_h") or 340.0),
        )
        self.model = FilmModel(membrane_of(has.settings), self.reference)
        self.set_aside: list[tuple[int, str]] = []
        self._hours()

    def _hours(self) -> None:
        """Running hours at the end of each run and in the middle of its period."""
        self.end_h, self.middle_h, self.from_h = [], [], []
        h = 0.0
        for each in self.has.kept:
            self.from_h.append(h)
            self.middle_h.append(h + each.period.into_s / 3600.0)
            h += each.period.pump_s / 3600.0
            self.end_h.append(h)
        self.now_h = h

    def hours_at(self, wall_s: float) -> float:
        """Running hours when something was done."""
        return max(
            [end for each, end in zip(self.has.kept, self.end_h, strict=True) if each.ended_s <= wall_s], default=0.0
        )

    def said(self) -> dict[str, Any]:
        resets = [
            (self.hours_at(wall_s), kind) for wall_s, kind, _ in self.has.work if kind in ("cleaned", "element_changed")
        ]
        begin_h, because = resets[-1] if resets else (0.0, "first_hours")
        data = self._data([0.0, *(h for h, _ in resets if h > 0.0)])
        quantities: dict[str, Any] = {}
        fit = None
        since = 0 if data is None else sum(1 for h in data.hours if h >= begin_h)
        if data is not None and since >= LEAST_PERIODS and len(data.hours) >= LEAST_PERIODS:
            fit = _fitted(data)
        named = {NOTHING: 1.0} if fit is None else fit.named()
        quantities.update(self._membrane(fit, since, begin_h, named))
        quantities["pressure_drop"] = self._pressure_drop(fit, data, begin_h)
        quantities["filter_drop"], due = self._filter()
        patterns = self._patterns(fit, named, due)
        return {
            "schema": 1,
            "at": iso(self.has.at_s),
            "running_hours": round(self.now_h, 2),
            "baseline": {
                "from_h": round(begin_h, 2),
                "to_h": round(min(begin_h + BASELINE_H, self.now_h), 2),
                "because": because,
                "runs": 0 if data is None else sum(1 for h in data.hours if begin_h <= h <= begin_h + BASELINE_H),
            },
            "reference": {
                "temperature_c": self.reference.temperature_c,
                "pressure_bar": self.reference.pressure_bar,
                "salinity_g_kg": self.reference.salinity_g_kg,
                "feed_flow_l_h": self.reference.feed_flow_l_h,
            },
            "quantities": quantities,
            "patterns": patterns,
            "ask": _ask(patterns),
            "runs": {
                "used": 0 if data is None else len(data.hours),
                "set_aside": [{"run": run, "why": why} for run, why in sorted(self.set_aside)],
            },
        }

    # ---- what the fit sees ----------------------------------------------------------------------------------------

    def _data(self, breaks: list[float]) -> Data | None:
        places, points = [], []
        feeds, measured = self._feeds()
        rests = [k.period.rest_vessel_pressure_bar for k in self.has.kept]
        usual_rest = median([r for r in rests if r is not None]) if any(r is not None for r in rests) else 0.0
        for i, each in enumerate(self.has.kept):
            p = each.period
            if p.unfit is not None:
                self.set_aside.append((each.number, _public_why(p.unfit)))
                continue
            rest = p.rest_vessel_pressure_bar if p.rest_vessel_pressure_bar is not None else usual_rest
            places.append(i)
            points.append(
                Point(
                    p.sea_salinity_g_kg or self.reference.salinity_g_kg,
                    p.sea_temperature_c or 0.0,
                    (p.vessel_pressure_bar or 0.0) - rest,
                    feeds[i],
                    p.product_flow_l_h or 0.0,
                    p.product_conductivity_us_cm or 0.0,
                )
            )
        normals, near = [], None
        for point in points:
            normal = self.model.normal(point, near)
            normals.append(normal)
            near = (normal.log_a, normal.log_b) if normal is not None else None
        steps = self._cell_steps()
        known = [(i, n) for i, n in zip(places, normals, strict=True) if n is not None]
        for i, n in zip(places, normals, strict=True):
            if n is None:
                self.set_aside.append((self.has.kept[i].number, "sensor_missing"))
        if len(known) < 3:
            return None
        level = [_taken_off(n, sum(size for h, size in steps if self.middle_h[i] > h)) for i, n in known]
        begins = {
            next((k for k, (i, _) in enumerate(known) if self.middle_h[i] >= h), len(known)): "" for h in breaks[1:]
        }
        odd = outliers(level, begins)
        for k, why in odd.items():
            self.set_aside.append((self.has.kept[known[k][0]].number, why))
        used = [(i, n) for k, ((i, _), n) in enumerate(zip(known, level, strict=True)) if k not in odd]
        if len(used) < 3:
            return None
        self.used = [i for i, _ in used]
        middle = used[len(used) // 2][1]
        effects = self._effects([n for _, n in used], measured)
        self.middle = middle
        self.drop_bar = middle.drop_bar
        return Data(
            hours=[self.middle_h[i] for i in self.used],
            days=[self.has.kept[i].period.at_s / 86400.0 for i in self.used],
            into_s=[self.has.kept[i].period.into_s for i in self.used],
            conductivity=[self.has.kept[i].period.product_conductivity_us_cm or 0.0 for i in self.used],
            normals=[n for _, n in used],
            now_h=self.now_h,
            breaks=breaks,
            steps=steps,
            scalars=self._scalars([n for _, n in used], breaks),
            effects=effects,
        )

    def _feeds(self) -> tuple[list[float], bool]:
        """Feed of each run: measured by both meters, smoothed over neighbours, else the settings'."""
        found = [
            p.brine_flow_l_h + p.product_flow_l_h
            if p.brine_flow_l_h is not None and p.product_flow_l_h is not None
            else None
            for p in (k.period for k in self.has.kept)
        ]
        self.feed_seen = found
        feeds, measured = [], False
        for i, each in enumerate(self.has.kept):
            near = [f for f in found[max(0, i - 3) : i + 4] if f is not None]
            if len(near) >= 3:
                measured = True
                feeds.append(median(near))
            else:
                feeds.append(each.period.feed_flow_l_h or self.reference.feed_flow_l_h)
        return feeds, measured

    def _cell_steps(self) -> list[tuple[float, float]]:
        """Running hours and sizes (log) of calibrations of the conductivity cell."""
        found = []
        for wall_s, channel, details in self.has.calibrations:
            before, after = details.get("before") or [], details.get("after") or []
            if channel == "product_conductivity" and before and after and before[-1] > 0 and after[-1] > 0:
                found.append((self.hours_at(wall_s), math.log(after[-1] / before[-1])))
        return found

    def _effects(self, normals: Sequence[Normal], measured_feed: bool) -> Effects:
        middle = normals[len(normals) // 2]
        logs = (middle.log_a, middle.log_b)
        day = self.model.day_slopes(logs)
        base = self.model.on_the_day(logs)
        press = self.model.on_the_day(logs, pressure_bar=-0.5)
        bar = self.reference.pressure_bar
        late = normals[len(normals) // 2 :]

        def mean(pairs: Sequence[Pair]) -> Pair:
            return fmean(u for u, _ in pairs), fmean(w for _, w in pairs)

        pressure = mean([n.slopes["pressure"] for n in late])
        recovery = math.exp(base[0]) / self.reference.feed_flow_l_h
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
                "channel": {"drop": 1.3 * middle.drop_bar},
                "span": {"drop": bar},
                "zero": {"zero": 1.0},
                "feed": {"feed": 1.0},
                "meter": {"tank": -1.0, "feed": recovery},
                "cell": {"hand": 1.0},
            },
            told={
                "flow_meter_drift": (1.0, 0.0),
                "pressure_drift": ((press[0] - base[0]) / 0.5 * bar, (press[1] - base[1]) / 0.5 * bar),
                "worn_pump": nothing,
            },
        )

    def _scalars(self, normals: Sequence[Normal], breaks: Sequence[float]) -> list[Scalar]:
        found = []
        kept = self.has.kept
        drops = [
            (
                i,
                p.vessel_pressure_bar - p.brine_pressure_bar - p.rest_vessel_pressure_bar + p.rest_brine_pressure_bar,
                n,
            )
            for i, n in zip(self.used, normals, strict=True)
            if (p := kept[i].period).brine_pressure_bar is not None
            and p.vessel_pressure_bar is not None
            and p.rest_vessel_pressure_bar is not None
            and p.rest_brine_pressure_bar is not None
        ]
        middle = fmean(n.drop_bar for n in normals)
        if len(drops) >= LEAST_PERIODS:
            press = [(kept[i].period.vessel_pressure_bar or 0.0) - self.reference.pressure_bar for i, _, _ in drops]
            found.append(
                self._scalar(
                    "drop",
                    [(i, v) for i, v, _ in drops],
                    [
                        ([n.drop_bar / middle - 1.0 for _, _, n in drops], 0.5 * middle),
                        (press, 0.006),
                    ],
                    breaks,
                    level_sd=1.0,
                    scale=[n.drop_bar / middle for _, _, n in drops],
                    least=0.004,
                )
            )
        rests = [
            (i, k.period.rest_vessel_pressure_bar)
            for i, k in enumerate(kept)
            if k.period.rest_vessel_pressure_bar is not None
        ]
        if len(rests) >= LEAST_PERIODS:
            found.append(self._scalar("zero", rests, [], breaks, level_sd=3.0, least=0.02))
        feeds = [(i, math.log(f)) for i, f in enumerate(self.feed_seen) if f]
        if len(feeds) >= LEAST_PERIODS:
            found.append(
                self._scalar(
                    "feed", feeds, [], breaks, level_sd=1.0, least=0.003, level=math.log(self.reference.feed_flow_l_h)
                )
            )
        tanks = [
            (i, math.log(p.tank_rise_percent / p.metered_l), p.metered_l)
            for i in self.used
            if (p := kept[i].period).tank_rise_percent
            and p.metered_l
            and p.tank_rise_percent > 1.0
            and p.metered_l > 10
        ]
        if len(tanks) >= LEAST_PERIODS:
            litres = median([w for _, _, w in tanks])
            found.append(
                self._scalar(
                    "tank",
                    [(i, v) for i, v, _ in tanks],
                    [],
                    breaks,
                    level_sd=3.0,
                    least=0.005,
                    weights=[litres / w for _, _, w in tanks],
                )
            )
        hands = self._hand_pairs()
        if len(hands) >= 2:
            found.append(self._scalar("hand", hands, [], breaks, level_sd=0.3, least=0.02))
        return found

    def _scalar(
        self,
        name: str,
        pairs: Sequence[tuple[int, float]],
        columns: list[tuple[list[float], float]],
        breaks: Sequence[float],
        *,
        level_sd: float,
        least: float,
        scale: Sequence[float] | None = None,
        weights: Sequence[float] | None = None,
        level: float | None = None,
    ) -> Scalar:
        values = [v for _, v in pairs]
        weights = weights or [1.0] * len(values)
        smooth = [median(values[max(0, i - 4) : i + 5]) for i in range(len(values))]
        off = [abs(v - m) / w for v, m, w in zip(values, smooth, weights, strict=True)]
        # The middle of nine takes up a tenth of the noise.
        noise = max(1.1 * median(off) / 0.6745 if len(off) >= 6 else 0.03, least)
        centre = median(values) if level is None else level
        # A far value counts for nearly nothing: water drawn from the tank meanwhile, a slip of the pen.
        sd = [noise * w * max(1.0, x / (3.5 * noise)) ** 2 for x, w in zip(off, weights, strict=True)]
        hours = [self.middle_h[i] for i, _ in pairs]
        ones = [1.0] * len(values)
        earlier = (
            [
                ([1.0 if begin <= h < end else 0.0 for h in hours], level_sd)
                for begin, end in pairwise(breaks)
                if any(begin <= h < end for h in hours)
            ]
            if name == "drop"
            else []
        )
        slopes = (
            [
                ([max(0.0, min(h, end) - begin) / max(end - begin, 1.0) if h < end else 0.0 for h in hours], level_sd)
                for begin, end in pairwise(breaks)
                if any(begin <= h < end for h in hours)
            ]
            if name == "drop"
            else []
        )
        return Scalar(
            name, hours, [v - centre for v in values], sd, [(ones, level_sd), *columns, *earlier, *slopes], scale
        )

    def _hand_pairs(self) -> list[tuple[int, float]]:
        """Log of the cell over a hand meter, by run."""
        found = []
        for wall_s, kind, note in self.has.work:
            if kind != "hand_meter":
                continue
            number = re.search(r"\d+(?:[.,]\d+)?", note)
            if number is None or "mg" in note.lower() or "ppm" in note.lower():
                continue
            shown = float(number[0].replace(",", "."))
            i = min(self.used, key=lambda i: abs(self.has.kept[i].period.at_s - wall_s))
            cell = self.has.kept[i].period.product_conductivity_us_cm
            if cell and shown > 5.0 and abs(self.has.kept[i].period.at_s - wall_s) < 3600.0:
                found.append((i, math.log(cell / shown)))
        return found

    # ---- what it means ---------------------------------------------------------------------------------------------

    def _membrane(self, fit: Fit | None, since: int, begin_h: float, named: Mapping[str, float]) -> dict[str, Any]:
        if fit is None:
            why = f"{since} of the {LEAST_PERIODS} steady runs that are needed"
            if since >= LEAST_PERIODS:
                why = "the readings of these runs allow no comparison"
            return {name: _not_enough(name, why) for name in ("flow", "salt_passage")}
        drifts = sum(named.get(name, 0.0) for name in ("conductivity_drift", "flow_meter_drift", "pressure_drift"))
        wanders = fit.noise.sea_g_kg > WANDERS_G_KG and drifts < 0.2
        other_sea = sum(c.weight for c in fit.components if c.chapter and c.chapter.story.name == "sea_salinity")
        without_sea = other_sea > 0.5 or wanders
        zero_gone = sum(
            c.weight
            for c in fit.components
            if c.chapter and c.chapter.story.name == "pressure_drift" and "zero" in c.chapter.scalars
        )
        basis = "corrected" if without_sea or zero_gone > 0.5 else "as_read"
        cell_now = sum(size for _, size in fit.data.steps if begin_h < self.now_h and _ >= begin_h)
        flows, salts = [], []
        base_h = [begin_h + x * BASELINE_H / 5.0 for x in range(6)]
        chosen = draws.pick([c.weight for c in fit.components], draws.COUNT)
        for place, z in zip(chosen, draws.spread(draws.COUNT, 6), strict=True):
            c = fit.components[place]
            cu, cw = _pair(c.mean, c.covariance, z[0], z[1])
            by = c.slow.by
            at = (c.slow.at0[0] - by[0][0] * cu - by[0][1] * cw, c.slow.at0[1] - by[1][0] * cu - by[1][1] * cw)
            su, sw = _pair(at, c.slow.covariance, z[2], z[3])
            cu, cw = self._told(fit, c, cu, cw, without_sea)
            cu, cw = cu * (1.0 + LAW_DOUBT * z[4]), cw * (1.0 + LAW_DOUBT * z[5])
            shape = c.shape

            def course(size: float, slow: float, jump: float, shape: Any = shape) -> Callable[[float], float]:
                base = fmean(
                    math.exp(_bound(slow * (h - begin_h) / 500.0 + (size * shape.at(h) if shape else 0.0)))
                    for h in base_h
                )
                return lambda h: (
                    math.exp(_bound(jump + slow * (h - begin_h) / 500.0 + (size * shape.at(h) if shape else 0.0)))
                    / base
                    - 1.0
                )

            flows.append(course(cu, su, 0.0))
            salts.append(course(cu + cw, su + sw, cell_now))
        return {
            "flow": self._quantity("flow", flows, begin_h, basis),
            "salt_passage": self._quantity("salt_passage", salts, begin_h, basis),
        }

    @staticmethod
    def _told(fit: Fit, component: Component, cu: float, cw: float, without_sea: bool) -> Pair:
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

    def _quantity(
        self, name: str, courses: Sequence[Callable[[float], float]], begin_h: float, basis: str
    ) -> dict[str, Any]:
        now_h = self.now_h
        past_h = max(now_h - LATEST_H, begin_h)
        span = max(now_h - past_h, 1e-3)
        change = [course(now_h) for course in courses]
        rate = [(now - course(past_h)) / span * 100.0 for now, course in zip(change, courses, strict=True)]
        reached = [_reached(course, now_h, THRESHOLDS[name]) for course in courses]
        return self._said_of(name, change, rate, reached, basis)

    def _said_of(
        self, name: str, change: list[float], rate: list[float], reached: list[float], basis: str
    ) -> dict[str, Any]:
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
            "reached_on": self._dates(hours),
        }

    def _dates(self, hours: Mapping[str, Any]) -> dict[str, Any]:
        """At the pace the plant was run at over the last sixty days of the record."""
        end_s = self.has.at_s
        recent = [i for i, k in enumerate(self.has.kept) if k.ended_s > end_s - 60 * 86400.0]
        days = max((end_s - self.has.kept[recent[0]].ended_s) / 86400.0, 7.0) if recent else 0.0
        ran = self.now_h - self.from_h[recent[0]] if recent else 0.0
        a_day = ran / days if days else 0.0

        def date(h: float | None) -> str | None:
            if h is None or a_day <= 0.0 or h / a_day > 36500:
                return None
            return date_of(end_s + h / a_day * 86400.0)

        return {
            "estimate": date(hours["estimate"]),
            "i80": [date(h) for h in hours["i80"]],
            "i90": [date(h) for h in hours["i90"]],
        }

    def _pressure_drop(self, fit: Fit | None, data: Data | None, begin_h: float) -> dict[str, Any]:
        if fit is None or data is None or "drop" not in fit.scalars:
            measured = any(k.period.brine_pressure_bar is not None for k in self.has.kept)
            why = (
                "fewer steady runs than are needed" if measured else "the pressure before the regulator is not measured"
            )
            return {**_not_enough("pressure_drop", why), "measured": measured}
        options: list[tuple[float, Any, float, float]] = [(math.log(0.5), None, 0.0, 0.0)]
        shapes = [course for course in fit.courses if course.shape.kind == "ramp"]
        for course in shapes:
            s, r = course.scalars["drop"]
            for size in DROP_SIZES_BAR:
                p = size**-2
                gain = 0.5 * (r * r / (s + p) - math.log((s + p) / p))
                odds = math.log(0.5 / len(shapes) / len(DROP_SIZES_BAR))
                options.append((gain + odds, course.shape, r / (s + p), (s + p) ** -0.5))
        top = max(o[0] for o in options)
        options = sorted((o for o in options if o[0] > top - 12), key=lambda o: -o[0])
        total = sum(math.exp(o[0] - top) for o in options)
        courses: list[Callable[[float], float]] = []
        weights = [math.exp(o[0] - top) / total for o in options]
        for place, z in zip(draws.pick(weights, draws.COUNT), draws.spread(draws.COUNT, 3), strict=True):
            _, shape, mean, sd = options[place]
            size = (mean + sd * z[0]) * (1.0 + 8.0 * LAW_DOUBT * z[2])
            slow = 0.08 * self.middle.drop_bar * z[1]
            courses.append(_drop_course(shape, size, slow, begin_h))
        return self._quantity("pressure_drop", courses, begin_h, "as_read")

    def _filter(self) -> tuple[dict[str, Any], float]:
        feeds, measured = self._feeds()
        usual = self.reference.feed_flow_l_h
        seen_drops = [
            (self.middle_h[i], (p.filter_inlet_pressure_bar - p.feed_pressure_bar) * (usual / feeds[i]) ** FILTER_POWER)
            for i, k in enumerate(self.has.kept)
            if (p := k.period).filter_inlet_pressure_bar is not None and p.feed_pressure_bar is not None
        ]
        logged = [self.hours_at(wall_s) for wall_s, kind, _ in self.has.work if kind == "filter_changed"]
        found: Cartridge | None = None
        if seen_drops:
            run_h = self.end_h[-1] - self.from_h[-1]
            found = cartridge([h for h, _ in seen_drops], [d for _, d in seen_drops], logged, self.now_h, run_h)
        self.filter_said: str | None = None
        if found is None:
            return {
                **_not_enough("filter_drop", "the pressure before the filters is not measured"),
                "measured": False,
            }, 0.0
        end = THRESHOLDS["filter_drop"] ** -0.5
        change, rate, reached = [], [], []
        for z in draws.spread(draws.COUNT, 3):
            level, pace = _pair((found.level, found.pace), found.covariance, z[0], z[1])
            level, pace = max(level, 0.7), max(pace, 0.05 * found.pace, 1e-4)
            level *= math.exp(-0.5 * FILTER_POWER * (FEED_SEEN if measured else FEED_SET) * z[2])
            change.append(level**-2)
            rate.append(2.0 * level**-3 * pace * 100.0)
            reached.append(max(level - end, 0.0) / pace)
        self.filter_said = f"pressure drop of the filters is {median(change):.2f} bar after {found.periods} runs"
        due = fmean(1.0 if d > DUE_DROP_BAR or h < DUE_H else 0.0 for d, h in zip(change, reached, strict=True))
        return self._said_of("filter_drop", change, rate, reached, "as_read"), due

    def _patterns(self, fit: Fit | None, named: Mapping[str, float], due: float) -> list[dict[str, Any]]:
        shares = {name: share for name, share in named.items() if name}
        nothing = shares.pop(NOTHING, 0.0)
        # What fits no story is told as the nearest ones, never as certain.
        told = sum(shares.values())
        if told > 0.0:
            near = 0.5 * named.get("", 0.0) / told
            shares = {name: share * (1.0 + near) for name, share in shares.items()}
        shares["prefilter"] = due * nothing
        shares[NOTHING] = (1.0 - due) * nothing
        found: list[dict[str, Any]] = []
        for name, share in sorted(shares.items(), key=lambda each: -each[1]):
            if share < 0.01 and found:
                continue
            best = None if fit is None else _best_of(fit, name)
            since = None if best is None or best.shape is None else round(best.shape.onset_h, 1)
            evidence = [] if fit is None or best is None else self._evidence(fit, best)
            if name == "prefilter" and self.filter_said is not None:
                evidence = [{"quantity": "filter_drop", "text": self.filter_said}]
            found.append({"name": name, "confidence": round(share, 3), "since_h": since, "evidence": evidence})
        return found

    @staticmethod
    def _evidence(fit: Fit, best: Component) -> list[dict[str, str]]:
        """What each signal did over the course of a story."""
        course = next(each for each in fit.courses if each.shape == best.shape)
        (change_u, change_w), (doubt_u, doubt_w) = course.free()
        found = [
            {"quantity": "flow", "text": words.evidence_text("flow", math.expm1(_bound(change_u)), doubt_u)},
            {"quantity": "salt_passage", "text": words.evidence_text("salt", math.expm1(_bound(change_w)), doubt_w)},
        ]
        for signal, (precision, weighted) in course.scalars.items():
            if precision > 0.0:
                text = words.evidence_text(signal, weighted / precision, precision**-0.5)
                found.append({"quantity": "pressure_drop" if signal == "drop" else signal, "text": text})
        return found


def _fitted(data: Data) -> Fit | None:
    """None where the numbers allow no fit: readings that are all the same, for one."""
    try:
        return Fit(data)
    except (ValueError, ZeroDivisionError, OverflowError):
        return None


def _ask(patterns: Sequence[Mapping[str, Any]]) -> str | None:
    """The measurement that would tell the two likeliest stories apart, while neither is certain."""
    if len(patterns) < 2 or patterns[0]["confidence"] >= TOLD:
        return None
    return words.tells_apart(patterns[0]["name"], patterns[1]["name"])


def _best_of(fit: Fit, name: str) -> Component | None:
    """The likeliest course of a story that has one."""
    return next((c for c in fit.components if c.chapter and c.shape and c.chapter.story.name == name != NOTHING), None)


def _public_why(why: str) -> str:
    return {"no_minutes": "too_short", "not_settled": "pressure_moved"}.get(why, why)


def _drop_course(shape: Shape | None, size: float, slow: float, begin_h: float) -> Callable[[float], float]:
    """The drop's change, bar, over running hours: a ramp of that size or none, and a slow drift, from the mean of the
    baseline's first ten hours on."""

    def ramp(h: float) -> float:
        return 0.0 if shape is None else size * shape.at(h)

    base = fmean(ramp(begin_h + 2.0 * x) for x in range(6))
    return lambda h: ramp(h) - base + slow * (h - begin_h) / 500.0


def _taken_off(normal: Normal, size: float) -> Normal:
    return normal if not size else replace(normal, log_salt=normal.log_salt - size)


def _bound(x: float) -> float:
    return min(max(x, -3.0), 3.0)


def _pair(mean: Pair, covariance: tuple[float, float, float], one: float, two: float) -> Pair:
    a, b, d = covariance
    l11 = math.sqrt(max(a, 0.0))
    l21 = b / l11 if l11 > 0 else 0.0
    l22 = math.sqrt(max(d - l21 * l21, 0.0))
    return mean[0] + l11 * one, mean[1] + l21 * one + l22 * two


GRID = tuple(0.0 if i == 0 else 2.0 * 1000.0 ** (i / 24.0) for i in range(25))


def _reached(course: Callable[[float], float], now_h: float, threshold: float) -> float:
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


def _not_enough(name: str, why: str) -> dict[str, Any]:
    return {"measured": True, "enough": False, "why": why, "unit": UNITS[name], "basis": "as_read"}


def membrane_of(settings: Mapping[str, Any]) -> Membrane:
    """The element as the settings have it."""
    given = settings.get("membrane") or {}
    area = float(given.get("area_m2") or 2.6)
    a, b = given.get("water_permeability_lmh_bar"), given.get("salt_permeability_lmh")
    if a and b:
        return Membrane(float(a), float(b), area)
    plate = Membrane.from_nameplate(
        float(given.get("nameplate_flow_m3_d") or 2.4), float(given.get("nameplate_rejection") or 0.994), area
    )
    return Membrane(float(a or plate.water_permeability_lmh_bar), float(b or plate.salt_permeability_lmh), area)
