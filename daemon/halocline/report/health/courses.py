"""A course of a change, and what the record says of its size."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from halocline.report.health.film import Pair
from halocline.report.health.linear import Vector, dot, forward
from halocline.report.health.noise import Common
from halocline.report.health.shapes import Shape


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


def course_of(common: Common, shape: Shape, along: Sequence[float]) -> Course:
    """`along`: the shape at the periods."""
    one, two = common.whitener.column(along, None), common.whitener.column(None, along)
    f1 = forward(common.lower, [dot(column, one) for column in common.columns])
    f2 = forward(common.lower, [dot(column, two) for column in common.columns])
    s = (dot(one, one) - dot(f1, f1), dot(one, two) - dot(f1, f2), dot(two, two) - dot(f2, f2))
    r = (dot(one, common.y) - dot(f1, common.right), dot(two, common.y) - dot(f2, common.right))
    return Course(shape, s, r, slow_beside(common, (f1, f2)))


def gain(course: Course) -> float:
    """The most that flow and salt could gain by a course."""
    (a, b, d), (x, y) = course.s, course.r
    det = a * d - b * b
    return 0.5 * (d * x * x - 2 * b * x * y + a * y * y) / det if det > 0 else 0.0


def slow_beside(common: Common, fs: tuple[Vector, Vector] | None) -> Slow:
    """The slow drifts beside the columns of a course, or beside none."""
    q1, q2 = common.unit("slow_flow"), common.unit("slow_salt")
    at0 = (dot(q1, common.right), dot(q2, common.right))
    by: tuple[Pair, Pair] = ((0.0, 0.0), (0.0, 0.0))
    if fs is not None:
        by = ((dot(q1, fs[0]), dot(q1, fs[1])), (dot(q2, fs[0]), dot(q2, fs[1])))
    return Slow(at0, by, (dot(q1, q1), dot(q1, q2), dot(q2, q2)))


def log_integral(
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
