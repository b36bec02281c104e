"""How likely each course and each story is, and what flow and salt have become under each."""

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist
from typing import NamedTuple

from halocline.report.health.bends import AMOUNTS, STRAIGHT, Bends, Bent
from halocline.report.health.courses import Course, Slow, course_of, gain, log_integral, slow_beside
from halocline.report.health.film import Normal, Pair
from halocline.report.health.linear import Vector, cholesky, dot, forward
from halocline.report.health.noise import EXPECTED, Column, Common, Noise, SeaRead, Whitener, learn, log_prior
from halocline.report.health.shapes import Shape, candidates, refined
from halocline.report.health.stories import NOTHING, Chapter, Effects, chapters

SLOW_H = 500.0
"""The slow ageing of a sound element is told over so many hours."""
SLOW_FLOW, SLOW_SALT = (-0.01, 0.02), (0.015, 0.03)
"""Mean and doubt of log flow and of log salt (common practice: a sound element loses some per cent a year)."""
SETTLE_MINUTES = (12.0, 30.0)
"""Time constants of what has not settled after the start; short runs show some of it (common practice)."""
NOT_WORTH = 14.0
"""Courses whose best story is a million times less likely than the best of all are left out."""
OUTLIER = 6.0
WORTH_A_COURSE = 4.0
NOT_SEEN = 3.0
WORTH_BENDING, MOST_BENT = 8.0, 8
"""Bends are tried on the courses within this of the likeliest, and on so many at most: each costs a little time."""
ODDS_OF_WANDERING = 0.5
WANDERS_G_KG, WANDERS_DAYS = 0.8, 180.0
"""Some boats lie in one sea; about others it wanders by so much (standard deviation) in so many days (common practice:
seasons, rivers, the way from ocean to coast). Which it is the record says, where flow and salt tell it."""
WANDERING_TERMS = 4
MEAN_OF_A_WALK = 3.0**-0.5
"""Standard deviation of a random walk's mean over that of its end."""
ENTERED_G_KG = 0.5
"""What was entered is off the sea of the first days by so much (common practice: a figure of the region)."""
SEA_CHANGE_G_KG = 1.5
"""From one sea to the next salinity differs by more; within one it seldom does (common practice)."""


@dataclass(frozen=True, slots=True)
class Scalar:
    """One more signal: its values at these running hours, what it hangs on besides its course, its own noise.

    `scale`: of a change at each. `drifts`: the first column is a slow drift, told over `SLOW_H`."""

    name: str
    hours: Sequence[float]
    values: Sequence[float]
    sd: Sequence[float]
    columns: Sequence[tuple[Sequence[float], float]]
    scale: Sequence[float] | None = None
    drifts: bool = False


@dataclass(frozen=True, slots=True)
class Data:
    """All that the fit sees. `begin_h`: where the present element, or what a cleaning made of it, begins. `breaks`:
    running hours where earlier ones begin. `steps`: places (hours) and sizes of what is known to have changed the
    cell's reading. `sea`: what was read of the salinity of the same sea."""

    hours: Sequence[float]
    days: Sequence[float]
    into_s: Sequence[float]
    conductivity: Sequence[float]
    normals: Sequence[Normal]
    now_h: float
    breaks: Sequence[float]
    steps: Sequence[tuple[float, float]]
    scalars: Sequence[Scalar]
    effects: Effects
    day_drop_bar: float
    sea: Sequence[SeaRead] = ()

    @property
    def begin_h(self) -> float:
        return self.breaks[-1]


@dataclass(frozen=True, slots=True)
class Sea:
    """The record as one kind of sea makes it: whether it wanders, the noise, how likely the record is by it without any
    change (log), and what it says of each course."""

    wanders: bool
    noise: Noise
    log_odds: float
    common: Common
    courses: Sequence[Course]


class Component(NamedTuple):
    """A chapter over a course, how likely it is, and the change by now of log flow and log salt: mean and covariance
    of (change, slow drift) of both."""

    weight: float
    chapter: Chapter | None
    shape: Shape | None
    mean: Pair
    covariance: tuple[float, float, float]
    slow: Slow
    sea: Sea
    bent: Bent | None = None


def _along(story: Pair, change: Pair) -> Pair:
    """The part of a change that goes the way of its story: only one cause bends, what drifts beside it does not."""
    (u, w), (x, y) = story, change
    # Salt scatters about twice as much as flow.
    length = u * u + 0.25 * w * w
    share = (u * x + 0.25 * w * y) / length if length > 0.0 else 0.0
    return share * u, share * w


