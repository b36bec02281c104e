"""Whether a reading rises, or only seems to: rises and means, each at a fixed cost a tick.

A rise counts where it stands out of the reading's own noise (`signals/noise.py`).
"""

import math
from collections import deque
from dataclasses import dataclass, field

from halocline.plant.thresholds import ROUNDING_S
from halocline.signals.noise import SPACING_S, Noise


@dataclass(slots=True)
class Slope:
    """The mean rate of change over the last `window_s`."""

    window_s: float
    _points: deque[tuple[float, float]] = field(default_factory=deque)

    def per_second(self, value: float | None, now_s: float) -> float | None:
        """Units a second over the window; None until half the window has been seen, or after a gap."""
        points = self._points
        if value is None:
            points.clear()
            return None
        points.append((now_s, value))
        while now_s - points[0][0] > self.window_s:
            points.popleft()
        elapsed_s = now_s - points[0][0]
        if elapsed_s < self.window_s / 2:
            return None
        return (value - points[0][1]) / elapsed_s


@dataclass(slots=True)
class Mean:
    """The mean of the last `window_s`, and of one value as old as that: so it stays known however ticks are spaced.

    at_once: known from the first value, as the mean of what there is.
    """

    window_s: float
    at_once: bool = False
    _values: deque[tuple[float, float]] = field(default_factory=deque)
    _sum: float = 0.0

    def update(self, value: float | None, now_s: float) -> float | None:
        """The mean with this value; None until a whole window has been seen, or after a gap."""
        values = self._values
        if value is None:
            values.clear()
            self._sum = 0.0
            return None
        values.append((now_s, value))
        self._sum += value
        while len(values) > 1 and now_s - values[1][0] >= self.window_s - ROUNDING_S:
            self._sum -= values.popleft()[1]
        known = self.at_once or now_s - values[0][0] >= self.window_s - ROUNDING_S
        return self._sum / len(values) if known else None


@dataclass(slots=True)
class Rise:
    """How much a reading has risen over a window: twice what its newer half lies above its older half on average.

    Means of halves carry less noise than two single values, and follow a steady rise just as soon.
    """

    window_s: float
    _newer: deque[tuple[float, float]] = field(default_factory=deque)
    _older: deque[tuple[float, float]] = field(default_factory=deque)
    _sums: list[float] = field(default_factory=lambda: [0.0, 0.0])

    def update(self, value: float | None, now_s: float) -> float | None:
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
        while len(older) > 1 and now_s - older[1][0] >= self.window_s - ROUNDING_S:
            sums[1] -= older.popleft()[1]
        return 2 * (sums[0] / len(newer) - sums[1] / len(older)) if older else None

    @property
    def is_whole(self) -> bool:
        """Whether the window is full."""
        return bool(self._older) and self._newer[-1][0] - self._older[0][0] >= self.window_s - ROUNDING_S

    def noise(self, of_one: float) -> float:
        """What noise makes of a rise over this window, where `of_one` is that of one value."""
        return 2 * of_one * math.sqrt(2 / max(1.0, self.window_s / 2 / SPACING_S))

    def clear(self) -> None:
        """Begin anew."""
        self._newer.clear()
        self._older.clear()
        self._sums = [0.0, 0.0]


@dataclass(slots=True)
class Span:
    """How far apart the lowest and the highest value of the last `window_s` lie.

    Of the older values only those are kept that no newer one has outdone: the first of each row is the extreme.
    """

    window_s: float
    _lowest: deque[tuple[float, float]] = field(default_factory=deque)
    _highest: deque[tuple[float, float]] = field(default_factory=deque)

    def update(self, value: float, now_s: float) -> float:
        """The span with this value."""
        lowest, highest = self._lowest, self._highest
        while lowest and lowest[-1][1] >= value:
            lowest.pop()
        while highest and highest[-1][1] <= value:
            highest.pop()
        lowest.append((now_s, value))
        highest.append((now_s, value))
        while now_s - lowest[0][0] > self.window_s:
            lowest.popleft()
        while now_s - highest[0][0] > self.window_s:
            highest.popleft()
        return highest[0][1] - lowest[0][1]

    def clear(self) -> None:
        """Begin anew."""
        self._lowest.clear()
        self._highest.clear()


RATE_S, STEADY_RATE_S = 1.0, 5.0
"""A pressure's rate over a second, to be quick, and over five, to be sure (chosen)."""
RATE_NOISES = 4.0
"""Times what noise makes of the difference of two values: by chance once in some ten thousand, if they are independent
(computed, of a normal distribution)."""
LEAST_BAR = 0.02
"""The noise of a good pressure sensor and its converter, about (0.5 mV on a span of 100 bar) (computed; its noise: from
memory)."""


@dataclass(slots=True)
class PressureRate:
    """How fast a pressure changes, bar/s: over a second as far as that stands out of the noise, else over five."""

    noise: Noise = field(default_factory=lambda: Noise(LEAST_BAR))
    _fast: Slope = field(default_factory=lambda: Slope(RATE_S))
    _slow: Rise = field(default_factory=lambda: Rise(STEADY_RATE_S))

    def update(self, pressure_bar: float | None, now_s: float) -> float | None:
        """The rate with this value; None until it is known, or after a gap."""
        self.noise.update(pressure_bar, now_s)
        fast, slow = self._fast.per_second(pressure_bar, now_s), self._slow.update(pressure_bar, now_s)
        if fast is None or slow is None:
            return fast
        chance = RATE_NOISES * 2**0.5 * self.noise.usual / RATE_S
        return min(max(slow / STEADY_RATE_S, fast - chance), fast + chance)
