"""Small memories of time: how long something has held, how steady it is, how fast it moves."""

from collections import deque
from dataclasses import dataclass, field


@dataclass(slots=True)
class Held:
    """How long each named condition has been true without a break."""

    _since: dict[str, float] = field(default_factory=dict)

    def seconds(self, name: str, condition: bool, now_s: float) -> float:
        """Seconds for which `condition` has held, 0.0 the first time it is seen, -1.0 while it does not."""
        if not condition:
            self._since.pop(name, None)
            return -1.0
        return now_s - self._since.setdefault(name, now_s)


@dataclass(slots=True)
class Steady:
    """How long a value has stayed within a band around where it was."""

    band: float
    _reference: float | None = None
    _since_s: float = 0.0

    def seconds(self, value: float | None, now_s: float) -> float:
        """Seconds within ± `band`; 0.0 after every step outside it and for a value that is not known."""
        if value is None:
            self._reference = None
            return 0.0
        if self._reference is None or abs(value - self._reference) > self.band:
            self._reference = value
            self._since_s = now_s
        return now_s - self._since_s


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

    @property
    def oldest(self) -> float | None:
        """The value at the far end of the window."""
        return self._points[0][1] if self._points else None
