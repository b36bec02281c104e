"""What the displayed and judged value is smoothed with."""

from collections import deque
from typing import Protocol


class Filter(Protocol):
    """Takes time-stamped values, gives the smoothed one."""

    def update(self, t_s: float, value: float) -> float:
        """The smoothed value after this one."""


class LowPass:
    """First order with a time constant in s; 0 passes everything. Steady at any sample rate."""

    __slots__ = ("_at_s", "_tau_s", "_value")

    def __init__(self, tau_s: float) -> None:
        self._tau_s = tau_s
        self._value: float | None = None
        self._at_s = 0.0

    def update(self, t_s: float, value: float) -> float:
        """The smoothed value after this one."""
        before = self._value
        if before is not None:
            passed_s = t_s - self._at_s
            if passed_s > 0.0:
                value = before + (value - before) * passed_s / (self._tau_s + passed_s)
            elif self._tau_s > 0.0:
                value = before
        self._value = value
        self._at_s = t_s
        return value


class Median:
    """The median of one value a second over a window in s: sloshing does not move it."""

    __slots__ = ("_kept", "_value", "_window_s")

    SPACING_S = 1.0
    """A wave of the water in a tank takes about a second: values closer together are the same wave (from memory)."""

    def __init__(self, window_s: float) -> None:
        self._window_s = window_s
        self._kept: deque[tuple[float, float]] = deque()
        self._value = 0.0

    def update(self, t_s: float, value: float) -> float:
        """The median after this value."""
        kept = self._kept
        if not kept or t_s - kept[-1][0] >= self.SPACING_S:
            kept.append((t_s, value))
            while kept[0][0] < t_s - self._window_s:
                kept.popleft()
            ordered = sorted(pair[1] for pair in kept)
            self._value = (ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]) / 2.0
        return self._value