def _component(log_odds: float, chapter: Chapter, course: Course, sea: Sea, bent: Bent | None = None) -> Component:
    """Of one chapter over one course; its weight is the logarithm of its odds."""
    seen, prior, doubt = chapter.given(course.scalars)
    log_weight, mean, covariance = log_integral(course, prior, doubt)
    if chapter.story.needs and chapter.story.needs not in course.scalars:
        log_weight -= NOT_SEEN
    return Component(log_odds + seen + log_weight, chapter, course.shape, mean, covariance, course.slow, sea, bent)


class Fit:
    """The whole record under all stories. Raises ValueError where the numbers allow no fit."""

    def __init__(self, data: Data) -> None:
        self.data = data
        self.y = ([n.log_flow for n in data.normals], [n.log_salt for n in data.normals])
        self.columns = _columns(data)
        present = [h for h in data.hours if h >= data.begin_h]
        self.shapes = list(candidates(present, data.begin_h, data.now_h))
        self.told = chapters(data.effects)
        self.scalars = {scalar.name: _ScalarFit(scalar) for scalar in data.scalars}
        self.seas = [self._sea(wanders=False), self._sea(wanders=True)]
        self.components = self._components()

    def _sea(self, *, wanders: bool) -> Sea:
        columns = [*self.columns, *(wandering(self.data) if wanders else [_entered(self.data)])]
        noise = self._learn(columns)
        common = Common(self._whitener(noise), columns, self.y)
        log_odds = math.log(ODDS_OF_WANDERING if wanders else 1.0 - ODDS_OF_WANDERING) + log_prior(noise)
        courses = [self._course(common, shape) for shape in self.shapes]
        for course in courses:
            course.scalars = {name: fit.by(course.shape) for name, fit in self.scalars.items()}
        return Sea(wanders, noise, log_odds + common.log_evidence, common, courses)

    def _learn(self, common: Sequence[Column]) -> Noise:
        """With the likeliest course in the fit, so that a fault is no noise; but a sea that changes is noise."""
        rough = Common(self._whitener(EXPECTED), common, self.y)
        told = [chapter for chapter in self.told if chapter.story.name != "sea_salinity"]
        best: tuple[float, Shape | None, Pair] = (WORTH_A_COURSE, None, (0.0, 0.0))
        steps = [(gain(self._course(rough, shape)), shape) for shape in self.shapes if shape.kind == "step"]
        if steps:
            present = [h for h in self.data.hours if h >= self.data.begin_h]
            self.shapes += refined(present, self.shapes, max(steps, key=lambda each: each[0])[1])
        for shape in self.shapes:
            if shape.power != 1.0:
                continue
            course = self._course(rough, shape)
            if gain(course) <= best[0]:
                continue
            for chapter in told:
                if shape.kind in chapter.story.courses:
                    gained, mean, _ = log_integral(course, *chapter.given({})[1:])
                    best = max(best, (gained, shape, mean), key=lambda each: each[0])
        columns = list(common)
        if best[1] is not None:
            along = best[1].along(self.data.hours)
            size = max(abs(best[2][0]), abs(best[2][1]), 1e-6)
            parts = [[part / size * a for a in along] for part in best[2]]
            columns.append(Column("course", parts[0], parts[1], 0.5))

        def evidence_of(noise: Noise) -> float:
            return Common(self._whitener(noise), columns, self.y).log_evidence

        return learn(EXPECTED, evidence_of)

    def _whitener(self, noise: Noise) -> Whitener:
        return Whitener(noise, self.data.days, self.data.normals, self.data.sea)

    def _course(self, common: Common, shape: Shape) -> Course:
        return course_of(common, shape, shape.along(self.data.hours))

    def _components(self) -> list[Component]:
        found = [each for sea in self.seas for each in self._with_bends(sea, self._straight(sea))]
        top = max(each.weight for each in found)
        kept = [each._replace(weight=math.exp(each.weight - top)) for each in found if each.weight > top - NOT_WORTH]
        total = sum(each.weight for each in kept)
        return sorted((each._replace(weight=each.weight / total) for each in kept), key=lambda each: -each.weight)

    def _straight(self, sea: Sea) -> list[Component]:
        """Every chapter over every course that is worth it; weights are still logarithms of odds."""
        count: dict[str, int] = {}
        for shape in self.shapes:
            count[shape.kind] = count.get(shape.kind, 0) + 1
        reach = [self._reach(course) for course in sea.courses]
        best = max([0.0, *reach])
        nothing = sea.log_odds + math.log(ODDS_OF_NOTHING)
        slow = slow_beside(sea.common, None)
        found = [Component(nothing, None, None, (0.0, 0.0), (0.0, 0.0, 0.0), slow, sea)]
        for course, reached in zip(sea.courses, reach, strict=True):
            if reached < best - NOT_WORTH - 12.0:
                continue
            kind = course.shape.kind
            for chapter in self.told:
                if kind not in chapter.story.courses:
                    continue
                odds = sea.log_odds + chapter.log_odds - math.log(count[kind] * len(chapter.story.courses))
                found.append(_component(odds, chapter, course, sea))
        return found

    def _with_bends(self, sea: Sea, straight: Sequence[Component]) -> list[Component]:
        """The likeliest ramps also with bends; weights are still logarithms of odds."""
        top = max(each.weight for each in straight)
        likely = [c for c in straight if c.shape and c.shape.kind == "ramp" and c.weight > top - WORTH_BENDING]
        best: dict[Shape, float] = {}
        for c in likely:
            if c.shape is not None:
                best[c.shape] = max(best.get(c.shape, -math.inf), c.weight)
        chosen = set(sorted(best, key=lambda shape: -best[shape])[:MOST_BENT])
        if not chosen:
            return list(straight)
        bends = Bends(sea.common, self.data.hours, self.data.begin_h, self.data.now_h)
        beside = {c.shape: near for c in sea.courses if c.shape in chosen and (near := bends.beside(c)) is not None}
        found: list[Component] = []
        for c in straight:
            near = beside.get(c.shape) if c.shape is not None else None
            direction = (0.0, 0.0) if c.chapter is None else _along((c.chapter.mean[0], c.chapter.mean[1]), c.mean)
            if near is None or c.chapter is None or c.weight <= top - WORTH_BENDING or direction == (0.0, 0.0):
                found.append(c)
                continue
            odds = c.weight - _component(0.0, c.chapter, near.course, sea).weight
            found.append(c._replace(weight=c.weight + math.log(STRAIGHT)))
            for amount, share in AMOUNTS:
                course, gained, bent = near.marginal(direction, amount)
                found.append(_component(odds + gained + math.log(share), c.chapter, course, sea, bent))
        return found

    def _reach(self, course: Course) -> float:
        """The most that any story could gain by this course."""
        return gain(course) + sum(0.5 * r * r / s for s, r in course.scalars.values() if s > 0)

    def named(self) -> dict[str, float]:
        """Story → how likely it is."""
        found: dict[str, float] = {NOTHING: 0.0}
        for component in self.components:
            name = NOTHING if component.chapter is None else component.chapter.story.name
            share = self._salt_worth_telling(component) if name == "sea_salinity" else 1.0
            found[name] = found.get(name, 0.0) + share * component.weight
            found[NOTHING] += (1.0 - share) * component.weight
        return found

    def _salt_worth_telling(self, component: Component) -> float:
        """How likely the sea's change is larger than what any cruise brings."""
        by = self.data.effects.trend["sea"][0]
        size, doubt = abs(component.mean[0] / by), max(math.sqrt(component.covariance[0]) / abs(by), 1e-3)
        return NormalDist().cdf((size - SEA_CHANGE_G_KG) / doubt)


