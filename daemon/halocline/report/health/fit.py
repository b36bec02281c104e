"""How likely each course and each story is, and what flow and salt have become under each."""

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import NormalDist
from typing import NamedTuple

from halocline.report.health.film import Normal, Pair
from halocline.report.health.linear import Vector, cholesky, dot, forward
from halocline.report.health.noise import EXPECTED, Column, Common, Noise, Whitener, learn
from halocline.report.health.shapes import Shape, candidates
from halocline.report.health.stories import NOTHING, Chapter, Effects, chapters

SLOW_H = 500.0
"""The slow ageing of a sound element is told over so many hours."""
SLOW_FLOW, SLOW_SALT = (-0.01, 0.02), (0.015, 0.03)
"""Mean and doubt of log flow and of log salt (common practice: a sound element loses some per cent a year)."""
NOT_WORTH = 14.0
"""Courses whose best story is a million times less likely than the best of all are left out."""
OUTLIER = 6.0
WORTH_A_COURSE = 4.0
NOT_SEEN = 3.0
SEA_CHANGE_G_KG = 1.5
"""From one sea to the next salinity differs by more; within one it seldom does (common practice)."""


@dataclass(frozen=True, slots=True)
class Scalar:
    """One more signal: its values at these running hours, what it hangs on besides its course, its own noise."""

    name: str
    hours: Sequence[float]
    values: Sequence[float]
    sd: Sequence[float]
    columns: Sequence[tuple[Sequence[float], float]]
    scale: Sequence[float] | None = None


@dataclass(frozen=True, slots=True)
class Data:
    """All that the fit sees. `begin_h`: where the present element, or what a cleaning made of it, begins. `breaks`:
    running hours where earlier ones begin. `steps`: places (hours) and sizes of what is known to have changed the
    cell's reading."""

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

    @property
    def begin_h(self) -> float:
        return self.breaks[-1]


class Component(NamedTuple):
    """A chapter over a course, how likely it is, and the change by now of log flow and log salt: mean and covariance
    of (change, slow drift) of both."""

    weight: float
    chapter: Chapter | None
    shape: Shape | None
    mean: Pair
    covariance: tuple[float, float, float]
    slow: "Slow"


class Slow(NamedTuple):
    """The slow drift of log flow and log salt per `SLOW_H`, given the change `c` by a course: `at0` − `by` c."""

    at0: Pair
    by: tuple[Pair, Pair]
    covariance: tuple[float, float, float]


@dataclass(slots=True)
class Course:
    """What the record says of one course: precision and weighted size of the change of log flow and log salt."""

    shape: Shape
    s: tuple[float, float, float]
    r: Pair
    slow: Slow
    scalars: dict[str, tuple[float, float]] = field(default_factory=dict)

    def free(self) -> tuple[Pair, Pair]:
        """The change of log flow and log salt, whatever the story, and its standard deviations."""
        (a, b, d), (x, y) = self.s, self.r
        det = a * d - b * b
        return ((d * x - b * y) / det, (a * y - b * x) / det), (math.sqrt(d / det), math.sqrt(a / det))


