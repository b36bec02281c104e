"""The noise of a reading, learned from the reading itself at a fixed cost a value.

Water and pressure change smoothly; what a cell, a cable or a bubble adds does not. So the noise is learned from what
no smooth course leaves: the third differences of values half a second apart. Two values half a second apart are taken
as independent: a scan takes less.
"""

import math
from collections import deque
from dataclasses import dataclass, field

from halocline.plant.thresholds import ROUNDING_S

SPACING_S = 0.5
"""Values so far apart are independent of each other: a scan of all inputs takes less (chosen)."""
LEARN_S = 60.0
"""Noise is learned over a minute: longer than a wave, shorter than a change of the weather (chosen)."""
THIRD_DIFFERENCE = 20.0
"""Variance of a third difference over that of one value, 1 + 9 + 9 + 1 (computed)."""
TERMS, INNER = 4, 3
"""A third difference takes four values, the inner two of them three times (computed)."""
RECENT = 4
"""Third differences of the last two seconds: noise that has begun shows in them (chosen)."""
WILDEST = 25.0
"""A square this many times the usual one counts no more than that: a step of the water itself is no noise. Five
standard deviations (computed), which noise itself hardly makes."""


@dataclass(slots=True)
class Noise:
    """The standard deviation of a reading about its own smooth course, in the reading's unit.

    least: what no reading of this kind is steadier than; from there it is learned, within half a minute.
    usual: as it has been for a minute. present: the larger of that and what the last seconds show: noise that has only
    just begun counts at once.
    """

    least: float
    usual: float = field(init=False)
    present: float = field(init=False)
    _points: deque[float] = field(default_factory=lambda: deque(maxlen=TERMS))
    _recent: deque[float] = field(default_factory=lambda: deque(maxlen=RECENT))
    _variance: float = -1.0
    _taken_s: float = -math.inf

    def __post_init__(self) -> None:
        self.usual = self.present = self.least

    def update(self, value: float | None, now_s: float) -> None:
        """One value; None is a gap, over which nothing is learned."""
        if value is None:
            self._points.clear()
            return
        if now_s - self._taken_s < SPACING_S - ROUNDING_S:
            return
        self._taken_s = now_s
        self._points.append(value)
        if len(self._points) == TERMS:
            a, b, c, d = self._points
            self._learn(d - INNER * c + INNER * b - a)

    def _learn(self, difference: float) -> None:
        # What is too large to be squared is noise without end; and so is what is no number, infinity less infinity.
        square = math.inf if math.isnan(difference) else difference * difference / THIRD_DIFFERENCE
        self._recent.append(square)
        usual = max(self._variance, self.least**2)
        self._variance = usual + SPACING_S / LEARN_S * (min(square, WILDEST * usual) - usual)
        self.usual = max(self.least, math.sqrt(max(0.0, self._variance)))
        self.present = max(self.usual, math.sqrt(max(self._recent)))