ODDS_OF_NOTHING = 0.7


def wandering(data: Data) -> list[Column]:
    """A sea that wanders slowly through the whole record, as a random walk: its first Karhunen-Loève terms over the
    days. From day to day it hardly shows, so no noise that is learnt of runs tells of it; a course that goes the same
    way would take it up as its own."""
    first, last = min(data.days), max(data.days)
    span = max(last - first, 1.0)
    size = WANDERS_G_KG * math.sqrt(span / WANDERS_DAYS)
    found = [_entered(data, size * MEAN_OF_A_WALK)]
    for k in range(1, WANDERING_TERMS + 1):
        sea = [math.cos(k * math.pi * (day - first) / span) for day in data.days]
        found.append(_sea_column(f"sea_{k}", data, sea, size * math.sqrt(2.0) / (k * math.pi)))
    return found


def _entered(data: Data, more_g_kg: float = 0.0) -> Column:
    """How far the sea of the whole record is off what was entered: only a reading of it tells."""
    return _sea_column("sea_entered", data, [1.0] * len(data.days), math.hypot(ENTERED_G_KG, more_g_kg))


def _sea_column(name: str, data: Data, sea: Sequence[float], sd_g_kg: float) -> Column:
    """What so much salt in the sea, g/kg by period, does to flow, to salt and to what people read of it."""
    by = [normal.slopes["salinity"] for normal in data.normals]
    flow = [u * s for (u, _), s in zip(by, sea, strict=True)]
    salt = [w * s for (_, w), s in zip(by, sea, strict=True)]
    return Column(name, flow, salt, sd_g_kg, sea=sea)


