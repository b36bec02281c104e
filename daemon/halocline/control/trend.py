"""Whether a reading rises, or only seems to: rises, means and the reading's own noise, each at a fixed cost a tick.

Water and pressure change smoothly; what a cell, a cable or a bubble adds does not. So the noise of a reading is learned
from what no smooth course leaves: the third differences of values half a second apart. A rise counts where it stands
out of that noise. Two values half a second apart are taken as independent: a scan takes less.
"""

import math
from collections import deque
from dataclasses import dataclass, field

from halocline.control.timing import Slope

SPACING_S = 0.5
LEARN_S = 60.0
THIRD_DIFFERENCE = 20.0
"""Variance of a third difference over that of one value, 1 + 9 + 9 + 1."""
RECENT = 4
WILDEST = 25.0
"""A square this many times the usual one counts no more than that: a step of the water itself is no noise."""


@dataclass(slots=True)
class Noise:
    """The standard deviation of a reading about its own smooth course, in the reading's unit.

    least: what no reading of this kind is steadier than; from there it is learned, within half a minute.
    """

    least: float
    _points: deque[float] = field(default_factory=lambda: deque(maxlen=4))
    _recent: deque[float] = field(default_factory=lambda: deque(maxlen=RECENT))
    _variance: float = -1.0
    _taken_s: float = -math.inf

    def take(self, value: float | None, now_s: float) -> None:
        """One value; None is a gap, over which nothing is learned."""
        if value is None:
            self._points.clear()
            return
        if now_s - self._taken_s < SPACING_S - 1e-6:
            return
        self._taken_s = now_s
        self._points.append(value)
        if len(self._points) == 4:
            a, b, c, d = self._points
            self._learn(d - 3 * c + 3 * b - a)

    def _learn(self, difference: float) -> None:
        # What is too large to be squared is noise without end; and so is what is no number, infinity less infinity.
        square = math.inf if math.isnan(difference) else difference * difference / THIRD_DIFFERENCE
        self._recent.append(square)
        usual = max(self._variance, self.least**2)
        self._variance = usual + SPACING_S / LEARN_S * (min(square, WILDEST * usual) - usual)

    @property
    def usual(self) -> float:
        """As it has been for a minute."""
        return max(self.least, math.sqrt(max(0.0, self._variance)))

    @property
    def present(self) -> float:
        """The larger of the usual and what the last seconds show: noise that has only just begun counts at once."""
        return max(self.usual, math.sqrt(max(self._recent, default=0.0)))


@dataclass(slots=True)
class Mean:
    """The mean of the last `window_s`, and of one value as old as that: so it stays known however ticks are spaced."""

    window_s: float
    _values: deque[tuple[float, float]] = field(default_factory=deque)
    _sum: float = 0.0

    def take(self, value: float | None, now_s: float) -> float | None:
        """The mean with this value; None until a whole window has been seen, or after a gap."""
        values = self._values
        if value is None:
            values.clear()
            self._sum = 0.0
            return None
        values.append((now_s, value))
        self._sum += value
        while len(values) > 1 and now_s - values[1][0] >= self.window_s - 1e-6:
            self._sum -= values.popleft()[1]
        return self._sum / len(values) if now_s - values[0][0] >= self.window_s - 1e-6 else None


@dataclass(slots=True)
class Rise:
    """How much a reading has risen over a window: twice what its newer half lies above its older half on average.

    Means of halves carry less noise than two single values, and follow a steady rise just as soon.
    """

    window_s: float
    _newer: deque[tuple[float, float]] = field(default_factory=deque)
    _older: deque[tuple[float, float]] = field(default_factory=deque)
    _sums: list[float] = field(default_factory=lambda: [0.0, 0.0])

    def take(self, value: float | None, now_s: float) -> float | None:
        """The rise over the window, in the reading's unit; None until half of it has been seen, or after a gap."""
        if value is None:
            self.clear()
            return None
        newer, older, sums = self._newer, self._older, self._sums
        newer.append((now_s, value))
        sums[0] += value
        while now_s - newer[0][0] > self.window_s / 2:
            older.append(newer.popleft())
            sums[0] -= older[-1][1]
            sums[1] += older[-1][1]
        # One value as old as the window or older stays: so the window is full at any spacing of the ticks, and where
        # they come late there is still something to compare with.
        while len(older) > 1 and now_s - older[1][0] >= self.window_s - 1e-6:
            sums[1] -= older.popleft()[1]
        return 2 * (sums[0] / len(newer) - sums[1] / len(older)) if older else None

    @property
    def is_whole(self) -> bool:
        """Whether the window is full."""
        return bool(self._older) and self._newer[-1][0] - self._older[0][0] >= self.window_s - 1e-6

    def noise(self, of_one: float) -> float:
        """What noise makes of a rise over this window, where `of_one` is that of one value."""
        return 2 * of_one * math.sqrt(2 / max(1.0, self.window_s / 2 / SPACING_S))

    def clear(self) -> None:
        """Begin anew."""
        self._newer.clear()
        self._older.clear()
        self._sums = [0.0, 0.0]


RATE_S, STEADY_RATE_S = 1.0, 5.0
RATE_NOISES = 4.0
LEAST_BAR = 0.02
"""The noise of a good pressure sensor and its converter, about (0.5 mV on a span of 100 bar)."""


@dataclass(slots=True)
class PressureRate:
    """How fast a pressure changes, bar/s: over a second as far as that stands out of the noise, else over five."""

    noise: Noise = field(default_factory=lambda: Noise(LEAST_BAR))
    _fast: Slope = field(default_factory=lambda: Slope(RATE_S))
    _slow: Rise = field(default_factory=lambda: Rise(STEADY_RATE_S))

    def take(self, pressure_bar: float | None, now_s: float) -> float | None:
        """The rate with this value; None until it is known, or after a gap."""
        self.noise.take(pressure_bar, now_s)
        fast, slow = self._fast.per_second(pressure_bar, now_s), self._slow.take(pressure_bar, now_s)
        if fast is None or slow is None:
            return fast
        chance = RATE_NOISES * 2**0.5 * self.noise.usual / RATE_S
        return min(max(slow / STEADY_RATE_S, fast - chance), fast + chance)
