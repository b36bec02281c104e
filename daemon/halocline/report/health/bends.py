"""A change that alters its pace: what no law of decline foresees.

A course may bend at a few places between its onset and now: from there on it goes faster or slower. How much a plant's
changes bend is not known beforehand, so courses without bends stand beside others that bend a little or a lot, and the
record says which are likely.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from halocline.report.health.courses import Course
from halocline.report.health.film import Pair, Square
from halocline.report.health.linear import Matrix, Vector, backward, cholesky, dot, forward, log_determinant
from halocline.report.health.noise import Common

PLACES = (0.2, 0.35, 0.5, 0.65, 0.8, 0.92)
"""Where a course may bend, as shares of the hours since the baseline began; close to now the pace matters most."""
FROM_ONSET = 0.1
"""A bend at the onset itself would be another onset."""
AMOUNTS = ((0.3, 0.25), (0.9, 0.15))
"""How much the pace may alter at each place, over the mean pace, and how often a change is so (common practice: dirt
comes with harbours and seasons)."""
STRAIGHT = 1.0 - sum(share for _, share in AMOUNTS)


@dataclass(frozen=True, slots=True)
class Bent:
    """What is known of a course's bends: given the change c of log flow and log salt their mean is `at0` − `by` c;
    `lower` is the Cholesky factor of their precision. `direction`: log flow and log salt of a bend of one. `slow`: how
    the slow drifts of both hang on them."""

    direction: Pair
    places_h: Sequence[float]
    now_h: float
    at0: Vector
    by: tuple[Vector, Vector]
    lower: Matrix
    slow: tuple[Vector, Vector]

    def drawn(self, change: Pair, normal: Sequence[float]) -> Vector:
        """One draw, of as many standard normal values as there are places or more."""
        noise = backward(self.lower, normal[: len(self.at0)])
        return [
            at0 - u * change[0] - w * change[1] + z
            for at0, u, w, z in zip(self.at0, self.by[0], self.by[1], noise, strict=True)
        ]

    def added(self, bends: Sequence[float], hours: float) -> float:
        """What these bends add at these running hours, in units of the direction."""
        return sum(b * hinge(place, self.now_h, hours) for b, place in zip(bends, self.places_h, strict=True))


def hinge(place_h: float, now_h: float, hours: float) -> float:
    """0 until the place, 1 now."""
    return max(hours - place_h, 0.0) / (now_h - place_h)


Free = tuple[Vector, Vector]
"""A whitened column, and its part in what all courses have in common."""


class Bends:
    """All places of a record, beside what every course has in common."""

    def __init__(self, common: Common, hours: Sequence[float], begin_h: float, now_h: float) -> None:
        self._common = common
        self._hours = hours
        self._now_h = now_h
        self._places_h = [begin_h + share * (now_h - begin_h) for share in PLACES]
        self._free = [self._both([hinge(place, now_h, h) for h in hours]) for place in self._places_h]
        self._gram = [[_products(one, other) for other in self._free[: i + 1]] for i, one in enumerate(self._free)]
        self._weighted = [(self._seen(flow), self._seen(salt)) for flow, salt in self._free]
        slow = common.unit("slow_flow"), common.unit("slow_salt")
        self._slow = [[(dot(q, flow[1]), dot(q, salt[1])) for flow, salt in self._free] for q in slow]

    def _both(self, along: Sequence[float]) -> tuple[Free, Free]:
        """The columns of flow and of salt."""
        found = []
        for column in (self._common.whitener.column(along, None), self._common.whitener.column(None, along)):
            found.append((column, forward(self._common.lower, [dot(other, column) for other in self._common.columns])))
        return found[0], found[1]

    def _seen(self, free: Free) -> float:
        return dot(free[0], self._common.y) - dot(free[1], self._common.right)

    def beside(self, course: Course) -> "Beside | None":
        """The same beside one course; None where no place lies between its onset and now."""
        onset_h = course.shape.onset_h
        first_h = onset_h + FROM_ONSET * (self._now_h - onset_h)
        places = [k for k, place in enumerate(self._places_h) if first_h < place < self._now_h]
        if not places:
            return None
        own = self._both(course.shape.along(self._hours))
        return Beside(
            course=course,
            now_h=self._now_h,
            places_h=[self._places_h[k] for k in places],
            gram=[[self._gram[k][other] for other in places[: i + 1]] for i, k in enumerate(places)],
            cross=[_products(own, self._free[k]) for k in places],
            weighted=[self._weighted[k] for k in places],
            slow=([self._slow[0][k] for k in places], [self._slow[1][k] for k in places]),
        )


@dataclass(frozen=True, slots=True)
class Beside:
    """A course and the places where it may bend: the products of their columns."""

    course: Course
    now_h: float
    places_h: Sequence[float]
    gram: Sequence[Sequence[Square]]
    cross: Sequence[Square]
    weighted: Sequence[Pair]
    slow: tuple[Sequence[Pair], Sequence[Pair]]

    def marginal(self, direction: Pair, amount: float) -> tuple[Course, float, Bent]:
        """The course with its bends integrated out, the log of what they gain, and the bends themselves.

        `direction`: the change of log flow and log salt, whose pace alters by `amount` of itself at each place.
        """
        u, w = direction
        span = self.now_h - self.course.shape.onset_h
        precision = [
            [u * (u * g[0][0] + w * g[0][1]) + w * (u * g[1][0] + w * g[1][1]) for g in row] for row in self.gram
        ]
        prior = 0.0
        for i, place in enumerate(self.places_h):
            doubt = amount * (self.now_h - place) / span
            precision[i][i] += doubt**-2
            prior += 2.0 * math.log(doubt)
        lower = cholesky(precision)
        seen = forward(lower, [u * a + w * b for a, b in self.weighted])
        with_u = forward(lower, [u * c[0][0] + w * c[0][1] for c in self.cross])
        with_w = forward(lower, [u * c[1][0] + w * c[1][1] for c in self.cross])
        (a, b, d), (x, y) = self.course.s, self.course.r
        left = replace(
            self.course,
            s=(a - dot(with_u, with_u), b - dot(with_u, with_w), d - dot(with_w, with_w)),
            r=(x - dot(with_u, seen), y - dot(with_w, seen)),
        )
        gain = 0.5 * (dot(seen, seen) - log_determinant(lower) - prior)
        slow = ([u * p + w * q for p, q in self.slow[0]], [u * p + w * q for p, q in self.slow[1]])
        bent = Bent(
            direction,
            self.places_h,
            self.now_h,
            backward(lower, seen),
            (backward(lower, with_u), backward(lower, with_w)),
            lower,
            slow,
        )
        return left, gain, bent


def _products(one: tuple[Free, Free], other: tuple[Free, Free]) -> Square:
    """Of the columns of flow and salt of one with those of another, without what all courses have in common."""
    (a, b) = one
    (c, d) = other
    return (
        (dot(a[0], c[0]) - dot(a[1], c[1]), dot(a[0], d[0]) - dot(a[1], d[1])),
        (dot(b[0], c[0]) - dot(b[1], c[1]), dot(b[0], d[0]) - dot(b[1], d[1])),
    )
