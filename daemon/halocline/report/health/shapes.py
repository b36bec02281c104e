"""The courses that a change may take over running hours: what the laws of decline have in common.

Each is scaled to 1 now, so that its size is the change that it has made by now.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

Kind = Literal["ramp", "step", "settling"]

POWERS = (1.0, 1.4, 1.8, 0.8)
"""A change that goes on grows in proportion to the hours, faster, or slower."""
SETTLING_H = (6.0, 12.0, 24.0, 48.0)
"""Time constants of what runs in after an element is new."""
RAMPS, BENT, STEPS = 18, 8, 50


@dataclass(frozen=True, slots=True)
class Shape:
    """One course from `onset_h` on (running hours), scaled at `now_h`; `pace_h` is the time constant of settling."""

    kind: Kind
    onset_h: float
    now_h: float
    pace_h: float = 0.0
    power: float = 1.0

    def at(self, hours: float) -> float:
        """Share of the present change that there was, or will be, at these running hours."""
        return self._raw(hours) / self._raw(self.now_h)

    def along(self, hours: Sequence[float]) -> list[float]:
        """`at` for many."""
        scale = 1.0 / self._raw(self.now_h)
        return [scale * self._raw(each) for each in hours]

    def _raw(self, hours: float) -> float:
        since = hours - self.onset_h
        if since <= 0.0:
            return 0.0
        if self.kind == "ramp":
            return float(since**self.power)
        if self.kind == "step":
            return 1.0
        return -math.expm1(-since / self.pace_h)


def candidates(hours: Sequence[float], begin_h: float, now_h: float) -> Iterator[Shape]:
    """All courses that begin between `begin_h` and the newest periods; `hours`: those of the periods since then."""
    n = len(hours)
    edges = [begin_h, *((sooner + later) / 2.0 for sooner, later in pairwise(hours))]
    for power in POWERS:
        for place in _spread(n - 2, RAMPS if power == 1.0 else BENT):
            yield Shape("ramp", edges[place], now_h, power=power)
    for place in _spread(n, STEPS):
        if place > 1:
            yield Shape("step", edges[place], now_h)
    for pace_h in SETTLING_H:
        if now_h > begin_h:
            yield Shape("settling", begin_h, now_h, pace_h)


def refined(hours: Sequence[float], found: Sequence[Shape], best: Shape) -> Iterator[Shape]:
    """The steps that `found` has left out about the best of them: one run beside it, a step is noise."""
    known = sorted(shape.onset_h for shape in found if shape.kind == "step")
    place = known.index(best.onset_h)
    before_h = known[place - 1] if place else -math.inf
    after_h = known[place + 1] if place + 1 < len(known) else math.inf
    for sooner, later in pairwise(hours):
        edge = (sooner + later) / 2.0
        if before_h < edge < after_h and edge != best.onset_h:
            yield Shape("step", edge, best.now_h)


def _spread(n: int, count: int) -> list[int]:
    """At most `count` places of 0…n−1, evenly spread, the first and the last among them."""
    if n <= 0:
        return []
    if n <= count:
        return list(range(n))
    return sorted({round(i * (n - 1) / (count - 1)) for i in range(count)})