def _columns(data: Data) -> list[Column]:
    n = len(data.hours)
    ones = [1.0] * n
    since = [max(h - data.begin_h, 0.0) / SLOW_H for h in data.hours]
    by = {
        name: [normal.slopes[name] for normal in data.normals]
        for name in ("water_energy", "salt_energy", "film", "pressure")
    }
    found = [
        Column("flow", ones, None, 1.0),
        Column("salt", None, ones, 1.0),
        Column("slow_flow", since, None, SLOW_FLOW[1], SLOW_FLOW[0]),
        Column("slow_salt", None, since, SLOW_SALT[1], SLOW_SALT[0]),
        Column("offset", None, [1.0 / max(c, 20.0) for c in data.conductivity], 8.0),
    ]
    for minutes in SETTLE_MINUTES:
        settle = [math.exp(-into / (60.0 * minutes)) for into in data.into_s]
        found.append(Column("settle_flow", settle, None, 0.02))
        found.append(Column("settle_salt", None, settle, 0.15))
    for name, sd in (("water_energy", 3.0), ("salt_energy", 5.0), ("film", 0.25), ("pressure", 0.3)):
        found.append(Column(name, [u for u, _ in by[name]], [w for _, w in by[name]], sd))
    for number, (begin, end) in enumerate(pairwise(data.breaks)):
        inside = [1.0 if begin <= h < end else 0.0 for h in data.hours]
        if not any(inside):
            continue
        gone = [i * (h - begin) / max(end - begin, 1.0) for i, h in zip(inside, data.hours, strict=True)]
        bent = [g * g for g in gone]
        for what, values, sd in (("level", inside, 0.4), ("ramp", gone, 0.3), ("bend", bent, 0.15)):
            found.append(Column(f"{what}_flow_{number}", values, None, sd))
            found.append(Column(f"{what}_salt_{number}", None, values, 1.5 * sd))
    return found


class _ScalarFit:
    """One scalar signal with what it hangs on besides a course taken out."""

    def __init__(self, scalar: Scalar) -> None:
        self.scalar = scalar
        self._inverse_sd = [1.0 / sd for sd in scalar.sd]
        self.columns = [[v * i for v, i in zip(column, self._inverse_sd, strict=True)] for column, _ in scalar.columns]
        self.y = [v * i for v, i in zip(scalar.values, self._inverse_sd, strict=True)]
        gram = [[dot(one, other) for other in self.columns[: i + 1]] for i, one in enumerate(self.columns)]
        for i, (_, sd) in enumerate(scalar.columns):
            gram[i][i] += sd**-2
        self.lower = cholesky(gram)
        self.right = forward(self.lower, [dot(column, self.y) for column in self.columns])

    def by(self, shape: Shape) -> tuple[float, float]:
        """Precision and weighted size of the change by this course."""
        x, f = self._along(shape)
        return dot(x, x) - dot(f, f), dot(x, self.y) - dot(f, self.right)

    def drift(self, shape: Shape | None) -> tuple[float, float, float]:
        """The slow drift beside a change c by this course: its mean is the first less the second times c; the third is
        its standard deviation."""
        q = forward(self.lower, [1.0, *(0.0 for _ in self.columns[1:])])
        by = 0.0 if shape is None else dot(q, self._along(shape)[1])
        return dot(q, self.right), by, math.sqrt(dot(q, q))

    def _along(self, shape: Shape) -> tuple[Vector, Vector]:
        along: Iterable[float] = shape.along(self.scalar.hours)
        if self.scalar.scale is not None:
            along = [a * k for a, k in zip(along, self.scalar.scale, strict=True)]
        x = [a * i for a, i in zip(along, self._inverse_sd, strict=True)]
        return x, forward(self.lower, [dot(column, x) for column in self.columns])


def outliers(normals: Sequence[Normal], begins: Collection[int]) -> dict[int, str]:
    """Periods that stand far from those before and from those after them: place → why they are set aside."""
    n = len(normals)
    u = [normal.log_flow for normal in normals]
    w = [normal.log_salt for normal in normals]
    scale = [max(_typical([abs(b - a) for a, b in pairwise(x)]), least) for x, least in ((u, 0.006), (w, 0.012))]
    found = {}
    for i in range(n):
        before = [j for j in range(max(0, i - 5), i) if not any(j < b <= i for b in begins)]
        after = [j for j in range(i + 1, min(n, i + 6)) if not any(i < b <= j for b in begins)]
        off = []
        for side in (before, after):
            if len(side) >= 2:
                off.append((u[i] - _median([u[j] for j in side]), w[i] - _median([w[j] for j in side])))
        dip = all(du > 3 * scale[0] and dw < -3 * scale[1] for du, dw in off)
        far = all(abs(du) > OUTLIER * scale[0] or abs(dw) > OUTLIER * scale[1] for du, dw in off)
        if off and far and (dip or (len(off) == 2 and off[0][0] * off[1][0] + off[0][1] * off[1][1] > 0)):
            found[i] = "salinity_dip" if dip else "air"
    return found


def _median(values: Sequence[float]) -> float:
    ordered = sorted(values)
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else 0.5 * (ordered[half - 1] + ordered[half])


def _typical(steps: Sequence[float]) -> float:
    """Standard deviation of one value from the median step between neighbours."""
    return _median(steps) / 0.954 if steps else 0.0