class Fit:
    """The whole record under all stories. Raises ValueError where the numbers allow no fit."""

    def __init__(self, data: Data) -> None:
        self.data = data
        self.y = ([n.log_flow for n in data.normals], [n.log_salt for n in data.normals])
        self.columns = _columns(data)
        present = [h for h in data.hours if h >= data.begin_h]
        self.shapes = list(candidates(present, data.begin_h, data.now_h))
        self.told = chapters(data.effects)
        self.noise = self._learn()
        self.common = Common(Whitener(self.noise, data.days, data.normals), self.columns, self.y)
        self.scalars = {scalar.name: _ScalarFit(scalar) for scalar in data.scalars}
        self.courses = [self._course(self.common, shape) for shape in self.shapes]
        self.components = self._components()

    def _learn(self) -> Noise:
        """With the likeliest course in the fit, so that a fault is no noise; but a sea that changes is noise."""
        rough = Common(Whitener(EXPECTED, self.data.days, self.data.normals), self.columns, self.y)
        told = [chapter for chapter in self.told if chapter.story.name != "sea_salinity"]
        best: tuple[float, Shape | None, Pair] = (WORTH_A_COURSE, None, (0.0, 0.0))
        for shape in self.shapes:
            if shape.power != 1.0:
                continue
            course = self._course(rough, shape)
            if _gain(course) <= best[0]:
                continue
            for chapter in told:
                if shape.kind in chapter.story.courses:
                    gain, mean, _ = _log_integral(course, chapter.mean, chapter.covariance)
                    best = max(best, (gain, shape, mean), key=lambda each: each[0])
        columns = list(self.columns)
        if best[1] is not None:
            along = best[1].along(self.data.hours)
            size = max(abs(best[2][0]), abs(best[2][1]), 1e-6)
            parts = [[part / size * a for a in along] for part in best[2]]
            columns.append(Column("course", parts[0], parts[1], 0.5))

        def evidence_of(noise: Noise) -> float:
            return Common(Whitener(noise, self.data.days, self.data.normals), columns, self.y).log_evidence

        return learn(EXPECTED, evidence_of)

    def _course(self, common: Common, shape: Shape) -> Course:
        along = shape.along(self.data.hours)
        one, two = common.whitener.column(along, None), common.whitener.column(None, along)
        f1 = forward(common.lower, [dot(column, one) for column in common.columns])
        f2 = forward(common.lower, [dot(column, two) for column in common.columns])
        s = (dot(one, one) - dot(f1, f1), dot(one, two) - dot(f1, f2), dot(two, two) - dot(f2, f2))
        r = (dot(one, common.y) - dot(f1, common.right), dot(two, common.y) - dot(f2, common.right))
        return Course(shape, s, r, _slow(common, (f1, f2)))

    def _components(self) -> list[Component]:
        for course in self.courses:
            course.scalars = {name: fit.by(course.shape) for name, fit in self.scalars.items()}
        count: dict[str, int] = {}
        for shape in self.shapes:
            count[shape.kind] = count.get(shape.kind, 0) + 1
        reach = [self._reach(course) for course in self.courses]
        best = max([0.0, *reach])
        found: list[tuple[float, Chapter | None, Course | None, Pair, tuple[float, float, float]]] = [
            (math.log(ODDS_OF_NOTHING), None, None, (0.0, 0.0), (0.0, 0.0, 0.0))
        ]
        for course, reached in zip(self.courses, reach, strict=True):
            if reached < best - NOT_WORTH - 12.0:
                continue
            kind = course.shape.kind
            for chapter in self.told:
                if kind not in chapter.story.courses:
                    continue
                log_weight, mean, covariance = _log_integral(course, chapter.mean, chapter.covariance)
                log_weight += chapter.log_odds - math.log(count[kind] * len(chapter.story.courses))
                if chapter.story.needs and chapter.story.needs not in course.scalars:
                    log_weight -= NOT_SEEN
                for name, (mu, variance) in chapter.scalars.items():
                    if name in course.scalars:
                        log_weight += _log_scalar(*course.scalars[name], mu, variance)
                found.append((log_weight, chapter, course, mean, covariance))
        top = max(each[0] for each in found)
        kept = [each for each in found if each[0] > top - NOT_WORTH]
        total = sum(math.exp(each[0] - top) for each in kept)
        slow = _slow(self.common, None)
        return [
            Component(
                math.exp(log_weight - top) / total,
                chapter,
                None if course is None else course.shape,
                mean,
                covariance,
                slow if course is None else course.slow,
            )
            for log_weight, chapter, course, mean, covariance in sorted(kept, key=lambda each: -each[0])
        ]

    def _reach(self, course: Course) -> float:
        """The most that any story could gain by this course."""
        return _gain(course) + sum(0.5 * r * r / s for s, r in course.scalars.values() if s > 0)

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


def _gain(course: Course) -> float:
    """The most that flow and salt could gain by a course."""
    (a, b, d), (x, y) = course.s, course.r
    det = a * d - b * b
    return 0.5 * (d * x * x - 2 * b * x * y + a * y * y) / det if det > 0 else 0.0


def _slow(common: Common, fs: tuple[Vector, Vector] | None) -> Slow:
    q1, q2 = common.unit("slow_flow"), common.unit("slow_salt")
    at0 = (dot(q1, common.right), dot(q2, common.right))
    by: tuple[Pair, Pair] = ((0.0, 0.0), (0.0, 0.0))
    if fs is not None:
        by = ((dot(q1, fs[0]), dot(q1, fs[1])), (dot(q2, fs[0]), dot(q2, fs[1])))
    return Slow(at0, by, (dot(q1, q1), dot(q1, q2), dot(q2, q2)))


def _columns(data: Data) -> list[Column]:
    n = len(data.hours)
    ones = [1.0] * n
    settle = [math.exp(-into / 720.0) for into in data.into_s]
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
        Column("settle_flow", settle, None, 0.02),
        Column("settle_salt", None, settle, 0.15),
        Column("offset", None, [1.0 / max(c, 20.0) for c in data.conductivity], 8.0),
    ]
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


def _log_integral(
    course: Course, mu: Pair, cov: tuple[float, float, float]
) -> tuple[float, Pair, tuple[float, float, float]]:
    """Log of the likelihood of a course with this prior over that of no change; mean and covariance afterwards."""
    a, b, d = cov
    det = a * d - b * b
    pa, pb, pd = d / det, -b / det, a / det
    s, r = course.s, course.r
    la, lb, ld = s[0] + pa, s[1] + pb, s[2] + pd
    e0 = r[0] + pa * mu[0] + pb * mu[1]
    e1 = r[1] + pb * mu[0] + pd * mu[1]
    ldet = la * ld - lb * lb
    va, vb, vd = ld / ldet, -lb / ldet, la / ldet
    m0, m1 = va * e0 + vb * e1, vb * e0 + vd * e1
    prior = pa * mu[0] * mu[0] + 2 * pb * mu[0] * mu[1] + pd * mu[1] * mu[1]
    return 0.5 * (e0 * m0 + e1 * m1 - prior - math.log(ldet * det)), (m0, m1), (va, vb, vd)


def _log_scalar(s: float, r: float, mu: float, variance: float) -> float:
    p = 1.0 / max(variance, 1e-12)
    e = r + p * mu
    return 0.5 * (e * e / (s + p) - p * mu * mu - math.log((s + p) / p))


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
        along: Iterable[float] = shape.along(self.scalar.hours)
        if self.scalar.scale is not None:
            along = [a * k for a, k in zip(along, self.scalar.scale, strict=True)]
        x = [a * i for a, i in zip(along, self._inverse_sd, strict=True)]
        f = forward(self.lower, [dot(column, x) for column in self.columns])
        return dot(x, x) - dot(f, f), dot(x, self.y) - dot(f, self.right)


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
